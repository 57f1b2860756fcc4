#include "tests/fuzz/apart.h"

#include <math.h>
#include <signal.h>
#include <stdio.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include "solver/study/batch.h"
#include "tests/fuzz/target.h"

const char *const apart_names[APART_COUNT] = {
    "refused", "refused as a whole", "computed", "not computed", "failed", "unsound", "crashed", "hung"};

typedef int hit_check(const struct case_file *file, const struct hit_result *hit, struct apart *apart);

static int unsound(struct apart *apart, const char *what, const char *name, double value)
{
    snprintf(apart->text, sizeof apart->text, "%s %s %g", what, name, value);
    apart->kind = APART_UNSOUND;
    return 0;
}

static int finite_all(const double *values, size_t count)
{
    for (size_t i = 0; values && i < count; i++) {
        if (!isfinite(values[i]))
            return 0;
    }
    return 1;
}

static int numbers_hold(const struct impact_output *output, struct apart *apart)
{
    for (size_t i = 0; i < METRIC_COUNT; i++) {
        if (isinf(output->metrics[i]))
            return unsound(apart, "metric", metric_table[i].name, output->metrics[i]);
    }
    for (size_t i = 0; i < PULSE_COUNT; i++) {
        if (!finite_all(output->channel[i], output->count))
            return unsound(apart, "not finite:", pulse_table[i].name, NAN);
    }
    for (size_t i = 0; i < ENERGY_COUNT; i++) {
        if (!isfinite(output->energy[i]) || !finite_all(output->ledger[i], output->ledger_count))
            return unsound(apart, "not finite:", energy_table[i].name, NAN);
    }
    return isfinite(output->metrics[METRIC_peak]) || unsound(apart, "metric", "peak_g", NAN);
}

static int hit_holds(const struct case_file *file, const struct hit_result *hit, double ledger_limit,
                     hit_check *check, struct apart *apart)
{
    if (hit->status != HIT_COMPUTED) {
        apart->kind = hit->status == HIT_FAILED     ? APART_FAILED
                      : apart->kind == APART_FAILED ? APART_FAILED
                                                    : APART_NOT_COMPUTED;
        snprintf(apart->text, sizeof apart->text, "%s", hit->message);
        return hit->message[0] || unsound(apart, "no words for hit", "", hit->hit);
    }
    apart->hits++;
    apart->ledger = fmax(apart->ledger, hit->output.balance_error);
    apart->impulse = fmax(apart->impulse, hit->output.impulse_error);
    if (!numbers_hold(&hit->output, apart))
        return 0;
    if (!(hit->output.balance_error <= ledger_limit))
        return unsound(apart, "ledger", "open by", hit->output.balance_error);
    if (check && !check(file, hit, apart)) {
        apart->kind = APART_UNSOUND;
        return 0;
    }
    return 1;
}

/* Takes the first message; 1 when there was an error. */
static int refused(enum status status, const struct errors *errors, struct apart *apart)
{
    target_messages(errors, status != STATUS_OK);
    if (status == STATUS_OK)
        return 0;
    TARGET_CHECK(status == STATUS_INPUT || status == STATUS_USAGE || status == STATUS_FILE);
    apart->kind = errors->kept[0].line > 0 ? APART_REFUSED : APART_PLACELESS;
    snprintf(apart->text, sizeof apart->text, "%.250s", errors->kept[0].text);
    return 1;
}

static void solve(const struct case_file *file, double ledger_limit, hit_check *check, struct apart *apart)
{
    struct case_result result;
    struct errors errors = {0};
    struct batch_options options = {.threads = 1};
    enum status status = batch_run(file, &options, &result, &errors);
    TARGET_CHECK(status == STATUS_OK || status == STATUS_COMPUTATION);
    apart->kind = APART_COMPUTED;
    for (size_t i = 0; i < result.hit_count; i++) {
        if (!hit_holds(file, &result.hits[i], ledger_limit, check, apart))
            break;
    }
    TARGET_CHECK(apart->kind == APART_UNSOUND ||
                 (apart->kind == APART_FAILED) == (status == STATUS_COMPUTATION));
    case_result_free(&result);
}

static void load_and_solve(const char *path, const char *const *sets, size_t set_count, double ledger_limit,
                           hit_check *check, struct apart *apart)
{
    struct case_file file;
    struct errors errors = {0};
    if (refused(case_load(path, NULL, 0, &file, &errors), &errors, apart))
        return;
    case_free(&file);
    if (refused(case_load(path, sets, set_count, &file, &errors), &errors, apart))
        return;
    if (!refused(batch_check(&file, NULL, &errors), &errors, apart))
        solve(&file, ledger_limit, check, apart);
    case_free(&file);
}

static void limit_time(unsigned seconds)
{
    struct rlimit limit = {seconds, seconds};
    setrlimit(RLIMIT_CPU, &limit);
    limit = (struct rlimit){0, 0};
    setrlimit(RLIMIT_CORE, &limit);
    alarm(3 * seconds);
}

void apart_run(const char *path, const char *const *sets, size_t set_count, unsigned seconds,
               double ledger_limit, hit_check *check, struct apart *apart)
{
    int ends[2], status = 0;
    *apart = (struct apart){.kind = APART_CRASHED};
    TARGET_CHECK(pipe(ends) == 0);
    fflush(NULL);
    pid_t child = fork();
    TARGET_CHECK(child >= 0);
    if (child == 0) {
        limit_time(seconds);
        load_and_solve(path, sets, set_count, ledger_limit, check, apart);
        _exit(write(ends[1], apart, sizeof *apart) == sizeof *apart ? 0 : 1);
    }
    close(ends[1]);
    ssize_t got = read(ends[0], apart, sizeof *apart);
    close(ends[0]);
    TARGET_CHECK(waitpid(child, &status, 0) == child);
    if (got == sizeof *apart && WIFEXITED(status) && WEXITSTATUS(status) == 0)
        return;
    int by = WIFSIGNALED(status) ? WTERMSIG(status) : 0;
    *apart =
        (struct apart){.kind = by == SIGXCPU || by == SIGALRM || by == SIGKILL ? APART_HUNG : APART_CRASHED};
    snprintf(apart->text, sizeof apart->text, "signal %d", by);
}
