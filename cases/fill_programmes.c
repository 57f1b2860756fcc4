#include "cases/fill_programmes.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "cases/fill_helmet.h"
#include "cases/fill_impacts.h"
#include "cases/fill_sites.h"
#include "cases/include.h"
#include "cases/reader.h"
#include "cases/source.h"
#include "cases/stack.h"
#include "solver/base/data.h"
#include "solver/base/memory.h"

const char *const programme_names[] = {"un-r22.05", "un-r22.06", "fmvss-218", "jis-t-8133-2015", "racing-8.2",
                                       "en-1078",   "cpsc-1203", "en-1077",   "astm-f2040"};
const size_t programme_count = sizeof programme_names / sizeof *programme_names;

enum { CONDITIONS = 8, WORD = 16, NOT_COVERED_TEXT = 400 };

static const struct tree *tree_of(const struct fill *fill)
{
    return &fill->file->tree;
}

/* --- files --- */

int programme_is_path(const char *name)
{
    return strchr(name, '/') != NULL;
}

enum status programme_find(const char *name, char **path)
{
    char file[CASE_NAME + 32];
    *path = NULL;
    for (size_t i = 0; i < programme_count; i++) {
        if (strcmp(name, programme_names[i]) == 0) {
            snprintf(file, sizeof file, "cases/programmes/%s.yaml", name);
            return data_find(file, NULL, path);
        }
    }
    return STATUS_OK;
}

/* Adds the file of a programme that comes with the program to the tree: its index in *file. */
static enum status add_shipped(struct fill *fill, const struct node *name, int *file)
{
    struct tree *tree = &fill->file->tree;
    char *path, *content;
    const char *why;
    size_t length;
    enum status status = programme_find(name->text, &path);
    if (status != STATUS_OK)
        return status;
    if (!path)
        return schema_unknown(tree, name, "programme", name->text, programme_names, programme_count,
                              fill->errors);
    status = source_read(path, 1, &content, &length, &why);
    if (status == STATUS_OK) {
        *file = source_add(tree, path, path, content, length);
        status = *file < 0 ? STATUS_MEMORY : STATUS_OK;
    } else if (status != STATUS_MEMORY) {
        status = node_error(tree, name, fill->errors, "programme %.80s: %s", path, why);
    }
    memory_free(path);
    return status;
}

/* The root of a programme, read into the tree of the case, so that messages name its lines; NULL with an
 * error. */
static struct node *parse(struct fill *fill, const struct node *name)
{
    struct tree *tree = &fill->file->tree;
    size_t nodes = 0;
    int index = -1;
    struct node *root = NULL;
    enum status status = programme_is_path(name->text) ? include_add(tree, name, fill->errors, &index)
                                                       : add_shipped(fill, name, &index);
    if (status == STATUS_OK) {
        tree->files[index].included_from = name->file;
        tree->files[index].included_line = name->line;
        status = reader_parse(tree, index, tree->files[index].content, tree->files[index].length, &nodes,
                              &root, fill->errors);
    }
    fill->out_of_memory |= status == STATUS_MEMORY;
    return root;
}

/* --- lists of words --- */

/* Checks that a key holds a list of texts, and returns it; NULL when absent or faulty. */
static const struct node *words(struct fill *fill, const struct node *mapping, const char *key)
{
    const struct node *list = node_get(mapping, key);
    int sound = list && list->kind == NODE_SEQUENCE && list->count > 0;
    for (size_t i = 0; sound && i < list->count; i++)
        sound = list->items[i]->kind == NODE_SCALAR;
    if (list && !sound)
        node_error(tree_of(fill), list, fill->errors, "`%s` takes a list of names: [.., ..]", key);
    return sound ? list : NULL;
}

static int has_word(const struct node *list, const char *word)
{
    for (size_t i = 0; i < list->count; i++) {
        if (strcmp(list->items[i]->text, word) == 0)
            return 1;
    }
    return 0;
}

