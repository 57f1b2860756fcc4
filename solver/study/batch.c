#include "solver/study/batch.h"

#include <math.h>
#include <stdatomic.h>
#include <stdio.h>
#include <string.h>
#include <time.h>

#include "cases/assume.h"
#include "cases/family.h"
#include "cases/pack.h"
#include "cases/stack.h"
#include "solver/base/isa.h"
#include "solver/base/memory.h"
#include "solver/impact/run.h"
#include "solver/study/bounds.h"
#include "solver/study/identity.h"
#include "solver/study/judge.h"
#include "solver/study/queue.h"
#include "solver/study/resolve.h"
#include "solver/study/rotation.h"

static const double far_slide = 10e-3; /* [m], several zones */
static const double far_aside = 1e-3;  /* [m] */
static const double far_drift = 30.0;  /* [mm], a site's own region */
static const double one_sided = 0.15;  /* asymmetry that is warned of; common practice, no source */
static const char not_solved[] = "interrupted before it was solved";

/* One helmet of the case and what its impacts share. */
struct helmet {
    struct resolver resolver;
    struct identity identity; /* with a journal only */
};

/* One impact of the queue: its hits stand next to each other in the result. */
struct job {
    const struct helmet *helmet;
    const struct case_impact *impact;
    struct hit_result *hits;
    size_t hit_count;
    int taken; /* from the journal */
    enum status status;
    struct errors errors;
};

struct batch {
    const struct case_file *file;
    size_t helmet_count; /* set up; all of the case once the queue runs */
    struct helmet helmets[CASE_SIZES];
    const struct batch_options *options;
    const char *model;
    size_t job_count;
    struct job *jobs;
    struct queue queue;
    size_t done;
};

static double now(void)
{
    struct timespec time;
    clock_gettime(CLOCK_MONOTONIC, &time);
    return (double)time.tv_sec + 1e-9 * (double)time.tv_nsec;
}

static int interrupted(const struct batch_options *options)
{
    return options->interrupted && *options->interrupted;
}

/* --- one impact --- */

static void set_status(struct job *job, enum hit_status status, const char *message)
{
    for (size_t i = 0; i < job->hit_count; i++) {
        job->hits[i].status = status;
        snprintf(job->hits[i].message, sizeof job->hits[i].message, "%s", message);
    }
}

static enum status solve_pad(struct job *job, const struct resolved *resolved, const atomic_int *stop,
                             char *message)
{
    struct impact_output *outputs = memory_zeroed(job->hit_count, sizeof *outputs);
    if (!outputs)
        return STATUS_MEMORY;
    enum status status = run_pad(&resolved->pad, job->impact->speed, job->hit_count, outputs, stop, message);
    for (size_t i = 0; i < job->hit_count; i++)
        job->hits[i].output = outputs[i];
    memory_free(outputs);
    return status;
}

/* The shares that the foam of an impact was solved with, kept beside its result. */
static enum status take_rings(const struct resolver *resolver, const struct resolved *resolved,
                              struct hit_rings *rings)
{
    const struct helmet_map *map = &resolver->file->map;
    size_t nodes = resolved->columns.rings, count = resolver->axisymmetric ? nodes - 1 : nodes;
    const double *shares = resolver->axisymmetric ? resolved->zone_shares : resolved->shares;
    rings->edge = memory_doubles(nodes + 1);
    rings->regions = memory_zeroed(map->region_count, sizeof *rings->regions);
    rings->share = memory_doubles((map->region_count + 1) * count);
    if (!rings->edge || !rings->regions || !rings->share) {
        hit_rings_free(rings);
        return STATUS_MEMORY;
    }
    rings->count = count;
    if (resolver->axisymmetric)
        axisymmetric_zone_edges(nodes, resolved->columns.phi_max, rings->edge);
    else
        columns_ring_edges(nodes, resolved->columns.phi_max, rings->edge);
    for (size_t k = 0; k <= map->region_count; k++) {
        if (k < map->region_count && map->regions[k].open)
            continue;
        memcpy(rings->share + rings->region_count * count, shares + k * count, count * sizeof *shares);
        if (k < map->region_count)
            snprintf(rings->regions[rings->region_count++].name, sizeof rings->regions->name, "%s",
                     map->regions[k].name);
    }
    return STATUS_OK;
}

static enum status solve_helmet(const struct resolver *resolver, struct job *job, struct resolved *resolved,
                                const atomic_int *stop, char *message)
{
    enum status status = bounds_solve(resolver, resolved, job->impact, job->hits, stop, message);
    for (size_t i = 0; i < job->hit_count && job->hits[i].output.count > 0; i++) {
        double *metrics = job->hits[i].output.metrics;
        if (resolver->file->shell.present)
            metrics[METRIC_shell_strain_fraction] =
                metrics[METRIC_shell_strain] / resolver->shell.failure_strain;
        if (take_rings(resolver, resolved, &job->hits[i].rings) != STATUS_OK)
            return STATUS_MEMORY;
    }
    return status;
}

