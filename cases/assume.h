#ifndef FOAMPULSE_CASES_ASSUME_H
#define FOAMPULSE_CASES_ASSUME_H

#include <stddef.h>

#include "cases/case.h"
#include "solver/base/status.h"

/* Adds one line for each thing that a case leaves open and the program has filled in, or that a case asks for
 * and the model simplifies: the part of a result's assumptions that follows from the case alone. The list
 * grows as with result_note. STATUS_OK or STATUS_MEMORY. */
enum status case_assumptions(const struct case_file *file, char ***list, size_t *count);

/* Adds what deserves a second look in the case alone: cells thinner than the beads of its foam. The same
 * list, the same errors. */
enum status case_warnings(const struct case_file *file, char ***list, size_t *count);

#endif
