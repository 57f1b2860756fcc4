#include "solver/base/random.h"

uint64_t random_next(struct random *random)
{
    uint64_t z = (random->state += 0x9e3779b97f4a7c15u);
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    return z ^ (z >> 31);
}

size_t random_below(struct random *random, size_t count)
{
    return count ? (size_t)(random_next(random) % count) : 0;
}

double random_uniform(struct random *random)
{
    return ((double)(random_next(random) >> 12) + 0.5) * 0x1p-52;
}