/* The test's own list, else the programme's; an error when there is neither. */
static const struct node *list_of(struct fill *fill, const struct case_programme *programme,
                                  const struct node *test, const char *key)
{
    const struct node *list = words(fill, node_get(test, key) ? test : programme->root, key);
    if (!list && !node_get(test, key) && !node_get(programme->root, key))
        node_error(tree_of(fill), test, fill->errors, "`%s` is missing here and in the programme", key);
    return list;
}

/* --- conditions --- */

struct condition {
    char name[WORD];
    double temperature; /* [degC] */
};

struct conditions {
    size_t count;
    struct condition of[CONDITIONS];
};

/* `conditions: {ambient: 23 degC, ...}`, less those that the case does not want. */
static struct conditions read_conditions(struct fill *fill, const struct case_programme *programme,
                                         const struct node *wanted)
{
    struct conditions conditions = {0};
    const struct node *mapping = node_get(programme->root, "conditions");
    if (!mapping || mapping->kind != NODE_MAPPING || mapping->count == 0 || mapping->count > CONDITIONS) {
        node_error(tree_of(fill), mapping ? mapping : programme->root, fill->errors,
                   "`conditions` takes 1 to %d names with temperatures: {ambient: 23 degC, ...}", CONDITIONS);
        return conditions;
    }
    for (size_t i = 0; i < mapping->count; i++) {
        const char *name = mapping->keys[i]->text;
        struct condition *condition = &conditions.of[conditions.count];
        snprintf(condition->name, WORD, "%s", name);
        if (fill_value(fill, mapping->items[i], name, QUANTITY_TEMPERATURE, -80, 150,
                       &condition->temperature) &&
            (!wanted || has_word(wanted, name)))
            conditions.count++;
    }
    for (size_t i = 0; wanted && i < wanted->count; i++) {
        if (node_index(mapping, wanted->items[i]->text) == mapping->count)
            node_error(tree_of(fill), wanted->items[i], fill->errors,
                       "the programme %s has no condition %.40s", programme->name, wanted->items[i]->text);
    }
    return conditions;
}

/* Those that a test names, all where it names none. */
static struct conditions conditions_of(struct fill *fill, const struct case_programme *programme,
                                       const struct node *test, const struct conditions *all)
{
    const struct node *list = words(fill, test, "conditions");
    const struct node *mapping = node_get(programme->root, "conditions");
    struct conditions chosen = {0};
    for (size_t i = 0; list && i < list->count; i++) {
        if (node_index(mapping, list->items[i]->text) == mapping->count)
            node_error(tree_of(fill), list->items[i], fill->errors, "the programme %s has no condition %.40s",
                       programme->name, list->items[i]->text);
    }
    for (size_t i = 0; i < all->count; i++) {
        if (!list || has_word(list, all->of[i].name))
            chosen.of[chosen.count++] = all->of[i];
    }
    return chosen;
}

/* --- tests --- */

/* How a case uses a programme: `programme: NAME`, or {name, sizes, temperatures, speed}. */
struct use {
    const struct node *name, *sizes, *temperatures;
    int highest;  /* speed of the tests with the tolerance added */
    double share; /* `programme_speed`: 0 the lowest speed that the tolerance allows, 1 the highest; NaN */
};

/* Limits of a test, with where they come from. */
static void read_limits(struct fill *fill, const struct case_programme *programme, const struct node *test,
                        struct case_test *into)
{
    const struct node *limits = node_get(test, "limits");
    const char *source = schema_text(test, SCHEMA_TEST, "source");
    for (size_t i = 0; i < METRIC_COUNT; i++)
        into->limit[i] = NAN;
    if (strlen(schema_text(test, SCHEMA_TEST, "provenance")) >= sizeof into->provenance)
        node_error(tree_of(fill), node_get(test, "provenance"), fill->errors,
                   "`provenance` takes %zu bytes of text at most", sizeof into->provenance - 1);
    snprintf(into->provenance, sizeof into->provenance, "%s", schema_text(test, SCHEMA_TEST, "provenance"));
    snprintf(into->source, sizeof into->source, "%s",
             source[0] ? source : schema_text(programme->root, SCHEMA_PROGRAMME, "source"));
    if (!limits) {
        node_error(
            tree_of(fill), test, fill->errors,
            "`limits` is missing: {peak_g: 275 g, ...}, `none` where there are none on purpose, or `not "
            "established`");
    } else if (limits->kind == NODE_MAPPING && limits->count > 0) {
        fill_metric_limits(fill, limits, into->limit, NULL);
    } else if (limits->kind == NODE_SCALAR && strcmp(limits->text, "not established") == 0) {
        snprintf(into->provenance, sizeof into->provenance, "not established here");
    } else if (limits->kind == NODE_SCALAR && strcmp(limits->text, "none") == 0) {
        snprintf(into->provenance, sizeof into->provenance, "none on purpose");
    } else {
        node_error(tree_of(fill), limits, fill->errors,
                   "`limits` takes {METRIC: VALUE, ...}, none or not established");
    }
}

