#include "tests/support/elastic.h"

#include <math.h>

static void update(const struct foam *foam, const struct foam_points *p, double dt)
{
    (void)dt;
    const struct elastic *elastic = (const struct elastic *)foam;
    for (size_t i = 0; i < p->count; i++) {
        double sum = p->crush[FOAM_NORMAL][i] + p->crush[FOAM_ALONG][i] + p->crush[FOAM_HOOP][i];
        for (int c = 0; c < FOAM_COMPONENTS; c++) {
            p->skeleton[c][i] += 2 * elastic->shear * p->crush[c][i] + (c < FOAM_SHEAR) * elastic->lame * sum;
            p->stress[c][i] = p->skeleton[c][i];
        }
        p->tangent[i] = elastic->lame + 2 * elastic->shear;
    }
}

/* s:s (1 + nu)/2E - (tr s)^2 nu/2E, with tr s = (3 lambda + 2 G)(1 - V/V0). */
static double stored(const struct foam *foam, double matter, double skeleton, double plastic)
{
    (void)plastic;
    const struct elastic *elastic = (const struct elastic *)foam;
    double bulk = 3 * elastic->lame + 2 * elastic->shear, trace = bulk * matter;
    return (skeleton * skeleton - trace * trace * elastic->lame / bulk) / (4 * elastic->shear);
}

static const struct law law = {
    .name = "elastic", .update_points = {update, update, update}, .stored = stored};

struct elastic elastic_make(double young, double poisson, double density)
{
    /* a plateau so high that no hourglass spring slips */
    return (struct elastic){.foam = {.name = "elastic",
                                     .law = &law,
                                     .density = density,
                                     .young = young,
                                     .plateau = 1e30,
                                     .tensile_strength = INFINITY},
                            .lame = young * poisson / ((1 + poisson) * (1 - 2 * poisson)),
                            .shear = young / (2 * (1 + poisson))};
}
