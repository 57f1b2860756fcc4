#include "solver/study/rank.h"

#include <math.h>
#include <stdint.h>
#include <string.h>

#include "solver/base/front.h"
#include "solver/base/memory.h"
#include "solver/base/normal.h"
#include "solver/base/random.h"
#include "solver/study/sampling.h"
#include "solver/study/sensitivity.h"

enum {
    STARTS = 2,
    EVALUATIONS = 40,
    SUBSAMPLE = 150,
    SAMPLE = 2048,       /* points of a sensitivity study, a power of two */
    EFFECT_SAMPLE = 512, /* points of a main effect */
    DRAWS = 2048,        /* of the least margin of a layout */
    BATCH = 512          /* predictions at a time */
};

static const uint64_t seed = 1;
static const double apart = 0.1; /* shares of the range between layouts proposed where there is no grid */

/* --- rows and inputs --- */

static int usable(const struct sweep *sweep, size_t row)
{
    const struct sweep_point *point = &sweep->points[row];
    return point->status == SWEEP_COMPUTED && isfinite(point->worst_margin);
}

static size_t columns_of(const struct factor *factor, double low, double high)
{
    if (!factor->texts)
        return high > low;
    return factor->level_count > 2 ? factor->level_count : factor->level_count - 1;
}

/* Rows of an earlier sample may lie outside the range of the factor as it is now. */
static void find_ranges(struct rank *rank)
{
    const struct sweep *sweep = rank->sweep;
    for (size_t i = 0; i < sweep->factor_count; i++) {
        rank->low[i] = sweep->factors[i].low;
        rank->high[i] = sweep->factors[i].high;
        for (size_t row = 0; row < sweep->point_count; row++) {
            if (!usable(sweep, row))
                continue;
            rank->low[i] = fmin(rank->low[i], sweep_values(sweep, row)[i]);
            rank->high[i] = fmax(rank->high[i], sweep_values(sweep, row)[i]);
        }
        rank->input_count += columns_of(&sweep->factors[i], rank->low[i], rank->high[i]);
    }
}

/* Values of a layout as the inputs of a process. */
static void encode(const struct rank *rank, const double *values, double *inputs)
{
    for (size_t i = 0; i < rank->sweep->factor_count; i++) {
        const struct factor *factor = &rank->sweep->factors[i];
        size_t columns = columns_of(factor, rank->low[i], rank->high[i]);
        for (size_t k = 0; k < columns; k++) {
            if (!factor->texts)
                inputs[k] = (values[i] - rank->low[i]) / (rank->high[i] - rank->low[i]);
            else
                inputs[k] = columns == 1 ? values[i] : values[i] == (double)k;
        }
        inputs += columns;
    }
}

/* --- processes --- */

/* What a process is made of, of one row; NaN where it has none. */
static double value_of(const struct rank *rank, size_t hit, size_t row)
{
    const struct sweep *sweep = rank->sweep;
    if (!usable(sweep, row))
        return NAN;
    return hit == SIZE_MAX ? sweep->points[row].mass.helmet : sweep_margins(sweep, row)[hit];
}

/* Rows with a value into `rows`, at most RANK_ROWS of them, in their order. */
static size_t choose_rows(const struct rank *rank, size_t hit, size_t *rows)
{
    size_t count = 0, kept = 0;
    struct random random = {seed};
    for (size_t row = 0; row < rank->sweep->point_count; row++) {
        if (isfinite(value_of(rank, hit, row)))
            rows[count++] = row;
    }
    size_t wanted = count < RANK_ROWS ? count : RANK_ROWS;
    for (size_t i = 0; i < count && kept < wanted; i++) {
        if (random_below(&random, count - i) < wanted - kept)
            rows[kept++] = rows[i];
    }
    return kept;
}

