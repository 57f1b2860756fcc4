#ifndef FOAMPULSE_CASES_SHELLS_H
#define FOAMPULSE_CASES_SHELLS_H

#include "cases/case.h"
#include "materials/shell_material.h"

/* The shell's material as a case has it: that of its name, with the case's own values in place of the file's.
 * As shell_material_choose; texts of `choice` belong to the materials. */
enum status case_shell_choose(const struct case_file *file, const struct shell_materials *materials,
                              struct shell_choice *choice, struct errors *errors);

#endif
