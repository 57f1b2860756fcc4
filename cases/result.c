#include "cases/result.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "solver/base/memory.h"

const struct hoop_bounds hoop_bounds_none = {"", NAN, NAN, NAN, NAN};

const char *verdict_text(enum verdict verdict)
{
    static const char *const texts[] = {
#define VERDICT_TEXT(name, text) text,
        VERDICT_LIST(VERDICT_TEXT)
#undef VERDICT_TEXT
    };
    return texts[verdict];
}

/* Equal, or both without a value. */
static int same_number(double a, double b)
{
    return a == b || (isnan(a) && isnan(b));
}

/* Angles [rad] that passed through a file in degrees differ in the last bits. */
static int same_angle(double a, double b)
{
    return same_number(a, b) || fabs(a - b) < 1e-9;
}

int hit_same_setting(const struct hit_result *a, const struct hit_result *b)
{
    return a->hit == b->hit && strcmp(a->size, b->size) == 0 && strcmp(a->site, b->site) == 0 &&
           strcmp(a->anvil, b->anvil) == 0 && same_angle(a->angle, b->angle) &&
           same_angle(a->towards[0], b->towards[0]) && same_angle(a->towards[1], b->towards[1]) &&
           same_number(a->face_friction, b->face_friction) && same_number(a->head_friction, b->head_friction);
}

int hit_same_conditions(const struct hit_result *a, const struct hit_result *b)
{
    return a->speed == b->speed && a->temperature == b->temperature && hit_same_setting(a, b);
}

const struct hit_result *hit_counterpart(const struct case_result *result, const struct hit_result *as)
{
    const struct hit_result *found = NULL;
    for (size_t i = 0; i < result->hit_count; i++) {
        const struct hit_result *hit = &result->hits[i];
        int better = !found || (hit->impact == as->impact && found->impact != as->impact);
        if (better && hit_same_conditions(hit, as))
            found = hit;
    }
    return found;
}

static void list_free(char **list, size_t count)
{
    for (size_t i = 0; list && i < count; i++)
        memory_free(list[i]);
    memory_free(list);
}

static void map_free(struct helmet_map *map)
{
    for (size_t i = 0; map->regions && i < map->region_count; i++)
        memory_free(map->regions[i].bounds);
    memory_free(map->regions);
    memory_free(map->edge_azimuth);
    memory_free(map->edge_elevation);
}

const struct judgement *hit_limit(const struct hit_result *hit, enum metric metric)
{
    const struct judgement *least = NULL;
    for (size_t i = 0; i < hit->judgement_count; i++) {
        const struct judgement *one = &hit->judgements[i];
        if (one->metric == metric && isfinite(one->limit) && (!least || one->limit < least->limit))
            least = one;
    }
    return least;
}

void hit_rings_free(struct hit_rings *rings)
{
    memory_free(rings->edge);
    memory_free(rings->regions);
    memory_free(rings->share);
    *rings = (struct hit_rings){0};
}

void case_result_free(struct case_result *result)
{
    for (size_t i = 0; result->hits && i < result->hit_count; i++) {
        impact_output_free(&result->hits[i].output);
        hit_rings_free(&result->hits[i].rings);
        memory_free(result->hits[i].judgements);
    }
    memory_free(result->hits);
    memory_free(result->sizes);
    list_free(result->assumptions, result->assumption_count);
    list_free(result->warnings, result->warning_count);
    list_free(result->not_covered, result->not_covered_count);
    map_free(&result->map);
    memory_free(result->file);
    memory_free(result->title);
    memory_free(result->case_text);
    memory_free(result->result_file);
    *result = (struct case_result){0};
}

enum status result_note(char ***list, size_t *count, const char *format, ...)
{
    va_list arguments, again;
    va_start(arguments, format);
    va_copy(again, arguments);
    int length = vsnprintf(NULL, 0, format, again);
    va_end(again);
    char *line = length < 0 ? NULL : memory_zeroed((size_t)length + 1, 1);
    if (line)
        vsnprintf(line, (size_t)length + 1, format, arguments);
    va_end(arguments);
    char **longer = line ? memory_resized(*list, *count, *count + 1, sizeof **list) : NULL;
    if (!longer) {
        memory_free(line);
        return STATUS_MEMORY;
    }
    longer[(*count)++] = line;
    *list = longer;
    return STATUS_OK;
}