static enum status judge_model(struct rank_model *model)
{
    const struct surrogate *surrogate = &model->surrogate;
    size_t count = surrogate->count;
    double mean = 0, squares = 0, errors = 0, surprise = 0, *left = memory_doubles(2 * count);
    enum status status = left ? surrogate_leave_one_out(surrogate, left, left + count) : STATUS_MEMORY;
    for (size_t i = 0; i < count; i++)
        mean += surrogate->values[i] / (double)count;
    for (size_t i = 0; status == STATUS_OK && i < count; i++) {
        double off = surrogate->values[i] - mean, error = surrogate->values[i] - left[i];
        squares += off * off;
        errors += error * error;
        surprise += left[count + i] > 0 ? error / left[count + i] * (error / left[count + i]) : 0;
    }
    memory_free(left);
    model->spread = sqrt(squares / (double)count);
    model->error = sqrt(errors / (double)count);
    model->surprise = sqrt(surprise / (double)count);
    model->q2 = model->spread > 1e-12 * fabs(mean) ? 1 - errors / squares : (double)NAN;
    return status;
}

static enum status fit_model(const struct rank *rank, struct rank_model *model)
{
    size_t inputs = rank->input_count;
    size_t *rows = memory_zeroed(rank->sweep->point_count + 1, sizeof *rows);
    double *x = memory_doubles(RANK_ROWS * (inputs + 1)), *y = x ? x + RANK_ROWS * inputs : NULL;
    const struct surrogate_options options = {
        .starts = STARTS, .evaluations = EVALUATIONS, .subsample = SUBSAMPLE, .seed = seed};
    enum status status = STATUS_MEMORY;
    if (rows && x) {
        model->rows = choose_rows(rank, model->hit, rows);
        for (size_t i = 0; i < model->rows; i++) {
            encode(rank, sweep_values(rank->sweep, rows[i]), x + i * inputs);
            y[i] = value_of(rank, model->hit, rows[i]);
        }
        status = surrogate_fit(model->rows, inputs, x, y, &options, &model->surrogate);
    }
    if (status == STATUS_OK)
        status = judge_model(model);
    memory_free(rows);
    memory_free(x);
    return status;
}

/* --- which hits --- */

static int before(const struct rank_model *a, const struct rank_model *b)
{
    if (a->governs != b->governs)
        return a->governs > b->governs;
    return a->gap < b->gap;
}

static void note_hit(const struct rank *rank, size_t hit, size_t need, struct rank_model *model)
{
    const struct sweep *sweep = rank->sweep;
    *model = (struct rank_model){.hit = hit, .gap = INFINITY};
    for (size_t row = 0; row < sweep->point_count; row++) {
        double value = value_of(rank, hit, row);
        model->rows += isfinite(value);
        if (!isfinite(value))
            continue;
        model->gap = fmin(model->gap, value - sweep->points[row].worst_margin);
        model->governs += sweep->points[row].worst_hit == (int)hit;
    }
    if (model->rows < need && model->rows > 0)
        model->gap = INFINITY;
}

/* The hits that matter, best first, by insertion. */
static void choose_hits(struct rank *rank, size_t need)
{
    for (size_t hit = 0; hit < rank->sweep->hit_count; hit++) {
        struct rank_model model;
        note_hit(rank, hit, need, &model);
        rank->silent_count += model.rows == 0;
        rank->far_count += model.rows > 0;
        if (!(model.gap <= RANK_NEAR))
            continue;
        size_t at = rank->model_count;
        while (at > 0 && before(&model, &rank->models[at - 1]))
            at--;
        if (at == RANK_MODELS)
            continue;
        size_t behind = rank->model_count - at - (rank->model_count == RANK_MODELS);
        memmove(&rank->models[at + 1], &rank->models[at], behind * sizeof model);
        rank->models[at] = model;
        rank->model_count += rank->model_count < RANK_MODELS;
    }
    rank->far_count -= rank->model_count;
}

