#ifndef FOAMPULSE_IMPACT_RUN_H
#define FOAMPULSE_IMPACT_RUN_H

#include "solver/impact/axisymmetric.h"
#include "solver/impact/columns.h"
#include "solver/impact/pad.h"

/*
 * One impact from set-up to output: steps 4 to 8 of the life of a run (model, state, stepping, record, filter
 * and metrics). A run whose ledger stays open by more than 1 % of the initial energy is an error.
 */

/* Solves `hit_count` hits one after the other on one pad; `speed` (hit_count) [m/s], `outputs` (hit_count).
 * STATUS_COMPUTATION with a message naming place and time; STATUS_MEMORY; STATUS_INTERRUPTED when `stop`
 * (NULL allowed) became non-zero. STATUS_COMPUTATION keeps the outputs of the hits before the one that
 * failed; all other outputs are zeroed on failure. */
enum status run_pad(const struct pad_setup *setup, const double *speed, size_t hit_count,
                    struct impact_output *outputs, const atomic_int *stop, char message[HISTORY_MESSAGE]);

/* The same for the hits of one impact on one and the same helmet by columns. Speeds along the
 * face are to setup->oblique.speed as these are to setup->speed. */
enum status run_columns_hits(const struct columns_setup *setup, const double *speed, size_t hit_count,
                             struct impact_output *outputs, const atomic_int *stop,
                             char message[HISTORY_MESSAGE]);

/* The same by zones in r and z. */
enum status run_axisymmetric_hits(const struct axisymmetric_setup *setup, const double *speed,
                                  size_t hit_count, struct impact_output *outputs, const atomic_int *stop,
                                  char message[HISTORY_MESSAGE]);

/* One hit of setup->speed on a new helmet, by columns and by zones. `mass` gets the mass [kg] of the model
 * without the head; NULL is allowed. */
enum status run_columns(const struct columns_setup *setup, struct impact_output *output, double *mass,
                        const atomic_int *stop, char message[HISTORY_MESSAGE]);

enum status run_axisymmetric(const struct axisymmetric_setup *setup, struct impact_output *output,
                             double *mass, const atomic_int *stop, char message[HISTORY_MESSAGE]);

#endif
