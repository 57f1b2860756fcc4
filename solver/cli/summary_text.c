#include "solver/cli/summary.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "solver/base/memory.h"
#include "solver/cli/summary_rotation.h"
#include "solver/cli/table.h"
#include "solver/cli/terminal.h"
#include "solver/impact/anvil.h"
#include "solver/study/judge.h"

enum { LINE = 1024 };

static const struct table_column columns[] = {
    {"no.", 1},     {"size", TABLE_IF_ANY}, {"site", 0},     {"anvil", 0},   {"m/s", 1},
    {"degC", 1},    {"peak g", 1},          {"limit", 1},    {"HIC", 1},     {"limit", 1},
    {"crush %", 1}, {"mm left", 1},         {"margin %", 1}, {"verdict", 0}, {"why", 0},
};
enum { COLUMN_COUNT = sizeof columns / sizeof *columns };

/* A text from a file, as one line. */
static void say(enum style style, const char *before, const char *value, const char *after)
{
    char clean[LINE];
    terminal_print(stdout, style, "%s%s%s", before, terminal_clean(value ? value : "", clean, sizeof clean),
                   after);
}

static enum style verdict_style(enum verdict verdict)
{
    return verdict == VERDICT_WITHIN ? STYLE_GOOD : verdict == VERDICT_EXCEEDS ? STYLE_ERROR : STYLE_WARNING;
}

/* --- rows ------------------------------------------------------------------------------------------------
 */

static int from_memory(const struct judgement *judgement)
{
    return strstr(judgement->provenance, "from memory") != NULL;
}

/* The first limit of a hit that is undecided; NULL for none. */
static const struct judgement *open_judgement(const struct hit_result *hit)
{
    for (size_t i = 0; i < hit->judgement_count; i++) {
        if (hit->judgements[i].state == VERDICT_UNDECIDED)
            return &hit->judgements[i];
    }
    return NULL;
}

/* "exceeds: HIC"; a limit that nobody checked is said to be so. */
static void add_verdict(struct table *table, const struct hit_result *hit)
{
    const struct judgement *worst = summary_worst(hit);
    if (!worst || worst->state != VERDICT_EXCEEDS)
        worst = open_judgement(hit) ? open_judgement(hit) : worst;
    if (worst)
        table_text(table, verdict_style(worst->state), "%s: %s%s", verdict_text(worst->state),
                   metrics_word(worst->metric), from_memory(worst) ? " (limit unchecked)" : "");
    else
        table_text(table, STYLE_PLAIN, "%s", verdict_text(VERDICT_NO_LIMIT));
}

static void add_computed(struct table *table, const struct hit_result *hit)
{
    const double *metrics = hit->output.metrics;
    const struct judgement *worst = summary_worst(hit);
    table_number(table, metrics[METRIC_peak], 1);
    table_number(table, summary_limit(hit, METRIC_peak), 0);
    table_number(table, metrics[METRIC_hic], 0);
    table_number(table, summary_limit(hit, METRIC_hic), 0);
    table_number(table, 100 * metrics[METRIC_crush_fraction], 0);
    table_number(table, metrics[METRIC_crush_left], 1);
    table_number(table, worst ? 100 * worst->margin : (double)NAN, 1);
    add_verdict(table, hit);
    if (hit->why[0])
        table_text(table, STYLE_PLAIN, "%s: %s, layer %d", hit->why, hit->why_region, hit->why_layer);
}

/* Whether a body of equal overlap stood in the place of the anvil. */
static int in_place(const struct hit_result *hit)
{
    return hit->status == HIT_COMPUTED && strcmp(hit->anvil_form, "equal overlap") == 0;
}

static void add_row(struct table *table, const struct case_result *result, const struct hit_result *hit)
{
    char name[SUMMARY_HIT], anvil[ANVIL_WORDS];
    table_row(table);
    table_text(table, STYLE_PLAIN, "%s", summary_hit(result, hit, name));
    table_text(table, STYLE_PLAIN, "%s", hit->size);
    table_text(table, STYLE_PLAIN, "%s", hit->site[0] ? hit->site : "-");
    table_text(table, STYLE_PLAIN, "%s%s", hit->anvil[0] ? anvil_words(hit->anvil, hit->angle, anvil) : "-",
               in_place(hit) ? "*" : "");
    table_number(table, hit->speed, 2);
    table_number(table, hit->temperature, 0);
    if (hit->status == HIT_COMPUTED) {
        add_computed(table, hit);
        return;
    }
    for (int i = 0; i < 7; i++)
        table_text(table, STYLE_PLAIN, "-");
    table_text(table, STYLE_WARNING, "%s", summary_status(hit->status));
    table_text(table, STYLE_PLAIN, "%s", hit->message);
}

