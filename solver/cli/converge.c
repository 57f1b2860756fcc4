#include <jansson.h>
#include <math.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>

#include "cases/journal.h"
#include "cases/store_converge.h"
#include "plots/refinement.h"
#include "solver/base/memory.h"
#include "solver/base/save.h"
#include "solver/base/version.h"
#include "solver/cli/command.h"
#include "solver/cli/json_out.h"
#include "solver/cli/keeping.h"
#include "solver/cli/progress.h"
#include "solver/cli/result_path.h"
#include "solver/cli/summary.h"
#include "solver/cli/table.h"
#include "solver/cli/terminal.h"
#include "solver/impact/anvil.h"
#include "solver/study/batch.h"
#include "solver/study/convergence.h"

/*
 * Solves a case on its own mesh and on meshes twice and four times as fine, and says what they tell about the
 * error of peak g and HIC.
 */

enum { MESHES = REFINEMENT_MESHES, RATIO = 2, SET = 64, PATH = 4096 };

static const double aim = 0.02; /* of peak g, own mesh to finest */

static const enum metric metrics[] = {METRIC_peak, METRIC_hic};
enum { METRICS = sizeof metrics / sizeof *metrics };

struct study {
    const struct options *options;
    struct case_file files[MESHES];
    struct case_result results[MESHES]; /* the coarsest first */
    const char **sets;                  /* those given, and two of our own */
    char own[2][SET];
    char *path; /* of the result, "" for none */
    char picture[PATH];
    struct journal journal; /* of all meshes; {0} without a result file */
    struct converge_mesh meshes[MESHES];
    struct converge_metric judged[METRICS];
};

static void study_free(struct study *study)
{
    for (int m = 0; m < MESHES; m++) {
        case_free(&study->files[m]);
        case_result_free(&study->results[m]);
    }
    for (int k = 0; k < METRICS; k++) {
        memory_free(study->judged[k].values);
        memory_free(study->judged[k].rows);
    }
    journal_close(&study->journal, NULL);
    memory_free(study->path);
    memory_free(study->sets);
}

/* --- reading --- */

/* The case on a mesh `finer` times as fine as its own: the same angle and thickness in so many more cells. */
static enum status load_finer(struct study *study, int mesh, int finer, struct errors *errors)
{
    const struct options *options = study->options;
    const struct case_solver *solver = &study->files[0].solver;
    snprintf(study->own[0], SET, "solver.rings=%d", (solver->rings - 1) * finer + 1);
    snprintf(study->own[1], SET, "solver.cell=%.9g mm", 1e3 * solver->cell / finer);
    study->sets[options->set_count] = study->own[0];
    study->sets[options->set_count + 1] = study->own[1];
    return case_load(options->operands[0], study->sets, options->set_count + 2, &study->files[mesh], errors);
}

static enum status load(struct study *study, struct errors *errors)
{
    const struct options *options = study->options;
    study->sets = memory_zeroed(options->set_count + 2, sizeof *study->sets);
    if (!study->sets)
        return errors_add(errors, STATUS_MEMORY, NULL, 0, 0, "out of memory");
    for (size_t i = 0; i < options->set_count; i++)
        study->sets[i] = options->sets[i];
    if (options->model && strchr(options->model, ','))
        return errors_add(errors, STATUS_USAGE, NULL, 0, 0, "converge takes one model, not '%s'",
                          options->model);
    enum status status =
        case_load(options->operands[0], study->sets, options->set_count, &study->files[0], errors);
    if (status == STATUS_OK)
        status = batch_check(&study->files[0], NULL, errors);
    for (int m = 1, finer = RATIO; m < MESHES && status == STATUS_OK; m++, finer *= RATIO)
        status = load_finer(study, m, finer, errors);
    return status;
}