/* Hits that were solved, also before one that failed. */
static void keep_solved(struct job *job, enum status status, const char *message)
{
    for (size_t i = 0; i < job->hit_count && job->hits[i].output.count > 0; i++) {
        job->hits[i].status = HIT_COMPUTED;
        snprintf(job->hits[i].message, sizeof job->hits[i].message, "%s", status == STATUS_OK ? message : "");
    }
}

static const struct hit_result *last_hit(const struct job *job)
{
    return &job->hits[job->hit_count - 1];
}

static enum status solve(const struct resolver *resolver, struct job *job, const atomic_int *stop)
{
    struct resolved resolved;
    char sentence[RESOLVE_SENTENCE], message[HISTORY_MESSAGE] = "";
    enum status status = resolve_impact(resolver, job->impact, &resolved, sentence, &job->errors);
    if (status != STATUS_OK)
        return status;
    if (sentence[0]) {
        set_status(job, HIT_NOT_COMPUTED, sentence);
    } else {
        status = resolver->file->pad.present ? solve_pad(job, &resolved, stop, message)
                                             : solve_helmet(resolver, job, &resolved, stop, message);
        set_status(job, status == STATUS_INTERRUPTED ? HIT_NOT_COMPUTED : HIT_FAILED,
                   status == STATUS_INTERRUPTED ? not_solved : message);
        keep_solved(job, status, message);
    }
    resolved_free(&resolved);
    return status;
}

/* --- journal --- */

static void job_point(const struct batch *batch, const struct job *job, struct journal_point *point)
{
    *point = (struct journal_point){.index = (uint64_t)job->impact->number};
    identity_point(&job->helmet->identity, batch->file->text, point->index, point->hash);
}

/* The shares of an impact that was solved earlier follow from the case; a journal does not hold them. */
static enum status find_rings(const struct resolver *resolver, struct job *job)
{
    struct resolved resolved;
    char sentence[RESOLVE_SENTENCE];
    if (resolver->file->pad.present || job->hits[0].status != HIT_COMPUTED)
        return STATUS_OK;
    enum status status = resolve_impact(resolver, job->impact, &resolved, sentence, &job->errors);
    for (size_t i = 0; status == STATUS_OK && i < job->hit_count; i++) {
        if (job->hits[i].status == HIT_COMPUTED)
            status = take_rings(resolver, &resolved, &job->hits[i].rings);
    }
    resolved_free(&resolved);
    return status;
}

/* Takes one impact if it is there. A record that makes no sense is solved again. */
static enum status take_job(const struct batch *batch, struct job *job, struct errors *errors)
{
    struct journal *journal = batch->options->journal;
    struct journal_point point;
    unsigned char *payload;
    job_point(batch, job, &point);
    const struct journal_entry *entry = journal_find(journal, point.hash, point.index);
    if (!entry)
        return STATUS_OK;
    enum status status = journal_read(journal, entry, &payload, errors);
    if (status != STATUS_OK)
        return status;
    struct unpack unpack = {.at = payload, .left = entry->length};
    status = unpack_hits(&unpack, job->hits, job->hit_count);
    memory_free(payload);
    job->taken = status == STATUS_OK;
    if (status == STATUS_INPUT) {
        set_status(job, HIT_NOT_COMPUTED, not_solved);
        status = STATUS_OK;
    }
    if (job->taken && last_hit(job)->status == HIT_FAILED)
        job->status = STATUS_COMPUTATION;
    return job->taken ? find_rings(&job->helmet->resolver, job) : status;
}

/* What an earlier process solved of the same case. */
static enum status take_jobs(struct batch *batch, struct errors *errors)
{
    const struct batch_options *options = batch->options;
    if (!options->journal)
        return STATUS_OK;
    enum status status = STATUS_OK;
    for (size_t i = 0; i < batch->helmet_count && status == STATUS_OK; i++)
        status =
            identity_make(&batch->helmets[i].resolver, batch->model, &batch->helmets[i].identity, errors);
    for (size_t i = 0; i < batch->job_count && status == STATUS_OK; i++) {
        status = take_job(batch, &batch->jobs[i], errors);
        batch->done += (size_t)batch->jobs[i].taken;
    }
    if (status == STATUS_OK && options->journal->count > 0 && options->resumed)
        options->resumed(options->context, batch->done, batch->job_count);
    return status;
}

/* Packs what was solved; nothing for what would be found again without solving. */
static enum status pack_job(const struct job *job, struct pack *pack)
{
    int solved = job->status == STATUS_OK && job->hits[0].status == HIT_COMPUTED;
    if (!solved && job->status != STATUS_COMPUTATION)
        return STATUS_OK;
    pack_hits(pack, job->hits, job->hit_count);
    return pack->out_of_memory ? STATUS_MEMORY : STATUS_OK;
}

