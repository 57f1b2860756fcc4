#include "solver/study/explore.h"

#include <assert.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "solver/base/memory.h"
#include "solver/study/batch.h"
#include "solver/study/judge.h"
#include "solver/study/queue.h"

/* --- layouts --- */

/* Values of a layout as texts, and the changes that point to them. */
struct layout {
    char texts[FACTORS_MOST][FACTOR_TEXT];
    struct case_change changes[FACTORS_MOST];
};

/* The changes that values make, and their count: what is not a number stays as the case has it. */
static size_t layout_make(const struct sweep *sweep, const double *values, struct layout *layout)
{
    size_t count = 0;
    for (size_t i = 0; i < sweep->factor_count; i++) {
        const struct factor *factor = &sweep->factors[i];
        if (isnan(values[i]))
            continue;
        factor_write(factor, values[i], layout->texts[count]);
        layout->changes[count] = (struct case_change){factor->path, layout->texts[count], factor->key,
                                                      factor_place(factor, values[i])};
        count++;
    }
    return count;
}

enum status explore_case(const struct case_file *base, const struct sweep *sweep, size_t at,
                         struct case_file *file, struct errors *errors)
{
    struct layout layout;
    size_t count = layout_make(sweep, sweep_values(sweep, at), &layout);
    return case_load_changed(base, layout.changes, count, file, errors);
}

/* --- beginning --- */

static const char *model_of(const struct case_file *base, const char *model)
{
    return base->pad.present ? "pad" : model ? model : base->model;
}

static void add_text(struct digest *digest, const char *text)
{
    digest_add(digest, text, strlen(text) + 1);
}

/* Marks stand in place of the values, so that two paths to one place are found, and so that the frame does
 * not depend on what is tried. */
static enum status make_frame(const struct case_file *base, struct sweep *sweep, struct errors *errors)
{
    struct layout layout;
    struct digest digest;
    unsigned char sum[DIGEST_BYTES];
    char *text = NULL;
    for (size_t i = 0; i < sweep->factor_count; i++) {
        const struct factor *factor = &sweep->factors[i];
        snprintf(layout.texts[i], FACTOR_TEXT, "<factor %zu>", i + 1);
        layout.changes[i] = (struct case_change){factor->path, layout.texts[i], factor->key, factor->given};
    }
    enum status status = case_frame(base, layout.changes, sweep->factor_count, &text, errors);
    if (status == STATUS_OK)
        status = batch_identity(base, sweep->model, text, sum, errors);
    memory_free(text);
    if (status != STATUS_OK)
        return status;
    digest_begin(&digest);
    digest_add(&digest, sum, sizeof sum);
    for (size_t i = 0; i < sweep->factor_count; i++) {
        add_text(&digest, sweep->factors[i].path);
        add_text(&digest, sweep->factors[i].unit);
    }
    digest_end(&digest, sum);
    digest_hex(sum, sizeof sum, sweep->frame);
    return STATUS_OK;
}

/* Takes over the hits with their conditions; a description owns nothing else in them. */
static enum status take_hits(const struct case_file *base, struct case_result *described, struct sweep *sweep)
{
    sweep->hit_count = described->hit_count;
    sweep->hits = described->hits;
    described->hits = NULL;
    described->hit_count = 0;
    sweep->limits = memory_doubles(sweep->hit_count * METRIC_COUNT + 1);
    if (!sweep->limits)
        return STATUS_MEMORY;
    for (size_t i = 0; i < sweep->hit_count; i++)
        judge_limits(base, &sweep->hits[i], sweep->limits + i * METRIC_COUNT);
    return STATUS_OK;
}

static void move_lines(char ***from, size_t *from_count, char ***to, size_t *to_count)
{
    *to = *from;
    *to_count = *from_count;
    *from = NULL;
    *from_count = 0;
}