static enum status print_rows(const struct case_result *result, const struct hit_result **rows, int all)
{
    struct table table;
    int replaced = 0;
    size_t shown = all || result->hit_count < SUMMARY_ROWS ? result->hit_count : SUMMARY_ROWS;
    table_make(&table, columns, COLUMN_COUNT);
    for (size_t i = 0; i < shown; i++) {
        add_row(&table, result, rows[i]);
        replaced |= in_place(rows[i]);
    }
    enum status status = table_print(&table);
    if (shown < result->hit_count)
        terminal_print(stdout, STYLE_FAINT, "  and %zu more (--all)\n", result->hit_count - shown);
    if (replaced)
        terminal_print(stdout, STYLE_PLAIN,
                       "* equal-overlap anvil: a body of revolution that meets the same "
                       "area of the helmet's outer surface at every depth\n");
    return status == STATUS_OK ? summary_rotation(result, rows, all) : status;
}

/* --- header ----------------------------------------------------------------------------------------------
 */

static void print_impacts(const struct case_result *result)
{
    int impacts = 0, last = 0;
    size_t missing = 0;
    for (size_t i = 0; i < result->hit_count; i++) {
        impacts += result->hits[i].impact != last;
        last = result->hits[i].impact;
        missing += result->hits[i].status != HIT_COMPUTED;
    }
    terminal_print(stdout, STYLE_PLAIN, "%d impact%s", impacts, impacts == 1 ? "" : "s");
    if ((size_t)impacts != result->hit_count)
        terminal_print(stdout, STYLE_PLAIN, ", %zu hits", result->hit_count);
    if (missing)
        terminal_print(stdout, STYLE_WARNING, ", %zu not computed", missing);
    terminal_print(stdout, STYLE_PLAIN, "\n");
}

static void print_mass(const char *name, double mass)
{
    if (isfinite(mass))
        terminal_print(stdout, STYLE_PLAIN, "%s %.3f", name, mass);
    else
        terminal_print(stdout, STYLE_PLAIN, "%s not known", name);
}

static void print_masses(const struct mass_by_part *mass, double limit, double target)
{
    print_mass("helmet", mass->helmet);
    terminal_print(stdout, STYLE_PLAIN, " kg");
    if (isfinite(limit)) {
        enum verdict state = judge_value(mass->helmet, limit, target);
        terminal_print(stdout, STYLE_PLAIN, " (limit %.3f: ", limit);
        terminal_print(stdout, verdict_style(state), "%s", verdict_text(state));
        terminal_print(stdout, STYLE_PLAIN, ")");
    }
    print_mass(": shell", mass->shell);
    print_mass(", liner", mass->liner);
    print_mass(", comfort", mass->comfort);
    print_mass(", other", mass->other);
}

/* Mass of headform or striker, a light one to three digits. */
static void print_falling(const char *before, double mass)
{
    terminal_print(stdout, STYLE_PLAIN, mass < 0.995 ? "%s%.3g kg" : "%s%.2f kg", before, mass);
}

/* "en-960 J with own mass, 4.70 kg". */
static void print_headform(const char *set, const char *size, const char *own, double mass)
{
    say(STYLE_PLAIN, "headform ", set[0] ? set : "of its own", "");
    say(STYLE_PLAIN, size[0] ? " " : "", size, "");
    say(STYLE_PLAIN, own[0] ? " with " : "", own, "");
    print_falling(", ", mass);
}

/* A line for each helmet of a family. */
static void print_sizes(const struct case_result *result)
{
    for (size_t i = 0; i < result->size_count; i++) {
        const struct size_result *size = &result->sizes[i];
        say(STYLE_PLAIN, "  size ", size->name, ": ");
        print_headform(size->headform_set, size->headform_size, size->headform_own, size->headform_mass);
        if (isfinite(size->mass.helmet)) {
            terminal_print(stdout, STYLE_PLAIN, "; ");
            print_masses(&size->mass, size->helmet_mass_limit, result->target);
        }
        terminal_print(stdout, STYLE_PLAIN, "\n");
    }
}

