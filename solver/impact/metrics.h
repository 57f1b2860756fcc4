#ifndef FOAMPULSE_IMPACT_METRICS_H
#define FOAMPULSE_IMPACT_METRICS_H

#include <stddef.h>

/*
 * Names of all metrics: field, name in results, key under `limits:` (NULL: no limit can be set), unit,
 * description. A metric that does not apply is NaN here, null in JSON.
 */
#define METRIC_LIST(X)                                                                                         \
    X(peak, "peak_g", "peak_g", "g", "largest acceleration, CFC 1000")                                         \
    X(peak_unfiltered, "peak_unfiltered_g", NULL, "g", "largest acceleration, not filtered")                   \
    X(peak_time, "peak_time_ms", NULL, "ms", "time of the peak after first touch")                             \
    X(hic, "hic", "hic", "1", "head injury criterion, free window")                                            \
    X(hic15, "hic15", "hic15", "1", "head injury criterion, window up to 15 ms")                               \
    X(hic36, "hic36", "hic36", "1", "head injury criterion, window up to 36 ms")                               \
    X(hic_start, "hic_start_ms", NULL, "ms", "start of the window of hic")                                     \
    X(hic_end, "hic_end_ms", NULL, "ms", "end of the window of hic")                                           \
    X(gsi, "gsi", "gsi", "1", "Gadd severity index")                                                           \
    X(above_150g, "above_150g_ms", "above_150g", "ms", "time above 150 g, all parts together")                 \
    X(above_200g, "above_200g_ms", "above_200g", "ms", "time above 200 g, all parts together")                 \
    X(clip_3ms, "clip_3ms_g", "clip_3ms", "g", "level held for 3 ms without a break")                          \
    X(peak_force, "peak_force_N", "peak_force", "N", "largest force on the anvil, CFC 1000")                   \
    X(crush, "crush_mm", NULL, "mm", "largest shortening of the liner on the site's axis")                     \
    X(crush_fraction, "crush_fraction", NULL, "1", "the same over the liner's thickness there")                \
    X(crush_left, "crush_left_mm", NULL, "mm", "liner thickness there less the crush")                         \
    X(largest_strain, "largest_strain", NULL, "1", "largest strain of any zone; information only")             \
    X(pulse, "pulse_ms", "pulse", "ms", "from the first to the last 5 g around the peak")                      \
    X(velocity_change, "velocity_change_m_s", NULL, "m/s", "integral of acceleration less gravity")            \
    X(restitution, "restitution", NULL, "1", "speed of the headform after over before")                        \
    X(shape_number, "shape_number", NULL, "1", "HIC g / (A^1.5 dv): 0.65 half-sine, more flat, less spiky")    \
    X(peak_rot_acc, "peak_rot_acc_rad_s2", "peak_rot_acc", "rad/s2", "largest rotational acceleration")        \
    X(peak_rot_vel, "peak_rot_vel_rad_s", "peak_rot_vel", "rad/s", "largest rotational velocity")              \
    X(bric, "bric", "bric", "1", "brain injury criterion from rotational velocity")                            \
    X(tangential_force, "tangential_force_N", "tangential_force", "N", "largest force along the anvil's face") \
    X(tangential_impulse, "tangential_impulse_Ns", "tangential_impulse", "N s", "impulse along the face")      \
    X(sliding, "sliding_mm", NULL, "mm", "distance slid on the anvil")

enum metric {
#define METRIC_ENUM(field, name, key, unit, text) METRIC_##field,
    METRIC_LIST(METRIC_ENUM)
#undef METRIC_ENUM
        METRIC_COUNT
};

struct metric_info {
    const char *name;        /* in JSON, HDF5 and tables */
    const char *limit_key;   /* under `limits:`, or NULL */
    const char *unit;
    const char *description;
    const char *source;      /* published source of the formula, "" where it is our own */
};
extern const struct metric_info metric_table[METRIC_COUNT];

#endif