/* What one helmet takes, of the programme. */
static void read_sample(const struct case_programme *programme, struct case_test *into)
{
    const struct node *sample = node_get(programme->root, "sample");
    double impacts = schema_quantity(sample, SCHEMA_PROGRAMME_SAMPLE, "impacts");
    into->sample_impacts = isnan(impacts) ? 0 : (int)impacts;
    into->sample_apart = schema_quantity(sample, SCHEMA_PROGRAMME_SAMPLE, "apart");
    snprintf(into->sample_provenance, sizeof into->sample_provenance, "%s",
             schema_text(sample, SCHEMA_PROGRAMME_SAMPLE, "provenance"));
}

/* The test on one anvil among those of the case, added where it is not there; its index, -1 when there is no
 * room. */
static int add_test(struct fill *fill, const struct case_programme *programme, const struct node *test,
                    const struct node *anvil)
{
    struct case_file *file = fill->file;
    for (size_t i = 0; i < file->test_count; i++) {
        if (file->tests[i].place == test && strcmp(file->tests[i].anvil, anvil->text) == 0)
            return (int)i;
    }
    if (file->test_count == CASE_TESTS) {
        node_error(tree_of(fill), test, fill->errors, "more than %d tests in all programmes of a case",
                   CASE_TESTS);
        return -1;
    }
    struct case_test *into = &file->tests[file->test_count];
    into->place = test;
    fill_name(into->programme, programme->name);
    fill_name(into->anvil, anvil->text);
    snprintf(into->test, sizeof into->test, "%.*s/%.*s", CASE_NAME / 2 - 1,
             schema_text(test, SCHEMA_TEST, "name"), CASE_NAME / 2 - 1, anvil->text);
    read_limits(fill, programme, test, into);
    read_sample(programme, into);
    return (int)file->test_count++;
}

/* --- impacts --- */

static int same_speeds(const struct case_impact *a, const struct case_impact *b)
{
    int same = a->hit_count == b->hit_count;
    for (size_t i = 0; same && i < a->hit_count; i++)
        same = a->speed[i] == b->speed[i];
    return same;
}

static int same_sizes(const struct anvil_sizes *a, const struct anvil_sizes *b)
{
    int same = 1;
    for (int i = 0; i < ANVIL_SIZE_COUNT; i++)
        same &= a->of[i] == b->of[i] || (isnan(a->of[i]) && isnan(b->of[i]));
    return same;
}

/* Square on, neither direction nor friction of the face counts; it does with an offset centre of gravity, but
 * there square faces all have the same friction unless they say otherwise. */
static int same_face(const struct case_impact *a, const struct case_impact *b)
{
    int same = a->angle == b->angle && a->anvil.friction == b->anvil.friction;
    return same && (a->angle == 0 || (a->towards[0] == b->towards[0] && a->towards[1] == b->towards[1]));
}

/* Whether two impacts are solved alike. */
static int same_impact(const struct case_impact *a, const struct case_impact *b)
{
    return a->elevation == b->elevation && a->azimuth == b->azimuth && same_face(a, b) &&
           a->temperature == b->temperature && strcmp(a->anvil.shape, b->anvil.shape) == 0 &&
           same_sizes(&a->anvil.sizes, &b->anvil.sizes) &&
           (strcmp(a->condition, "wet") == 0) == (strcmp(b->condition, "wet") == 0) &&
           isnan(a->head_friction) && isnan(b->head_friction) && a->recovered == b->recovered &&
           same_speeds(a, b);
}

