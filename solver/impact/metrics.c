#include "solver/impact/metrics.h"

#include <math.h>

#include "solver/base/memory.h"

#define SOURCE_peak                  "SAE J211-1, ISO 6487"
#define SOURCE_peak_unfiltered       ""
#define SOURCE_peak_time             ""
#define SOURCE_hic                   "Chou and Nyquist 1974, SAE 740082"
#define SOURCE_hic15                 "49 CFR 571.208"
#define SOURCE_hic36                 "49 CFR 571.208"
#define SOURCE_hic_start             "Chou and Nyquist 1974, SAE 740082"
#define SOURCE_hic_end               "Chou and Nyquist 1974, SAE 740082"
#define SOURCE_gsi                   "Chou and Nyquist 1974, SAE 740082"
#define SOURCE_above_150g            "49 CFR 571.218"
#define SOURCE_above_200g            "49 CFR 571.218"
#define SOURCE_clip_3ms              "common practice, no published source"
#define SOURCE_peak_force            "SAE J211-1, ISO 6487"
#define SOURCE_crush                 ""
#define SOURCE_crush_fraction        ""
#define SOURCE_crush_left            ""
#define SOURCE_crush_before          ""
#define SOURCE_largest_strain        ""
#define SOURCE_shell_strain          ""
#define SOURCE_shell_strain_fraction ""
#define SOURCE_pulse                 ""
#define SOURCE_velocity_change       ""
#define SOURCE_restitution           ""
#define SOURCE_shape_number          ""
#define SOURCE_peak_rot_acc          ""
#define SOURCE_peak_rot_vel          ""
#define SOURCE_bric                  "Takhounts et al. 2013"
#define SOURCE_tangential_force      ""
#define SOURCE_tangential_impulse    ""
#define SOURCE_sliding               ""
#define SOURCE_rolls_from            ""
#define SOURCE_drift                 ""

const struct metric_info metric_table[METRIC_COUNT] = {
#define METRIC_ROW(field, name, key, unit, text) {name, key, unit, text, SOURCE_##field},
    METRIC_LIST(METRIC_ROW)
#undef METRIC_ROW
};

const char *metrics_word(enum metric metric)
{
    switch (metric) {
    case METRIC_peak:
        return "peak g";
    case METRIC_hic:
        return "HIC";
    case METRIC_bric:
        return "BrIC";
    case METRIC_peak_rot_acc:
        return "rotational acceleration";
    case METRIC_peak_rot_vel:
        return "rotational velocity";
    case METRIC_tangential_force:
        return "force along the face";
    case METRIC_tangential_impulse:
        return "impulse along the face";
    default:
        return metric_table[metric].name;
    }
}

int metrics_decimals(enum metric metric)
{
    if (metric == METRIC_hic || metric == METRIC_peak_rot_acc || metric == METRIC_tangential_force)
        return 0;
    return metric == METRIC_bric ? 3 : 1;
}

/* --- HIC --------------------------------------------------------------------------------------------------
 *
 * With S the running sum of the n samples, HIC = interval x max F(S[j] - S[i], j - i), F(s, d) = s^2.5/d^1.5.
 * Trying all pairs costs n^2. Instead pairs of blocks of 2^level neighbouring ends are looked at: none of
 * their pairs exceeds F(largest S of the later block - smallest S of the earlier one, least distance). Where
 * that is no more than the best pair found so far, the blocks are passed over; else both are halved, the most
 * promising halves first. F is written with operations that keep order when rounded, so that the result is,
 * to the last bit, that of trying all pairs. Most of the pairs left lie about the optimum: for a pulse of a
 * thousand samples some ten thousand. */

enum { LEVELS = 8 * sizeof(size_t) };

struct hic_search {
    size_t level_count;
    size_t block_count[LEVELS];
    double *low[LEVELS], *high[LEVELS]; /* (block_count) smallest and largest sum in each block */
    size_t window;                      /* longest allowed distance */
    double best;
    size_t start, end;
};

static double hic_value(double sum, size_t distance)
{
    double d = (double)distance;
    return sum * sum * sqrt(sum) / (d * sqrt(d));
}

