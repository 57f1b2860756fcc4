#include <criterion/criterion.h>
#include <stdio.h>
#include <string.h>

#include "solver/base/memory.h"
#include "tests/fuzz/apart.h"
#include "tests/fuzz/mutate.h"
#include "tests/fuzz/target.h"

/*
 * Every case that is shipped, changed at random as people and bad copies change files: each mutant is refused
 * with a clear message or gives a sound result. Never a crash, never a hang.
 *
 * FOAMPULSE_CASES mutants of each (`make mutations`: 1000); FOAMPULSE_SEED repeats a run. A mutant that
 * breaks something is kept in .build/fuzz/.
 */

enum { CHANGES = 3, ROOM = 1 << 14 };

#if defined(__SANITIZE_ADDRESS__)
enum { SHORT = 4, SECONDS = 120 };
#else
enum { SHORT = 20, SECONDS = 30 };
#endif

/* `run`: the case that is run, NULL for the mutant itself. */
static const struct shipped {
    const char *path, *run;
    size_t sets;
} shipped[] = {{"cases/bench-pad.yaml", NULL, 2},
               {"cases/smallest.yaml", NULL, 3},
               {"cases/touring.yaml", NULL, 3},
               {"cases/demo/single.yaml", NULL, 3},
               {"cases/demo/crown.yaml", NULL, 3},
               {"cases/demo/brow.yaml", NULL, 3},
               {"cases/demo/common.yaml", "cases/demo/single.yaml", 3}};

enum { SHIPPED = sizeof shipped / sizeof *shipped };

/* Coarse and short: soundness is asked for here, not accuracy. */
static const char *const coarse[] = {"solver.duration=3 ms", "solver.cell=5 mm", "solver.rings=8"};

/* The least that the program holds every result to. */
static const double open_ledger = 0.01;

static const char *copy_file(const char *from, const char *name)
{
    size_t size;
    unsigned char *bytes = target_load(from, &size);
    const char *path = target_file(name, bytes, size);
    memory_free(bytes);
    return path;
}

/* One mutant of `original`, under `name` beside what it may include. */
static void make_mutant(struct random *random, const struct content *original, struct content *mutant)
{
    memcpy(mutant->bytes, original->bytes, original->size);
    mutant->size = original->size;
    for (size_t n = random_below(random, CHANGES) + 1; n > 0; n--)
        mutate_text(random, mutant);
}

static void keep(const char *what, uint64_t seed, size_t number, const struct content *mutant)
{
    char path[512];
    snprintf(path, sizeof path, "%s/.build/fuzz-%s-%llu-%zu.yaml", FOAMPULSE_SOURCE, what,
             (unsigned long long)seed, number);
    FILE *file = fopen(path, "wb");
    if (!file)
        return;
    fwrite(mutant->bytes, 1, mutant->size, file);
    fclose(file);
    fprintf(stderr, "kept as %s\n", path);
}

static void run_mutant(const struct shipped *from, const struct content *mutant, struct apart *apart)
{
    char path[512];
    if (from->run) {
        target_file("common.yaml", mutant->bytes, mutant->size);
        snprintf(path, sizeof path, "%s", copy_file(from->run, "case.yaml"));
    } else {
        copy_file("cases/demo/common.yaml", "common.yaml");
        snprintf(path, sizeof path, "%s", target_file("case.yaml", mutant->bytes, mutant->size));
    }
    apart_run(path, coarse, from->sets, SECONDS, open_ledger, NULL, apart);
}

/* Messages about a file as a whole, which have no line and column. */
static int is_whole(const char *text)
{
    return strstr(text, "nothing is written here") || strstr(text, "not a text file");
}

struct tally {
    size_t outcomes[APART_COUNT], folded;
};

static void mutate_shipped(const struct shipped *from, uint64_t seed, size_t count, struct tally *tally)
{
    struct random random = {seed};
    struct content original = {0}, mutant = {.room = ROOM};
    original.bytes = target_load(from->path, &original.size);
    mutant.bytes = memory_zeroed(ROOM, 1);
    cr_assert(mutant.bytes && original.size < ROOM);
    for (size_t i = 0; i < count; i++) {
        struct apart apart;
        make_mutant(&random, &original, &mutant);
        run_mutant(from, &mutant, &apart);
        tally->outcomes[apart.kind]++;
        tally->folded += apart.kind == APART_FAILED && strstr(apart.text, "folded");
        if (apart.kind >= APART_UNSOUND)
            keep(apart_names[apart.kind], seed, i, &mutant);
        cr_expect(apart.kind != APART_PLACELESS || is_whole(apart.text), "%s, mutant %zu: no place: %s",
                  from->path, i, apart.text);
        cr_expect(apart.kind < APART_UNSOUND, "%s, mutant %zu: %s: %s", from->path, i,
                  apart_names[apart.kind], apart.text);
        if (apart.kind == APART_FAILED)
            fprintf(stderr, "%s, mutant %zu: %s: %s\n", from->path, i, apart_names[apart.kind], apart.text);
    }
    memory_free(original.bytes);
    memory_free(mutant.bytes);
}

TestSuite(mutations, .timeout = 86400);

Test(mutations, shipped_cases)
{
    uint64_t seed = random_seed(0);
    size_t count = random_count("FOAMPULSE_CASES", SHORT);
    struct tally tally = {0};
    fprintf(stderr, "seed %llu\n", (unsigned long long)seed);
    for (size_t i = 0; i < SHIPPED; i++)
        mutate_shipped(&shipped[i], seed + i, count, &tally);
    printf("figure: %zu mutants of each of %d cases, seed %llu:", count, SHIPPED, (unsigned long long)seed);
    for (int kind = 0; kind < APART_COUNT; kind++)
        printf(" %s %zu%s", apart_names[kind], tally.outcomes[kind], kind + 1 < APART_COUNT ? "," : "\n");
    printf("figure: of those that failed, %zu for a folded zone\n", tally.folded);
    cr_expect(tally.outcomes[APART_REFUSED] > 0 && tally.outcomes[APART_COMPUTED] > 0);
}