/* Whether the mass differs between layouts by more than it is written with, and what it is if not. */
static void find_mass(struct rank *rank)
{
    double low = INFINITY, high = -INFINITY;
    for (size_t row = 0; row < rank->sweep->point_count; row++) {
        double mass = value_of(rank, SIZE_MAX, row);
        low = fmin(low, mass);
        high = fmax(high, mass);
    }
    rank->mass_varies = high - low > 1e-6;
    rank->mass_everywhere = isfinite(low) ? low : (double)NAN;
    rank->mass.hit = SIZE_MAX;
}

/* --- predictions --- */

/* The least predicted margin of n layouts. STATUS_MEMORY. */
static enum status worst_of(const struct rank *rank, size_t n, const double *inputs, double *work,
                            double *worst)
{
    for (size_t m = 0; m < rank->model_count; m++) {
        surrogate_predict(&rank->models[m].surrogate, n, inputs, work, NULL);
        if (isnan(work[0]))
            return STATUS_MEMORY;
        for (size_t i = 0; i < n; i++)
            worst[i] = m == 0 || work[i] < worst[i] ? work[i] : worst[i];
    }
    return STATUS_OK;
}

/* Standard deviation of the least of independent normal margins, from the same draws for every layout. */
static double deviation_of_least(size_t count, const double *means, const double *deviations)
{
    struct random random = {seed};
    double sum = 0, squares = 0;
    if (count == 1)
        return deviations[0];
    for (size_t draw = 0; draw < DRAWS; draw++) {
        double least = INFINITY;
        for (size_t m = 0; m < count; m++)
            least = fmin(least, means[m] + deviations[m] * normal_quantile(random_uniform(&random)));
        sum += least - means[0];
        squares += (least - means[0]) * (least - means[0]);
    }
    double mean = sum / DRAWS;
    return sqrt(fmax(squares / DRAWS - mean * mean, 0));
}

/* NaN where no layout has one. STATUS_MEMORY. */
static enum status mass_at(const struct rank *rank, const double *inputs, double *mass)
{
    *mass = rank->mass_everywhere;
    if (rank->mass_varies)
        surrogate_predict(&rank->mass.surrogate, 1, inputs, mass, NULL);
    return rank->mass_varies && isnan(*mass) ? STATUS_MEMORY : STATUS_OK;
}

static size_t row_with(const struct sweep *sweep, const double *values)
{
    for (size_t row = 0; row < sweep->point_count; row++) {
        size_t same = 0;
        for (size_t i = 0; i < sweep->factor_count; i++)
            same += sweep_values(sweep, row)[i] == values[i];
        if (same == sweep->factor_count && usable(sweep, row))
            return row;
    }
    return SIZE_MAX;
}

enum status rank_predict(const struct rank *rank, double *values, struct rank_layout *layout, double *each,
                         double *deviations)
{
    double inputs[RANK_INPUTS], means[RANK_MODELS] = {0}, own[RANK_MODELS];
    *layout = (struct rank_layout){.values = values, .row = row_with(rank->sweep, values)};
    encode(rank, values, inputs);
    for (size_t m = 0; m < rank->model_count; m++) {
        surrogate_predict(&rank->models[m].surrogate, 1, inputs, &means[m], &own[m]);
        if (isnan(means[m]) || isnan(own[m]))
            return STATUS_MEMORY;
        layout->model = means[m] < means[layout->model] ? m : layout->model;
    }
    layout->margin = means[layout->model];
    layout->deviation = deviation_of_least(rank->model_count, means, own);
    if (each)
        memcpy(each, means, rank->model_count * sizeof *each);
    if (deviations)
        memcpy(deviations, own, rank->model_count * sizeof *deviations);
    return mass_at(rank, inputs, &layout->mass);
}

/* --- sensitivities --- */

/* A function on the unit cube of the factors: of one model, or the worst of all. */
struct question {
    const struct rank *rank;
    size_t model; /* SIZE_MAX: the worst */
    size_t even;  /* this factor's coordinate is its share of the range, levels or not; SIZE_MAX: none */
    double *inputs, *work;
};