/* No pair of ends of blocks a <= b exceeds this; on level 0 it is the value of the pair. */
static double hic_bound(const struct hic_search *search, size_t level, size_t a, size_t b)
{
    size_t distance = b > a ? ((b - a - 1) << level) + 1 : 1;
    double sum = search->high[level][b] - search->low[level][a];
    return distance > search->window || sum <= 0 ? 0 : hic_value(sum, distance);
}

struct hic_pair {
    double bound;
    size_t a, b;
};

/* Halves of a pair of blocks, most promising first. Returns their number. */
static size_t hic_halves(const struct hic_search *search, size_t level, size_t a, size_t b,
                         struct hic_pair half[4])
{
    size_t count = 0;
    for (size_t k = 0; k < 4; k++) {
        struct hic_pair pair = {.a = 2 * a + k / 2, .b = 2 * b + k % 2};
        if (pair.b >= search->block_count[level] || pair.b < pair.a || (level == 0 && pair.b == pair.a))
            continue;
        pair.bound = hic_bound(search, level, pair.a, pair.b);
        size_t at = count++;
        for (; at > 0 && half[at - 1].bound < pair.bound; at--)
            half[at] = half[at - 1];
        half[at] = pair;
    }
    return count;
}

static void hic_visit(struct hic_search *search, size_t level, size_t a, size_t b)
{
    struct hic_pair half[4];
    size_t count = hic_halves(search, level - 1, a, b, half);
    for (size_t k = 0; k < count && half[k].bound > search->best; k++) {
        if (level > 1) {
            hic_visit(search, level - 1, half[k].a, half[k].b);
            continue;
        }
        search->best = half[k].bound;
        search->start = half[k].a;
        search->end = half[k].b;
    }
}

/* Builds the levels above the running sum, up to a single block. */
static enum status hic_prepare(struct hic_search *search, size_t count, const double *acceleration)
{
    size_t blocks = count + 1, room = 0, used = 0;
    for (size_t left = blocks; left > 1; left = (left + 1) / 2)
        room += 2 * ((left + 1) / 2);
    double *block = memory_doubles(blocks + room);
    if (!block)
        return STATUS_MEMORY;
    block[0] = 0;
    for (size_t i = 0; i < count; i++)
        block[i + 1] = block[i] + acceleration[i];
    search->low[0] = search->high[0] = block;
    search->block_count[0] = used = blocks;
    for (search->level_count = 1; blocks > 1; search->level_count++) {
        size_t level = search->level_count, below = blocks;
        const double *low = search->low[level - 1], *high = search->high[level - 1];
        blocks = (blocks + 1) / 2;
        search->block_count[level] = blocks;
        search->low[level] = block + used;
        search->high[level] = block + used + blocks;
        used += 2 * blocks;
        for (size_t i = 0; i < blocks; i++) {
            size_t left = 2 * i, right = left + 1 < below ? left + 1 : left;
            search->low[level][i] = low[left] < low[right] ? low[left] : low[right];
            search->high[level][i] = high[left] > high[right] ? high[left] : high[right];
        }
    }
    return STATUS_OK;
}

enum status metrics_hic(size_t count, double interval, const double *acceleration, double window,
                        struct hic_result *result)
{
    struct hic_search search = {.window = count};
    double samples = window / interval * (1 + 1e-9); /* 15 ms are 1500 samples of 10 us, not 1499 */
    *result = (struct hic_result){0};
    if (samples < (double)count)
        search.window = (size_t)samples;
    enum status status = hic_prepare(&search, count, acceleration);
    if (status != STATUS_OK)
        return status;
    hic_visit(&search, search.level_count - 1, 0, 0);
    *result = (struct hic_result){.value = interval * search.best,
                                  .start = interval * (double)search.start,
                                  .end = interval * (double)search.end};
    memory_free(search.low[0]);
    return STATUS_OK;
}

/* --- levels ----------------------------------------------------------------------------------------------
 */

