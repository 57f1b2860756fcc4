#ifndef FOAMPULSE_CLI_SWEEP_TEXT_H
#define FOAMPULSE_CLI_SWEEP_TEXT_H

#include <jansson.h>

#include "cases/sweep.h"

/*
 * Sweeps in words, for `sweep`, `show` and the studies that make them.
 */

/* Title, model, factors and what became of the layouts; then the table of the best eight (`all`: every one)
 * and which impacts govern; on standard output. STATUS_MEMORY. */
enum status sweep_print(const struct sweep *sweep, int all);

/* The table alone, of rows `order` (count). */
enum status sweep_print_rows(const struct sweep *sweep, const size_t *order, size_t count);

/* "no. 17: crown 1 density 45 kg/m3, shell thickness 3 mm" on one line. */
enum { SWEEP_LAYOUT = 1024 };
const char *sweep_layout(const struct sweep *sweep, size_t at, char text[SWEEP_LAYOUT]);

/* "impact 3 (front, kerbstone, 7.50 m/s, -20 degC)" */
enum { SWEEP_HIT = 160 };
const char *sweep_hit(const struct sweep *sweep, size_t hit, char text[SWEEP_HIT]);

/* One layout in full: its values, what it gives in every hit, and how to run it. STATUS_MEMORY. */
enum status sweep_print_point(const struct sweep *sweep, size_t at);

/* The verdict on the best layout, and the caution. */
void sweep_verdict(const struct sweep *sweep);

/* The object of schema foampulse/layouts/1 on standard output; `path` is its result file, "" for none.
 * STATUS_MEMORY. */
enum status sweep_json(const struct sweep *sweep, const char *path);

/* A line for each layout: its number, status, values, mass, margins and all metrics of every hit. */
void sweep_csv(const struct sweep *sweep);

#endif