/* Lets a test judge an impact, once. */
static void serve(struct fill *fill, struct case_impact *impact, int test, const struct node *place)
{
    for (size_t i = 0; i < impact->test_count; i++) {
        if (impact->tests[i] == test)
            return;
    }
    if (impact->test_count < CASE_JUDGES)
        impact->tests[impact->test_count++] = test;
    else
        node_error(tree_of(fill), place, fill->errors, "an impact is judged by %d tests at most",
                   CASE_JUDGES);
}

/* Appends an impact, or lets an equal one serve the test too. */
static void add_impact(struct fill *fill, const struct case_impact *impact, int test)
{
    struct case_file *file = fill->file;
    for (size_t i = 0; i < file->impact_count; i++) {
        if (same_impact(&file->impacts[i], impact)) {
            serve(fill, &file->impacts[i], test, impact->place);
            memory_free(impact->speed);
            return;
        }
    }
    if (file->impact_count == CASE_IMPACTS) {
        node_error(tree_of(fill), impact->place, fill->errors, "a case takes %d impacts at most",
                   CASE_IMPACTS);
        memory_free(impact->speed);
        return;
    }
    struct case_impact *into = &file->impacts[file->impact_count];
    *into = *impact;
    into->number = (int)++file->impact_count;
    serve(fill, into, test, impact->place);
}

/* What the use of a programme adds to the speed of a test, within its tolerance [m/s]. */
static double speed_offset(const struct node *test, const struct use *use)
{
    double below = schema_item(test, SCHEMA_TEST, "tolerance", 0),
           above = schema_item(test, SCHEMA_TEST, "tolerance", 1);
    if (isnan(above))
        return 0;
    return !isnan(use->share) ? use->share * (below + above) - below : use->highest ? above : 0;
}

/* One site on one anvil in one condition. */
static void strike(struct fill *fill, const struct node *test, const struct node *site,
                   const struct node *anvil, const struct condition *condition, const struct use *use,
                   double mass, int number)
{
    struct case_impact impact = {.place = site, .temperature = condition->temperature};
    snprintf(impact.condition, sizeof impact.condition, "%s", condition->name);
    fill_severity(fill, test, mass, &impact);
    fill_test_impact(fill, test, site, anvil, &impact);
    double off = speed_offset(test, use);
    for (size_t i = 0; i < impact.hit_count; i++)
        impact.speed[i] += off;
    add_impact(fill, &impact, number);
}

/* Every site of a list, on one anvil; a fault of a site shows once. */
static void strike_sites(struct fill *fill, const struct node *test, const struct node *sites,
                         const struct node *anvil, const struct conditions *conditions, const struct use *use,
                         double mass, int number)
{
    for (size_t s = 0; sites && s < sites->count; s++) {
        size_t before = fill->errors->count;
        for (size_t c = 0; c < conditions->count && fill->errors->count == before && !fill->out_of_memory;
             c++)
            strike(fill, test, sites->items[s], anvil, &conditions->of[c], use, mass, number);
    }
}

static int parts_alike(const struct case_layer *a, const struct case_layer *b)
{
    int alike = a->thickness == b->thickness && a->part_count == b->part_count;
    for (size_t i = 0; alike && i < a->part_count; i++) {
        const struct case_part *one = &a->parts[i], *other = &b->parts[i];
        alike = strcmp(one->foam, other->foam) == 0 && one->share == other->share &&
                one->voids == other->voids &&
                (one->density == other->density || (isnan(one->density) && isnan(other->density)));
    }
    return alike;
}

/* Whether two regions are of the same foam, whatever they are called. */
static int regions_alike(const struct case_file *file, int a, int b)
{
    if (a == b)
        return 1;
    if (a < 0 || b < 0)
        return 0;
    const struct case_region *one = &file->regions[a], *other = &file->regions[b];
    int alike = one->shape.open == other->shape.open && one->layer_count == other->layer_count;
    for (size_t i = 0; alike && i < one->layer_count; i++)
        alike = parts_alike(&one->layers[i], &other->layers[i]);
    return alike;
}