static enum status describe(const struct case_file *base, struct sweep *sweep, struct errors *errors)
{
    struct case_result described;
    enum status status = batch_describe(base, sweep->model, &described, errors);
    if (status != STATUS_OK)
        return status;
    status = take_hits(base, &described, sweep);
    move_lines(&described.assumptions, &described.assumption_count, &sweep->notes, &sweep->note_count);
    move_lines(&described.warnings, &described.warning_count, &sweep->warnings, &sweep->warning_count);
    move_lines(&described.not_covered, &described.not_covered_count, &sweep->not_covered,
               &sweep->not_covered_count);
    sweep->target = base->target;
    sweep->helmet_mass_limit = base->helmet_mass_limit;
    snprintf(sweep->case_hash, sizeof sweep->case_hash, "%s", base->hash);
    sweep->title = memory_text(base->title);
    sweep->case_text = memory_text(base->text);
    case_result_free(&described);
    return sweep->title && sweep->case_text ? status : STATUS_MEMORY;
}

/* Tries one value of a factor, the others as in the case. */
static enum status try_value(const struct case_file *base, const struct factor *factor, double value,
                             struct errors *errors)
{
    char text[FACTOR_TEXT];
    struct case_file file;
    factor_write(factor, value, text);
    struct case_change change = {factor->path, text, factor->key, factor_place(factor, value)};
    enum status status = case_load_changed(base, &change, 1, &file, errors);
    if (status == STATUS_OK)
        status = batch_check(&file, NULL, errors);
    case_free(&file);
    return status;
}

/* A number is tried at its ends, a text for every one. What is wrong with a value alone would be wrong in
 * every layout that has it; what values exclude together is a row. */
static enum status try_factor(const struct case_file *base, const struct factor *factor,
                              struct errors *errors)
{
    if (!factor->texts) {
        enum status status = try_value(base, factor, factor->low, errors);
        return status == STATUS_OK && factor->high > factor->low
                   ? try_value(base, factor, factor->high, errors)
                   : status;
    }
    enum status status = STATUS_OK;
    for (size_t i = 0; i < factor->level_count && status != STATUS_MEMORY; i++)
        status = status_worse(status, try_value(base, factor, (double)i, errors));
    return status;
}

enum status explore_begin(const struct case_file *base, const struct factor *factors, size_t factor_count,
                          const char *model, struct sweep *sweep, struct errors *errors)
{
    assert(factor_count <= FACTORS_MOST);
    *sweep = (struct sweep){.factors = memory_zeroed(factor_count + 1, sizeof *sweep->factors)};
    snprintf(sweep->model, sizeof sweep->model, "%s", model_of(base, model));
    enum status status = sweep->factors ? STATUS_OK : STATUS_MEMORY;
    for (size_t i = 0; i < factor_count && status == STATUS_OK; i++) {
        status = factor_copy(&factors[i], &sweep->factors[i]);
        sweep->factor_count += status == STATUS_OK;
    }
    for (size_t i = 0; i < factor_count && status != STATUS_MEMORY; i++)
        status = status_worse(status, try_factor(base, &factors[i], errors));
    if (status == STATUS_OK)
        status = make_frame(base, sweep, errors);
    if (status == STATUS_OK)
        status = describe(base, sweep, errors);
    if (status != STATUS_OK)
        sweep_free(sweep);
    return status;
}

/* --- rows by identity and by value --- */

/* A row and what it is looked up by. */
struct entry {
    const unsigned char *identity;
    const double *values;
    size_t value_count, at;
};

static int compare_identity(const void *left, const void *right)
{
    const struct entry *a = left, *b = right;
    return memcmp(a->identity, b->identity, DIGEST_BYTES);
}

static int compare_values(const void *left, const void *right)
{
    const struct entry *a = left, *b = right;
    for (size_t i = 0; i < a->value_count; i++) {
        int none = isnan(a->values[i]) != 0, other_none = isnan(b->values[i]) != 0;
        if (none != other_none)
            return none ? -1 : 1;
        if (!none && a->values[i] != b->values[i])
            return a->values[i] < b->values[i] ? -1 : 1;
    }
    return a->at < b->at ? -1 : a->at > b->at;
}

/* The rows of a sweep from `first` on, sorted; NULL when memory is out. */
static struct entry *sorted(const struct sweep *sweep, size_t first,
                            int (*compare)(const void *, const void *))
{
    size_t count = sweep->point_count - first;
    struct entry *entries = memory_zeroed(count + 1, sizeof *entries);
    for (size_t i = 0; entries && i < count; i++)
        entries[i] = (struct entry){sweep->points[first + i].identity, sweep_values(sweep, first + i),
                                    sweep->factor_count, first + i};
    if (entries)
        qsort(entries, count, sizeof *entries, compare);
    return entries;
}