static enum status keep_job(const struct batch *batch, const struct job *job, const struct pack *pack)
{
    struct journal_point point;
    if (pack->length == 0)
        return STATUS_OK;
    job_point(batch, job, &point);
    point.status = (uint32_t)last_hit(job)->status;
    point.payload = pack->bytes;
    point.length = pack->length;
    enum status status = journal_append(batch->options->journal, &point, batch->options->journal_errors);
    return status == STATUS_MEMORY ? STATUS_MEMORY : STATUS_OK;
}

/* --- the queue --- */

/* An impact is done when it is in the journal. */
static void finish_job(struct batch *batch, struct job *job)
{
    const struct batch_options *options = batch->options;
    struct pack pack = {0};
    enum status status = options->journal ? pack_job(job, &pack) : STATUS_OK;
    queue_enter(&batch->queue);
    if (options->journal && status == STATUS_OK)
        status = keep_job(batch, job, &pack);
    job->status = status_worse(job->status, status);
    batch->done++;
    if (options->progress)
        options->progress(options->context, batch->done, batch->job_count);
    queue_leave(&batch->queue);
    memory_free(pack.bytes);
}

/* Solves one job, which writes its own hits only. */
static void work(void *context, size_t at)
{
    struct batch *batch = context;
    struct job *job = &batch->jobs[at];
    if (job->taken)
        return;
    double start = now();
    job->status = solve(&job->helmet->resolver, job, batch->options->interrupted);
    for (size_t i = 0; i < job->hit_count; i++)
        job->hits[i].wall = (now() - start) / (double)job->hit_count;
    finish_job(batch, job);
}

static void run_queue(struct batch *batch, int threads)
{
    queue_make(&batch->queue);
    queue_run(batch->job_count, threads, batch->options->interrupted, work, batch);
    queue_free(&batch->queue);
}

/* --- conditions --- */

/* One-sidedness of the support at a site, by what resists crushing in each region. NaN where a foam has no
 * value at the temperature, or is at fault, which resolving the impact reports. */
static enum status find_asymmetry(const struct resolver *resolver, const struct case_impact *impact,
                                  double *asymmetry)
{
    const struct case_file *file = resolver->file;
    double *stiffness = memory_zeroed(file->region_count + 1, sizeof *stiffness);
    *asymmetry = NAN;
    if (!stiffness)
        return STATUS_MEMORY;
    enum status status = resolve_stiffness(resolver, impact->temperature, stiffness);
    int known = status == STATUS_OK;
    for (size_t k = 0; k < file->region_count; k++)
        known = known && !isnan(stiffness[k]);
    if (known)
        status = site_asymmetry(&file->map, impact->elevation, impact->azimuth, file->solver.phi_max,
                                stiffness, asymmetry);
    memory_free(stiffness);
    return status == STATUS_MEMORY ? STATUS_MEMORY : STATUS_OK;
}

static void describe_rotation(const struct case_file *file, const struct case_impact *impact,
                              struct hit_result *hit)
{
    struct oblique_setup setup;
    double aside;
    rotation_setup(file, impact, 0.0, &setup, &aside);
    hit->face_friction = impact->anvil.friction;
    hit->head_friction = rotation_head_friction(file, impact);
    hit->head_inertia = setup.active ? setup.head_inertia : (double)NAN;
    hit->aside = setup.active ? aside : 0.0;
    hit->inertia_assumed = setup.active && file->headform.inertia_assumed;
}

static enum status describe_helmet(const struct resolver *resolver, const struct case_impact *impact,
                                   struct hit_result *hit)
{
    const struct case_file *file = resolver->file;
    snprintf(hit->size, sizeof hit->size, "%s", file->size);
    snprintf(hit->headform_set, sizeof hit->headform_set, "%s", file->headform.set);
    snprintf(hit->headform_size, sizeof hit->headform_size, "%s", file->headform.size);
    snprintf(hit->headform_own, sizeof hit->headform_own, "%s", file->headform.own);
    snprintf(hit->site, sizeof hit->site, "%s", impact->site);
    snprintf(hit->anvil, sizeof hit->anvil, "%s", impact->anvil.name);
    snprintf(hit->anvil_form, sizeof hit->anvil_form, "%s",
             anvil_equal_overlap(anvil_shape_find(impact->anvil.shape)) ? "equal overlap" : "true");
    hit->headform_mass = file->headform.mass;
    describe_rotation(file, impact, hit);
    if (stack_head_missing(&file->headform))
        return STATUS_OK;
    struct stack_site site;
    stack_site(file, impact->region, impact->elevation, impact->azimuth, &site);
    hit->head_radius = site.head;
    hit->edge_distance = site_edge_distance(&file->map, impact->elevation, impact->azimuth) * site.inner;
    snprintf(hit->region, sizeof hit->region, "%s", file->regions[impact->region].shape.name);
    return find_asymmetry(resolver, impact, &hit->asymmetry);
}