/* Whether both sides of the helmet are alike, at points 2 degrees apart that lie on no round bound. */
static int is_symmetric(const struct case_file *file)
{
    const double degree = 3.14159265358979323846 / 180;
    for (int i = 0; i < 90; i++) {
        for (int k = 0; k < 90; k++) {
            double elevation = (2 * i - 89.7) * degree, azimuth = (2 * k + 0.7) * degree;
            if (!regions_alike(file, helmet_map_region(&file->map, elevation, azimuth),
                               helmet_map_region(&file->map, elevation, -azimuth)))
                return 0;
        }
    }
    return 1;
}

static void check_sample(struct fill *fill, const struct case_programme *programme)
{
    const struct node *sample = node_get(programme->root, "sample");
    size_t room = sizeof((struct case_test *)0)->sample_provenance;
    if (strlen(schema_text(sample, SCHEMA_PROGRAMME_SAMPLE, "provenance")) >= room)
        node_error(tree_of(fill), node_get(sample, "provenance"), fill->errors,
                   "`provenance` takes %zu bytes of text at most", room - 1);
}

/* What can be said of each test by itself. */
static void check_tests(struct fill *fill, const struct case_programme *programme)
{
    const struct node *tests = node_get(programme->root, "tests");
    for (size_t t = 0; t < tests->count; t++) {
        struct case_test scratch;
        fill_required(fill, tests->items[t], "name");
        read_limits(fill, programme, tests->items[t], &scratch);
        list_of(fill, programme, tests->items[t], "anvils");
        list_of(fill, programme, tests->items[t], "sites");
    }
    words(fill, programme->root, "other_side");
    words(fill, programme->root, "not_covered");
    words(fill, programme->root, "outside");
    check_sample(fill, programme);
}

/* All impacts of a programme, up to the first test with a fault, as the next ones would repeat it. */
static void strike_all(struct fill *fill, const struct case_programme *programme, const struct use *use,
                       double mass)
{
    const struct node *tests = node_get(programme->root, "tests");
    size_t before = fill->errors->count;
    struct conditions all = read_conditions(fill, programme, use->temperatures);
    const struct node *other_side = node_get(programme->root, "other_side");
    if (is_symmetric(fill->file))
        other_side = NULL;
    for (size_t t = 0; t < tests->count; t++) {
        const struct node *test = tests->items[t], *anvils = list_of(fill, programme, test, "anvils");
        const struct node *sites = list_of(fill, programme, test, "sites");
        struct conditions conditions = conditions_of(fill, programme, test, &all);
        for (size_t a = 0; a < anvils->count && fill->errors->count == before; a++) {
            int number = add_test(fill, programme, test, anvils->items[a]);
            if (number < 0)
                return;
            strike_sites(fill, test, sites, anvils->items[a], &conditions, use, mass, number);
            strike_sites(fill, test, node_get(test, "sites") ? NULL : other_side, anvils->items[a],
                         &conditions, use, mass, number);
        }
    }
}

/* --- what is not covered --- */

static void not_covered(struct fill *fill, const struct case_programme *programme, const char *text,
                        int counts)
{
    struct case_file *file = fill->file;
    char line[NOT_COVERED_TEXT + CASE_NAME + 8];
    snprintf(line, sizeof line, "%s: %s", programme->name, text);
    file->incomplete |= counts;
    for (size_t i = 0; i < file->not_covered_count; i++) {
        if (strcmp(file->not_covered[i], line) == 0)
            return;
    }
    if (file->not_covered_count == CASE_NOT_COVERED) {
        node_error(tree_of(fill), programme->root, fill->errors,
                   "more than %d lines on what the programmes of a case do not cover", CASE_NOT_COVERED);
        return;
    }
    file->not_covered[file->not_covered_count] = fill_text(fill, line);
    file->not_covered_count += file->not_covered[file->not_covered_count] != NULL;
}

