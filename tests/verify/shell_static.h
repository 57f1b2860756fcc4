#ifndef FOAMPULSE_TESTS_SHELL_STATIC_H
#define FOAMPULSE_TESTS_SHELL_STATIC_H

/*
 * Statics and frequencies of a shell for the tests: Newton's method on the forces of shell_forces, their
 * derivatives by central differences. A node's force depends on its two neighbours on each side, so ten
 * shifted evaluations give all columns, and the matrix has eleven diagonals.
 */

#include <criterion/criterion.h>
#include <gsl/gsl_eigen.h>
#include <gsl/gsl_sort_vector.h>
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "solver/impact/shell.h"

enum { BODY_NODES = 1600, BODY_SPREAD = 5, BODY_BAND = 2 * BODY_SPREAD + 1 };

struct body {
    struct shell_setup setup;
    struct shell_model model;
    struct shell_state state;
    size_t count;
    double first_r[BODY_NODES], first_z[BODY_NODES];
    double r[BODY_NODES], z[BODY_NODES];
    double load_r[BODY_NODES], load_z[BODY_NODES];   /* dead load [N] */
    int held_r[BODY_NODES], held_z[BODY_NODES];      /* at their present place */
    double force_r[BODY_NODES], force_z[BODY_NODES]; /* of shell, load and plate [N] */
    double plate_z, plate_stiffness; /* a rigid plate above: z <= plate_z; [N/m] a node, 0: none */
    double plate_force;              /* [N] */
};

static const struct shell_sheet body_abs = {
    .density = 1050, .youngs_modulus = 2.2e9, .poisson = 0.37, .yield_stress = INFINITY};

/* A body with `segments` segments; first_r, first_z, setup.sheet, thickness and ends are set afterwards. */
static inline struct body *body_new(size_t segments, struct shell_sheet sheet, double thickness)
{
    cr_assert_leq(segments + 1, (size_t)BODY_NODES);
    struct body *body = calloc(1, sizeof *body);
    body->count = segments + 1;
    body->setup = (struct shell_setup){.node_count = segments + 1, .thickness = thickness, .sheet = sheet};
    return body;
}

static inline void body_free(struct body *body)
{
    shell_state_free(&body->state);
    shell_model_free(&body->model);
    free(body);
}

/* Makes model and state from first_r, first_z and the setup, at rest there; holds poles and clamped ends. */
static inline void body_make(struct body *body)
{
    body->setup.r = body->first_r;
    body->setup.z = body->first_z;
    cr_assert_eq(shell_model_make(&body->setup, &body->model), STATUS_OK);
    cr_assert_eq(shell_state_make(&body->model, &body->state), STATUS_OK);
    size_t last = body->count - 1;
    memcpy(body->r, body->first_r, sizeof body->r);
    memcpy(body->z, body->first_z, sizeof body->z);
    body->held_r[0] = body->setup.start != SHELL_FREE;
    body->held_z[0] = body->setup.start == SHELL_CLAMPED;
    body->held_r[last] = body->setup.end != SHELL_FREE;
    body->held_z[last] = body->setup.end == SHELL_CLAMPED;
}

/* Flat plate of radius `radius` with a pole. */
static inline struct body *body_plate(size_t segments, double radius, double thickness,
                                      struct shell_sheet sheet, enum shell_end edge)
{
    struct body *body = body_new(segments, sheet, thickness);
    for (size_t i = 0; i <= segments; i++)
        body->first_r[i] = radius * (double)i / (double)segments;
    body->setup.start = SHELL_POLE;
    body->setup.end = edge;
    body_make(body);
    return body;
}

/* Cap of a sphere, pole at the top, z = 0, out to a polar angle; pi is the complete sphere. Node i stands at
 * the angle sinh(grading i/segments)/sinh(grading); grading 0 is even. */
static inline struct body *body_cap(size_t segments, double radius, double angle, double grading,
                                    double thickness, struct shell_sheet sheet, enum shell_end edge)
{
    struct body *body = body_new(segments, sheet, thickness);
    for (size_t i = 0; i <= segments; i++) {
        double share = (double)i / (double)segments;
        double phi = angle * (grading > 0.0 ? sinh(grading * share) / sinh(grading) : share);
        body->first_r[i] = radius * sin(phi);
        body->first_z[i] = -2.0 * radius * sin(0.5 * phi) * sin(0.5 * phi);
    }
    body->first_r[0] = 0.0;
    if (edge == SHELL_POLE)
        body->first_r[segments] = 0.0;
    body->setup.start = SHELL_POLE;
    body->setup.end = edge;
    body_make(body);
    return body;
}

static inline double *body_unknown(struct body *body, size_t a)
{
    return a % 2 ? &body->z[a / 2] : &body->r[a / 2];
}

static inline int body_held(const struct body *body, size_t a)
{
    return a % 2 ? body->held_z[a / 2] : body->held_r[a / 2];
}

static inline double body_force(const struct body *body, size_t a)
{
    return a % 2 ? body->force_z[a / 2] : body->force_r[a / 2];
}

/* Forces of shell, load and plate at the present place. */
static inline void body_forces(struct body *body)
{
    memcpy(body->force_r, body->load_r, sizeof body->force_r);
    memcpy(body->force_z, body->load_z, sizeof body->force_z);
    shell_forces(&body->model, &body->state, body->r, body->z, body->force_r, body->force_z);
    body->plate_force = 0.0;
    for (size_t i = 0; body->plate_stiffness > 0.0 && i < body->count; i++) {
        double depth = body->z[i] - body->plate_z;
        double force = depth > 0.0 ? body->plate_stiffness * depth : 0.0;
        body->force_z[i] -= force;
        body->plate_force += force;
    }
}

