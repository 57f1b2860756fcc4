#ifndef FOAMPULSE_BASE_VERSION_H
#define FOAMPULSE_BASE_VERSION_H

/*
 * Which program this is.
 */

/* Commit it was built from, with "-dirty" behind it when files differed; "" outside a repository. */
extern const char version_revision[];

/* 64 bits of SHA-256 over all sources and the Makefile, hexadecimal: what one build computed, another may
 * take over only when these are equal. The same on every machine. */
extern const char version_sources[];

#endif