/* --- solving --- */

struct work {
    const struct case_file *base;
    const struct explore_options *options;
    struct sweep *sweep;
    size_t first, count;
    int inner;                   /* threads within a layout */
    size_t *twins;               /* (count) a row before with the same values, or the row itself */
    const struct entry *earlier; /* rows of options->earlier by identity */
    struct journal_entry *known; /* (known_count) what the journal held at the start, by identity */
    size_t known_count;
    unsigned char *reached; /* (count) solved, taken or refused */
    struct queue queue;
    size_t done, taken;
    enum status status;
    struct errors *errors;
};

static void clear_row(struct sweep_point *point)
{
    memory_free(point->message);
    memory_free(point->why);
    point->message = point->why = NULL;
    point->worst_hit = point->worst_metric = -1;
}

static enum status refuse(struct sweep_point *point, const struct errors *errors)
{
    char text[ERROR_TEXT + 32] = "no sound case";
    clear_row(point);
    if (errors->count > 0 && errors->kept[0].line > 0)
        snprintf(text, sizeof text, "%d:%d: %s", errors->kept[0].line, errors->kept[0].column,
                 errors->kept[0].text);
    else if (errors->count > 0)
        snprintf(text, sizeof text, "%s", errors->kept[0].text);
    point->status = SWEEP_REFUSED;
    point->message = memory_text(text);
    return point->message ? STATUS_OK : STATUS_MEMORY;
}

static int compare_known(const void *left, const void *right)
{
    const struct journal_entry *a = left, *b = right;
    return memcmp(a->hash, b->hash, sizeof a->hash);
}

/* The journal grows while rows are looked up, and sorts itself anew for each search: only what it held before
 * can be found. */
static enum status take_known(struct work *work)
{
    const struct journal *journal = work->options->journal;
    if (!journal || journal->count == 0)
        return STATUS_OK;
    work->known = memory_zeroed(journal->count, sizeof *work->known);
    if (!work->known)
        return STATUS_MEMORY;
    work->known_count = journal->count;
    memcpy(work->known, journal->entries, journal->count * sizeof *work->known);
    qsort(work->known, work->known_count, sizeof *work->known, compare_known);
    return STATUS_OK;
}

/* Takes a row from the journal, if it is there and makes sense. */
static enum status take_from_journal(struct work *work, size_t at, int *taken, struct errors *errors)
{
    struct sweep_point *point = &work->sweep->points[at];
    struct journal_entry key = {0};
    unsigned char *payload;
    memcpy(key.hash, point->identity, sizeof key.hash);
    const struct journal_entry *entry =
        work->known ? bsearch(&key, work->known, work->known_count, sizeof key, compare_known) : NULL;
    if (!entry)
        return STATUS_OK;
    enum status status = journal_read(work->options->journal, entry, &payload, errors);
    if (status != STATUS_OK)
        return status;
    struct unpack unpack = {.at = payload, .left = entry->length};
    status = sweep_unpack(work->sweep, at, &unpack);
    memory_free(payload);
    *taken = status == STATUS_OK;
    if (status != STATUS_OK)
        clear_row(point);
    return status == STATUS_INPUT ? STATUS_OK : status;
}

/* Looks a row up by its identity. */
static enum status take_row(struct work *work, size_t at, int *taken, struct errors *errors)
{
    const struct sweep *earlier = work->options->earlier;
    queue_enter(&work->queue);
    enum status status = take_from_journal(work, at, taken, errors);
    queue_leave(&work->queue);
    if (status != STATUS_OK || *taken || !work->earlier)
        return status;
    struct entry key = {.identity = work->sweep->points[at].identity};
    const struct entry *found =
        bsearch(&key, work->earlier, earlier->point_count, sizeof key, compare_identity);
    *taken = found != NULL;
    return found ? sweep_copy_point(earlier, found->at, work->sweep, at) : STATUS_OK;
}