static double value_at(const struct question *question, size_t i, double share)
{
    const struct rank *rank = question->rank;
    const struct factor *factor = &rank->sweep->factors[i];
    if (i != question->even || factor->texts)
        return factor_at(factor, share);
    return factor->low + share * (factor->high - factor->low);
}

static enum status answer(void *context, size_t count, const double *x, double *values)
{
    const struct question *question = context;
    const struct rank *rank = question->rank;
    size_t factors = rank->sweep->factor_count;
    double layout[FACTORS_MOST];
    for (size_t from = 0; from < count; from += BATCH) {
        size_t n = count - from < BATCH ? count - from : BATCH;
        for (size_t j = 0; j < n; j++) {
            for (size_t i = 0; i < factors; i++)
                layout[i] = value_at(question, i, x[(from + j) * factors + i]);
            encode(rank, layout, question->inputs + j * rank->input_count);
        }
        enum status status = STATUS_OK;
        if (question->model == SIZE_MAX)
            status = worst_of(rank, n, question->inputs, question->work, values + from);
        else
            status = surrogate_evaluate(&rank->models[question->model].surrogate, n, question->inputs,
                                        values + from);
        if (status != STATUS_OK)
            return status;
    }
    return STATUS_OK;
}

static enum status find_effect(struct question *question, const double *base, size_t factor)
{
    const struct rank *rank = question->rank;
    const struct rank_effect *effect = &rank->effects[factor];
    const struct factor *its = &rank->sweep->factors[factor];
    double *at = memory_doubles(effect->count);
    const struct sensitivity_function function = {rank->sweep->factor_count, answer, question};
    if (!at)
        return STATUS_MEMORY;
    question->even = factor;
    for (size_t k = 0; k < effect->count; k++) {
        at[k] =
            its->texts ? ((double)k + 0.5) / (double)effect->count : (double)k / (double)(effect->count - 1);
        effect->values[k] = value_at(question, factor, at[k]);
    }
    enum status status =
        sensitivity_main_effect(&function, EFFECT_SAMPLE, base, factor, effect->count, at, effect->margins);
    memory_free(at);
    question->even = SIZE_MAX;
    return status;
}

static enum status study(struct rank *rank)
{
    size_t factors = rank->sweep->factor_count;
    double *base = memory_doubles(2 * factors * SAMPLE);
    struct question question = {rank, SIZE_MAX, SIZE_MAX, memory_doubles(BATCH * (rank->input_count + 1)),
                                NULL};
    const struct sensitivity_function function = {factors, answer, &question};
    struct sensitivity_indices all = {.first = rank->first, .total = rank->total};
    enum status status = base && question.inputs ? STATUS_OK : STATUS_MEMORY;
    if (status == STATUS_OK) {
        question.work = question.inputs + BATCH * rank->input_count;
        sampling_sobol(SAMPLE, 2 * factors, seed, base);
        status = sensitivity_find(&function, SAMPLE, base, &all);
    }
    rank->mean = all.mean;
    rank->variance = all.variance;
    for (size_t i = 0; i < factors && status == STATUS_OK; i++)
        status = find_effect(&question, base, i);
    for (size_t m = 0; m < rank->model_count && status == STATUS_OK; m++) {
        struct sensitivity_indices own = {.first = rank->models[m].first, .total = rank->models[m].total};
        question.model = m;
        status = sensitivity_find(&function, SAMPLE, base, &own);
    }
    memory_free(base);
    memory_free(question.inputs);
    return status;
}

int rank_direction(const struct rank *rank, size_t factor)
{
    const struct rank_effect *effect = &rank->effects[factor];
    double up = 0, down = 0;
    for (size_t k = 1; k < effect->count; k++) {
        double step = effect->margins[k] - effect->margins[k - 1];
        up += fmax(step, 0);
        down += fmax(-step, 0);
    }
    double least = 0.1 * (up + down);
    if (rank->sweep->factors[factor].texts || up + down < 1e-9)
        return 0;
    return down < least ? 1 : up < least ? -1 : 0;
}

