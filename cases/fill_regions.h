#ifndef FOAMPULSE_CASES_FILL_REGIONS_H
#define FOAMPULSE_CASES_FILL_REGIONS_H

#include "cases/fill.h"

/* Fills the regions from `liner`, the short form included: names, layers, comfort padding and radii of their
 * own. Own foams must be filled. */
void fill_regions(struct fill *fill);

/* Fills the map: lower edge and the regions' bounds. Headform, shell, comfort padding and the regions' layers
 * must be filled: widths on the shell need its inner radius. */
void fill_map(struct fill *fill);

/* Refuses regions that hold no direction because earlier ones hide them, found on a fixed set of directions
 * spread evenly over the head (about 1 mm apart). The map must be sound. */
void fill_hidden(struct fill *fill);

/* Refuses stacks thicker than the space that `shell.inner_radius` or the region's own radii leave. */
void fill_thickness(struct fill *fill);

/* Index of the region of this name, -1 when there is none. */
int fill_region_index(const struct fill *fill, const char *name);

/* Adds "region 'NAME' is not known" at a node, with the nearest name. */
void fill_region_unknown(struct fill *fill, const struct node *node);

#endif
