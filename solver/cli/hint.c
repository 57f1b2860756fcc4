#include "solver/cli/hint.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "cases/foams.h"
#include "solver/cli/summary.h"
#include "solver/cli/terminal.h"

static const double density_step = 5; /* [kg/m3] a step that moulders can choose */

/* One word of a shell command; in single quotes where it needs them. */
static void print_word(const char *word)
{
    static const char plain[] = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789_./+-=:,@%";
    if (*word && strspn(word, plain) == strlen(word)) {
        terminal_print(stderr, STYLE_PLAIN, " %s", word);
        return;
    }
    terminal_print(stderr, STYLE_PLAIN, " '");
    while (*word) {
        size_t part = strcspn(word, "'");
        terminal_print(stderr, STYLE_PLAIN, "%.*s%s", (int)part, word, word[part] ? "'\\''" : "");
        word += part + (word[part] != '\0');
    }
    terminal_print(stderr, STYLE_PLAIN, "'");
}

/* Whether there is something in the file of a result to draw. */
static int can_draw(const struct case_result *result)
{
    int any = 0;
    for (size_t i = 0; i < result->hit_count && !any; i++)
        any = result->hits[i].status == HIT_COMPUTED;
    return any && result->result_file[0] != '\0';
}

static void hint_pictures(const struct case_result *results, size_t count)
{
    size_t stored = 0;
    for (size_t i = 0; i < count; i++)
        stored += (size_t)can_draw(&results[i]);
    if (stored == 0)
        return;
    terminal_print(stderr, STYLE_FAINT, "next: foampulse plot");
    for (size_t i = 0; i < count; i++) {
        if (can_draw(&results[i]))
            print_word(results[i].result_file);
    }
    terminal_print(stderr, STYLE_PLAIN, "\n");
}

/* The layer that is named as the cause, with the start of its path: liner.NAME.layers.2, pad.layers.1, or
 * liner in the short form of a liner. NULL when there is none. */
static const struct case_layer *cause(const struct case_file *file, const struct hit_result *hit, char *path,
                                      size_t size)
{
    int layer = hit->why_layer;
    const struct node *liner = node_get(file->tree.root, "liner");
    if (layer < 1)
        return NULL;
    if (file->pad.present) {
        snprintf(path, size, "pad.layers.%d", layer);
        return (size_t)layer <= file->pad.layer_count ? &file->pad.layers[layer - 1] : NULL;
    }
    for (size_t i = 0; i < file->region_count; i++) {
        const struct case_region *region = &file->regions[i];
        if (strcmp(region->shape.name, hit->why_region) != 0 || (size_t)layer > region->layer_count)
            continue;
        if (liner && node_get(liner, "regions"))
            snprintf(path, size, "liner.%s.layers.%d", region->shape.name, layer);
        else
            snprintf(path, size, "liner");
        return &region->layers[layer - 1];
    }
    return NULL;
}

/* The next rounder density, softer or stiffer; NaN where the layer has no single one, or one that its foam
 * fixes. */
static double next_density(const struct case_file *file, const struct case_layer *layer, int softer)
{
    const struct case_foam *own = layer->part_count == 1 ? case_foam_find(file, layer->parts[0].foam) : NULL;
    double now = layer->part_count == 1 ? layer->parts[0].density : (double)NAN;
    if (own && !isnan(own->density))
        return (double)NAN;
    return density_step * (softer ? ceil(now / density_step - 0.5) - 1 : floor(now / density_step + 0.5) + 1);
}

/* Whether two hits name the same layer. */
static int same_layer(const struct hit_result *a, const struct hit_result *b)
{
    return a->why_layer == b->why_layer && strcmp(a->why_region, b->why_region) == 0;
}

/* Hits over a limit for the same reason in the same layer as the worst; 0 when another asks for the opposite
 * there. */
static size_t count_agreeing(const struct case_result *result, const struct hit_result *worst)
{
    size_t count = 0;
    for (size_t i = 0; i < result->hit_count; i++) {
        const struct hit_result *hit = &result->hits[i];
        const struct judgement *judgement = summary_worst(hit);
        if (!judgement || !(judgement->margin < 0) || !same_layer(hit, worst))
            continue;
        if (strcmp(hit->why, worst->why) != 0)
            return 0;
        count++;
    }
    return count;
}

static size_t count_over(const struct case_result *result)
{
    size_t count = 0;
    for (size_t i = 0; i < result->hit_count; i++) {
        const struct judgement *judgement = summary_worst(&result->hits[i]);
        count += judgement && judgement->margin < 0;
    }
    return count;
}

/* Whether another layer under the site leaves much of its stroke: then a stiffer one does not help the one
 * that bottoms out, as the other could take more. */
static int has_idle_layer(const struct hit_result *hit)
{
    static const double idle = 0.1;
    for (size_t i = 0; i < hit->output.layer_count; i++) {
        const struct layer_output *layer = &hit->output.layers[i];
        int same = layer->layer == hit->why_layer && strcmp(layer->region, hit->why_region) == 0;
        if (!same && layer->crush_fraction < layer->best_strain - idle)
            return 1;
    }
    return 0;
}

static void hint_density(const struct options *options, const struct case_file *file,
                         const struct case_result *result)
{
    char path[256], setting[512];
    const struct hit_result *hit = result->worst_hit >= 0 ? &result->hits[result->worst_hit] : NULL;
    const struct case_file *helmet = file;
    if (hit)
        case_impact_find(file, hit->impact, &helmet);
    const struct case_layer *layer = hit ? cause(helmet, hit, path, sizeof path) : NULL;
    double density = layer ? next_density(file, layer, strcmp(hit->why, "too stiff") == 0) : (double)NAN;
    size_t agreeing = density > 0 ? count_agreeing(result, hit) : 0, over = count_over(result);
    int bottoms = hit && strcmp(hit->why, "bottoms out") == 0;
    if (agreeing == 0 || (bottoms && has_idle_layer(hit)) || strcmp(file->path, "-") == 0)
        return;
    snprintf(setting, sizeof setting, "%s.density=%.0f kg/m3", path, density);
    terminal_print(stderr, STYLE_FAINT, "%s", hit->why);
    if (over > 1)
        terminal_print(stderr, STYLE_FAINT, " in %zu of %zu hits over a limit", agreeing, over);
    terminal_print(stderr, STYLE_FAINT, ", so try: foampulse run");
    print_word(file->path);
    for (size_t i = 0; i < options->set_count; i++) {
        terminal_print(stderr, STYLE_PLAIN, " -s");
        print_word(options->sets[i]);
    }
    if (options->model) {
        terminal_print(stderr, STYLE_PLAIN, " --model");
        print_word(options->model);
    }
    terminal_print(stderr, STYLE_PLAIN, " -s");
    print_word(setting);
    terminal_print(stderr, STYLE_PLAIN, "\n");
}

void hint_after_run(const struct options *options, const struct case_file *files,
                    const struct case_result *results, size_t count)
{
    size_t best = 0;
    for (size_t i = 0; i < count; i++)
        best = results[i].worst_margin > results[best].worst_margin ? i : best;
    hint_pictures(results, count);
    if (count > 0 && results[best].worst_margin < 0)
        hint_density(options, &files[best], &results[best]);
}
