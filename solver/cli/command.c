#include "solver/cli/command.h"

#include <string.h>

#include "solver/base/units.h"
#include "solver/cli/terminal.h"

#define BIT(name) OPTION_BIT(OPTION_##name)
enum { ANY = 100000 };

/* name, group, operands, least and most of them, summary, detail, options; ends on a row without a name. */
static const struct command table[] = {
    {"run", GROUP_SEE, "CASE...", 1, ANY,
     "solves every impact of a case and judges it; compares several cases",
     "Reads and checks all cases first; when one is bad, nothing is solved. Writes CASE.h5 beside each case "
     "and\n"
     "prints its impacts, the smallest margin first. Of several cases the first is the baseline of the "
     "others.\n"
     "Two models, --model columns,axisymmetric, give a result each, CASE.MODEL.h5, side by side.\n"
     "The case - is standard input; its result is written only where -o says.\n"
     "Each solved impact is kept in CASE.h5.part until the result stands: after an interruption the same "
     "command\n"
     "goes on from there.",
     BIT(OUTPUT) | BIT(SET) | BIT(JOBS) | BIT(MODEL) | BIT(JSON) | BIT(ALL) | BIT(FORCE) | BIT(GATE) |
         BIT(QUIET) | BIT(VERBOSE),
     command_run},
    {"sweep", GROUP_EXPLORE, "CASE", 1, 1, "solves the layouts that `sweep` of a case asks for",
     "Varies the paths under sweep.vary over a grid, a Latin hypercube or a Sobol sequence, and solves "
     "every\n"
     "impact of every layout. Writes CASE.sweep.h5 and adds to it: layouts that it holds are not solved "
     "again.\n"
     "Each solved layout is kept in CASE.sweep.h5.part until the result stands: after an interruption the "
     "same\n"
     "command goes on from there. A layout that fails, or makes no sound case, is a row that says so.\n"
     "--share K/N writes CASE.sweep.K-of-N.h5, for several machines.",
     BIT(OUTPUT) | BIT(SET) | BIT(JOBS) | BIT(MODEL) | BIT(JSON) | BIT(ALL) | BIT(FORCE) | BIT(QUIET) |
         BIT(SHARE) | BIT(MAX_POINTS),
     command_sweep},
    {"tune", GROUP_EXPLORE, "CASE", 1, 1, "best worst-case margin within the swept ranges",
     "Searches the ranges under sweep.vary for the layout with the largest worst margin over all impacts, or "
     "the\n"
     "smallest metric, that keeps the bounds under tune.keep: every layout it proposes is solved, at most\n"
     "tune.runs of them. Writes CASE.tune.h5, and the best layout as CASE.tuned.yaml, ready to run.\n"
     "Each solved layout is kept in CASE.tune.h5.part until the result stands: after an interruption the "
     "same\n"
     "command goes on from there.",
     BIT(OUTPUT) | BIT(SET) | BIT(JOBS) | BIT(MODEL) | BIT(JSON) | BIT(ALL) | BIT(FORCE) | BIT(QUIET),
     command_tune},
    {"tolerance", GROUP_EXPLORE, "CASE", 1, 1, "production scatter: mean + k s against each limit",
     "Solves the case many times with the values under tolerance.scatter drawn by a Latin hypercube; without "
     "it\n"
     "every density of the foam scatters by a half range of 9 kg/m3, half of it shared. half_range: h keeps "
     "values\n"
     "within the written one +- h: the lot part even within +- shared x h, each place's own even within the "
     "rest.\n"
     "sd: s is normal; shared is then the lot's share of the variance. impacts.*.speed: programme draws the "
     "speed\n"
     "of all tests over their tolerance. Prints mean, s, mean + k s and the chance of exceeding of each "
     "limit, "
     "the\n"
     "worst first, and which cause to tighten first. Writes CASE.tolerance.h5; runs that it holds are not "
     "solved\n"
     "again, and an interrupted study goes on from CASE.tolerance.h5.part.",
     BIT(OUTPUT) | BIT(SET) | BIT(JOBS) | BIT(MODEL) | BIT(JSON) | BIT(ALL) | BIT(FORCE) | BIT(QUIET),
     command_tolerance},
    {"rank", GROUP_EXPLORE, "RESULT", 1, 1, "ranking, sensitivities, predictions and trade-offs of a sweep",
     "RESULT: a file of sweep, tune or tolerance. Fits a Gaussian process to the margin of each impact that\n"
     "matters, and says how far it is off where one layout is left out; which factor moves the least margin "
     "and\n"
     "which way; the best layouts expected, solved or not; which solved ones are the best at their mass. "
     "Solves\n"
     "nothing. --at PATH=VALUE predicts one layout instead, what is not named as in the best that was "
     "solved.",
     BIT(AT) | BIT(JSON) | BIT(ALL) | BIT(QUIET), command_rank},
    {"measure", GROUP_TRUST, "PULSE.csv...", 1, ANY,
     "the same metrics from pulses that a laboratory recorded",
     "The header of a file tells its columns by their units: time (s, ms, us), acceleration (g, m/s2); two "
     "or\n"
     "three channels make the resultant. Of several files also the mean, s and, against limits, mean + K s.\n"
     "The file - is standard input.",
     BIT(LIMITS) | BIT(FACTOR) | BIT(JSON) | BIT(GATE) | BIT(QUIET), command_measure},
    {"converge", GROUP_TRUST, "CASE", 1, 1, "refines the mesh; observed order and numerical uncertainty",
     "Solves the case on its own mesh and on meshes twice and four times as fine (64 times the work by "
     "zones), "
     "and\n"
     "says how far peak g and HIC lie from the finest, their order, and the numerical uncertainty. Writes\n"
     "CASE.converge.h5 and CASE.converge.png beside the case unless -o names a folder; interrupted, the "
     "same\n"
     "command goes on. A coarser start: -s solver.rings=24 -s solver.cell='3.5 mm'.",
     BIT(OUTPUT) | BIT(SET) | BIT(JOBS) | BIT(MODEL) | BIT(JSON) | BIT(FORCE) | BIT(QUIET), command_converge},
    {"merge", GROUP_TRUST, "PART...", 1, ANY, "one result from the shares of a sweep",
     "PART: the files that sweep --share K/N wrote, every share once. Writes CASE.sweep.h5 beside the first, "
     "the\n"
     "file that the sweep on one machine would have written.",
     BIT(OUTPUT) | BIT(JSON) | BIT(ALL) | BIT(FORCE) | BIT(QUIET), command_merge},
    {"plan", GROUP_TRUST, "CASE", 1, 1, "test list for the laboratory, worst predicted margin first",
     "Which helmets are needed, by size and conditioning, and what strikes each: a point once, as few "
     "helmets "
     "as\n"
     "possible, the worst test first. Predictions are those of CASE.h5 if it is the result of the case as it "
     "is;\n"
     "else the case is solved and CASE.h5 written, as by run. The list goes to CASE.plan.csv beside the "
     "case, "
     "or\n"
     "where -o says; CASE.h5 is looked for, and put, in the same folder.",
     BIT(OUTPUT) | BIT(SET) | BIT(JOBS) | BIT(MODEL) | BIT(JSON) | BIT(CSV) | BIT(FORCE) | BIT(QUIET),
     command_plan},
    {"check", GROUP_LOOK, "CASE...", 1, ANY, "says what the program understood of a case; solves nothing",
     "Every stack from the shell to the head, masses and volumes, every impact with its region, its distance "
     "to\n"
     "the edge of the foam and the head's local radius, and what is assumed.",
     BIT(SET) | BIT(JSON), command_check},
    {"list", GROUP_LOOK, "TOPIC", 1, 1, "what a case can name, each value with where it is from",
     "Topics: foams, shells, comfort, headforms, sites, anvils, programmes, metrics, units.", BIT(JSON),
     command_list},
    {"example", GROUP_LOOK, "[NAME]", 0, 1, "prints a commented case to start from",
     "Names: smallest (when none is given), pad, touring. To start: foampulse example > mine.yaml", 0,
     command_example},
    {"plot", GROUP_SEE, "RESULT...", 1, ANY, "draws pictures of results that run or sweep has written",
     "Of run: pulse, headmap, crush; on request layers, energy, margins, rotation, section. Of several "
     "results\n"
     "the first is the baseline. Of sweep, each file by itself: curves, map, front. Pictures are called "
     "after\n"
     "the first result, NAME.PICTURE.png, and lie beside it unless -o names a folder.",
     BIT(PICTURE) | BIT(FORMAT) | BIT(AT) | BIT(FIELD) | BIT(FACTORS) | BIT(OUTPUT) | BIT(QUIET),
     command_plot},
    {"show", GROUP_LOOK, "RESULT...", 1, ANY, "prints results again as run did; solves nothing",
     "Several results are compared with the first. A sweep is printed as sweep did, its best layouts first;\n"
     "--point N prints one layout in full, --csv a line for each hit of each layout.",
     BIT(JSON) | BIT(CSV) | BIT(ALL) | BIT(VERBOSE) | BIT(POINT), command_show},
    {0},
};

