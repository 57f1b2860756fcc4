#include "cases/foams.h"

#include <string.h>

const struct case_foam *case_foam_find(const struct case_file *file, const char *name)
{
    for (size_t i = 0; i < file->foam_count; i++) {
        if (strcmp(file->foams[i].name, name) == 0)
            return &file->foams[i];
    }
    return NULL;
}

struct registry_own case_foam_own(const struct case_foam *foam)
{
    struct registry_own own = registry_own_none();
    own.name = foam->name;
    own.like = foam->like;
    own.density = foam->density;
#define OWN_VALUE(key, quantity, needed, meaning) own.value[REGISTRY_##key] = foam->key;
    REGISTRY_PROPERTIES(OWN_VALUE)
#undef OWN_VALUE
    own.stress_10 = foam->stress_10;
    own.knee = foam->knee;
    own.temperature_count = foam->temperature_count;
    own.temperature = foam->temperature;
    own.temperature_factor = foam->temperature_factor;
    own.curve_count = foam->curve_count;
    own.curve_density = foam->curve_density;
    own.curve_file = foam->curve_file;
    return own;
}

enum status case_foam_make(const struct case_file *file, const struct registry *registry,
                           const struct case_part *part, double temperature, struct foam *foam,
                           struct registry_report *report, struct errors *errors)
{
    const struct case_foam *given = case_foam_find(file, part->foam);
    if (!given)
        return registry_foam(registry, part->foam, NULL, part->density, temperature, foam, report, errors);
    struct registry_own own = case_foam_own(given);
    return registry_foam(registry, given->name, &own, part->density, temperature, foam, report, errors);
}

enum status case_comfort(const struct case_file *file, const struct registry *registry, double *pressure,
                         double *density, struct errors *errors)
{
    const char *name = file->comfort.foam;
    const struct case_foam *given = case_foam_find(file, name);
    *pressure = *density = 0;
    if (name[0] == '\0')
        return STATUS_OK;
    if (!given)
        return registry_comfort(registry, name, NULL, pressure, density, errors);
    struct registry_own own = case_foam_own(given);
    return registry_comfort(registry, name, &own, pressure, density, errors);
}