/* Behind what stands in `text`: "A, C, E". */
static void add_words(char text[NOT_COVERED_TEXT], const struct node *list)
{
    size_t used = strlen(text);
    for (size_t i = 0; list && i < list->count && used < NOT_COVERED_TEXT; i++)
        used += (size_t)snprintf(text + used, NOT_COVERED_TEXT - used, "%s%s", i ? ", " : "",
                                 list->items[i]->text);
}

static void list_not_covered(struct fill *fill, const struct case_programme *programme)
{
    const struct node *here = words(fill, programme->root, "not_covered");
    const struct node *outside = words(fill, programme->root, "outside");
    char text[NOT_COVERED_TEXT] = "outside of the model: ";
    for (size_t i = 0; here && i < here->count; i++)
        not_covered(fill, programme, here->items[i]->text, 1);
    add_words(text, outside);
    if (outside)
        not_covered(fill, programme, text, 0);
}

/* Whether the headform has a shape; if not, nothing can be computed on it and the programme is listed. */
static int has_shape(struct fill *fill, const struct case_programme *programme)
{
    const char *missing = stack_head_missing(&fill->file->headform);
    char text[NOT_COVERED_TEXT];
    if (!missing)
        return 1;
    snprintf(text, sizeof text, "not computed: %s", missing);
    not_covered(fill, programme, text, 1);
    return 0;
}

/* Whether the programme strikes the headform of the case; if not, it is listed as not covered. */
static int names_headform(struct fill *fill, const struct case_programme *programme)
{
    const struct case_headform *headform = &fill->file->headform;
    const struct node *mapping = node_get(programme->root, "headforms");
    const struct node *sizes = words(fill, mapping, "sizes");
    const char *set = schema_text(mapping, SCHEMA_PROGRAMME_HEADFORMS, "set");
    if (strcmp(set, headform->set) == 0 && sizes && has_word(sizes, headform->size))
        return 1;
    char text[NOT_COVERED_TEXT], here[2 * CASE_NAME + 32];
    snprintf(text, sizeof text, "strikes headforms %s ", set);
    add_words(text, sizes);
    snprintf(here, sizeof here, "; here it is %s%s%s", headform->set[0] ? headform->set : "one of its own",
             headform->size[0] ? " " : "", headform->size);
    size_t used = strlen(text);
    snprintf(text + used, sizeof text - used, "%s", here);
    not_covered(fill, programme, text, 1);
    return 0;
}

/* --- programmes of a case --- */

/* A programme of the case from the same file, whatever it was called; NULL when there is none. */
static struct case_programme *find(const struct fill *fill, const char *path)
{
    struct case_file *file = fill->file;
    for (size_t i = 0; i < file->programme_count; i++) {
        if (strcmp(file->tree.files[file->programmes[i].root->file].path, path) == 0)
            return &file->programmes[i];
    }
    return NULL;
}

/* The programme of a name, kept once; NULL with an error. */
static const struct case_programme *load(struct fill *fill, const struct node *name)
{
    struct case_file *file = fill->file;
    size_t before = fill->errors->count;
    struct node *root = parse(fill, name);
    if (!root)
        return NULL;
    struct case_programme *programme = find(fill, file->tree.files[root->file].path);
    if (programme) {
        node_free(root);
        return programme->sound ? programme : NULL;
    }
    if (file->programme_count == CASE_PROGRAMMES) {
        node_error(tree_of(fill), name, fill->errors, "a case takes %d programmes at most", CASE_PROGRAMMES);
        node_free(root);
        return NULL;
    }
    programme = &file->programmes[file->programme_count++];
    *programme = (struct case_programme){.root = root};
    fill_name(programme->name, name->text);
    if (schema_check(tree_of(fill), root, SCHEMA_PROGRAMME, fill->errors) &&
        fill_required(fill, root, "tests") && fill_required(fill, root, "headforms"))
        check_tests(fill, programme);
    programme->sound = fill->errors->count == before;
    return programme->sound ? programme : NULL;
}

/* --- the key --- */

