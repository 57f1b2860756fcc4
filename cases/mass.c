#include "cases/mass.h"

#include <string.h>

#include "cases/foams.h"
#include "cases/shells.h"
#include "materials/registry.h"
#include "solver/base/memory.h"

static enum status comfort_density(const struct case_file *file, double *density, struct errors *errors)
{
    struct registry registry;
    double pressure;
    if (file->comfort.foam[0] == '\0')
        return STATUS_OK;
    enum status status = registry_load(file->path, &registry, errors);
    if (status == STATUS_OK)
        status = case_comfort(file, &registry, &pressure, density, errors);
    registry_free(&registry);
    return status;
}

static enum status shell_density(const struct case_file *file, double *density, struct errors *errors)
{
    struct shell_materials materials;
    struct shell_choice choice;
    if (!file->shell.present)
        return STATUS_OK;
    enum status status = shell_materials_load(file->path, &materials, errors);
    if (status == STATUS_OK)
        status = case_shell_choose(file, &materials, &choice, errors);
    if (status == STATUS_OK)
        *density = choice.sheet.density;
    shell_materials_free(&materials);
    return status;
}

enum status case_densities(const struct case_file *file, double *shell, double *comfort,
                           struct errors *errors)
{
    *shell = *comfort = 0;
    enum status status = comfort_density(file, comfort, errors);
    if (status == STATUS_OK)
        status = shell_density(file, shell, errors);
    if (status != STATUS_OK)
        *shell = *comfort = 0;
    return status;
}

enum status case_masses_check(const struct case_file *file, const struct stack_masses *masses,
                              struct errors *errors)
{
    if (!(masses->other < 0))
        return STATUS_OK;
    return node_error(
        &file->tree, node_get(file->shell.place, "helmet_mass"), errors,
        "shell, liner and comfort padding weigh %.3f kg together, more than the helmet's %.3f kg",
        masses->helmet - masses->other, masses->helmet);
}

enum status case_masses(const struct case_file *file, struct stack_masses *masses, double *share,
                        double *region_liner, struct errors *errors)
{
    double shell, comfort;
    double *shares = memory_doubles(file->region_count + 1);
    enum status status = shares ? case_densities(file, &shell, &comfort, errors) : STATUS_MEMORY;
    if (status == STATUS_OK)
        status = helmet_map_shares(&file->map, shares);
    if (status == STATUS_OK) {
        stack_masses(file, shares, shell, comfort, masses, region_liner);
        status = case_masses_check(file, masses, errors);
    }
    if (status != STATUS_OK)
        *masses = (struct stack_masses){0};
    else if (share)
        memcpy(share, shares, (file->region_count + 1) * sizeof *share);
    memory_free(shares);
    return status;
}
