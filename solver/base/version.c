#include "solver/base/version.h"

/* Set by the Makefile for this file alone, so that a commit compiles nothing else again. */
#ifndef FOAMPULSE_REVISION
#define FOAMPULSE_REVISION ""
#endif
#ifndef FOAMPULSE_SOURCES
#define FOAMPULSE_SOURCES ""
#endif

const char version_revision[] = FOAMPULSE_REVISION;
const char version_sources[] = FOAMPULSE_SOURCES;