static enum status solve_layout(struct work *work, const struct case_file *file, size_t at,
                                struct errors *errors)
{
    struct sweep *sweep = work->sweep;
    struct case_result result;
    struct batch_options options = {
        .threads = work->inner, .model = work->options->model, .interrupted = work->options->interrupted};
    enum status status = batch_run(file, &options, &result, errors);
    if (status == STATUS_INPUT || status == STATUS_USAGE)
        status = refuse(&sweep->points[at], errors);
    else if (result.hits && result.hit_count != sweep->hit_count)
        status = errors_add(errors, STATUS_INPUT, NULL, 0, 0,
                            "has %zu hits where the case as written has %zu: a factor cannot change which "
                            "impacts there are",
                            result.hit_count, sweep->hit_count) == STATUS_INPUT
                     ? refuse(&sweep->points[at], errors)
                     : STATUS_MEMORY;
    else if (result.hits && status != STATUS_INTERRUPTED)
        status = sweep_take(sweep, at, &result);
    case_result_free(&result);
    return status;
}

/* Solves a row or takes it; STATUS_INTERRUPTED when it was not come to. */
static enum status solve_row(struct work *work, size_t at, int *taken, struct errors *errors)
{
    struct case_file file;
    struct sweep_point *point = &work->sweep->points[at];
    enum status status = explore_case(work->base, work->sweep, at, &file, errors);
    if (status == STATUS_OK)
        status = batch_identity(&file, work->options->model, file.text, point->identity, errors);
    if (status == STATUS_INPUT || status == STATUS_USAGE) {
        case_free(&file);
        return refuse(point, errors);
    }
    if (status == STATUS_OK)
        status = take_row(work, at, taken, errors);
    if (status == STATUS_OK && !*taken)
        status = solve_layout(work, &file, at, errors);
    case_free(&file);
    return status;
}

/* A row that was solved goes to the journal before it counts. */
static enum status keep_row(struct work *work, size_t at)
{
    const struct explore_options *options = work->options;
    struct sweep_point *point = &work->sweep->points[at];
    struct pack pack = {0};
    if (!options->journal || point->status == SWEEP_REFUSED)
        return STATUS_OK;
    sweep_pack(work->sweep, at, &pack);
    struct journal_point record = {
        .index = 1, .status = (uint32_t)point->status, .payload = pack.bytes, .length = pack.length};
    memcpy(record.hash, point->identity, sizeof record.hash);
    enum status status = pack.out_of_memory ? STATUS_MEMORY : STATUS_OK;
    if (status == STATUS_OK)
        status = journal_append(options->journal, &record, options->journal_errors);
    memory_free(pack.bytes);
    return status == STATUS_MEMORY ? STATUS_MEMORY : STATUS_OK;
}

static void finish_row(struct work *work, size_t job, int taken, enum status status,
                       const struct errors *errors)
{
    const struct explore_options *options = work->options;
    queue_enter(&work->queue);
    if (status == STATUS_OK && !taken)
        status = keep_row(work, work->first + job);
    if (status == STATUS_FILE && work->status == STATUS_OK && errors->count > 0)
        errors_add(work->errors, STATUS_FILE, errors->kept[0].file, 0, 0, "%s", errors->kept[0].text);
    work->status = status_worse(work->status, status);
    work->reached[job] = status == STATUS_OK;
    work->done++;
    work->taken += (size_t)taken;
    if (options->progress && status == STATUS_OK)
        options->progress(options->context, work->done, work->taken, work->count);
    queue_leave(&work->queue);
}

static void do_row(void *context, size_t job)
{
    struct work *work = context;
    struct errors errors = {0};
    int taken = work->twins[job] != job;
    enum status status = taken ? STATUS_OK : solve_row(work, work->first + job, &taken, &errors);
    finish_row(work, job, taken, status, &errors);
}

/* Rows with the same values, as a sample of few levels has, are solved once. */
static enum status find_twins(struct work *work)
{
    struct entry *entries = sorted(work->sweep, work->first, compare_values);
    work->twins = memory_zeroed(work->count + 1, sizeof *work->twins);
    work->reached = memory_zeroed(work->count + 1, 1);
    enum status status = entries && work->twins && work->reached ? STATUS_OK : STATUS_MEMORY;
    for (size_t i = 0; status == STATUS_OK && i < work->count; i++) {
        const struct entry *entry = &entries[i];
        size_t before = i > 0 ? work->twins[entries[i - 1].at - work->first] : 0;
        int same = i > 0 && memcmp(entry->values, entries[i - 1].values,
                                   entry->value_count * sizeof *entry->values) == 0;
        work->twins[entry->at - work->first] = same ? before : entry->at - work->first;
    }
    memory_free(entries);
    return status;
}

