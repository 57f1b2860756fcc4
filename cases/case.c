#include "cases/case.h"

#include "solver/base/memory.h"

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

void case_free(struct case_file *file)
{
    free_regions(file);
    free_layers(file->pad.layers, file->pad.layer_count);
    for (size_t i = 0; i < file->impact_count; i++)
        memory_free(file->impacts[i].speed);
    for (size_t i = 0; i < file->foam_count; i++)
        free_foam(&file->foams[i]);
    for (size_t i = 0; i < file->programme_count; i++)
        node_free(file->programmes[i].root);
    for (size_t i = 0; i < file->not_covered_count; i++)
        memory_free(file->not_covered[i]);
    memory_free(file->shell.temperature);
    memory_free(file->shell.temperature_factor);
    memory_free(file->programmes);
    memory_free(file->tests);
    memory_free(file->not_covered);
    memory_free(file->impacts);
    memory_free(file->foams);
    memory_free(file->path);
    memory_free(file->title);
    memory_free(file->notes);
    memory_free(file->text);
    tree_free(&file->tree);
    *file = (struct case_file){0};
}
