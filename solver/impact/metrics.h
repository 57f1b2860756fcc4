#ifndef FOAMPULSE_IMPACT_METRICS_H
#define FOAMPULSE_IMPACT_METRICS_H

#include <stddef.h>

#include "solver/base/status.h"

/*
 * Names of all metrics: field, name in results, key under `limits:` (NULL: no limit can be set), unit,
 * description. A metric that does not apply is NaN here, null in JSON.
 */
#define METRIC_LIST(X)                                                                                       \
    X(peak, "peak_g", "peak_g", "g", "largest acceleration, CFC 1000")                                       \
    X(peak_unfiltered, "peak_unfiltered_g", NULL, "g", "largest acceleration, not filtered")                 \
    X(peak_time, "peak_time_ms", NULL, "ms", "time of the peak after first touch")                           \
    X(hic, "hic", "hic", "1", "head injury criterion, free window")                                          \
    X(hic15, "hic15", "hic15", "1", "head injury criterion, window up to 15 ms")                             \
    X(hic36, "hic36", "hic36", "1", "head injury criterion, window up to 36 ms")                             \
    X(hic_start, "hic_start_ms", NULL, "ms", "start of the window of hic")                                   \
    X(hic_end, "hic_end_ms", NULL, "ms", "end of the window of hic")                                         \
    X(gsi, "gsi", "gsi", "1", "Gadd severity index")                                                         \
    X(above_150g, "above_150g_ms", "above_150g", "ms", "time above 150 g, all parts together")               \
    X(above_200g, "above_200g_ms", "above_200g", "ms", "time above 200 g, all parts together")               \
    X(clip_3ms, "clip_3ms_g", "clip_3ms", "g", "level held for 3 ms without a break")                        \
    X(peak_force, "peak_force_N", "peak_force", "N", "largest force on the anvil, CFC 1000")                 \
    X(crush, "crush_mm", NULL, "mm", "largest shortening of the liner on the site's axis")                   \
    X(crush_fraction, "crush_fraction", NULL, "1", "the same over the liner's thickness there")              \
    X(crush_left, "crush_left_mm", NULL, "mm", "liner thickness there less the crush")                       \
    X(crush_before, "crush_before_mm", NULL, "mm", "shortening there that hits before have left")            \
    X(largest_strain, "largest_strain", NULL, "1", "largest strain of any zone; information only")           \
    X(shell_strain, "shell_strain", NULL, "1", "largest strain of a fibre at the faces of the shell")        \
    X(shell_strain_fraction, "shell_strain_fraction", NULL, "1",                                             \
      "the same over the failure strain of its material")                                                    \
    X(pulse, "pulse_ms", "pulse", "ms", "from the first to the last 5 g around the peak")                    \
    X(velocity_change, "velocity_change_m_s", NULL, "m/s", "integral of acceleration less gravity")          \
    X(restitution, "restitution", NULL, "1", "speed of the headform after over before")                      \
    X(shape_number, "shape_number", NULL, "1", "HIC / (A^1.5 area): 0.65 half-sine, more flat, less spiky")  \
    X(peak_rot_acc, "peak_rot_acc_rad_s2", "peak_rot_acc", "rad/s2", "largest rotational acceleration")      \
    X(peak_rot_vel, "peak_rot_vel_rad_s", "peak_rot_vel", "rad/s", "largest rotational velocity")            \
    X(bric, "bric", "bric", "1", "brain injury criterion from rotational velocity")                          \
    X(tangential_force, "tangential_force_N", "tangential_force", "N",                                       \
      "largest force along the anvil's face")                                                                \
    X(tangential_impulse, "tangential_impulse_Ns", "tangential_impulse", "N s", "impulse along the face")    \
    X(sliding, "sliding_mm", NULL, "mm", "distance slid on the anvil")                                       \
    X(rolls_from, "rolls_from_ms", NULL, "ms",                                                               \
      "from when the shell rolls on the face; none: slid throughout")                                        \
    X(drift, "drift_mm", NULL, "mm", "way of the contact over the helmet")

enum metric {
#define METRIC_ENUM(field, name, key, unit, text) METRIC_##field,
    METRIC_LIST(METRIC_ENUM)
#undef METRIC_ENUM
        METRIC_COUNT
};