/* Result and picture lie beside the case, or in the folder of -o. */
static enum status name_files(struct study *study, struct errors *errors)
{
    const struct options *options = study->options;
    struct stat about;
    if (options->output && (stat(options->output, &about) != 0 || !S_ISDIR(about.st_mode)))
        return errors_add(errors, STATUS_FILE, options->output, 0, 0,
                          "is no folder: -o names one for result and picture");
    const char *model = "converge";
    enum status status = result_paths(options->operands, &model, 1, options->output, &study->path, errors);
    if (status != STATUS_OK || !study->path[0])
        return status;
    snprintf(study->picture, PATH, "%.*s.png", (int)strlen(study->path) - 3, study->path);
    status = store_converge_check(study->path, options->force, errors);
    if (status == STATUS_OK)
        status = save_room(1, errors);
    if (status == STATUS_OK)
        status = keeping_begin(study->path, STORE_CONVERGE, options->quiet, &study->journal, errors);
    return status;
}

/* --- solving --- */

/* What the callbacks of a batch need. */
struct solving {
    const struct study *study;
    int mesh;
    struct progress progress;
};

static void on_progress(void *context, size_t done, size_t all)
{
    progress_step(&((struct solving *)context)->progress, done, all);
}

static void on_resumed(void *context, size_t taken, size_t all)
{
    struct solving *solving = context;
    progress_resumed(&solving->progress, taken);
    if (taken > 0 && !solving->study->options->quiet)
        terminal_print(stderr, STYLE_PLAIN, "%s: %zu of %zu impacts of mesh %dx taken from the journal\n",
                       solving->study->journal.path, taken, all, 1 << solving->mesh);
}

/* All meshes share the journal: the text of the case, and so what a point is known by, holds its mesh. */
static enum status solve(struct study *study, struct errors *failed, struct errors *errors)
{
    struct solving solving = {.study = study};
    size_t impacts = case_impact_count(&study->files[0]);
    enum status status = STATUS_OK;
    progress_start(&solving.progress, "impacts", MESHES * impacts,
                   study->options->quiet || study->options->json);
    for (int m = 0; m < MESHES && (status == STATUS_OK || status == STATUS_COMPUTATION); m++) {
        struct batch_options batch = {.threads = study->options->jobs,
                                      .model = study->options->model,
                                      .interrupted = terminal_interrupted(),
                                      .progress = on_progress,
                                      .resumed = on_resumed,
                                      .context = &solving,
                                      .journal = study->journal.open ? &study->journal : NULL,
                                      .journal_errors = failed};
        solving.mesh = m;
        status = status_worse(status, batch_run(&study->files[m], &batch, &study->results[m], errors));
        solving.progress.before += impacts;
    }
    progress_end(&solving.progress);
    return status == STATUS_INTERRUPTED ? terminal_signal() : status;
}

/* --- what they tell --- */

static double value_at(const struct study *study, int mesh, size_t hit, enum metric metric)
{
    const struct hit_result *of = &study->results[mesh].hits[hit];
    return of->status == HIT_COMPUTED ? of->output.metrics[metric] : (double)NAN;
}

static struct convergence judge(const struct study *study, size_t hit, enum metric metric, double *values)
{
    for (int m = 0; m < MESHES; m++)
        values[m] = value_at(study, m, hit, metric);
    return convergence_judge(values, MESHES, RATIO);
}

/* Largest difference of peak g from the own mesh to the finest; how many impacts lie within the aim. */
static double largest_difference(const struct study *study, size_t *within, size_t *solved)
{
    double most = 0.0;
    *within = *solved = 0;
    for (size_t i = 0; i < study->results[0].hit_count; i++) {
        double own = value_at(study, 0, i, METRIC_peak), finest = value_at(study, MESHES - 1, i, METRIC_peak);
        double difference = fabs(own / finest - 1.0);
        if (isnan(difference))
            continue;
        *solved += 1;
        *within += difference <= aim;
        most = fmax(most, difference);
    }
    return most;
}

/* --- words --- */

