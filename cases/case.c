#include "cases/case.h"

#include "solver/base/memory.h"

size_t case_helmet_count(const struct case_file *file)
{
    return file->size_count > 0 ? file->size_count : 1;
}

const struct case_file *case_helmet(const struct case_file *file, size_t at)
{
    return file->size_count > 0 ? &file->sizes[at] : file;
}

size_t case_impact_count(const struct case_file *file)
{
    size_t count = 0;
    for (size_t i = 0; i < case_helmet_count(file); i++)
        count += case_helmet(file, i)->impact_count;
    return count;
}

const struct case_impact *case_impact_find(const struct case_file *file, int number,
                                           const struct case_file **helmet)
{
    for (size_t i = 0; i < case_helmet_count(file); i++) {
        const struct case_file *one = case_helmet(file, i);
        int at = one->impact_count > 0 ? number - one->impacts[0].number : -1;
        if (at < 0 || (size_t)at >= one->impact_count)
            continue;
        if (helmet)
            *helmet = one;
        return &one->impacts[at];
    }
    return NULL;
}

static void free_layers(struct case_layer *layers, size_t count)
{
    for (size_t i = 0; layers && i < count; i++)
        memory_free(layers[i].parts);
    memory_free(layers);
}

static void free_regions(struct case_file *file)
{
    for (size_t i = 0; i < file->region_count; i++) {
        free_layers(file->regions[i].layers, file->regions[i].layer_count);
        memory_free(file->regions[i].shape.bounds);
    }
    memory_free(file->regions);
    memory_free(file->map.regions);
    memory_free(file->map.edge_azimuth);
    memory_free(file->map.edge_elevation);
}

static void free_foam(struct case_foam *foam)
{
    for (size_t i = 0; i < foam->curve_count; i++)
        memory_free(foam->curve_file[i]);
    memory_free(foam->curve_file);
    memory_free(foam->curve_density);
    memory_free(foam->temperature);
    memory_free(foam->temperature_factor);
}

void case_drop_impacts(struct case_file *file)
{
    for (size_t i = 0; i < file->impact_count; i++)
        memory_free(file->impacts[i].speed);
    for (size_t i = 0; i < file->not_covered_count; i++)
        memory_free(file->not_covered[i]);
    memory_free(file->impacts);
    memory_free(file->tests);
    memory_free(file->not_covered);
    file->impacts = NULL;
    file->tests = NULL;
    file->not_covered = NULL;
    file->impact_count = file->test_count = file->not_covered_count = 0;
    file->incomplete = 0;
}

void case_free(struct case_file *file)
{
    for (size_t i = 0; i < file->size_count; i++)
        case_free(&file->sizes[i]);
    free_regions(file);
    free_layers(file->pad.layers, file->pad.layer_count);
    case_drop_impacts(file);
    for (size_t i = 0; i < file->foam_count; i++)
        free_foam(&file->foams[i]);
    for (size_t i = 0; i < file->programme_count; i++)
        node_free(file->programmes[i].root);
    memory_free(file->shell.temperature);
    memory_free(file->shell.temperature_factor);
    factors_free(&file->sweep.factors, &file->sweep.factor_count);
    factors_free(&file->tune.factors, &file->tune.factor_count);
    memory_free(file->tolerance.scatters);
    memory_free(file->sizes);
    memory_free(file->programmes);
    memory_free(file->foams);
    memory_free(file->path);
    memory_free(file->title);
    memory_free(file->notes);
    memory_free(file->text);
    tree_free(&file->tree);
    *file = (struct case_file){0};
}
