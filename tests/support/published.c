#include "tests/support/published.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

int published_inputs(const char *case_path)
{
    FILE *file = fopen(case_path, "r");
    char line[512];
    if (!file) {
        fprintf(stderr, "not readable: %s\n", case_path);
        return 0;
    }
    printf("\n%s\n", case_path);
    while (fgets(line, sizeof line, file))
        printf("  | %s", line);
    return fclose(file) == 0;
}

void published_rows(const struct prediction *prediction)
{
    printf("\nprediction (helmet %.2f kg)\n", prediction->helmet_mass);
    printf("  %-12s %7s %5s %7s %6s %8s %7s %8s %5s %6s %7s %8s %7s\n", "site", "head R", "m/s", "peak g",
           "HIC", "crush mm", "crush %", "pulse ms", "e", "shape", "shell %", "anvil kN", "head kN");
    for (size_t i = 0; i < prediction->count; i++) {
        const struct prediction_row *row = &prediction->row[i];
        const double *metric = row->metric;
        printf("  %-12s %7.1f %5.2f %7.1f %6.0f %8.1f %7.0f %8.1f", row->site, row->head_radius, row->speed,
               metric[METRIC_peak], metric[METRIC_hic], metric[METRIC_crush],
               100 * metric[METRIC_crush_fraction], metric[METRIC_pulse]);
        if (isnan(metric[METRIC_restitution]))
            printf(" %5s", "-");
        else
            printf(" %5.2f", metric[METRIC_restitution]);
        printf(" %6.3f %7.0f %8.1f %7.1f\n", metric[METRIC_shape_number], 100 * row->shell_share,
               1e-3 * metric[METRIC_peak_force],
               1e-3 * row->headform_mass * METRICS_GRAVITY * metric[METRIC_peak]);
    }
}

static void print_variant(const char *label, const struct prediction *prediction, double base)
{
    double mean = prediction_mean(prediction, METRIC_peak);
    printf("  %-45s", label);
    for (size_t i = 0; prediction->count > 1 && i < prediction->count; i++)
        printf(" %6.1f", prediction->row[i].metric[METRIC_peak]);
    printf(" %7.1f %+6.1f %6.0f %6.1f %6.1f\n", mean, 100 * (mean / base - 1),
           prediction_mean(prediction, METRIC_hic), prediction_mean(prediction, METRIC_crush),
           prediction_mean(prediction, METRIC_pulse));
}

/* What tells the impacts apart, over their peaks: the site, or the speed. */
static void print_impacts(const struct prediction *prediction)
{
    const struct prediction_row *row = prediction->row;
    for (size_t i = 0; prediction->count > 1 && i < prediction->count; i++) {
        if (strcmp(row[0].site, row[1].site) == 0)
            printf(" %6.2f", row[i].speed);
        else
            printf(" %6.6s", row[i].site);
    }
}

static int run_variant(const char *case_path, const char *common, const struct variant *variant,
                       struct prediction *varied)
{
    const char *sets[VARIANT_SETS + 1];
    size_t used = 0;
    if (common)
        sets[used++] = common;
    for (size_t i = 0; i < VARIANT_SETS && variant->sets[i]; i++)
        sets[used++] = variant->sets[i];
    sets[used] = NULL;
    return prediction_run(case_path, sets, varied);
}

size_t published_vary(const char *heading, const char *case_path, const char *common,
                      const struct prediction *base, size_t count, const struct variant *variants,
                      struct prediction *varied)
{
    double peak = prediction_mean(base, METRIC_peak);
    printf("\n%s\n  %-45s", heading, "");
    print_impacts(base);
    printf(" %7s %6s %6s %6s %6s\n", base->count > 1 ? "mean g" : "peak g", "%", "HIC", "crush", "pulse");
    print_variant("as assumed", base, peak);
    size_t computed = 0;
    for (size_t i = 0; i < count; i++) {
        int done = run_variant(case_path, common, &variants[i], &varied[i]);
        computed += (size_t)done;
        if (done)
            print_variant(variants[i].label, &varied[i], peak);
        else
            printf("  %-45s not computed\n", variants[i].label);
    }
    return computed;
}

static int inside(const struct published *published, double value)
{
    return value >= published->low && value <= published->high;
}

/* How far a value lies from the nearer end of the band, in percent of that end. */
static double miss(const struct published *published, double value)
{
    double end = value < published->low ? published->low : published->high;
    return 100 * (value / end - 1);
}

static void print_value(const struct published *published, double value)
{
    printf("\n  %s\n    published: %s\n    source:    %s\n", published->what, published->value,
           published->source);
    printf("    predicted: %.4g %s, band %.4g to %.4g: ", value, published->unit, published->low,
           published->high);
    if (isnan(value))
        printf("not decidable, no value");
    else if (inside(published, value))
        printf("inside");
    else
        printf("outside, %+.0f %% of its %s end", miss(published, value),
               value < published->low ? "lower" : "upper");
}

void published_value(const struct published *published, double value)
{
    print_value(published, value);
    printf("\n");
}

void published_state(const struct published *published, double (*quantity)(const struct prediction *),
                     const struct prediction *base, size_t count, const struct variant *variants,
                     const struct prediction *varied)
{
    double value = quantity(base), low = value, high = value;
    int within = inside(published, value), crossings = 0;
    print_value(published, value);
    for (size_t i = 0; i < count; i++) {
        if (varied[i].count == 0)
            continue;
        double changed = quantity(&varied[i]);
        low = changed < low ? changed : low;
        high = changed > high ? changed : high;
        crossings += inside(published, changed) != within;
    }
    printf("\n    assumptions one at a time move it over %.4g to %.4g %s: ", low, high, published->unit);
    if (crossings == 0)
        printf("none takes it %s the band\n", within ? "out of" : "into");
    else
        printf("not decidable, these take it %s the band:\n", within ? "out of" : "into");
    for (size_t i = 0; i < count; i++) {
        if (varied[i].count > 0 && inside(published, quantity(&varied[i])) != within)
            printf("      %s\n", variants[i].label);
    }
}
