#ifndef FOAMPULSE_SUPPORT_SANITIZED_H
#define FOAMPULSE_SUPPORT_SANITIZED_H

/* 1 in a build with the address sanitizer. It watches memory, and figures are held to in the other builds: a
 * test walks the same paths there on coarser meshes and in fewer rounds. */
#if defined(__SANITIZE_ADDRESS__)
enum { SANITIZED = 1 };
#else
enum { SANITIZED = 0 };
#endif

#endif