struct metric_info {
    const char *name;      /* in JSON, HDF5 and tables */
    const char *limit_key; /* under `limits:`, or NULL */
    const char *unit;
    const char *description;
    const char *source; /* published source of the formula, "" where it is our own */
};
extern const struct metric_info metric_table[METRIC_COUNT];

/* How designers write a metric, "peak g" and "HIC"; decimals that its values are told with. */
const char *metrics_word(enum metric metric);
int metrics_decimals(enum metric metric);

#define METRICS_GRAVITY     9.80665 /* [m/s2], standard acceleration of free fall, ISO 80000-3 */
#define METRICS_PULSE_LEVEL 5.0     /* [g] bounds a pulse */

/*
 * Metrics of a pulse. A pulse is a list of interval means: sample i is the mean over [i, i + 1) x interval,
 * so that the running sum of the samples x interval is the exact integral at the ends of the intervals; HIC
 * windows start and end there. Where a level is looked for (dwell, clip, pulse), samples stand in the middle
 * of their intervals and the pulse is linear between them, and flat in the outer half of the first and last.
 */
struct pulse_input {
    size_t count;                          /* samples, at least 1 */
    double interval;                       /* [s] */
    const double *acceleration;            /* (count) [m/s2] contact force / mass, filtered; finite */
    const double *acceleration_unfiltered; /* (count) [m/s2], or NULL */
    const double *anvil_force;             /* (count) [N], filtered, or NULL */
    double touch;                          /* [s] first touch; times are counted from it */
    double gravity;      /* [m/s2] component along the fall, taken off for the change of velocity */
    int windowed;        /* change of velocity from the first to the last 5 g around the peak only: for
                            records that hold flight before and after the impact */
    double speed_before; /* [m/s] of the headform towards the anvil, or NaN */
    double speed_after;  /* [m/s] the same at the end, negative when it rebounds, or NaN */
};

/* Fills what a pulse gives, in the units of metric_table; all other metrics become NaN. On STATUS_MEMORY all
 * are NaN. */
enum status metrics_from_pulse(const struct pulse_input *pulse, double metrics[METRIC_COUNT]);

/* A HIC and its window. */
struct hic_result {
    double value;
    double start, end; /* [s] from the start of the pulse */
};

/* Head injury criterion of accelerations (count) [g] for windows up to `window` [s] (INFINITY: free):
 * the largest (t2 - t1) [1/(t2 - t1) integral of a dt from t1 to t2]^2.5, Chou and Nyquist 1974, SAE 740082,
 * over all pairs of interval ends. 0 with an empty window where the integral is nowhere positive.
 * STATUS_MEMORY: the result is zeroed. */
enum status metrics_hic(size_t count, double interval, const double *acceleration, double window,
                        struct hic_result *result);

/* Gadd severity index: integral of a^2.5 dt, a [g], over positive a; Chou and Nyquist 1974, SAE 740082. */
double metrics_gsi(size_t count, double interval, const double *acceleration);

/* Time [s] above a level, all parts together, 49 CFR 571.218. */
double metrics_time_above(size_t count, double interval, const double *acceleration, double level);

/* Largest level that is held for `duration` [s] without a break; the pulse counts as zero outside, so it is
 * never negative. */
double metrics_clip(size_t count, double interval, const double *acceleration, double duration);

/* The part around the largest sample that stays above `level`: its start and end [s]. 0 (and NaN) where the
 * pulse is nowhere above. */
int metrics_part_above(size_t count, double interval, const double *acceleration, double level, double *start,
                       double *end);

/* Brain injury criterion from the largest |rotational velocity| [rad/s] about x, y, z (SAE J211-1 axes),
 * whose times may differ: critical values 66.25, 56.45, 42.87 rad/s, Takhounts et al. 2013. */
double metrics_bric(const double largest[3]);

/* Probability of an injury of at least AIS `level` (2, 3 or 4) at a BrIC, strain-based curves:
 * 1 - exp(-(BrIC/b)^2.84); b = 0.602 for level 2 is published (Takhounts et al. 2013), 0.987 and 1.204 are
 * from memory. Information only, never a verdict. */
double metrics_bric_risk(double bric, int level);

#endif
