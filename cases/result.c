#include "cases/result.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>

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
