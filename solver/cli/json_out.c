#include "solver/cli/json_out.h"

#include <math.h>

json_t *json_out_number(double value)
{
    return isfinite(value) ? json_real(value) : json_null();
}

json_t *json_out_text(const char *value)
{
    json_t *string = value && value[0] ? json_string(value) : NULL;
    return string ? string : json_null();
}

json_t *json_out_lines(char *const *list, size_t count)
{
    json_t *array = json_array();
    for (size_t i = 0; i < count; i++)
        json_array_append_new(array, json_out_text(list[i]));
    return array;
}