/* Whether a judgement before this one is of the same programme. */
static int is_named(const struct case_result *result, size_t hit, size_t judgement)
{
    const char *name = result->hits[hit].judgements[judgement].programme;
    for (size_t i = 0; i <= hit; i++) {
        size_t end = i == hit ? judgement : result->hits[i].judgement_count;
        for (size_t k = 0; k < end; k++) {
            if (strcmp(result->hits[i].judgements[k].programme, name) == 0)
                return 1;
        }
    }
    return 0;
}

/* "programme un-r22.06, ./house.yaml; " of those that judged a hit. */
static void print_programmes(const struct case_result *result)
{
    size_t told = 0;
    for (size_t i = 0; i < result->hit_count; i++) {
        for (size_t k = 0; k < result->hits[i].judgement_count; k++) {
            const char *name = result->hits[i].judgements[k].programme;
            if (name[0] && !is_named(result, i, k))
                say(STYLE_PLAIN, told++ ? ", " : "programme ", name, "");
        }
    }
    if (told)
        terminal_print(stdout, STYLE_PLAIN, "; ");
}

static void print_header(const struct case_result *result, const char *label)
{
    const struct hit_result *hit = result->hit_count ? &result->hits[0] : NULL;
    terminal_print(stdout, STYLE_STRONG, "%s", label);
    terminal_print(stdout, STYLE_PLAIN, ": ");
    terminal_print(stdout, verdict_style(result->verdict), "%s", verdict_text(result->verdict));
    if (isfinite(result->worst_margin))
        terminal_print(stdout, STYLE_PLAIN, ", least margin %.1f %%", 100 * result->worst_margin);
    if (result->title && strcmp(label, result->title) == 0)
        say(STYLE_FAINT, "  (", result->file, ")");
    terminal_print(stdout, STYLE_PLAIN, "\n");
    print_programmes(result);
    if (result->size_count > 0) {
        terminal_print(stdout, STYLE_PLAIN, "%zu size%s", result->size_count,
                       result->size_count == 1 ? "" : "s");
    } else if (hit && strcmp(hit->model, "pad") != 0) {
        print_headform(hit->headform_set, hit->headform_size, hit->headform_own, hit->headform_mass);
        if (isfinite(result->mass.helmet)) {
            terminal_print(stdout, STYLE_PLAIN, "; ");
            print_masses(&result->mass, result->helmet_mass_limit, result->target);
        }
    } else if (hit) {
        print_falling("striker ", hit->headform_mass);
    }
    terminal_print(stdout, STYLE_PLAIN, hit ? "; " : "");
    print_impacts(result);
    print_sizes(result);
}

/* --- worst by ... ----------------------------------------------------------------------------------------
 */

enum grouping { BY_SIZE, BY_SITE, BY_TEMPERATURE };

static int same_group(const struct hit_result *a, const struct hit_result *b, enum grouping by)
{
    return by == BY_SIZE   ? strcmp(a->size, b->size) == 0
           : by == BY_SITE ? strcmp(a->site, b->site) == 0
                           : a->temperature == b->temperature;
}

/* How many hits of a group were not computed, behind its worst. */
static void print_missing(const struct case_result *result, const struct hit_result *of, enum grouping by)
{
    size_t missing = 0;
    for (size_t i = 0; i < result->hit_count; i++)
        missing += result->hits[i].status != HIT_COMPUTED && same_group(&result->hits[i], of, by);
    if (missing)
        terminal_print(stdout, STYLE_PLAIN, " (%zu not computed)", missing);
}