static enum status describe(const struct resolver *resolver, const struct case_impact *impact,
                            const char *model, size_t index, struct hit_result *hit)
{
    *hit = (struct hit_result){.impact = impact->number,
                               .hit = (int)index + 1,
                               .status = HIT_NOT_COMPUTED,
                               .elevation = impact->elevation,
                               .azimuth = impact->azimuth,
                               .head_radius = NAN,
                               .edge_distance = NAN,
                               .asymmetry = NAN,
                               .hoop = hoop_bounds_none,
                               .angle = impact->angle,
                               .towards = {impact->towards[0], impact->towards[1]},
                               .face_friction = NAN,
                               .head_friction = NAN,
                               .head_inertia = NAN,
                               .speed = impact->speed[index],
                               .temperature = impact->temperature};
    snprintf(hit->message, sizeof hit->message, "%s", not_solved);
    snprintf(hit->model, sizeof hit->model, "%s", model);
    if (!resolver->file->pad.present)
        return describe_helmet(resolver, impact, hit);
    snprintf(hit->site, sizeof hit->site, "pad");
    snprintf(hit->anvil, sizeof hit->anvil, "flat");
    snprintf(hit->anvil_form, sizeof hit->anvil_form, "true");
    hit->headform_mass = resolver->file->pad.striker_mass;
    return STATUS_OK;
}

/* --- result --- */

static enum status copy_map(const struct case_file *file, struct case_result *result)
{
    const struct helmet_map *from = &file->map;
    struct helmet_map *map = &result->map;
    map->inner_radius = from->inner_radius;
    map->regions = memory_zeroed(from->region_count + 1, sizeof *map->regions);
    map->edge_azimuth = memory_doubles(from->edge_count + 1);
    map->edge_elevation = memory_doubles(from->edge_count + 1);
    if (!map->regions || !map->edge_azimuth || !map->edge_elevation)
        return STATUS_MEMORY;
    for (size_t k = 0; k < from->region_count; k++) {
        struct region_shape *shape = &map->regions[k];
        *shape = from->regions[k];
        shape->bounds = memory_zeroed(shape->bound_count + 1, sizeof *shape->bounds);
        map->region_count = k + 1;
        if (!shape->bounds)
            return STATUS_MEMORY;
        memcpy(shape->bounds, from->regions[k].bounds, shape->bound_count * sizeof *shape->bounds);
    }
    map->edge_count = from->edge_count;
    memcpy(map->edge_azimuth, from->edge_azimuth, from->edge_count * sizeof *map->edge_azimuth);
    memcpy(map->edge_elevation, from->edge_elevation, from->edge_count * sizeof *map->edge_elevation);
    return STATUS_OK;
}

static enum status take_texts(const struct case_file *file, struct case_result *result)
{
    result->file = memory_text(file->path);
    result->title = memory_text(file->title ? file->title : "");
    result->case_text = memory_text(file->text);
    result->result_file = memory_text("");
    snprintf(result->case_hash, sizeof result->case_hash, "%s", file->hash);
    return result->file && result->title && result->case_text && result->result_file ? STATUS_OK
                                                                                     : STATUS_MEMORY;
}

static struct mass_by_part masses_of(const struct resolver *resolver)
{
    const struct stack_masses *masses = &resolver->masses;
    if (resolver->file->pad.present)
        return (struct mass_by_part){NAN, NAN, NAN, NAN, NAN};
    return (struct mass_by_part){masses->helmet, masses->shell, masses->liner, masses->comfort,
                                 masses->other};
}

/* The helmets of a family, and the mass of the heaviest. */
static enum status take_sizes(const struct batch *batch, struct case_result *result)
{
    size_t count = batch->file->size_count;
    result->mass = masses_of(&batch->helmets[0].resolver);
    if (count == 0)
        return STATUS_OK;
    result->sizes = memory_zeroed(count, sizeof *result->sizes);
    if (!result->sizes)
        return STATUS_MEMORY;
    result->size_count = count;
    for (size_t i = 0; i < count; i++) {
        const struct case_file *file = batch->helmets[i].resolver.file;
        struct size_result *size = &result->sizes[i];
        *size = (struct size_result){.headform_mass = file->headform.mass,
                                     .mass = masses_of(&batch->helmets[i].resolver),
                                     .helmet_mass_limit = file->helmet_mass_limit};
        snprintf(size->name, sizeof size->name, "%s", file->size);
        snprintf(size->headform_set, sizeof size->headform_set, "%s", file->headform.set);
        snprintf(size->headform_size, sizeof size->headform_size, "%s", file->headform.size);
        snprintf(size->headform_own, sizeof size->headform_own, "%s", file->headform.own);
        if (isnan(result->mass.helmet) || size->mass.helmet > result->mass.helmet)
            result->mass = size->mass;
    }
    return STATUS_OK;
}

static enum status take_hits(const struct batch *batch, struct case_result *result)
{
    enum status status = STATUS_OK;
    for (size_t i = 0; i < batch->job_count; i++)
        result->hit_count += batch->jobs[i].hit_count;
    result->hits = memory_zeroed(result->hit_count, sizeof *result->hits);
    if (!result->hits)
        return STATUS_MEMORY;
    struct hit_result *hit = result->hits;
    for (size_t i = 0; i < batch->job_count; i++) {
        struct job *job = &batch->jobs[i];
        job->hits = hit;
        for (size_t k = 0; k < job->hit_count; k++)
            status =
                status_worse(status, describe(&job->helmet->resolver, job->impact, batch->model, k, hit++));
    }
    return status;
}