/* Checks the sizes that a programme is to strike: each a size of the case, once. */
static int check_sizes(struct fill *fill, const struct node *mapping, const struct node *list)
{
    size_t before = fill->errors->count;
    const char *names[CASE_SIZES];
    if (node_get(mapping, "sizes") && !fill->sizes)
        node_error(tree_of(fill), node_get(mapping, "sizes"), fill->errors, "this case has no `sizes`");
    for (size_t i = 0; fill->sizes && i < fill->sizes->count; i++)
        names[i] = fill->sizes->keys[i]->text;
    for (size_t i = 0; list && fill->sizes && i < list->count; i++) {
        const struct node *item = list->items[i];
        const struct node part = {.kind = NODE_SEQUENCE, .count = i, .items = list->items};
        if (node_index(fill->sizes, item->text) == fill->sizes->count)
            schema_unknown(tree_of(fill), item, "size", item->text, names, fill->sizes->count, fill->errors);
        else if (has_word(&part, item->text))
            node_error(tree_of(fill), item, fill->errors, "size %.40s is named twice", item->text);
    }
    return fill->errors->count == before;
}

/* `programme: NAME` or an item of the list; 0 with an error. */
static int read_use(struct fill *fill, const struct node *item, struct use *use)
{
    *use = (struct use){.name = item, .share = schema_quantity(fill->root, SCHEMA_CASE, "programme_speed")};
    if (item->kind == NODE_SCALAR && item->text[0])
        return 1;
    if (item->kind != NODE_MAPPING) {
        node_error(
            tree_of(fill), item, fill->errors,
            "`programme` takes a name of `foampulse list programmes`, a path like ./house.yaml, {name, "
            "sizes, temperatures, speed}, or a list of these");
        return 0;
    }
    if (!schema_check(tree_of(fill), item, SCHEMA_PROGRAMME_USE, fill->errors) ||
        !fill_required(fill, item, "name"))
        return 0;
    use->name = node_get(item, "name");
    use->sizes = words(fill, item, "sizes");
    use->temperatures = words(fill, item, "temperatures");
    use->highest = strcmp(schema_text(item, SCHEMA_PROGRAMME_USE, "speed"), "highest") == 0;
    if (!isnan(use->share) && node_get(item, "speed")) {
        node_error(tree_of(fill), node_get(item, "speed"), fill->errors,
                   "`speed` of a programme and `programme_speed` of the case exclude each other");
        return 0;
    }
    return check_sizes(fill, item, use->sizes) && (!node_get(item, "sizes") || use->sizes) &&
           (!node_get(item, "temperatures") || use->temperatures);
}

/* Whether the size that is filled is struck; one that the case leaves out is listed. */
static int wants_size(struct fill *fill, const struct case_programme *programme, const struct use *use)
{
    if (!use->sizes || !fill->size || has_word(use->sizes, fill->file->size))
        return 1;
    not_covered(fill, programme, "left out by `sizes` of the case", 0);
    return 0;
}

static void run_programme(struct fill *fill, const struct node *item, double mass)
{
    struct use use;
    if (!read_use(fill, item, &use))
        return;
    const struct case_programme *programme = load(fill, use.name);
    if (programme && wants_size(fill, programme, &use) && has_shape(fill, programme) &&
        names_headform(fill, programme)) {
        strike_all(fill, programme, &use, mass);
        list_not_covered(fill, programme);
    }
}

/* Room for all that programmes may bring. */
static int make_room(struct fill *fill)
{
    struct case_file *file = fill->file;
    struct case_impact *impacts = fill_block(fill, CASE_IMPACTS, sizeof *impacts);
    file->programmes = fill_block(fill, CASE_PROGRAMMES, sizeof *file->programmes);
    file->tests = fill_block(fill, CASE_TESTS, sizeof *file->tests);
    file->not_covered = fill_block(fill, CASE_NOT_COVERED, sizeof *file->not_covered);
    if (!impacts)
        return 0;
    if (file->impacts)
        memcpy(impacts, file->impacts, file->impact_count * sizeof *impacts);
    memory_free(file->impacts);
    file->impacts = impacts;
    return file->programmes && file->tests && file->not_covered;
}