double metrics_gsi(size_t count, double interval, const double *acceleration)
{
    double sum = 0;
    for (size_t i = 0; i < count; i++) {
        double a = acceleration[i];
        sum += a > 0 ? a * a * sqrt(a) : 0;
    }
    return sum * interval;
}

/* Share of the way from a sample to the next one that lies above the level. */
static double share_above(double from, double to, double level)
{
    if (from > level && to > level)
        return 1;
    if (from <= level && to <= level)
        return 0;
    double high = from > to ? from : to, low = from > to ? to : from;
    return (high - level) / (high - low);
}

double metrics_time_above(size_t count, double interval, const double *acceleration, double level)
{
    double halves = 0.5 * (acceleration[0] > level) + 0.5 * (acceleration[count - 1] > level);
    for (size_t i = 0; i + 1 < count; i++)
        halves += share_above(acceleration[i], acceleration[i + 1], level);
    return halves * interval;
}

/* Longest time above the level without a break, in intervals. */
static double longest_run(size_t count, const double *acceleration, double level)
{
    double run = acceleration[0] > level ? 0.5 : 0, longest = 0;
    for (size_t i = 0; i + 1 < count; i++) {
        double share = share_above(acceleration[i], acceleration[i + 1], level);
        int from = acceleration[i] > level, to = acceleration[i + 1] > level;
        run = from ? run + share : share;
        if (!to && run > longest)
            longest = run;
    }
    run += acceleration[count - 1] > level ? 0.5 : 0;
    return run > longest ? run : longest;
}

static double largest(size_t count, const double *values, size_t *at)
{
    size_t best = 0;
    for (size_t i = 1; i < count; i++)
        best = values[i] > values[best] ? i : best;
    *at = best;
    return values[best];
}

/* The longest run shrinks as the level rises: bisection, down to 1e-12 of the peak. */
double metrics_clip(size_t count, double interval, const double *acceleration, double duration)
{
    size_t at;
    double low = 0, high = largest(count, acceleration, &at);
    for (int halving = 0; halving < 40 && low < high; halving++) {
        double level = 0.5 * (low + high);
        if (longest_run(count, acceleration, level) * interval >= duration)
            low = level;
        else
            high = level;
    }
    return low;
}

int metrics_part_above(size_t count, double interval, const double *acceleration, double level, double *start,
                       double *end)
{
    size_t peak, i;
    *start = *end = NAN;
    if (!(largest(count, acceleration, &peak) > level))
        return 0;
    for (i = peak; i > 0 && acceleration[i - 1] > level; i--)
        ;
    *start =
        i == 0 ? 0 : interval * ((double)i + 0.5 - share_above(acceleration[i - 1], acceleration[i], level));
    for (i = peak; i + 1 < count && acceleration[i + 1] > level; i++)
        ;
    *end = interval * (i + 1 == count
                           ? (double)count
                           : (double)i + 0.5 + share_above(acceleration[i], acceleration[i + 1], level));
    return 1;
}

double metrics_bric(const double largest_velocity[3])
{
    static const double critical[3] = {66.25, 56.45, 42.87};
    double sum = 0;
    for (int i = 0; i < 3; i++)
        sum += largest_velocity[i] / critical[i] * (largest_velocity[i] / critical[i]);
    return sqrt(sum);
}

double metrics_bric_risk(double bric, int level)
{
    static const double scale[] = {0.602, 0.987, 1.204};
    return 1 - exp(-pow(bric / scale[level - 2], 2.84));
}

/* --- all of a pulse --------------------------------------------------------------------------------------
 */

/* Integral [g s] from `from` to `to` [s]. */
static double integral(size_t count, double interval, const double *acceleration, double from, double to)
{
    double sum = 0;
    for (size_t i = 0; i < count; i++) {
        double start = (double)i * interval, end = start + interval;
        double span = (end < to ? end : to) - (start > from ? start : from);
        sum += span > 0 ? acceleration[i] * span : 0;
    }
    return sum;
}