static const char *const groups[GROUP_COUNT] = {"see now", "explore", "trust", "look up"};

const struct command *command_find(const char *name, struct errors *errors)
{
    const char *names[sizeof table / sizeof *table] = {0};
    size_t count = 0;
    for (const struct command *command = table; command->name; command++) {
        if (strcmp(command->name, name) == 0)
            return command;
        names[count++] = command->name;
    }
    const char *nearest = units_nearest(name, names, count);
    errors_add(errors, STATUS_USAGE, NULL, 0, 0, "unknown command '%s'; %s%s%s", name,
               nearest ? "did you mean '" : "foampulse --help lists the commands", nearest ? nearest : "",
               nearest ? "'?" : "");
    return NULL;
}

enum status command_accept(const struct command *command, const struct options *options,
                           struct errors *errors)
{
    enum status status = options_check(options, command->name, command->options, errors);
    if (options->operand_count < command->least)
        return errors_add(errors, STATUS_USAGE, NULL, 0, 0, "%s needs %s; foampulse %s --help says more",
                          command->name, command->operands, command->name);
    if (options->operand_count > command->most)
        return errors_add(errors, STATUS_USAGE, NULL, 0, 0, "%s takes %s%s; '%s' is too much", command->name,
                          command->most ? "only " : "nothing", command->operands,
                          options->operands[command->most]);
    return status;
}

