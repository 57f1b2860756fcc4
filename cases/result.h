#ifndef FOAMPULSE_CASES_RESULT_H
#define FOAMPULSE_CASES_RESULT_H

#include <stddef.h>

#include "cases/case.h"
#include "solver/impact/output.h"

/*
 * What a run leaves: one `case_result` a case, made by study/batch, printed by cli/, written and read back by
 * cases/store, drawn by plots/. Plain data; a result read back from a file is the same struct.
 */

#define CAUTION_TEXT                                                                                         \
    "Prediction, to compare layouts and prepare physical tests by an accredited laboratory; it does not "    \
    "replace them. Not evidence of compliance, protection or injury risk; check every limit against the "    \
    "current text of the standard."

/* Words of a verdict; never others. */
#define VERDICT_LIST(X)                                                                                      \
    X(WITHIN, "within")                                                                                      \
    X(TIGHT, "tight")                                                                                        \
    X(EXCEEDS, "exceeds")                                                                                    \
    X(UNDECIDED, "undecided")                                                                                \
    X(NO_LIMIT, "no limit")                                                                                  \
    X(NOT_COMPUTED, "not computed")                                                                          \
    X(NOT_COVERED, "not covered")                                                                            \
    X(INCOMPLETE, "incomplete")

enum verdict {
#define VERDICT_ENUM(name, text) VERDICT_##name,
    VERDICT_LIST(VERDICT_ENUM)
#undef VERDICT_ENUM
};

const char *verdict_text(enum verdict verdict);

enum hit_status { HIT_COMPUTED, HIT_NOT_COMPUTED, HIT_FAILED };

/* One limit held against one value. */
struct judgement {
    char programme[48], test[48]; /* "" for the case's own limits */
    enum metric metric;
    double value, limit; /* unit of the metric */
    double margin;       /* (limit - value) / limit */
    enum verdict state;  /* within, tight, exceeds, undecided, no limit */
    char provenance[96], source[128];
};

/* A region of the liner on the rings. */
struct ring_region {
    char name[48];
};

/* What the rings about the site hold, as the foam was solved: its columns, or the zones between the nodes. */
struct hit_rings {
    size_t count, region_count;  /* 0 for a pad and where nothing was solved */
    double *edge;                /* (count + 1) [rad] polar angles, from the site's axis outwards */
    struct ring_region *regions; /* (region_count) those that are no openings, in the order of the map */
    double *share;               /* (region_count + 1, count) of the ring's area; the last row is bare */
};

/* A site with the border of the foam on its rings is solved twice, with the hoop stiffness of the shell kept
 * on rings with openings in proportion to what is left of them, and cut: bounds of what an opening on one
 * side does. */
struct hoop_bounds {
    char shown[8]; /* the one that the hit holds, "kept" or "cut"; "" where only one was solved */
    double kept_peak, kept_hic, cut_peak, cut_hic; /* [g], [1]; NaN where only one was solved */
};

extern const struct hoop_bounds hoop_bounds_none; /* one solution is all there is */

/* One hit of one impact: conditions, outcome, judgement. */
struct hit_result {
    int impact, hit; /* from 1 */
    enum hit_status status;
    char message[256]; /* why not computed or failed, "" else */
    char size[48];     /* helmet size, "" when the case has none */
    char headform_set[48], headform_size[48];
    char headform_own[32]; /* what the case gives in place of the size's, "" for nothing (cases/case.h) */
    double headform_mass;  /* [kg] */
    char site[48];
    double elevation, azimuth; /* [rad]; NaN for a pad */
    char region[48];           /* under the site; "" for a pad */
    double head_radius;        /* [m] used; NaN for a pad */
    double edge_distance; /* [m] along the shell's inner face, round as at the site, to the nearest border of
                           * the foam; INFINITY when there is none, NaN for a pad */
    double asymmetry;     /* first azimuthal moment of stiffness, fraction; NaN */
    char anvil[48];
    char anvil_form[16];                 /* "true" or "equal overlap" */
    double angle, speed, temperature;    /* [rad], [m/s], [degC] */
    double towards[2];                   /* elevation, azimuth [rad] of an oblique impact, else NaN */
    double face_friction, head_friction; /* of shell on anvil, liner on head; NaN for a pad */
    double head_inertia;                 /* about the axis of rotation [kg m2]; NaN without rotation */
    double aside;                        /* of the centre of gravity from the plane of motion [m] */
    int inertia_assumed;                 /* 1: that of a uniform ellipsoid, so no limit on rotation decides */
    char model[16];
    struct impact_output output;
    struct hoop_bounds hoop;
    struct hit_rings rings;
    double wall; /* [s] spent solving; kept out of sweep files */
    size_t judgement_count;
    struct judgement *judgements;
    char why[32]; /* "bottoms out", "too stiff" or "" */
    char why_region[48];
    int why_layer; /* 0 for none */
};

struct mass_by_part {
    double helmet, shell, liner, comfort, other; /* [kg] */
};

/* One helmet of a family. */
struct size_result {
    char name[48];
    char headform_set[48], headform_size[48], headform_own[32]; /* as in hit_result */
    double headform_mass;                                       /* [kg] */
    struct mass_by_part mass;                                   /* NaN in all for a head without a shape */
    double helmet_mass_limit;                                   /* [kg]; NaN */
};

struct case_result {
    char *file, *title, *case_text;
    char case_hash[33];
    /* hexadecimal hash of all that the result depends on (study/batch.h: batch_identity); "" when it is not
     * whole or was solved without a journal */
    char identity[33];
    char *result_file; /* "" when none is written */
    enum verdict verdict;
    int worst_hit;    /* index into hits; -1 for none */
    int worst_metric; /* enum metric of the worst judgement; -1 */
    double worst_margin;
    struct mass_by_part mass; /* NaN in all for a pad; of a family its heaviest helmet */
    double target;            /* NaN */
    double limit[METRIC_COUNT];
    double helmet_mass_limit;
    size_t assumption_count;
    char **assumptions;
    size_t warning_count;
    char **warnings;
    size_t not_covered_count;
    char **not_covered;
    size_t size_count; /* 0 when the case is one helmet */
    struct size_result *sizes;
    size_t hit_count;
    struct hit_result *hits;
    /* head map for pictures: the regions as the case gave them (names, bounds), owned; of a family those of
     * the size with the worst hit */
    struct helmet_map map;
    double wall; /* [s] */
    int threads;
    char isa[8];
};

/* Whether two hits strike the same place in the same way, whatever the speed and the temperature: size, site,
 * anvil, angle and `towards` (to 1e-9 rad, as files keep degrees; none equals none), friction on face and
 * head, number of the hit. */
int hit_same_setting(const struct hit_result *a, const struct hit_result *b);

/* The same setting, speed and temperature. Numbers of impacts do not count. */
int hit_same_conditions(const struct hit_result *a, const struct hit_result *b);

/* The hit of a result under the conditions of `as`: of several that of the same impact number, else the
 * first; NULL when there is none. */
const struct hit_result *hit_counterpart(const struct case_result *result, const struct hit_result *as);

/* The judgement of a hit by the strictest limit on a metric, whether it decides or not; NULL for none. */
const struct judgement *hit_limit(const struct hit_result *hit, enum metric metric);

/* Releases the arrays and zeroes; {0} is allowed. */
void hit_rings_free(struct hit_rings *rings);

/* Releases everything it owns and zeroes it; {0} is allowed. */
void case_result_free(struct case_result *result);

/* Adds a formatted line to one of the three lists. STATUS_MEMORY or STATUS_OK. */
enum status result_note(char ***list, size_t *count, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

#endif