static enum status fill_hic(const struct pulse_input *pulse, const double *acceleration, double *metrics)
{
    static const struct {
        enum metric metric;
        double window;
    } capped[] = {{METRIC_hic15, 0.015}, {METRIC_hic36, 0.036}};
    struct hic_result free_window, result;
    enum status status = metrics_hic(pulse->count, pulse->interval, acceleration, INFINITY, &free_window);
    if (status != STATUS_OK)
        return status;
    metrics[METRIC_hic] = free_window.value;
    metrics[METRIC_hic_start] = 1e3 * (free_window.start - pulse->touch);
    metrics[METRIC_hic_end] = 1e3 * (free_window.end - pulse->touch);
    for (size_t i = 0; i < 2 && status == STATUS_OK; i++) {
        result = free_window; /* the cap does not bind a window that is shorter anyway */
        if (free_window.end - free_window.start > capped[i].window)
            status = metrics_hic(pulse->count, pulse->interval, acceleration, capped[i].window, &result);
        metrics[capped[i].metric] = result.value;
    }
    return status;
}

static void fill_levels(const struct pulse_input *pulse, const double *acceleration, double *metrics)
{
    size_t count = pulse->count, at;
    double interval = pulse->interval;
    metrics[METRIC_peak] = largest(count, acceleration, &at);
    metrics[METRIC_peak_time] = 1e3 * (((double)at + 0.5) * interval - pulse->touch);
    metrics[METRIC_gsi] = metrics_gsi(count, interval, acceleration);
    metrics[METRIC_above_150g] = 1e3 * metrics_time_above(count, interval, acceleration, 150);
    metrics[METRIC_above_200g] = 1e3 * metrics_time_above(count, interval, acceleration, 200);
    metrics[METRIC_clip_3ms] = metrics_clip(count, interval, acceleration, 0.003);
    if (pulse->acceleration_unfiltered)
        metrics[METRIC_peak_unfiltered] =
            largest(count, pulse->acceleration_unfiltered, &at) / METRICS_GRAVITY;
    if (pulse->anvil_force)
        metrics[METRIC_peak_force] = largest(count, pulse->anvil_force, &at);
}

/* The shape number is HIC over A^1.5 and the area under the pulse [g s], which gravity is no part of: then a
 * square of any height has 1, and no pulse that only pushes has more (a mean over the window is at most A,
 * the window's area at most the whole). */
static void fill_change(const struct pulse_input *pulse, const double *acceleration, double *metrics)
{
    double start, end, from = 0, to = (double)pulse->count * pulse->interval;
    if (metrics_part_above(pulse->count, pulse->interval, acceleration, METRICS_PULSE_LEVEL, &start, &end)) {
        metrics[METRIC_pulse] = 1e3 * (end - start);
        from = pulse->windowed ? start : from;
        to = pulse->windowed ? end : to;
    }
    double area = integral(pulse->count, pulse->interval, acceleration, from, to);
    double peak = metrics[METRIC_peak];
    metrics[METRIC_velocity_change] = METRICS_GRAVITY * area - pulse->gravity * (to - from);
    metrics[METRIC_restitution] = -pulse->speed_after / pulse->speed_before;
    if (peak > 0 && area > 0)
        metrics[METRIC_shape_number] = metrics[METRIC_hic] / (peak * sqrt(peak) * area);
}

enum status metrics_from_pulse(const struct pulse_input *pulse, double metrics[METRIC_COUNT])
{
    enum status status = STATUS_MEMORY;
    for (size_t i = 0; i < METRIC_COUNT; i++)
        metrics[i] = NAN;
    double *acceleration = memory_doubles(pulse->count);
    if (!acceleration)
        return status;
    for (size_t i = 0; i < pulse->count; i++)
        acceleration[i] = pulse->acceleration[i] / METRICS_GRAVITY;
    status = fill_hic(pulse, acceleration, metrics);
    if (status == STATUS_OK) {
        fill_levels(pulse, acceleration, metrics);
        fill_change(pulse, acceleration, metrics);
    } else {
        for (size_t i = 0; i < METRIC_COUNT; i++)
            metrics[i] = NAN;
    }
    memory_free(acceleration);
    return status;
}