/* --- the best --- */

struct search {
    struct rank *rank;
    int grid;
    size_t count, solved; /* candidates; of them behind the first `count - solved` rows of the sweep */
    double *shares;       /* (count x factors) without a grid */
    size_t *rows;         /* (solved) */
    double *margins;      /* (count), -INFINITY beyond the limit of mass */
};

/* Levels of each factor; 0 where one has none. */
static size_t grid_count(const struct sweep *sweep, size_t levels[FACTORS_MOST])
{
    for (size_t i = 0; i < sweep->factor_count; i++) {
        levels[i] = sweep->factors[i].level_count;
        if (levels[i] == 0)
            return SIZE_MAX;
    }
    return sampling_grid_count(levels, sweep->factor_count);
}

static void candidate(const struct search *search, size_t at, double *values)
{
    const struct sweep *sweep = search->rank->sweep;
    size_t factors = sweep->factor_count, levels[FACTORS_MOST], index[FACTORS_MOST];
    if (at >= search->count - search->solved) {
        memcpy(values, sweep_values(sweep, search->rows[at - (search->count - search->solved)]),
               factors * sizeof *values);
        return;
    }
    if (search->grid) {
        grid_count(sweep, levels);
        sampling_grid_index(levels, factors, at, index);
    }
    for (size_t i = 0; i < factors; i++)
        values[i] = search->grid ? sweep->factors[i].levels[index[i]]
                                 : factor_at(&sweep->factors[i], search->shares[at * factors + i]);
}

/* Takes layouts beyond the limit of mass out. */
static enum status drop_heavy(const struct search *search, size_t from, size_t n, const double *x)
{
    struct rank *rank = search->rank;
    double mass, limit = rank->sweep->helmet_mass_limit;
    for (size_t j = 0; j < n && !isnan(limit); j++) {
        if (mass_at(rank, x + j * rank->input_count, &mass) != STATUS_OK)
            return STATUS_MEMORY;
        rank->over_mass += mass > limit;
        search->margins[from + j] = mass > limit ? -INFINITY : search->margins[from + j];
    }
    return STATUS_OK;
}

static enum status look_through(const struct search *search)
{
    struct rank *rank = search->rank;
    size_t inputs = rank->input_count;
    double values[FACTORS_MOST];
    double *x = memory_doubles(BATCH * (inputs + 1)), *work = x ? x + BATCH * inputs : NULL;
    enum status status = x ? STATUS_OK : STATUS_MEMORY;
    for (size_t from = 0; from < search->count && status == STATUS_OK; from += BATCH) {
        size_t n = search->count - from < BATCH ? search->count - from : BATCH;
        for (size_t j = 0; j < n; j++) {
            candidate(search, from + j, values);
            encode(rank, values, x + j * inputs);
        }
        status = worst_of(rank, n, x, work, search->margins + from);
        if (status == STATUS_OK)
            status = drop_heavy(search, from, n, x);
    }
    memory_free(x);
    rank->searched = search->count;
    return status;
}

/* Whether a layout is another than those already proposed: any on a grid, one that is some way off elsewhere.
 */
static int differs(const struct rank *rank, int grid, const double *values)
{
    for (size_t b = 0; b < rank->best_count; b++) {
        double most = 0;
        for (size_t i = 0; i < rank->sweep->factor_count; i++) {
            double off = fabs(values[i] - rank->best[b].values[i]), span = rank->high[i] - rank->low[i];
            most = fmax(most, off > 0 && (grid || rank->sweep->factors[i].texts) ? 1
                              : off > 0                                          ? off / span
                                                                                 : 0);
        }
        if (most < apart)
            return 0;
    }
    return 1;
}