static enum status copy_twins(struct work *work)
{
    enum status status = STATUS_OK;
    for (size_t i = 0; i < work->count && status == STATUS_OK; i++) {
        size_t twin = work->twins[i];
        if (twin != i && work->reached[twin])
            status = sweep_copy_point(work->sweep, work->first + twin, work->sweep, work->first + i);
    }
    return status;
}

static void run(struct work *work)
{
    const struct explore_options *options = work->options;
    int threads = queue_threads(options->threads, (size_t)-1);
    int outer = (size_t)threads > work->count ? (int)work->count : threads;
    work->inner = outer > 0 ? threads / outer : 1;
    queue_make(&work->queue);
    queue_run(work->count, outer > 0 ? outer : 1, options->interrupted, do_row, work);
    queue_free(&work->queue);
    if (options->interrupted && *options->interrupted)
        work->status = status_worse(work->status, STATUS_INTERRUPTED);
}

enum status explore_solve(const struct case_file *base, const struct explore_options *options, size_t first,
                          struct sweep *sweep, struct errors *errors)
{
    struct entry *earlier = NULL;
    struct work work = {.base = base,
                        .options = options,
                        .sweep = sweep,
                        .first = first,
                        .count = sweep->point_count - first,
                        .errors = errors};
    work.status = find_twins(&work);
    if (options->earlier && work.status == STATUS_OK) {
        work.earlier = earlier = sorted(options->earlier, 0, compare_identity);
        work.status = earlier ? STATUS_OK : STATUS_MEMORY;
    }
    if (work.status == STATUS_OK)
        work.status = take_known(&work);
    if (work.status == STATUS_OK)
        run(&work);
    if (work.status == STATUS_OK)
        work.status = copy_twins(&work);
    memory_free(earlier);
    memory_free(work.known);
    memory_free(work.twins);
    memory_free(work.reached);
    return work.status;
}

/* --- keeping --- */

/* Values of an earlier row: its texts may have other levels here. */
static enum status keep_values(const struct sweep *earlier, size_t at, struct sweep *sweep, size_t to)
{
    enum status status = STATUS_OK;
    for (size_t i = 0; i < sweep->factor_count && status == STATUS_OK; i++) {
        struct factor *factor = &sweep->factors[i];
        double value = sweep_values(earlier, at)[i];
        char text[FACTOR_TEXT];
        factor_write(&earlier->factors[i], value, text);
        if (factor->texts)
            status = factor_level(factor, text, &value);
        sweep_values(sweep, to)[i] = value;
    }
    return status;
}

/* Marks (point_count) the rows of an earlier sweep that are not here; their count. */
static enum status find_missing(const struct sweep *earlier, const struct sweep *sweep,
                                unsigned char *missing, size_t *count)
{
    struct entry *entries = sorted(sweep, 0, compare_identity);
    *count = 0;
    for (size_t i = 0; entries && i < earlier->point_count; i++) {
        struct entry key = {.identity = earlier->points[i].identity};
        missing[i] = earlier->points[i].status != SWEEP_REFUSED &&
                     !bsearch(&key, entries, sweep->point_count, sizeof key, compare_identity);
        *count += missing[i];
    }
    enum status status = entries ? STATUS_OK : STATUS_MEMORY;
    memory_free(entries);
    return status;
}

enum status explore_keep(const struct sweep *earlier, struct sweep *sweep)
{
    size_t count, to = sweep->point_count;
    unsigned char *missing = memory_zeroed(earlier->point_count + 1, 1);
    enum status status = missing ? find_missing(earlier, sweep, missing, &count) : STATUS_MEMORY;
    if (status == STATUS_OK)
        status = sweep_extend(sweep, count);
    for (size_t i = 0; i < earlier->point_count && status == STATUS_OK; i++) {
        if (!missing[i])
            continue;
        status = sweep_copy_point(earlier, i, sweep, to);
        if (status == STATUS_OK)
            status = keep_values(earlier, i, sweep, to++);
    }
    memory_free(missing);
    return status;
}

/* --- shares --- */

