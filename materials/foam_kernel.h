#ifndef FOAMPULSE_MATERIALS_FOAM_KERNEL_H
#define FOAMPULSE_MATERIALS_FOAM_KERNEL_H

#include "solver/impact/law.h"

/* Advances zones of crushable foam by a step; see struct law. One function an instruction set. */
void foam_update_base(const struct foam *foam, const struct foam_zones *zones, double dt);
void foam_update_v3(const struct foam *foam, const struct foam_zones *zones, double dt);
void foam_update_v4(const struct foam *foam, const struct foam_zones *zones, double dt);

/* The same in a body of revolution: struct foam_points. */
void foam_update_points_base(const struct foam *foam, const struct foam_points *points, double dt);
void foam_update_points_v3(const struct foam *foam, const struct foam_points *points, double dt);
void foam_update_points_v4(const struct foam *foam, const struct foam_points *points, double dt);

#endif
