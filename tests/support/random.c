#include "tests/support/random.h"

#include <stdio.h>
#include <stdlib.h>
#include <time.h>

double random_between(struct random *random, double low, double high)
{
    return low + (high - low) * (double)(random_next(random) >> 11) * 0x1p-53;
}

int random_one_in(struct random *random, size_t count)
{
    return random_below(random, count) == 0;
}

uint64_t random_seed(uint64_t fixed)
{
    const char *text = getenv("FOAMPULSE_SEED");
    struct timespec now;
    if (text)
        return strtoull(text, NULL, 10);
    clock_gettime(CLOCK_REALTIME, &now);
    return fixed ? fixed : (uint64_t)now.tv_sec * 1000 + (uint64_t)now.tv_nsec / 1000000;
}

size_t random_count(const char *variable, size_t otherwise)
{
    const char *text = getenv(variable);
    return text ? (size_t)strtoul(text, NULL, 10) : otherwise;
}

struct random random_begin(void)
{
    struct random random = {random_seed(0)};
    printf("FOAMPULSE_SEED=%llu\n", (unsigned long long)random.state);
    return random;
}