static void add_row(struct table *table, const struct study *study, size_t hit, enum metric metric)
{
    const struct hit_result *of = &study->results[0].hits[hit];
    double values[MESHES];
    struct convergence got = judge(study, hit, metric, values);
    int decimals = metric == METRIC_peak ? 1 : 0;
    char name[ANVIL_WORDS], number[SUMMARY_HIT], anvil[ANVIL_WORDS];
    table_row(table);
    table_text(table, STYLE_PLAIN, "%s", summary_hit(&study->results[0], of, number));
    table_text(table, STYLE_PLAIN, "%s", of->size);
    table_text(table, STYLE_PLAIN, "%s", terminal_clean(of->site, name, sizeof name));
    table_text(table, STYLE_PLAIN, "%s",
               terminal_clean(anvil_words(of->anvil, of->angle, anvil), name, sizeof name));
    table_number(table, of->speed, 2);
    table_text(table, STYLE_PLAIN, "%s", metric == METRIC_peak ? "peak g" : "HIC");
    for (int m = 0; m < MESHES; m++)
        table_number(table, values[m], decimals);
    table_number(table, 100.0 * (values[0] / values[MESHES - 1] - 1.0), 2);
    table_number(table, got.order, 2);
    table_number(table, got.limit, decimals);
    table_number(table, 100.0 * got.uncertainty / fabs(values[MESHES - 1]), 2);
    table_text(table, STYLE_PLAIN, "%s", convergence_text(got.kind));
}

static enum status print_table(const struct study *study)
{
    char heads[MESHES][32];
    struct table_column columns[] = {{"no.", 1},   {"size", TABLE_IF_ANY},
                                     {"site", 0},  {"anvil", 0},
                                     {"m/s", 1},   {"", 0},
                                     {NULL, 1},    {NULL, 1},
                                     {NULL, 1},    {"1x - 4x %", 1},
                                     {"order", 1}, {"at 0", 1},
                                     {"+/- %", 1}, {"", 0}};
    for (int m = 0; m < MESHES; m++) {
        snprintf(heads[m], sizeof heads[m], "%dx", 1 << m);
        columns[6 + m].head = heads[m];
    }
    struct table table;
    table_make(&table, columns, sizeof columns / sizeof *columns);
    for (size_t i = 0; i < study->results[0].hit_count; i++) {
        for (int k = 0; k < METRICS; k++)
            add_row(&table, study, i, metrics[k]);
    }
    return table_print(&table);
}

static void print_meshes(const struct study *study)
{
    const struct case_result *result = &study->results[0];
    char name[256];
    terminal_print(stdout, STYLE_STRONG, "%s", terminal_clean(result->file, name, sizeof name));
    terminal_print(stdout, STYLE_PLAIN, ": model %s on three meshes\n",
                   result->hit_count ? result->hits[0].model : "");
    for (int m = 0; m < MESHES; m++) {
        const struct case_solver *solver = &study->files[m].solver;
        long cells = 0;
        for (size_t i = 0; i < study->results[m].hit_count; i++) {
            long own = study->results[m].hits[i].output.cells;
            cells = own > cells ? own : cells;
        }
        terminal_print(stdout, STYLE_PLAIN, "  %dx  ", 1 << m);
        if (!study->files[m].pad.present)
            terminal_print(stdout, STYLE_PLAIN, "%d rings, ", solver->rings);
        terminal_print(stdout, STYLE_PLAIN, "cells of %.4g mm, up to %ld of them\n", 1e3 * solver->cell,
                       cells);
    }
}

static enum status print(const struct study *study)
{
    size_t within, solved;
    double most = largest_difference(study, &within, &solved);
    print_meshes(study);
    enum status status = print_table(study);
    terminal_print(
        stdout, STYLE_PLAIN,
        "\n1x - 4x: own mesh against the finest; at 0: extrapolated, where the order is credible (0.5 to "
        "2.5); +/-: numerical\nuncertainty of the finest, by the grid convergence index (factor 1.25), "
        "elsewhere 3 x the largest difference of the meshes\n");
    if (solved > 0)
        terminal_print(stdout, STYLE_STRONG,
                       "peak g on the mesh of the case lies within 2 %% of the finest in %zu of %zu hits; "
                       "largest difference %.2f %%\n",
                       within, solved, 100.0 * most);
    terminal_print(stdout, STYLE_FAINT, "\n%s\n", CAUTION_TEXT);
    return status;
}