/* Minus the derivatives of the forces, (2 count x BODY_BAND). */
static inline double *body_stiffness(struct body *body)
{
    size_t unknowns = 2 * body->count;
    double *band = calloc(unknowns * BODY_BAND, sizeof *band);
    double *up = calloc(unknowns, sizeof *up), step = 1e-6 * body->model.length[1];
    for (size_t colour = 0; colour < 10; colour++) {
        for (int side = 1; side >= -1; side -= 2) {
            for (size_t a = colour; a < unknowns; a += 10)
                *body_unknown(body, a) += side * step;
            body_forces(body);
            for (size_t a = colour; a < unknowns; a += 10)
                *body_unknown(body, a) -= side * step;
            for (size_t b = 0; side == 1 && b < unknowns; b++)
                up[b] = body_force(body, b);
        }
        for (size_t b = 0; b < unknowns; b++) {
            for (size_t a = b >= 5 ? b - 5 : 0; a <= b + 5 && a < unknowns; a++) {
                int near = a / 2 <= b / 2 + 2 && b / 2 <= a / 2 + 2;
                if (near && a % 10 == colour)
                    band[b * BODY_BAND + a + BODY_SPREAD - b] = -(up[b] - body_force(body, b)) / (2.0 * step);
            }
        }
    }
    free(up);
    return band;
}

/* Solves band x = right in place, held unknowns 0; elimination without pivoting. */
static inline void body_eliminate(const struct body *body, double *band, double *right)
{
    size_t unknowns = 2 * body->count;
    for (size_t b = 0; b < unknowns; b++) {
        for (size_t k = 0; k < BODY_BAND; k++) {
            size_t a = b + k - BODY_SPREAD;
            if (a < unknowns && (body_held(body, a) || body_held(body, b)))
                band[b * BODY_BAND + k] = a == b;
        }
        if (body_held(body, b))
            right[b] = 0.0;
    }
    for (size_t p = 0; p < unknowns; p++) {
        for (size_t b = p + 1; b <= p + BODY_SPREAD && b < unknowns; b++) {
            double factor = band[b * BODY_BAND + BODY_SPREAD - (b - p)] / band[p * BODY_BAND + BODY_SPREAD];
            for (size_t k = 0; k <= BODY_SPREAD; k++)
                band[b * BODY_BAND + BODY_SPREAD - (b - p) + k] -=
                    factor * band[p * BODY_BAND + BODY_SPREAD + k];
            right[b] -= factor * right[p];
        }
    }
    for (size_t p = unknowns; p-- > 0;) {
        for (size_t k = 1; k <= BODY_SPREAD && p + k < unknowns; k++)
            right[p] -= band[p * BODY_BAND + BODY_SPREAD + k] * right[p + k];
        right[p] /= band[p * BODY_BAND + BODY_SPREAD];
    }
}

/* Moves the free nodes to balance until no node moves more than `tolerance` [m]; asserts that it gets there.
 */
static inline void body_balance(struct body *body, double tolerance)
{
    size_t unknowns = 2 * body->count;
    double *move = calloc(unknowns, sizeof *move), largest = INFINITY;
    int rounds = 0;
    while (largest > tolerance && rounds++ < 100) {
        double *band = body_stiffness(body);
        body_forces(body);
        for (size_t a = 0; a < unknowns; a++)
            move[a] = body_force(body, a);
        body_eliminate(body, band, move);
        free(band);
        largest = 0.0;
        for (size_t a = 0; a < unknowns; a++)
            largest = fabs(move[a]) > largest ? fabs(move[a]) : largest;
        double limit = 0.5 * body->model.length[1], scale = largest > limit ? limit / largest : 1.0;
        for (size_t a = 0; a < unknowns; a++)
            *body_unknown(body, a) += scale * move[a];
        cr_assert(isfinite(largest));
    }
    free(move);
    cr_assert_lt(largest, tolerance, "no balance: last move %g m", largest);
    body_forces(body);
}

/* All squared angular frequencies of free unknowns about the present place, ascending; returns their number.
 */
static inline size_t body_frequencies(struct body *body, double *squares)
{
    size_t unknowns = 2 * body->count, order = 0;
    size_t *index = calloc(unknowns, sizeof *index);
    double *band = body_stiffness(body);
    for (size_t a = 0; a < unknowns; a++)
        index[a] = body_held(body, a) ? SIZE_MAX : order++;
    gsl_matrix *matrix = gsl_matrix_calloc(order, order);
    for (size_t b = 0; b < unknowns; b++) {
        for (size_t k = 0; k < BODY_BAND; k++) {
            size_t a = b + k - BODY_SPREAD;
            if (a < unknowns && index[a] != SIZE_MAX && index[b] != SIZE_MAX)
                gsl_matrix_set(matrix, index[b], index[a],
                               band[b * BODY_BAND + k] /
                                   sqrt(body->model.mass[a / 2] * body->model.mass[b / 2]));
        }
    }
    gsl_vector *values = gsl_vector_alloc(order);
    gsl_eigen_symm_workspace *workspace = gsl_eigen_symm_alloc(order);
    gsl_eigen_symm(matrix, values, workspace);
    gsl_sort_vector(values);
    for (size_t k = 0; k < order; k++)
        squares[k] = gsl_vector_get(values, k);
    gsl_eigen_symm_free(workspace);
    gsl_vector_free(values);
    gsl_matrix_free(matrix);
    free(band);
    free(index);
    return order;
}

/* Order observed on three meshes, each twice as fine as the one before, against an exact value. */
static inline double order_observed(const double error[3])
{
    return 0.5 * log2(fabs(error[0] / error[2]));
}

#endif
