#ifndef FOAMPULSE_STUDY_RANK_H
#define FOAMPULSE_STUDY_RANK_H

#include "cases/sweep.h"
#include "solver/study/surrogate.h"

/*
 * What a sweep says beyond its rows: a Gaussian process through the margin of each hit that matters and
 * through the helmet's mass, which factor matters, and where the best layouts are expected. Margins are
 * fractions of the limit.
 *
 * A process sees each numeric factor as its share of the range, and each text but the first two as a column
 * of its own that is 0 or 1: names have no order and no distance, so each has its own length scale. Two texts
 * are one column, 0 and 1.
 *
 * A hit matters when its margin is the least in some layout, or comes within RANK_NEAR of the least in one;
 * of more than RANK_MODELS the ones that are the least most often, then the nearest. The others never decided
 * in what was solved.
 */

enum {
    RANK_MODELS = 12,  /* most hits with a process */
    RANK_ROWS = 800,   /* most layouts that a process is fitted to, drawn without repetition */
    RANK_INPUTS = 64,  /* most columns of a process */
    RANK_EFFECT = 9,   /* places of a main effect of numbers, evenly from low to high */
    RANK_BEST = 5,     /* layouts proposed */
    RANK_GRID = 20000, /* a full grid of up to so many layouts is searched whole */
    RANK_SEARCH = 8192 /* points of a Sobol sequence searched elsewhere */
};

#define RANK_NEAR 0.2 /* margin */
#define RANK_GOOD 0.9 /* Q2 from which a process is said to predict well */

struct rank_model {
    size_t hit;            /* its column in the sweep; SIZE_MAX: the helmet's mass [kg] */
    size_t rows;           /* fitted to so many */
    size_t governs;        /* layouts in which this hit has the least margin */
    double gap;            /* least distance to the least margin of a layout */
    double error;          /* rms of leaving one out [margin, kg] */
    double spread;         /* standard deviation of the values fitted */
    double q2;             /* 1 - (error / spread)^2; NaN where the values do not vary */
    double surprise;       /* rms of that error in its own predicted deviations; 1 is as foretold */
    double *first, *total; /* (factors) Sobol indices of this value alone */
    struct surrogate surrogate;
};

struct rank_effect {
    size_t count;    /* texts: one for each level */
    double *values;  /* (count) of the factor, in its unit */
    double *margins; /* (count) mean worst margin over all other factors */
};

struct rank_layout {
    double *values;   /* (factors), the struct rank's */
    double margin;    /* least of the predicted means */
    double deviation; /* of the least margin, the hits taken as independent */
    double mass;      /* [kg] predicted, or of all layouts where it does not vary; NaN */
    size_t model;     /* whose margin is the least */
    size_t row;       /* of the sweep with the same values; SIZE_MAX: not solved */
};

struct rank {
    const struct sweep *sweep; /* the caller's, alive as long as this */
    size_t computed;           /* rows with a margin, which were used */
    size_t left_out;           /* failed, refused or without a margin */
    size_t input_count;        /* columns of a process */
    double *low, *high;        /* (factors) of factor and values */
    size_t model_count;        /* of hits, the one that governs most often first */
    struct rank_model *models; /* (model_count) */
    size_t far_count;          /* hits with margins that have no model */
    size_t silent_count;       /* hits without any margin */
    int mass_varies;
    double mass_everywhere;      /* [kg] where it does not; NaN for none */
    struct rank_model mass;      /* where it does */
    double mean, variance;       /* of the worst margin over all layouts */
    double *first, *total;       /* (factors) its Sobol indices */
    struct rank_effect *effects; /* (factors) */
    size_t best_count;
    struct rank_layout best[RANK_BEST];
    size_t searched;                /* predictions looked through */
    int whole_grid;                 /* they were all layouts there are */
    size_t over_mass;               /* of them, beyond the limit of mass */
    size_t *front, front_count;     /* rows: heavier ones have a larger worst margin; by mass */
    size_t *peak_front, peak_count; /* rows: heavier ones have a smaller largest peak */
    double *block;                  /* owns the numbers above */
};

/* Fits and searches. The same sweep gives the same to 1e-9 on every processor. STATUS_INPUT (with a message
 * that names no file; `rank` zeroed): no limits, too few layouts, too many texts; STATUS_COMPUTATION,
 * STATUS_MEMORY. */
enum status rank_make(const struct sweep *sweep, struct rank *rank, struct errors *errors);

/* The prediction at values (factors) within low to high; `each` (model_count) and `deviations` (model_count)
 * are those of the hits, NULL allowed. STATUS_MEMORY. */
enum status rank_predict(const struct rank *rank, double *values, struct rank_layout *layout, double *each,
                         double *deviations);

/* Which way the worst margin goes with a numeric factor: 1 up, -1 down, 0 neither: it turns within the range,
 * or does not move. Texts: 0. A dip or bump below a tenth of the whole effect is no turn. */
int rank_direction(const struct rank *rank, size_t factor);

/* Largest peak of a row over its hits [g]; NaN for none. */
double rank_peak(const struct sweep *sweep, size_t row);

/* Releases everything and zeroes; {0} is allowed. */
void rank_free(struct rank *rank);

#endif
