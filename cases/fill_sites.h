#ifndef FOAMPULSE_CASES_FILL_SITES_H
#define FOAMPULSE_CASES_FILL_SITES_H

#include "cases/fill.h"

/* Checks the case's own `sites`. */
void fill_sites(struct fill *fill);

/* Fills what an impact on a helmet has and one on a pad has not: site, region, anvil, angle, direction,
 * friction. The map must be filled and sound. */
void fill_site_impact(struct fill *fill, const struct node *mapping, struct case_impact *impact);

/* The same for a test of a programme, which may have `towards`, at the site named by `at` on the anvil named
 * by `anvil`. */
void fill_test_impact(struct fill *fill, const struct node *test, const struct node *at,
                      const struct node *anvil, struct case_impact *impact);

/* What `towards` says of a direction (elevation, azimuth [rad]): "up", "front" and so on, or "[20, 180]" in
 * degrees; "-" for none, NaN. */
enum { FILL_HEADING = 40 };
const char *fill_heading(const double direction[2], char text[FILL_HEADING]);

#endif
