/*
 * Cost of an impact by zones of revolution: whole impacts of cases/smallest.yaml, from set-up to metrics,
 * with the shell, contacts, ledger and record, in processor time of the one thread. First what the machine
 * reaches, in the same run: multiplications and additions in registers (fused where the set has that), and
 * a = b + s c over arrays of the size of the default mesh's state and over arrays beyond every cache. Then
 * each instruction set on the default mesh, then the best one from 12 x 5 to 192 x 80 zones. The last column
 * is arithmetic as a share of the first peak.
 */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>
#if defined(__x86_64__)
#include <immintrin.h>
#endif

#include "solver/base/isa.h"
#include "solver/impact/run.h"
#include "solver/study/resolve.h"
#include "tests/support/stopwatch.h"

enum { RUNS = 5, CHAINS = 12 };

/* Operations of a zone update, each number of a vector counted: sums, products, quotients, roots,
 * comparisons, selections. Counted with valgrind --tool=lackey --detailed-counts=yes between two durations
 * (2-wide, 24 x 12 zones): 1113 vector operations of two numbers. */
static const double operations = 2226;

static const double longest = 4.0; /* [s] of runs of one mesh, when there is one already */

/* --- what the machine reaches --- */

/* One loop of independent chains x <- x m + a; returns the operations done. The sum goes out, so that the
 * loop stays. */
#define PEAK(name, target, vector, set, madd, width)                                                         \
    target static double name(long rounds, double *sum)                                                      \
    {                                                                                                        \
        vector x[CHAINS], m = set(1.0 - 1e-9), a = set(1e-9);                                                \
        for (int c = 0; c < CHAINS; c++)                                                                     \
            x[c] = set(1.0 + c);                                                                             \
        for (long r = 0; r < rounds; r++) {                                                                  \
            _Pragma("GCC unroll 12") for (int c = 0; c < CHAINS; c++) x[c] = madd(x[c], m, a);               \
        }                                                                                                    \
        for (int c = 0; c < CHAINS; c++)                                                                     \
            *sum += ((const double *)&x[c])[0];                                                              \
        return 2.0 * CHAINS * (width) * (double)rounds;                                                      \
    }

#if defined(__x86_64__)
static inline __m128d madd_base(__m128d x, __m128d m, __m128d a)
{
    return _mm_add_pd(_mm_mul_pd(x, m), a);
}
PEAK(peak_base, , __m128d, _mm_set1_pd, madd_base, 2)
PEAK(peak_v3, __attribute__((target("avx2,fma"))), __m256d, _mm256_set1_pd, _mm256_fmadd_pd, 4)
PEAK(peak_v4, __attribute__((target("avx512f"))), __m512d, _mm512_set1_pd, _mm512_fmadd_pd, 8)
static double (*const peaks[ISA_COUNT])(long, double *) = {peak_base, peak_v3, peak_v4};
#else
static inline double itself(double x)
{
    return x;
}
static inline double madd_base(double x, double m, double a)
{
    return x * m + a;
}
PEAK(peak_base, , double, itself, madd_base, 1)
static double (*const peaks[ISA_COUNT])(long, double *) = {peak_base, peak_base, peak_base};
#endif

static double largest_rate(double (*run)(long, double *), double *sum)
{
    double best = 0;
    for (int k = 0; k < RUNS; k++) {
        double start = stopwatch_read(CLOCK_PROCESS_CPUTIME_ID), done = run(4000000, sum);
        best = fmax(best, done / (stopwatch_read(CLOCK_PROCESS_CPUTIME_ID) - start));
    }
    return best;
}

/* a = b + s c over three arrays that take `bytes` together; bytes read and written a second, best of several
 * runs. */
static double stream(size_t bytes)
{
    size_t count = bytes / (3 * sizeof(double)), rounds = (size_t)1 + ((size_t)400 << 20) / bytes;
    double *memory = malloc(3 * count * sizeof *memory), best = 0;
    if (!memory)
        return NAN;
    double *restrict a = memory, *restrict b = memory + count, *restrict c = memory + 2 * count;
    for (size_t i = 0; i < 3 * count; i++)
        memory[i] = 1.0;
    for (int k = 0; k < RUNS; k++) {
        double start = stopwatch_read(CLOCK_PROCESS_CPUTIME_ID);
        for (size_t r = 0; r < rounds; r++) {
            double s = 1e-9 * (double)r;
            for (size_t i = 0; i < count; i++)
                a[i] = b[i] + s * c[i];
            /* what is written is looked at, so that no round is left out */
            b[r % count] = a[(7 * r) % count];
        }
        best = fmax(best, 24.0 * (double)count * (double)rounds /
                              (stopwatch_read(CLOCK_PROCESS_CPUTIME_ID) - start));
    }
    double kept = memory[count / 2];
    free(memory);
    return kept < 1e9 ? best : NAN;
}

