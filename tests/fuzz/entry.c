#include <stdint.h>

#include "tests/fuzz/target.h"

/* What libFuzzer calls: one target a program, chosen when it is compiled. */
int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size);

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size)
{
    FUZZ_TARGET(bytes, size);
    return 0;
}
