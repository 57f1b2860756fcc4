#include <criterion/criterion.h>
#include <dirent.h>
#include <fcntl.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "solver/base/memory.h"
#include "tests/fuzz/mutate.h"
#include "tests/fuzz/target.h"

/*
 * The corpus of the fuzzers, replayed in an ordinary build, and then changed at random: a count of executions
 * and not a time, so that the load of the machine decides nothing. `make fuzz` is the thorough search.
 *
 * FOAMPULSE_SEED repeats a run. An input that breaks something is kept in .build/fuzz/broken-TARGET.
 */

enum { ENTRIES = 4000, GROWTH = 4096, CHANGES = 4 };

struct corpus {
    size_t count;
    struct content entry[ENTRIES];
};

static struct corpus corpus;

static int by_name(const struct dirent **a, const struct dirent **b)
{
    return strcmp((*a)->d_name, (*b)->d_name);
}

static int is_entry(const struct dirent *entry)
{
    return entry->d_name[0] != '.';
}

static void load(const char *target)
{
    char folder[512], path[1024];
    struct dirent **names;
    snprintf(folder, sizeof folder, "%s/tests/fuzz/corpus/%s", FOAMPULSE_SOURCE, target);
    int count = scandir(folder, &names, is_entry, by_name);
    cr_assert(count > 0 && count <= ENTRIES, "%s: %d inputs", folder, count);
    for (int i = 0; i < count; i++) {
        struct content *entry = &corpus.entry[corpus.count];
        snprintf(path, sizeof path, "%s/%s", folder, names[i]->d_name);
        entry->bytes = target_load(path, &entry->size);
        corpus.count++;
        free(names[i]);
    }
    free(names);
}

static void unload(void)
{
    for (size_t i = 0; i < corpus.count; i++)
        memory_free(corpus.entry[i].bytes);
    corpus.count = 0;
}

/* --- the input at hand, kept when it breaks something --- */

static struct {
    const unsigned char *bytes;
    size_t size;
    char path[512];
} at_hand;

static void keep_input(int signal_number)
{
    static const char words[] = "the input is kept in the folder .build/fuzz\n";
    int file = open(at_hand.path, O_WRONLY | O_CREAT | O_TRUNC, 0666);
    ssize_t done = file >= 0 ? write(file, at_hand.bytes, at_hand.size) : 0;
    done = write(STDERR_FILENO, words, done > 0 ? sizeof words - 1 : 0);
    signal(signal_number, SIG_DFL);
    raise(signal_number);
}

static void watch(const char *target)
{
    mkdir(FOAMPULSE_SOURCE "/.build", 0777);
    mkdir(FOAMPULSE_SOURCE "/.build/fuzz", 0777);
    snprintf(at_hand.path, sizeof at_hand.path, "%s/.build/fuzz/broken-%s", FOAMPULSE_SOURCE, target);
    signal(SIGABRT, keep_input);
    signal(SIGSEGV, keep_input);
    signal(SIGFPE, keep_input);
}

static void run(target_function *target, const struct content *content)
{
    at_hand.bytes = content->bytes;
    at_hand.size = content->size;
    target(content->bytes, content->size);
}

/* --- replay and mutation --- */

/* Changes copies of random inputs, one to CHANGES times, and runs each. */
static void run_mutants(target_function *target, uint64_t seed, size_t count)
{
    struct random random = {seed};
    for (size_t i = 0; i < count; i++) {
        const struct content *from = &corpus.entry[random_below(&random, corpus.count)];
        struct content mutant = {.size = from->size, .room = from->size + GROWTH};
        mutant.bytes = memory_zeroed(mutant.room, 1);
        cr_assert_not_null(mutant.bytes);
        memcpy(mutant.bytes, from->bytes, from->size);
        for (size_t n = random_below(&random, CHANGES) + 1; n > 0; n--) {
            if (random_one_in(&random, 2))
                mutate_text(&random, &mutant);
            else
                mutate_bytes(&random, &mutant, &corpus.entry[random_below(&random, corpus.count)]);
        }
        run(target, &mutant);
        memory_free(mutant.bytes);
    }
}

/* `count` mutants, or as many as FOAMPULSE_MUTANTS says. */
static void try_target(const char *name, target_function *target, size_t count)
{
    uint64_t seed = random_seed(0);
    count = random_count("FOAMPULSE_MUTANTS", count);
    load(name);
    watch(name);
    fprintf(stderr, "seed %llu\n", (unsigned long long)seed);
    for (size_t i = 0; i < corpus.count; i++)
        run(target, &corpus.entry[i]);
    run_mutants(target, seed, count);
    printf("figure: %-6s %4zu inputs of the corpus replayed, %5zu mutants, seed %llu: nothing broke\n", name,
           corpus.count, count, (unsigned long long)seed);
    unload();
}

TestSuite(fuzz, .timeout = 800);

Test(fuzz, cases)
{
    try_target("case", case_target, 2000);
}

Test(fuzz, csv)
{
    try_target("csv", csv_target, 3000);
}

Test(fuzz, results)
{
    try_target("result", result_target, 100);
    printf("figure: result reading died in its child process, contained: %zu\n", result_contained());
}