/* --- result file --- */

static void judge_mesh(struct study *study, int mesh)
{
    const struct case_solver *solver = &study->files[mesh].solver;
    struct converge_mesh *into = &study->meshes[mesh];
    *into = (struct converge_mesh){.rings = study->files[mesh].pad.present ? 0 : solver->rings,
                                   .cell = solver->cell};
    for (size_t i = 0; i < study->results[mesh].hit_count; i++) {
        long cells = study->results[mesh].hits[i].output.cells;
        into->cells = cells > into->cells ? cells : into->cells;
    }
}

static enum status judge_metric(const struct study *study, int k, struct converge_metric *into)
{
    size_t hits = study->results[0].hit_count;
    *into = (struct converge_metric){.metric = metrics[k],
                                     .values = memory_doubles(MESHES * hits),
                                     .rows = memory_zeroed(hits, sizeof *into->rows)};
    if (!into->values || !into->rows)
        return STATUS_MEMORY;
    for (size_t i = 0; i < hits; i++) {
        struct convergence got = judge(study, i, metrics[k], &into->values[MESHES * i]);
        struct converge_row *row = &into->rows[i];
        *row = (struct converge_row){
            .order = got.order, .extrapolated = got.limit, .uncertainty = got.uncertainty};
        snprintf(row->judgement, sizeof row->judgement, "%s", convergence_text(got.kind));
    }
    return STATUS_OK;
}

static enum status write_result(struct study *study, struct errors *errors)
{
    enum status status = STATUS_OK;
    if (!study->path[0])
        return STATUS_OK;
    for (int m = 0; m < MESHES; m++)
        judge_mesh(study, m);
    for (int k = 0; k < METRICS && status == STATUS_OK; k++)
        status = judge_metric(study, k, &study->judged[k]);
    if (status != STATUS_OK)
        return errors_add(errors, status, NULL, 0, 0, "out of memory");
    struct converge_study whole = {.own = &study->results[0],
                                   .ratio = RATIO,
                                   .mesh_count = MESHES,
                                   .metric_count = METRICS,
                                   .meshes = study->meshes,
                                   .metrics = study->judged};
    status = store_converge_write(study->path, &whole, errors);
    if (status == STATUS_OK && !study->options->quiet)
        terminal_print(stderr, STYLE_PLAIN, "wrote %s\n", study->path);
    return status;
}

/* --- JSON --- */

static json_t *metric_json(const struct study *study, size_t hit, enum metric metric)
{
    double values[MESHES];
    struct convergence got = judge(study, hit, metric, values);
    json_t *list = json_array();
    for (int m = 0; m < MESHES; m++)
        json_array_append_new(list, json_out_number(values[m]));
    return json_pack("{s:s, s:s, s:o, s:s, s:o, s:o, s:o, s:o}", "metric", metric_table[metric].name, "unit",
                     metric_table[metric].unit, "values", list, "judgement", convergence_text(got.kind),
                     "order", json_out_number(got.order), "extrapolated", json_out_number(got.limit),
                     "uncertainty", json_out_number(got.uncertainty), "own_to_finest",
                     json_out_number(values[0] / values[MESHES - 1] - 1.0));
}

static json_t *hit_json(const struct study *study, size_t hit)
{
    const struct hit_result *of = &study->results[0].hits[hit];
    json_t *list = json_array();
    for (int k = 0; k < METRICS; k++)
        json_array_append_new(list, metric_json(study, hit, metrics[k]));
    return json_pack("{s:i, s:i, s:s?, s:s, s:s, s:o, s:o, s:o}", "impact", of->impact, "hit", of->hit,
                     "size", of->size[0] ? of->size : NULL, "site", of->site, "anvil", of->anvil, "speed_m_s",
                     json_out_number(of->speed), "temperature_C", json_out_number(of->temperature), "metrics",
                     list);
}