/* What one helmet leaves open, and what deserves a second look. */
static enum status note_helmet(const struct batch *batch, const struct resolver *resolver,
                               struct family_notes *assumed, struct family_notes *warned)
{
    const struct case_file *file = resolver->file;
    enum status status = family_assume(batch->file, file, assumed);
    if (status == STATUS_OK)
        status = case_warnings(file, &warned->lines, &warned->count);
    if (status == STATUS_OK)
        status = resolver_assumptions(resolver, &assumed->lines, &assumed->count);
    if (status == STATUS_OK && file->layers_slip && !file->pad.present && !resolver->axisymmetric)
        status = result_note(&warned->lines, &warned->count, "interface: slip changes nothing by columns");
    return status;
}

static enum status take_notes(const struct batch *batch, struct case_result *result)
{
    struct family_notes assumed[CASE_SIZES] = {{0}}, warned[CASE_SIZES] = {{0}};
    const struct case_file *file = batch->file;
    enum status status = STATUS_OK;
    for (size_t i = 0; i < batch->helmet_count && status == STATUS_OK; i++)
        status = note_helmet(batch, &batch->helmets[i].resolver, &assumed[i], &warned[i]);
    if (status == STATUS_OK)
        status = family_notes(file, assumed, &result->assumptions, &result->assumption_count);
    if (status == STATUS_OK)
        status = family_notes(file, warned, &result->warnings, &result->warning_count);
    for (size_t i = 0; i < file->not_covered_count && status == STATUS_OK; i++)
        status = result_note(&result->not_covered, &result->not_covered_count, "%s", file->not_covered[i]);
    for (size_t i = 0; i < batch->helmet_count; i++) {
        family_notes_free(&assumed[i]);
        family_notes_free(&warned[i]);
    }
    return status;
}

static enum status begin(const struct batch *batch, struct case_result *result)
{
    const struct case_file *file = batch->file;
    enum status status = take_texts(file, result);
    result->target = file->target;
    result->helmet_mass_limit = file->helmet_mass_limit;
    memcpy(result->limit, file->limit, sizeof result->limit);
    if (status == STATUS_OK)
        status = take_sizes(batch, result);
    if (status == STATUS_OK)
        status = take_hits(batch, result);
    return status == STATUS_OK ? take_notes(batch, result) : status;
}

/* One queue over the impacts of all helmets. */
static enum status make_jobs(struct batch *batch)
{
    batch->job_count = case_impact_count(batch->file);
    batch->jobs = memory_zeroed(batch->job_count, sizeof *batch->jobs);
    struct job *job = batch->jobs;
    for (size_t i = 0; job && i < batch->helmet_count; i++) {
        const struct case_file *file = batch->helmets[i].resolver.file;
        for (size_t k = 0; k < file->impact_count; k++)
            *job++ = (struct job){.helmet = &batch->helmets[i],
                                  .impact = &file->impacts[k],
                                  .hit_count = file->impacts[k].hit_count};
    }
    return batch->jobs ? STATUS_OK : STATUS_MEMORY;
}

/* The map of the helmet with the worst hit, of the first where none has one. */
static enum status take_map(const struct batch *batch, struct case_result *result)
{
    const struct case_file *file = batch->helmets[0].resolver.file;
    if (result->worst_hit >= 0)
        case_impact_find(batch->file, result->hits[result->worst_hit].impact, &file);
    return file->pad.present || stack_head_missing(&file->headform) ? STATUS_OK : copy_map(file, result);
}

/* Whether a warning holds for a hit, and a remark on it ("" for none). `about` is the warning's own. */

static int say_not_parted(const struct hit_result *hit, const void *about, char *remark, size_t size)
{
    (void)about;
    snprintf(remark, size, "%s", "");
    return !hit->output.separated;
}

static int say_not_ended(const struct hit_result *hit, const void *about, char *remark, size_t size)
{
    double reached = 1e3 * hit->output.interval * (double)hit->output.count;
    (void)about;
    snprintf(remark, size, " (%.3g ms)", reached);
    return !judge_ended(&hit->output);
}

static int say_one_sided(const struct hit_result *hit, const void *about, char *remark, size_t size)
{
    (void)about;
    snprintf(remark, size, " (%.0f %%)", 100.0 * hit->asymmetry);
    return hit->asymmetry > one_sided;
}

/* The loaded zone, roughly: the cap that a plane cuts off a sphere of the head's radius at the head's travel.
 * The liner's sphere is larger, but closing the padding is part of the travel; a hemisphere loads less. */