/* --- impacts --- */

struct cost {
    double time; /* [s] */
    long steps, cells;
};

static int solve(const struct resolved *resolved, struct cost *cost)
{
    char message[HISTORY_MESSAGE] = "";
    struct impact_output output;
    double start = stopwatch_read(CLOCK_PROCESS_CPUTIME_ID);
    if (run_axisymmetric(&resolved->zones, &output, NULL, NULL, message) != STATUS_OK) {
        fprintf(stderr, "bench: %s\n", message);
        return 0;
    }
    *cost = (struct cost){stopwatch_read(CLOCK_PROCESS_CPUTIME_ID) - start, output.steps, output.cells};
    impact_output_free(&output);
    return 1;
}

/* Median of up to RUNS impacts. */
static int measure(const struct resolved *resolved, struct cost *cost)
{
    double times[RUNS], all = 0;
    int run = 0;
    for (; run < RUNS && (run == 0 || all < longest); run++) {
        if (!solve(resolved, cost))
            return 0;
        times[run] = cost->time;
        all += cost->time;
    }
    qsort(times, (size_t)run, sizeof *times, stopwatch_order);
    cost->time = times[run / 2];
    return 1;
}

static int print_mesh(int across, int through, double peak)
{
    struct errors errors = {0};
    struct case_file file;
    struct resolver resolver = {0};
    struct resolved resolved = {0};
    struct cost cost;
    char rings[48], cell[48], sentence[RESOLVE_SENTENCE];
    snprintf(rings, sizeof rings, "solver.rings=%d", across + 1);
    snprintf(cell, sizeof cell, "solver.cell=%.4f mm", 35.0 / through);
    const char *sets[] = {rings, cell};
    int done = case_load("cases/smallest.yaml", sets, 2, &file, &errors) == STATUS_OK &&
               resolver_make(&file, &resolver, &errors) == STATUS_OK;
    resolver.axisymmetric = 1;
    done = done && resolve_impact(&resolver, &file.impacts[0], &resolved, sentence, &errors) == STATUS_OK &&
           measure(&resolved, &cost);
    if (done) {
        double updates = (double)cost.steps * (double)cost.cells;
        printf("%-5s %4d x %-3d %6ld %7ld %9.3f %8.1f %8.1f %7.1f %%\n", isa_name(isa_chosen()), across,
               through, cost.cells, cost.steps, cost.time, cost.time / updates * 1e9,
               updates / cost.time * 1e-6, 100.0 * operations * updates / cost.time / peak);
    } else {
        fprintf(stderr, "bench: %s\n", errors.count ? errors.kept[0].text : "failed");
    }
    resolved_free(&resolved);
    resolver_free(&resolver);
    case_free(&file);
    return done;
}

int main(void)
{
    static const int meshes[][2] = {{12, 5}, {24, 10}, {48, 20}, {96, 40}, {192, 80}};
    double peak[ISA_COUNT] = {0}, sum = 0;
    enum isa best = isa_chosen();
    for (enum isa isa = ISA_BASE; isa <= best; isa++) {
        peak[isa] = largest_rate(peaks[isa], &sum);
        printf("arithmetic in registers, %-5s %8.1f Gflop/s\n", isa_name(isa), peak[isa] * 1e-9);
    }
    printf("a = b + s c, 0.5 MiB       %8.1f GB/s\n", stream((size_t)512 << 10) * 1e-9);
    printf("a = b + s c, 192 MiB       %8.1f GB/s\n", stream((size_t)192 << 20) * 1e-9);
    printf("%-5s %-10s %6s %7s %9s %8s %8s %9s\n", "set", "mesh", "zones", "steps", "s", "ns/zone", "Mzone/s",
           "of peak");
    int done = isfinite(sum);
    for (enum isa isa = ISA_BASE; isa <= best && done; isa++) {
        isa_force(isa);
        done = print_mesh(48, 20, peak[isa]);
    }
    for (size_t m = 0; m < sizeof meshes / sizeof *meshes && done; m++)
        done = print_mesh(meshes[m][0], meshes[m][1], peak[best]);
    return !done;
}