/* The worst hit of each size, site or temperature, on one line; nothing when there is only one of them. */
static void print_worst_by(const struct case_result *result, const struct hit_result **rows, enum grouping by)
{
    static const char *const heads[] = {"worst by size: ", "worst by site: ", "worst by temperature: "};
    size_t groups = 0;
    for (size_t i = 0; i < result->hit_count; i++)
        groups += !same_group(rows[i], rows[0], by);
    for (size_t i = 0, told = 0; i < result->hit_count && groups; i++) {
        const struct judgement *worst = summary_worst(rows[i]);
        int known = rows[i]->status != HIT_COMPUTED;
        for (size_t k = 0; k < i && !known; k++)
            known = rows[k]->status == HIT_COMPUTED && same_group(rows[i], rows[k], by);
        if (known)
            continue;
        terminal_print(stdout, STYLE_PLAIN, "%s", told++ ? ", " : heads[by]);
        if (by != BY_TEMPERATURE)
            say(STYLE_PLAIN, "", by == BY_SIZE ? rows[i]->size : rows[i]->site, "");
        else
            terminal_print(stdout, STYLE_PLAIN, "%.0f degC", rows[i]->temperature);
        if (open_judgement(rows[i]) && (!worst || worst->state != VERDICT_EXCEEDS))
            terminal_print(stdout, STYLE_PLAIN, " %s", verdict_text(VERDICT_UNDECIDED));
        else if (worst)
            terminal_print(stdout, STYLE_PLAIN, " %.1f %%", 100 * worst->margin);
        else
            terminal_print(stdout, STYLE_PLAIN, " %.1f g", rows[i]->output.metrics[METRIC_peak]);
        print_missing(result, rows[i], by);
    }
    terminal_print(stdout, STYLE_PLAIN, "%s", groups ? "\n" : "");
}

/* How far the shell was strained at most, and in which hit. */
static void print_shell(const struct case_result *result)
{
    const struct hit_result *worst = NULL;
    for (size_t i = 0; i < result->hit_count; i++) {
        const struct hit_result *hit = &result->hits[i];
        double strain = hit->output.metrics[METRIC_shell_strain];
        if (hit->status == HIT_COMPUTED && isfinite(strain) &&
            (!worst || strain > worst->output.metrics[METRIC_shell_strain]))
            worst = hit;
    }
    if (!worst)
        return;
    double share = worst->output.metrics[METRIC_shell_strain_fraction];
    terminal_print(stdout, STYLE_PLAIN, "shell strain at most %.2g %%",
                   100 * worst->output.metrics[METRIC_shell_strain]);
    if (isfinite(share))
        terminal_print(stdout, STYLE_PLAIN, ", %.0f %% of the failure strain of its material", 100 * share);
    terminal_print(stdout, STYLE_PLAIN, ", in impact %d\n", worst->impact);
}

/* Stroke of hits on what has been hit before. */
static void print_strokes(const struct case_result *result)
{
    enum { NAMED = 6 };
    size_t told = 0, count = 0;
    char name[SUMMARY_HIT];
    for (size_t i = 0; i < result->hit_count; i++) {
        const struct hit_result *hit = &result->hits[i];
        const double *metrics = hit->output.metrics;
        if (hit->status == HIT_COMPUTED && hit->hit > 1 && count++ < NAMED)
            terminal_print(stdout, STYLE_PLAIN, "%s impact %s from %.1f mm of crush to %.1f, %.1f mm left",
                           told++ ? ";" : "hit again:", summary_hit(result, hit, name),
                           metrics[METRIC_crush_before], metrics[METRIC_crush], metrics[METRIC_crush_left]);
    }
    if (count > told)
        terminal_print(stdout, STYLE_PLAIN, " and %zu more", count - told);
    if (told)
        terminal_print(stdout, STYLE_PLAIN, "\n");
}

/* Both bounds of the sites with the border of the foam on their rings. */
static void print_hoops(const struct case_result *result)
{
    enum { NAMED = 6 };
    size_t told = 0, count = 0;
    char name[SUMMARY_HIT];
    for (size_t i = 0; i < result->hit_count; i++) {
        const struct hit_result *hit = &result->hits[i];
        const struct hoop_bounds *hoop = &hit->hoop;
        if (hit->status == HIT_COMPUTED && isfinite(hoop->cut_peak) && count++ < NAMED)
            terminal_print(stdout, STYLE_PLAIN, "%s impact %s %.1f-%.1f g, HIC %.0f-%.0f, %s counts",
                           told++ ? ";" : "edge:", summary_hit(result, hit, name), hoop->kept_peak,
                           hoop->cut_peak, hoop->kept_hic, hoop->cut_hic, hoop->shown);
    }
    if (count > told)
        terminal_print(stdout, STYLE_PLAIN, " and %zu more", count - told);
    if (told)
        terminal_print(stdout, STYLE_PLAIN, " (shell's hoop stiffness kept - cut on rings with openings)\n");
}