/* The best candidate that differs from those found; SIZE_MAX for none. */
static size_t next_best(const struct search *search, double *values)
{
    size_t best = SIZE_MAX;
    double at[FACTORS_MOST];
    for (size_t i = 0; i < search->count; i++) {
        if (search->margins[i] == -INFINITY ||
            (best != SIZE_MAX && search->margins[i] <= search->margins[best]))
            continue;
        candidate(search, i, at);
        if (!differs(search->rank, search->grid, at))
            continue;
        best = i;
        memcpy(values, at, search->rank->sweep->factor_count * sizeof *values);
    }
    return best;
}

/* Worst margin predicted; -INFINITY beyond the limit of mass. STATUS_MEMORY. */
static enum status find_merit(const struct rank *rank, const double *values, double *merit)
{
    double inputs[RANK_INPUTS], work, mass;
    encode(rank, values, inputs);
    enum status status = worst_of(rank, 1, inputs, &work, merit);
    if (status == STATUS_OK)
        status = mass_at(rank, inputs, &mass);
    if (status == STATUS_OK && mass > rank->sweep->helmet_mass_limit)
        *merit = -INFINITY;
    return status;
}

/* Climbs from a layout along one factor after the other, steps halved when none helps. Factors with levels
 * stay where they are. STATUS_MEMORY. */
static enum status polish(const struct rank *rank, double *values)
{
    double best = -INFINITY, now = -INFINITY;
    enum status status = find_merit(rank, values, &best);
    for (double step = 0.1; step > 1e-4 && status == STATUS_OK;) {
        int moved = 0;
        for (size_t i = 0; i < 2 * rank->sweep->factor_count && status == STATUS_OK; i++) {
            const struct factor *factor = &rank->sweep->factors[i / 2];
            double old = values[i / 2], move = (i % 2 ? -step : step) * (factor->high - factor->low);
            if (factor->level_count > 0)
                continue;
            values[i / 2] = fmin(fmax(old + move, factor->low), factor->high);
            status = find_merit(rank, values, &now);
            moved |= now > best;
            values[i / 2] = now > best ? values[i / 2] : old;
            best = now > best ? now : best;
        }
        step = moved ? step : step / 2;
    }
    return status;
}

static enum status make_search(struct rank *rank, struct search *search)
{
    const struct sweep *sweep = rank->sweep;
    size_t levels[FACTORS_MOST], factors = sweep->factor_count, grid = grid_count(sweep, levels);
    *search = (struct search){.rank = rank, .grid = grid <= RANK_GRID};
    search->rows = memory_zeroed(sweep->point_count + 1, sizeof *search->rows);
    if (!search->rows)
        return STATUS_MEMORY;
    for (size_t row = 0; row < sweep->point_count && !search->grid; row++) {
        if (usable(sweep, row))
            search->rows[search->solved++] = row;
    }
    search->count = (search->grid ? grid : RANK_SEARCH) + search->solved;
    search->margins = memory_doubles(search->count);
    search->shares = memory_doubles(search->grid ? 1 : RANK_SEARCH * factors);
    if (!search->margins || !search->shares)
        return STATUS_MEMORY;
    if (!search->grid)
        sampling_sobol(RANK_SEARCH, factors, seed, search->shares);
    return STATUS_OK;
}

static enum status find_best(struct rank *rank)
{
    struct search search;
    enum status status = make_search(rank, &search);
    if (status == STATUS_OK)
        status = look_through(&search);
    rank->whole_grid = search.grid;
    while (status == STATUS_OK && rank->best_count < RANK_BEST) {
        struct rank_layout *layout = &rank->best[rank->best_count];
        double *values = layout->values;
        if (next_best(&search, values) == SIZE_MAX)
            break;
        if (!search.grid && rank->best_count == 0)
            status = polish(rank, values);
        if (status == STATUS_OK)
            status = rank_predict(rank, values, layout, NULL, NULL);
        rank->best_count++;
    }
    memory_free(search.rows);
    memory_free(search.margins);
    memory_free(search.shares);
    return status;
}

