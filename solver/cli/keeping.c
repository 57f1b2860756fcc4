#include "solver/cli/keeping.h"

#include "solver/cli/terminal.h"

enum status keeping_begin(const char *path, const char *schema, int quiet, struct journal *journal,
                          struct errors *errors)
{
    enum status status = journal_open(path, schema, journal, errors);
    if (journal->cut > 0 && !quiet)
        terminal_print(stderr, STYLE_PLAIN, "%s: %llu bytes behind its last whole record are cut off\n",
                       journal->path, (unsigned long long)journal->cut);
    return status;
}

enum status keeping_end(struct journal *journal, int stands, const struct errors *failed, int quiet,
                        struct errors *errors)
{
    if (!journal->open)
        return STATUS_OK;
    if (stands)
        return journal_remove(journal, errors);
    if (journal->count > 0 && !journal->failed && !quiet)
        terminal_print(stderr, STYLE_PLAIN,
                       "kept what is solved in %s: the same command goes on from there\n", journal->path);
    errors_append(errors, failed);
    return status_worse(errors_status(failed), journal_close(journal, errors));
}