/* Programmes are for helmets. */
static int is_for(struct fill *fill, const struct node *place)
{
    if (fill->file->pad.present)
        node_error(tree_of(fill), place, fill->errors, "a programme strikes helmets: a `pad` has none");
    return !fill->file->pad.present;
}

void fill_programmes(struct fill *fill, double mass)
{
    const struct node *key = node_get(fill->root, "programme");
    const struct node *speed = node_get(fill->root, "programme_speed");
    size_t before = fill->errors->count;
    if (!key && speed)
        node_error(tree_of(fill), speed, fill->errors, "`programme_speed` needs a `programme`");
    if (!key || !is_for(fill, key) || !make_room(fill))
        return;
    if (key->kind == NODE_SEQUENCE) {
        for (size_t i = 0; i < key->count; i++)
            run_programme(fill, key->items[i], mass);
    } else {
        run_programme(fill, key, mass);
    }
    if (fill->file->impact_count == 0 && !fill->sizes && fill->errors->count == before &&
        !fill->out_of_memory)
        node_error(tree_of(fill), key, fill->errors, "nothing to solve: %s",
                   fill->file->not_covered_count ? fill->file->not_covered[0] : "no tests");
}

/* --- limits: NAME --- */

/* Whether all hits of an impact lie within a test's tolerance. */
static int speeds_agree(struct fill *fill, const struct case_impact *impact, const struct node *test,
                        double mass)
{
    struct case_impact wanted = {0};
    double below = schema_item(test, SCHEMA_TEST, "tolerance", 0),
           above = schema_item(test, SCHEMA_TEST, "tolerance", 1);
    double slack = 1e-9;
    fill_severity(fill, test, mass, &wanted);
    int agree = wanted.hit_count == impact->hit_count;
    for (size_t i = 0; agree && i < wanted.hit_count; i++) {
        double off = impact->speed[i] - wanted.speed[i];
        agree = off >= -(isnan(below) ? 0 : below) - slack && off <= (isnan(above) ? 0 : above) + slack;
    }
    memory_free(wanted.speed);
    return agree;
}

/* Each test to the impacts that it fits. */
static void take_limits(struct fill *fill, const struct node *name, const struct case_programme *programme)
{
    struct case_file *file = fill->file;
    const struct node *tests = node_get(programme->root, "tests");
    for (size_t t = 0; t < tests->count; t++) {
        const struct node *anvils = list_of(fill, programme, tests->items[t], "anvils");
        for (size_t a = 0; anvils && a < anvils->count; a++) {
            int number = -1;
            for (size_t i = 0; i < file->impact_count; i++) {
                const struct anvil_info *info = anvil_find(anvils->items[a]->text);
                if (strcmp(file->impacts[i].anvil.name, anvils->items[a]->text) != 0 ||
                    (info && info->angle != file->impacts[i].angle) ||
                    !speeds_agree(fill, &file->impacts[i], tests->items[t], file->headform.mass))
                    continue;
                number = number < 0 ? add_test(fill, programme, tests->items[t], anvils->items[a]) : number;
                if (number >= 0)
                    serve(fill, &file->impacts[i], number, name);
            }
        }
    }
}

void fill_limits_of(struct fill *fill, const struct node *name)
{
    struct case_file *file = fill->file;
    if (!is_for(fill, name) || (!file->programmes && !make_room(fill)))
        return;
    const struct case_programme *programme = load(fill, name);
    const struct node *tests = programme ? node_get(programme->root, "tests") : NULL;
    if (!tests || !names_headform(fill, programme))
        return;
    take_limits(fill, name, programme);
    for (size_t i = 0; i < file->impact_count; i++) {
        const struct case_impact *impact = &file->impacts[i];
        char text[NOT_COVERED_TEXT];
        if (impact->test_count > 0)
            continue;
        snprintf(text, sizeof text, "no test on %s at %.4g m/s, no limits for impact %d", impact->anvil.name,
                 impact->speed[0], impact->number);
        not_covered(fill, programme, text, 0);
    }
}
