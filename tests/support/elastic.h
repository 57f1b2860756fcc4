#ifndef FOAMPULSE_SUPPORT_ELASTIC_H
#define FOAMPULSE_SUPPORT_ELASTIC_H

#include "solver/impact/law.h"

/* Isotropic linear elasticity with Poisson's ratio as a foam law for zones, for problems with a closed form.
 * Hypoelastic: the stress gains lambda tr(c) I + 2 G c of each `crush` c. No tables, nothing to release. */
struct elastic {
    struct foam foam; /* first, so that the law finds the rest */
    double lame, shear;
};

/* E [Pa], nu, density [kg/m3]. */
struct elastic elastic_make(double young, double poisson, double density);

#endif