static void print_option(FILE *stream, enum option option)
{
    char usage[64];
    options_usage(option, usage, sizeof usage);
    terminal_print(stream, STYLE_PLAIN, "  %-28s %s\n", usage, options_meaning(option));
}

static void print_command_help(FILE *stream, const struct command *command)
{
    terminal_print(stream, STYLE_STRONG, "usage: foampulse %s [OPTION...] %s\n", command->name,
                   command->operands);
    terminal_print(stream, STYLE_PLAIN, "\n%s\n\n%s\n\noptions\n", command->summary, command->detail);
    for (int i = 0; i < OPTION_COUNT; i++) {
        if ((command->options | OPTIONS_EVERYWHERE) & OPTION_BIT(i))
            print_option(stream, i);
    }
}

static void print_group(FILE *stream, enum command_group group)
{
    int empty = 1;
    for (const struct command *command = table; command->name; command++) {
        if (command->group != group)
            continue;
        if (empty)
            terminal_print(stream, STYLE_STRONG, "\n%s\n", groups[group]);
        empty = 0;
        char left[64];
        snprintf(left, sizeof left, "%s %s", command->name, command->operands);
        terminal_print(stream, STYLE_PLAIN, "  %-28s %s\n", left, command->summary);
    }
}

void command_help(FILE *stream, const struct command *command)
{
    if (command) {
        print_command_help(stream, command);
        return;
    }
    terminal_print(stream, STYLE_STRONG, "usage: foampulse COMMAND [OPTION...] [ARGUMENT...]\n");
    terminal_print(stream, STYLE_PLAIN,
                   "\nPredicts the acceleration pulse of a headform in a helmet dropped on an "
                   "anvil, from a case file.\n");
    for (int group = 0; group < GROUP_COUNT; group++)
        print_group(stream, group);
    terminal_print(stream, STYLE_STRONG, "\neverywhere\n");
    for (int i = 0; i < OPTION_COUNT; i++) {
        if (OPTIONS_EVERYWHERE & OPTION_BIT(i))
            print_option(stream, i);
    }
    terminal_print(
        stream, STYLE_PLAIN,
        "\nexit status: 0 done; 2 command line, 3 input, 4 file, 5 computation, 6 memory, 1 internal\n"
        "error; 7 --gate found something; 130, 143 interrupted\n"
        "\nfoampulse COMMAND --help says more of a command and lists its options.\n");
}
