#ifndef FOAMPULSE_CASES_SHELLS_H
#define FOAMPULSE_CASES_SHELLS_H

#include "cases/case.h"
#include "materials/shell_material.h"

/* Values of its material that a case gives itself; NaN for the others. */
struct shell_values case_shell_own(const struct case_file *file);

/* The shell's material as a case has it: that of its name, with the case's own values in place of the file's.
 * As shell_material_choose; texts of `choice` belong to the materials. */
enum status case_shell_choose(const struct case_file *file, const struct shell_materials *materials,
                              struct shell_choice *choice, struct errors *errors);

#endif
