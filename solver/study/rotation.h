#ifndef FOAMPULSE_STUDY_ROTATION_H
#define FOAMPULSE_STUDY_ROTATION_H

#include "cases/case.h"
#include "solver/impact/oblique.h"

/*
 * Directions of an impact on the head, and what the solver takes of them (part of step 2 of the life of a
 * run). Axes of the head: SAE J211-1, x forward, y right, z down.
 */

/* Unit vector of a direction given as elevation (up) and azimuth (to the right) [rad]. */
void rotation_direction(const double angles[2], double unit[3]);

/* What one impact gives the solver: speed and gravity along the face, friction, inertia about the axis,
 * offset of the centre of gravity, axis. Oblique: the motion lies in the plane of the site's normal and
 * `towards`. Square on with an offset: in the plane of normal and offset. Square on without: not active.
 * `aside` gets the part of the offset that is not computed [m]: of an oblique impact, across that plane and
 * along the normal. */
void rotation_setup(const struct case_file *file, const struct case_impact *impact, double gravity,
                    struct oblique_setup *setup, double *aside);

/* Friction of the liner on the head: the impact's own, or that of the headform's skin. */
double rotation_head_friction(const struct case_file *file, const struct case_impact *impact);

#endif
