#ifndef FOAMPULSE_IMPACT_OBLIQUE_MODEL_H
#define FOAMPULSE_IMPACT_OBLIQUE_MODEL_H

#include "solver/impact/columns.h"

/* The rotating bodies of a helmet, for columns and zones alike. `mass` [kg] is that of the whole helmet,
 * without the head. The shell on the rings turns where it is; what neither shell nor foam of the rings holds
 * of the mass (shell and liner farther out, extra mass) is spread evenly over the shell's sphere; with an
 * inertia of the helmet given, the shell has what the foam on the rings leaves of it (but not less than its
 * own on the rings). Nothing when the set-up's `oblique` is not active. STATUS_MEMORY: zeroed. */
enum status oblique_of_helmet(const struct columns_setup *helmet, double mass, struct oblique_model *model);

#endif