/* --- once for all results --------------------------------------------------------------------------------
 */

struct results {
    const struct case_result *of;
    size_t count;
};

struct note_list {
    char *const *lines;
    size_t count;
};

enum note_kind { NOTE_WARNING, NOTE_NOT_COVERED, NOTE_ASSUMPTION };

static struct note_list notes_of(const struct case_result *result, enum note_kind kind)
{
    return kind == NOTE_WARNING       ? (struct note_list){result->warnings, result->warning_count}
           : kind == NOTE_NOT_COVERED ? (struct note_list){result->not_covered, result->not_covered_count}
                                      : (struct note_list){result->assumptions, result->assumption_count};
}

static int has_note(const struct case_result *result, enum note_kind kind, const char *line)
{
    struct note_list notes = notes_of(result, kind);
    for (size_t i = 0; i < notes.count; i++) {
        if (strcmp(notes.lines[i], line) == 0)
            return 1;
    }
    return 0;
}

/* Behind a line that does not hold for all results: those it holds for. */
static void print_holders(struct results results, enum note_kind kind, const char *line)
{
    size_t holders = 0;
    char label[SUMMARY_LABEL];
    for (size_t i = 0; i < results.count; i++)
        holders += (size_t)has_note(&results.of[i], kind, line);
    for (size_t i = 0, told = 0; i < results.count && holders < results.count; i++) {
        if (has_note(&results.of[i], kind, line))
            terminal_print(stdout, STYLE_PLAIN, "%s%s", told++ ? ", " : " (",
                           summary_label(results.of, results.count, i, label));
    }
    terminal_print(stdout, STYLE_PLAIN, "%s", holders < results.count ? ")\n" : "\n");
}

/* Prints each line once, or only counts them and those that hold values from memory. */
static size_t print_notes(struct results results, enum note_kind kind, const char *before, int silent,
                          size_t *remembered)
{
    size_t told = 0;
    for (size_t i = 0; i < results.count; i++) {
        struct note_list notes = notes_of(&results.of[i], kind);
        for (size_t k = 0; k < notes.count; k++) {
            int known = 0;
            for (size_t j = 0; j < i && !known; j++)
                known = has_note(&results.of[j], kind, notes.lines[k]);
            if (known)
                continue;
            told++;
            *remembered += strstr(notes.lines[k], "memory") != NULL;
            if (silent)
                continue;
            say(kind == NOTE_WARNING ? STYLE_WARNING : STYLE_PLAIN, before, notes.lines[k], "");
            print_holders(results, kind, notes.lines[k]);
        }
    }
    return told;
}

static void print_assumptions(struct results results, int verbose)
{
    size_t remembered = 0, count = print_notes(results, NOTE_ASSUMPTION, "assumed: ", !verbose, &remembered);
    if (!verbose && count)
        terminal_print(stdout, STYLE_PLAIN,
                       "assumed: %zu thing%s, %zu with values from memory (-v lists them)\n", count,
                       count == 1 ? "" : "s", remembered);
}

static int same_origin(const struct judgement *a, const struct judgement *b)
{
    return strcmp(a->programme, b->programme) == 0 && strcmp(a->provenance, b->provenance) == 0 &&
           strcmp(a->source, b->source) == 0;
}

static int same_limit(const struct judgement *a, const struct judgement *b)
{
    return same_origin(a, b) && a->metric == b->metric &&
           (a->limit == b->limit || (isnan(a->limit) && isnan(b->limit)));
}

/* Adds the limits of a hit that are not there yet; at most `room`. */
static size_t add_limits(const struct judgement **seen, size_t count, size_t room,
                         const struct hit_result *hit)
{
    for (size_t i = 0; i < hit->judgement_count && count < room; i++) {
        int known = 0;
        for (size_t k = 0; k < count && !known; k++)
            known = same_limit(seen[k], &hit->judgements[i]);
        if (!known)
            seen[count++] = &hit->judgements[i];
    }
    return count;
}

/* A limit of the case on the mass of the whole helmet, once. */
static void print_mass_limits(struct results results)
{
    for (size_t i = 0; i < results.count; i++) {
        double limit = results.of[i].helmet_mass_limit;
        if (isfinite(limit) && (i == 0 || limit != results.of[i - 1].helmet_mass_limit))
            terminal_print(stdout, STYLE_PLAIN, "limit given in the case: helmet mass %.6g kg\n", limit);
    }
}