/* --- trade-offs of what was solved --- */

double rank_peak(const struct sweep *sweep, size_t row)
{
    double largest = NAN;
    for (size_t k = 0; k < sweep->hit_count; k++)
        largest = fmax(largest, sweep_metrics(sweep, row, k)[METRIC_peak]);
    return largest;
}

static size_t missing_hits(const struct sweep *sweep, size_t row)
{
    size_t missing = 0;
    for (size_t k = 0; k < sweep->hit_count; k++)
        missing += sweep->states[row * sweep->hit_count + k] != HIT_COMPUTED;
    return missing;
}

/* Masses of the rows that take part, NaN for the others: one that lacks hits which others have would look
 * better than it is known to be. */
static void fill_masses(const struct rank *rank, double *mass)
{
    const struct sweep *sweep = rank->sweep;
    size_t least = sweep->hit_count;
    for (size_t row = 0; row < sweep->point_count; row++) {
        size_t missing = usable(sweep, row) ? missing_hits(sweep, row) : least;
        least = missing < least ? missing : least;
    }
    for (size_t row = 0; row < sweep->point_count; row++)
        mass[row] = missing_hits(sweep, row) > least ? (double)NAN : value_of(rank, SIZE_MAX, row);
}

static enum status find_fronts(struct rank *rank)
{
    const struct sweep *sweep = rank->sweep;
    size_t count = sweep->point_count;
    double *mass = memory_doubles(2 * count), *cost = mass ? mass + count : NULL;
    rank->front = memory_zeroed(2 * count, sizeof *rank->front);
    rank->peak_front = memory_zeroed(2 * count, sizeof *rank->peak_front);
    int made = mass && rank->front && rank->peak_front;
    if (made) {
        fill_masses(rank, mass);
        for (size_t row = 0; row < count; row++)
            cost[row] = -sweep->points[row].worst_margin;
        rank->front_count = front_find(mass, cost, count, rank->front);
        for (size_t row = 0; row < count; row++)
            cost[row] = rank_peak(sweep, row);
        rank->peak_count = front_find(mass, cost, count, rank->peak_front);
    }
    memory_free(mass);
    return made ? STATUS_OK : STATUS_MEMORY;
}

/* --- all of it --- */

static enum status share_block(struct rank *rank)
{
    const struct sweep *sweep = rank->sweep;
    size_t factors = sweep->factor_count, effects = 0;
    for (size_t i = 0; i < factors; i++)
        effects += sweep->factors[i].texts ? sweep->factors[i].level_count : RANK_EFFECT;
    rank->models = memory_zeroed(RANK_MODELS, sizeof *rank->models);
    rank->effects = memory_zeroed(factors, sizeof *rank->effects);
    rank->block = memory_zeroed(factors * (4 + 2 * RANK_MODELS + RANK_BEST) + 2 * effects, sizeof(double));
    if (!rank->models || !rank->effects || !rank->block)
        return STATUS_MEMORY;
    double *at = rank->block;
    double **const places[] = {&rank->low, &rank->high, &rank->first, &rank->total};
    for (size_t i = 0; i < sizeof places / sizeof *places; i++, at += factors)
        *places[i] = at;
    for (size_t i = 0; i < RANK_BEST; i++, at += factors)
        rank->best[i].values = at;
    for (size_t i = 0; i < factors; i++) {
        struct rank_effect *effect = &rank->effects[i];
        effect->count = sweep->factors[i].texts ? sweep->factors[i].level_count : RANK_EFFECT;
        effect->values = at;
        effect->margins = at + effect->count;
        at += 2 * effect->count;
    }
    return STATUS_OK;
}