static enum status print_json(const struct study *study)
{
    const struct case_result *result = &study->results[0];
    json_t *meshes = json_array(), *hits = json_array();
    for (int m = 0; m < MESHES; m++)
        json_array_append_new(meshes,
                              json_pack("{s:i, s:o}", "rings", study->files[m].solver.rings, "cell_mm",
                                        json_out_number(1e3 * study->files[m].solver.cell)));
    for (size_t i = 0; i < result->hit_count; i++)
        json_array_append_new(hits, hit_json(study, i));
    json_t *object =
        json_pack("{s:s, s:s, s:s, s:s, s:s, s:s, s:i, s:o, s:o}", "schema", "foampulse/converge/1",
                  "program_version", FOAMPULSE_VERSION, "caution", CAUTION_TEXT, "file", result->file,
                  "case_hash", result->case_hash, "model", result->hit_count ? result->hits[0].model : "",
                  "ratio", RATIO, "meshes", meshes, "impacts", hits);
    enum status status = terminal_json(object);
    json_decref(object);
    return status;
}

/* --- picture --- */

static size_t fill_rows(const struct study *study, struct refinement_row *rows, char names[][64])
{
    size_t count = 0;
    char number[SUMMARY_HIT];
    for (size_t i = 0; i < study->results[0].hit_count && count < REFINEMENT_ROWS; i++) {
        const struct hit_result *of = &study->results[0].hits[i];
        struct refinement_row *row = &rows[count];
        *row = (struct refinement_row){.name = names[count]};
        row->peak_uncertainty = judge(study, i, METRIC_peak, row->peak).uncertainty;
        row->hic_uncertainty = judge(study, i, METRIC_hic, row->hic).uncertainty;
        snprintf(names[count], 64, "%s %.16s%s%.20s", summary_hit(&study->results[0], of, number), of->size,
                 of->size[0] ? " " : "", of->site);
        count += isfinite(row->peak[0]) && isfinite(row->peak[MESHES - 1]);
    }
    return count;
}

static enum status draw(const struct study *study, struct errors *errors)
{
    struct refinement_row rows[REFINEMENT_ROWS];
    char names[REFINEMENT_ROWS][64], title[256];
    double cell[MESHES];
    size_t count = fill_rows(study, rows, names);
    const struct case_result *result = &study->results[0];
    if (!study->picture[0] || count == 0)
        return STATUS_OK;
    for (int m = 0; m < MESHES; m++)
        cell[m] = study->files[m].solver.cell;
    snprintf(title, sizeof title, "Refining the mesh, model %s. %.120s", result->hits[0].model,
             result->title[0] ? result->title : result->file);
    struct script script = {0};
    refinement_compose(&script, title, cell, rows, count, PICTURE_PNG);
    enum status status = gnuplot_draw(&script, PICTURE_PNG, study->picture, NULL, errors);
    script_free(&script);
    if (status == STATUS_OK && !study->options->quiet)
        terminal_print(stderr, STYLE_PLAIN, "wrote %s\n", study->picture);
    return status;
}

/* Prints, stores and draws what all meshes say; 1 in *stands when the result is on the disk. */
static enum status tell(struct study *study, int *stands, struct errors *errors)
{
    enum status status = study->options->json ? print_json(study) : print(study);
    terminal_flush();
    enum status written = write_result(study, errors);
    *stands = written == STATUS_OK;
    return status_worse(status_worse(status, written), draw(study, errors));
}

enum status command_converge(const struct options *options)
{
    struct errors errors = {0}, failed = {0};
    struct study study = {.options = options};
    int stands = 0;
    enum status status = load(&study, &errors);
    if (status == STATUS_OK)
        status = name_files(&study, &errors);
    if (status == STATUS_OK) {
        status = solve(&study, &failed, &errors);
        if (status == STATUS_OK || status == STATUS_COMPUTATION)
            status = status_worse(status, tell(&study, &stands, &errors));
        status = status_worse(status, keeping_end(&study.journal, stands, &failed, options->quiet, &errors));
    }
    terminal_errors(&errors, options->json);
    study_free(&study);
    return status;
}
