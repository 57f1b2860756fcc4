#ifndef FOAMPULSE_CASES_FILL_FOAMS_H
#define FOAMPULSE_CASES_FILL_FOAMS_H

#include "cases/fill.h"

/* Fills the case's own foams from `foams`. The registry must be loaded. */
void fill_foams(struct fill *fill);

/* Reads pairs [temperature, factor], temperatures ascending, into new arrays (*count) [degC]. */
void fill_temperatures(struct fill *fill, const struct node *list, size_t *count, double **temperature,
                       double **factor);

/* What a foam is wanted for: liners, comfort padding (an own foam like one for it), or as the foam that an
 * own one is like. */
enum fill_foam_use { FILL_FOAM_LINER, FILL_FOAM_COMFORT, FILL_FOAM_SHIPPED };

/* Checks that `foam` names a foam for this use. `place` is where a message points to. 1 when it does. */
int fill_foam_known(struct fill *fill, const struct node *place, const char *foam, enum fill_foam_use use);

/* Fills a list of layers. `foam` and `voids` hold for layers that give none of their own. */
void fill_layers(struct fill *fill, const struct node *list, const struct node *foam, double voids,
                 struct case_layer **layers, size_t *count);

/* Fills one layer from a mapping that gives foam, density and thickness (and, with `group` SCHEMA_LAYER,
 * voids and parallel). */
void fill_layer(struct fill *fill, const struct node *mapping, enum schema_group group,
                const struct node *foam, double voids, struct case_layer *layer);

#endif