static int say_border(const struct hit_result *hit, const void *about, char *remark, size_t size)
{
    double travel = 0.0, radius = hit->head_radius;
    (void)about;
    for (size_t i = 0; i < hit->output.count; i++)
        travel = fmax(travel, hit->output.channel[PULSE_travel][i]);
    snprintf(remark, size, " (%.0f mm)", 1e3 * hit->edge_distance);
    return travel < radius && hit->edge_distance < radius * acos(1.0 - travel / radius);
}

static int say_one_bound(const struct hit_result *hit, const void *about, char *remark, size_t size)
{
    (void)about;
    snprintf(remark, size, " (%s)", hit->message);
    return hit->hoop.shown[0] && isnan(hit->hoop.cut_peak);
}

static int say_aside(const struct hit_result *hit, const void *about, char *remark, size_t size)
{
    (void)about;
    snprintf(remark, size, " (%.0f mm)", 1e3 * fabs(hit->aside));
    return fabs(hit->aside) > far_aside;
}

static int say_rotation(const struct hit_result *hit, const void *about, char *remark, size_t size)
{
    (void)about;
    snprintf(remark, size, "%s", "");
    return hit->angle > 0.0;
}

static int say_drift(const struct hit_result *hit, const void *about, char *remark, size_t size)
{
    (void)about;
    snprintf(remark, size, " (%.0f mm)", hit->output.metrics[METRIC_drift]);
    return hit->output.metrics[METRIC_drift] > far_drift;
}

static int say_slid(const struct hit_result *hit, const void *about, char *remark, size_t size)
{
    (void)about;
    snprintf(remark, size, " (%.0f mm)", 1e3 * hit->output.layer_slide);
    return hit->output.layer_slide > far_slide;
}

static int say_shell_strain(const struct hit_result *hit, const void *about, char *remark, size_t size)
{
    double fraction = hit->output.metrics[METRIC_shell_strain_fraction];
    (void)about;
    snprintf(remark, size, " (%.0f %% of it)", 100.0 * fraction);
    return fraction > 1.0 && !output_tells(&hit->output, ENERGY_damage);
}

static int say_cracked(const struct hit_result *hit, const void *about, char *remark, size_t size)
{
    (void)about;
    snprintf(remark, size, " (%.2f J)", hit->output.energy[ENERGY_damage]);
    return output_tells(&hit->output, ENERGY_damage);
}

/* The layer that went furthest past the same curve as the layer `about`. */
static int say_past_curve(const struct hit_result *hit, const void *about, char *remark, size_t size)
{
    const struct layer_output *same = about, *worst = NULL;
    for (size_t i = 0; i < hit->output.layer_count; i++) {
        const struct layer_output *layer = &hit->output.layers[i];
        int its = strcmp(layer->past_foam, same->past_foam) == 0 && layer->past_end == same->past_end;
        if (its && (!worst || layer->past_strain > worst->past_strain))
            worst = layer;
    }
    if (worst)
        snprintf(remark, size, " (%s, layer %d: to %.3g %%)", worst->region, worst->layer,
                 100.0 * worst->past_strain);
    return worst != NULL;
}

typedef int warning_holds(const struct hit_result *hit, const void *about, char *remark, size_t size);

/* One line for all hits that share a warning. */
static enum status warn_of(struct case_result *result, warning_holds *holds, const void *about,
                           const char *text)
{
    enum { NAMED = 6 };
    char which[512] = "", remark[320], again[16];
    size_t at = 0, count = 0;
    for (size_t i = 0; i < result->hit_count; i++) {
        const struct hit_result *hit = &result->hits[i];
        if (hit->status != HIT_COMPUTED || !holds(hit, about, remark, sizeof remark) || count++ >= NAMED ||
            at >= sizeof which)
            continue;
        snprintf(again, sizeof again, hit->hit > 1 ? " (hit %d)" : "", hit->hit);
        at += (size_t)snprintf(which + at, sizeof which - at, "%s%d%s%s", at ? ", " : "", hit->impact, again,
                               remark);
    }
    if (at == 0)
        return STATUS_OK;
    char more[32] = "";
    if (count > NAMED)
        snprintf(more, sizeof more, " and %zu more", count - NAMED);
    return result_note(&result->warnings, &result->warning_count, "%s: impact %s%s%s", text, which,
                       at >= sizeof which ? " ..." : "", more);
}

/* One line for each curve that foam was crushed past the end of. */
static enum status warn_past_curve(struct case_result *result, const struct layer_output *layer)
{
    char text[160];
    if (!layer->past_foam[0])
        return STATUS_OK;
    snprintf(text, sizeof text,
             "foam %s: its measured curve ends at %.3g %% strain and is taken to go on straight where it was "
             "crushed further",
             layer->past_foam, 100.0 * layer->past_end);
    for (size_t i = 0; i < result->warning_count; i++) {
        if (strncmp(result->warnings[i], text, strlen(text)) == 0)
            return STATUS_OK;
    }
    return warn_of(result, say_past_curve, layer, text);
}

static enum status warn_past_curves(struct case_result *result)
{
    enum status status = STATUS_OK;
    for (size_t i = 0; i < result->hit_count; i++) {
        const struct impact_output *output = &result->hits[i].output;
        for (size_t k = 0; status == STATUS_OK && k < output->layer_count; k++)
            status = warn_past_curve(result, &output->layers[k]);
    }
    return status;
}