/* The indices of the models stand behind everything else in the block. */
static void share_indices(struct rank *rank)
{
    size_t factors = rank->sweep->factor_count;
    const struct rank_effect *last = &rank->effects[factors - 1];
    double *at = last->margins + last->count;
    for (size_t m = 0; m < rank->model_count; m++) {
        rank->models[m].first = at + 2 * m * factors;
        rank->models[m].total = rank->models[m].first + factors;
    }
}

/* Refuses what cannot be ranked; counts the rows. `need` becomes the least number of layouts. */
static enum status check(struct rank *rank, size_t *need, struct errors *errors)
{
    const struct sweep *sweep = rank->sweep;
    int limited = 0;
    for (size_t i = 0; i < sweep->hit_count * METRIC_COUNT; i++)
        limited |= !isnan(sweep->limits[i]);
    if (!limited)
        return errors_add(errors, STATUS_INPUT, NULL, 0, 0,
                          "no limit decides: set `limits`, or a programme, in the case, and sweep again");
    for (size_t row = 0; row < sweep->point_count; row++)
        rank->computed += (size_t)usable(sweep, row);
    rank->left_out = sweep->point_count - rank->computed;
    find_ranges(rank);
    *need = 2 * rank->input_count + 2;
    if (rank->input_count == 0)
        return errors_add(errors, STATUS_INPUT, NULL, 0, 0,
                          "no factor has more than one value: nothing to rank");
    if (rank->input_count > RANK_INPUTS)
        return errors_add(errors, STATUS_INPUT, NULL, 0, 0,
                          "the factors make %zu inputs, each name of a list being one; rank takes %d",
                          rank->input_count, RANK_INPUTS);
    if (rank->computed < *need)
        return errors_add(
            errors, STATUS_INPUT, NULL, 0, 0,
            "%zu of %zu layouts have a margin; to predict others at least %zu are needed, two for "
            "each of %zu inputs and two more",
            rank->computed, sweep->point_count, *need, rank->input_count);
    return STATUS_OK;
}

static enum status fit_all(struct rank *rank)
{
    enum status status = STATUS_OK;
    for (size_t m = 0; m < rank->model_count && status == STATUS_OK; m++)
        status = fit_model(rank, &rank->models[m]);
    find_mass(rank);
    if (status == STATUS_OK && rank->mass_varies)
        status = fit_model(rank, &rank->mass);
    return status;
}

enum status rank_make(const struct sweep *sweep, struct rank *rank, struct errors *errors)
{
    size_t need = 0;
    *rank = (struct rank){.sweep = sweep};
    enum status status =
        sweep->factor_count > 0 && sweep->factor_count <= FACTORS_MOST ? share_block(rank) : STATUS_INPUT;
    if (status == STATUS_INPUT)
        errors_add(errors, status, NULL, 0, 0, "nothing is varied: nothing to rank");
    if (status == STATUS_OK)
        status = check(rank, &need, errors);
    if (status == STATUS_OK) {
        choose_hits(rank, need);
        share_indices(rank);
        status =
            rank->model_count > 0
                ? fit_all(rank)
                : errors_add(errors, STATUS_INPUT, NULL, 0, 0,
                             "no impact has a margin in %zu layouts or more, which predictions need", need);
    }
    if (status == STATUS_OK)
        status = study(rank);
    if (status == STATUS_OK)
        status = find_best(rank);
    if (status == STATUS_OK && rank->mass_varies)
        status = find_fronts(rank);
    if (status != STATUS_OK)
        rank_free(rank);
    return status;
}

void rank_free(struct rank *rank)
{
    for (size_t m = 0; m < rank->model_count; m++)
        surrogate_free(&rank->models[m].surrogate);
    surrogate_free(&rank->mass.surrogate);
    memory_free(rank->models);
    memory_free(rank->effects);
    memory_free(rank->block);
    memory_free(rank->front);
    memory_free(rank->peak_front);
    *rank = (struct rank){0};
}