/* Whether two factors were sampled from the same values. */
static int same_levels(const struct factor *a, const struct factor *b)
{
    int same = a->level_count == b->level_count && (a->texts != NULL) == (b->texts != NULL);
    for (size_t i = 0; same && i < a->level_count; i++)
        same = a->levels[i] == b->levels[i] && (!a->texts || strcmp(a->texts[i], b->texts[i]) == 0);
    return same && a->low == b->low && a->high == b->high;
}

static enum status check_share(const struct sweep *first, const struct sweep *share, const char *name,
                               struct errors *errors)
{
    const char *what = NULL;
    if (strcmp(first->frame, share->frame) != 0)
        what = "is of another case, of other factors, or by another program or model";
    else if (strcmp(first->sample, share->sample) != 0 || first->seed != share->seed ||
             first->asked != share->asked)
        what = "is of another sample";
    for (size_t i = 0; !what && i < first->factor_count; i++) {
        if (!same_levels(&first->factors[i], &share->factors[i]))
            what = "is of a sample of other values";
    }
    return what ? errors_add(errors, STATUS_INPUT, name, 0, 0, "%s than the first", what) : STATUS_OK;
}

/* Where each point of the whole is: share and row; rows without a number are left to explore_keep. */
struct source {
    const struct sweep *share;
    size_t row;
};

static enum status find_sources(const struct sweep *share, const char *name, size_t asked,
                                struct source *sources, struct errors *errors)
{
    for (size_t row = 0; row < share->point_count; row++) {
        long number = share->points[row].number;
        if (number <= 0)
            continue;
        if ((size_t)number > asked)
            return errors_add(errors, STATUS_INPUT, name, 0, 0, "has a point %ld of %zu", number, asked);
        struct source *source = &sources[number - 1];
        if (source->share && memcmp(source->share->points[source->row].identity, share->points[row].identity,
                                    DIGEST_BYTES) != 0)
            return errors_add(errors, STATUS_INPUT, name, 0, 0,
                              "has another layout as point %ld than a share before it", number);
        if (!source->share)
            *source = (struct source){share, row};
    }
    return STATUS_OK;
}

static enum status check_whole(const struct source *sources, size_t asked, struct errors *errors)
{
    size_t missing = 0, first = 0;
    for (size_t i = asked; i-- > 0;) {
        if (!sources[i].share) {
            missing++;
            first = i + 1;
        }
    }
    return missing ? errors_add(errors, STATUS_INPUT, NULL, 0, 0,
                                "%zu of %zu points are in none of these files, the first is number %zu: a "
                                "share is missing",
                                missing, asked, first)
                   : STATUS_OK;
}

static enum status copy_sources(const struct source *sources, size_t asked, struct sweep *whole)
{
    enum status status = sweep_extend(whole, asked);
    for (size_t i = 0; i < asked && status == STATUS_OK; i++) {
        const struct source *source = &sources[i];
        whole->points[i].number = (long)i + 1;
        memcpy(sweep_values(whole, i), sweep_values(source->share, source->row),
               whole->factor_count * sizeof(double));
        status = sweep_copy_point(source->share, source->row, whole, i);
    }
    return status;
}

enum status explore_merge(const struct sweep *shares, const char *const *names, size_t count,
                          struct sweep *whole, struct errors *errors)
{
    size_t asked = (size_t)shares[0].asked;
    struct source *sources = NULL;
    enum status status = sweep_like(&shares[0], whole);
    if (status == STATUS_OK) {
        sources = memory_zeroed(asked + 1, sizeof *sources);
        status = sources ? STATUS_OK : STATUS_MEMORY;
    }
    for (size_t i = 0; i < count && status == STATUS_OK; i++) {
        status = check_share(&shares[0], &shares[i], names[i], errors);
        if (status == STATUS_OK)
            status = find_sources(&shares[i], names[i], asked, sources, errors);
    }
    if (status == STATUS_OK)
        status = check_whole(sources, asked, errors);
    if (status == STATUS_OK)
        status = copy_sources(sources, asked, whole);
    for (size_t i = 0; i < count && status == STATUS_OK; i++)
        status = explore_keep(&shares[i], whole);
    if (status != STATUS_OK)
        sweep_free(whole);
    memory_free(sources);
    return status;
}