/* Warnings that follow from the solved hits. */
static enum status warn(struct case_result *result)
{
    static const struct {
        warning_holds *holds;
        const char *text;
    } warnings[] = {
        {say_not_parted, "the run ended by its duration before anvil and head were free of force for 1 ms, "
                         "so restitution is not known, raise solver.duration"},
        {say_shell_strain,
         "shell strained beyond the failure strain of its material, where nothing fails in the "
         "computation"},
        {say_cracked, "shell cracked"},
        {say_not_ended, "still moving into the foam when the run ended, raise solver.duration"},
        {say_one_sided, "support one-sided above 15 %, which a body of revolution evens out"},
        {say_one_bound, "one bound at openings is not known, as it could not be solved"},
        {say_border, "border of the foam in the loaded zone, which a body of revolution spreads over rings"},
        {say_aside,
         "the centre of gravity lies off the plane of motion or along the site's normal, and that part is "
         "not computed"},
        {say_rotation,
         "the head turns too freely in the helmet: compare layouts by rotation, rely on no level of "
         "it (README, how far to trust it)"},
        {say_drift, "the contact drifts over the helmet by more than 30 mm, while the liner is that of the "
                    "site throughout"},
        {say_slid, "layers slid over each other by more than 10 mm, where their contact is not to be relied "
                   "on, see liner.interface_friction"},
    };
    enum status status = STATUS_OK;
    for (size_t i = 0; status == STATUS_OK && i < sizeof warnings / sizeof *warnings; i++)
        status = warn_of(result, warnings[i].holds, NULL, warnings[i].text);
    return status == STATUS_OK ? warn_past_curves(result) : status;
}

static enum status gather(const struct batch *batch, struct errors *errors)
{
    enum status status = interrupted(batch->options) ? STATUS_INTERRUPTED : STATUS_OK;
    for (size_t i = 0; i < batch->job_count; i++) {
        const struct job *job = &batch->jobs[i];
        status = status_worse(status, job->status);
        for (size_t k = 0; k < job->errors.count && k < ERRORS_KEPT; k++) {
            const struct error *error = &job->errors.kept[k];
            errors_add(errors, error->status, error->file, error->line, error->column, "%s", error->text);
            errors_source(errors, error->source);
        }
        if (job->status == STATUS_COMPUTATION)
            errors_add(errors, STATUS_COMPUTATION, batch->file->path, 0, 0, "impact %d%s%s: %s",
                       job->impact->number, job->hits[0].size[0] ? ", size " : "", job->hits[0].size,
                       last_hit(job)->message);
    }
    return status;
}

/* Materials of every helmet. */
static enum status open_helmets(struct batch *batch, struct errors *errors)
{
    enum status status = STATUS_OK;
    for (size_t i = 0; i < case_helmet_count(batch->file) && status == STATUS_OK; i++) {
        struct resolver *resolver = &batch->helmets[i].resolver;
        status = resolver_make(case_helmet(batch->file, i), resolver, errors);
        resolver->axisymmetric = strcmp(batch->model, "axisymmetric") == 0;
        batch->helmet_count += status == STATUS_OK;
    }
    return status;
}

static const char *model_of(const struct case_file *file, const char *asked)
{
    return file->pad.present ? "pad" : asked ? asked : file->model;
}

static void batch_free(struct batch *batch)
{
    for (size_t i = 0; i < batch->helmet_count; i++)
        resolver_free(&batch->helmets[i].resolver);
    memory_free(batch->jobs);
    memory_free(batch);
}

/* Hash of all that the results depend on; identities of all helmets are made. */
static void sum_identities(const struct batch *batch, const char *text, unsigned char hash[DIGEST_BYTES])
{
    struct digest digest;
    unsigned char part[DIGEST_BYTES];
    digest_begin(&digest);
    for (size_t i = 0; i < batch->helmet_count; i++) {
        identity_point(&batch->helmets[i].identity, text, i, part);
        digest_add(&digest, part, sizeof part);
    }
    digest_end(&digest, hash);
}

/* Notes on a result that is whole what it depends on; without a journal that is not known. */
static void identify(const struct batch *batch, struct case_result *result)
{
    unsigned char hash[DIGEST_BYTES];
    if (!batch->options->journal || interrupted(batch->options))
        return;
    sum_identities(batch, batch->file->text, hash);
    identity_text(hash, result->identity);
}

/* Solves what the journal does not hold, and judges all of it. */
static enum status finish(struct batch *batch, struct case_result *result, struct errors *errors)
{
    result->threads = queue_threads(batch->options->threads, batch->job_count);
    snprintf(result->isa, sizeof result->isa, "%s", isa_name(isa_chosen()));
    run_queue(batch, result->threads);
    enum status status = gather(batch, errors);
    identify(batch, result);
    if (judge_case(batch->file, result) != STATUS_OK || warn(result) != STATUS_OK ||
        take_map(batch, result) != STATUS_OK)
        status = status_worse(status, STATUS_MEMORY);
    return status;
}

