#include "cases/shells.h"

struct shell_values case_shell_own(const struct case_file *file)
{
    struct shell_values own;
#define OWN_VALUE(key, quantity, needed, meaning) own.key = file->shell.key;
    SHELL_MATERIAL_VALUES(OWN_VALUE)
#undef OWN_VALUE
    return own;
}

enum status case_shell_choose(const struct case_file *file, const struct shell_materials *materials,
                              struct shell_choice *choice, struct errors *errors)
{
    struct shell_values own = case_shell_own(file);
    return shell_material_choose(materials, file->shell.material, &own, choice, errors);
}