static void print_origin(const struct judgement *const *seen, size_t count, size_t first)
{
    say(STYLE_PLAIN, "limits", seen[first]->programme[0] ? " of " : "", "");
    say(STYLE_PLAIN, "", seen[first]->programme, " ");
    say(STYLE_PLAIN, "", seen[first]->provenance, "");
    for (size_t i = first; i < count; i++) {
        if (same_origin(seen[i], seen[first]) && isnan(seen[i]->limit)) {
            terminal_print(stdout, STYLE_PLAIN, "%s%s", i == first ? ": " : ", ",
                           verdict_text(VERDICT_NO_LIMIT));
        } else if (same_origin(seen[i], seen[first])) {
            const char *unit = metric_table[seen[i]->metric].unit;
            terminal_print(stdout, STYLE_PLAIN, "%s%s %.6g%s%s", i == first ? ": " : ", ",
                           metrics_word(seen[i]->metric), seen[i]->limit, unit[0] == '1' ? "" : " ",
                           unit[0] == '1' ? "" : unit);
        }
    }
    terminal_print(stdout, STYLE_PLAIN, "\n");
}

enum { LIMITS_MOST = 256 };

static void print_limits(struct results results)
{
    const struct judgement *seen[LIMITS_MOST];
    size_t count = 0;
    for (size_t i = 0; i < results.count; i++) {
        for (size_t k = 0; k < results.of[i].hit_count; k++)
            count = add_limits(seen, count, LIMITS_MOST, &results.of[i].hits[k]);
    }
    for (size_t i = 0; i < count; i++) {
        int known = 0;
        for (size_t k = 0; k < i && !known; k++)
            known = same_origin(seen[k], seen[i]);
        if (!known)
            print_origin(seen, count, i);
    }
    print_mass_limits(results);
    for (size_t i = 0; i < results.count; i++) {
        double target = results.of[i].target;
        if (isfinite(target) && (i == 0 || target != results.of[i - 1].target))
            terminal_print(stdout, STYLE_PLAIN, "house mark: above %.4g %% of a limit reads tight\n",
                           100 * target);
    }
}

/* How the results came about; differs between machines. */
static void print_solved(struct results results)
{
    char label[SUMMARY_LABEL];
    for (size_t i = 0; i < results.count; i++) {
        const struct case_result *result = &results.of[i];
        double balance = 0;
        long steps = 0;
        for (size_t k = 0; k < result->hit_count; k++) {
            const struct impact_output *output = &result->hits[k].output;
            balance = output->balance_error > balance ? output->balance_error : balance;
            steps += output->steps;
        }
        terminal_print(
            stdout, STYLE_PLAIN,
            "%s: %ld steps in %.2f s, threads %d, instruction set %s, energy open by at most %.2g %%; "
            "case hash %s\n",
            summary_label(results.of, results.count, i, label), steps, result->wall, result->threads,
            result->isa, 100 * balance, result->case_hash);
    }
}

enum status summary_print(const struct case_result *results, size_t count, int all, int verbose)
{
    struct results group = {results, count};
    enum status status = STATUS_OK;
    size_t remembered = 0;
    for (size_t i = 0; i < count && status == STATUS_OK; i++) {
        char label[SUMMARY_LABEL];
        const struct hit_result **rows = summary_rows(&results[i]);
        if (!rows)
            return STATUS_MEMORY;
        print_header(&results[i], summary_label(results, count, i, label));
        status = print_rows(&results[i], rows, all);
        print_worst_by(&results[i], rows, BY_SIZE);
        print_worst_by(&results[i], rows, BY_SITE);
        print_worst_by(&results[i], rows, BY_TEMPERATURE);
        print_shell(&results[i]);
        print_strokes(&results[i]);
        print_hoops(&results[i]);
        terminal_print(stdout, STYLE_PLAIN, "\n");
        memory_free(rows);
    }
    print_notes(group, NOTE_WARNING, "warning: ", 0, &remembered);
    print_notes(group, NOTE_NOT_COVERED, "not covered: ", 0, &remembered);
    print_limits(group);
    print_assumptions(group, verbose);
    if (verbose)
        print_solved(group);
    return status;
}