enum status batch_run(const struct case_file *file, const struct batch_options *options,
                      struct case_result *result, struct errors *errors)
{
    struct batch *batch = memory_zeroed(1, sizeof *batch);
    *result = (struct case_result){0};
    if (!batch)
        return STATUS_MEMORY;
    double start = now();
    batch->file = file;
    batch->options = options;
    batch->model = model_of(file, options->model);
    enum status status = open_helmets(batch, errors);
    if (status == STATUS_OK)
        status = make_jobs(batch);
    if (status == STATUS_OK)
        status = begin(batch, result);
    if (status == STATUS_OK)
        status = take_jobs(batch, errors);
    int begun = status == STATUS_OK;
    if (begun)
        status = finish(batch, result, errors);
    result->wall = now() - start;
    if (!begun || status == STATUS_MEMORY)
        case_result_free(result);
    batch_free(batch);
    return status;
}

enum status batch_describe(const struct case_file *file, const char *model, struct case_result *result,
                           struct errors *errors)
{
    static const struct batch_options none;
    struct batch *batch = memory_zeroed(1, sizeof *batch);
    *result = (struct case_result){0};
    if (!batch)
        return STATUS_MEMORY;
    batch->file = file;
    batch->options = &none;
    batch->model = model_of(file, model);
    enum status status = open_helmets(batch, errors);
    if (status == STATUS_OK)
        status = make_jobs(batch);
    if (status == STATUS_OK)
        status = begin(batch, result);
    if (status != STATUS_OK)
        case_result_free(result);
    batch_free(batch);
    return status;
}

enum status batch_identity(const struct case_file *file, const char *model, const char *text,
                           unsigned char hash[DIGEST_BYTES], struct errors *errors)
{
    struct batch *batch = memory_zeroed(1, sizeof *batch);
    memset(hash, 0, DIGEST_BYTES);
    if (!batch)
        return STATUS_MEMORY;
    batch->file = file;
    batch->model = model_of(file, model);
    enum status status = open_helmets(batch, errors);
    for (size_t i = 0; i < batch->helmet_count && status == STATUS_OK; i++)
        status =
            identity_make(&batch->helmets[i].resolver, batch->model, &batch->helmets[i].identity, errors);
    if (status == STATUS_OK)
        sum_identities(batch, text, hash);
    batch_free(batch);
    return status;
}

void foresight_free(struct foresight *foresight)
{
    memory_free(foresight->refused);
    memory_free(foresight->solves);
    *foresight = (struct foresight){0};
}

static enum status foresight_make(size_t count, struct foresight *foresight)
{
    *foresight = (struct foresight){.count = count,
                                    .refused = memory_zeroed(count, sizeof *foresight->refused),
                                    .solves = memory_zeroed(count, sizeof *foresight->solves)};
    if (foresight->refused && foresight->solves)
        return STATUS_OK;
    foresight_free(foresight);
    return STATUS_MEMORY;
}

/* Whether the foam ends on the rings of an impact under a shell, so that it is solved twice. */
static int has_bounds(const struct resolved *resolved)
{
    const struct columns_setup *setup = &resolved->columns;
    for (size_t i = 0; setup->bare && setup->shell_thickness > 0.0 && i < setup->rings; i++) {
        if (setup->bare[i] > 0.0)
            return 1;
    }
    return 0;
}

/* Resolves each impact of one helmet; `foresight`, if not NULL, gets what is found from `first` on. */
static enum status check_helmet(const struct case_file *file, struct foresight *foresight, size_t first,
                                struct errors *errors)
{
    struct resolver resolver;
    enum status status = resolver_make(file, &resolver, errors);
    for (size_t i = 0; status == STATUS_OK && i < file->impact_count; i++) {
        struct resolved resolved;
        char sentence[RESOLVE_SENTENCE];
        status = resolve_impact(&resolver, &file->impacts[i], &resolved, sentence, errors);
        if (foresight && status == STATUS_OK) {
            snprintf(foresight->refused[first + i], RESOLVE_SENTENCE, "%s", sentence);
            foresight->solves[first + i] =
                sentence[0] ? 0 : (1 + has_bounds(&resolved)) * (int)file->impacts[i].hit_count;
        }
        resolved_free(&resolved);
    }
    resolver_free(&resolver);
    return status;
}

enum status batch_check(const struct case_file *file, struct foresight *foresight, struct errors *errors)
{
    size_t first = 0;
    enum status status = foresight ? foresight_make(case_impact_count(file), foresight) : STATUS_OK;
    for (size_t i = 0; i < case_helmet_count(file) && status == STATUS_OK; i++) {
        const struct case_file *helmet = case_helmet(file, i);
        status = check_helmet(helmet, foresight, first, errors);
        first += helmet->impact_count;
    }
    if (foresight && status != STATUS_OK)
        foresight_free(foresight);
    return status;
}
