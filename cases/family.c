#include "cases/family.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "cases/assume.h"
#include "cases/result.h"
#include "cases/stack.h"
#include "solver/base/memory.h"

static int has_line(const struct family_notes *notes, const char *line)
{
    for (size_t i = 0; i < notes->count; i++) {
        if (strcmp(notes->lines[i], line) == 0)
            return 1;
    }
    return 0;
}

/* " (size S, L)" behind a line that not all helmets have. */
static void write_holders(const struct case_file *file, const struct family_notes *helmets, const char *line,
                          char text[CASE_SIZES * (CASE_NAME + 2) + 16])
{
    size_t count = case_helmet_count(file), holders = 0, told = 0;
    text[0] = '\0';
    for (size_t i = 0; i < count; i++)
        holders += (size_t)has_line(&helmets[i], line);
    for (size_t i = 0; i < count && holders < count; i++) {
        if (has_line(&helmets[i], line))
            sprintf(text + strlen(text), "%s%s", told++ ? ", " : " (size ", case_helmet(file, i)->size);
    }
    strcat(text, told ? ")" : "");
}

static enum status add_line(const struct case_file *file, const struct family_notes *helmets, size_t helmet,
                            const char *line, char ***list, size_t *count)
{
    char holders[CASE_SIZES * (CASE_NAME + 2) + 16];
    for (size_t i = 0; i < helmet; i++) {
        if (has_line(&helmets[i], line))
            return STATUS_OK;
    }
    write_holders(file, helmets, line, holders);
    return result_note(list, count, "%s%s", line, holders);
}

enum status family_notes(const struct case_file *file, const struct family_notes *helmets, char ***list,
                         size_t *count)
{
    enum status status = STATUS_OK;
    for (size_t i = 0; i < case_helmet_count(file); i++) {
        for (size_t k = 0; k < helmets[i].count && status == STATUS_OK; k++)
            status = add_line(file, helmets, i, helmets[i].lines[k], list, count);
    }
    return status;
}

void family_notes_free(struct family_notes *notes)
{
    for (size_t i = 0; i < notes->count; i++)
        memory_free(notes->lines[i]);
    memory_free(notes->lines);
    *notes = (struct family_notes){0};
}

enum status family_cover(struct case_file *file, const struct node *place, struct errors *errors)
{
    struct family_notes helmets[CASE_SIZES];
    enum status status = STATUS_OK;
    for (size_t i = 0; i < file->size_count; i++) {
        helmets[i] = (struct family_notes){file->sizes[i].not_covered, file->sizes[i].not_covered_count};
        file->incomplete |= file->sizes[i].incomplete || file->sizes[i].impact_count == 0;
    }
    status = family_notes(file, helmets, &file->not_covered, &file->not_covered_count);
    for (size_t i = 0; i < file->size_count && status == STATUS_OK; i++) {
        if (file->sizes[i].impact_count == 0)
            status = result_note(&file->not_covered, &file->not_covered_count, "size %s: nothing strikes it",
                                 file->sizes[i].size);
    }
    if (status == STATUS_OK && case_impact_count(file) == 0)
        node_error(&file->tree, place, errors, "nothing to solve: %s", file->not_covered[0]);
    return status;
}

/* Furthest that the shell's radius at a site of an impact lies off that of the case as written [m]: it keeps
 * its distance from the head's own curve. 0 for a case without sizes or a head without a shape. */
static double shell_shift(const struct case_file *family, const struct case_file *helmet)
{
    double most = 0;
    if (family->size_count == 0 || stack_head_missing(&helmet->headform))
        return 0;
    for (size_t i = 0; i < helmet->impact_count; i++) {
        const struct case_impact *impact = &helmet->impacts[i];
        int same = impact->region >= 0 && (size_t)impact->region < family->region_count;
        struct stack_site own, written;
        stack_site(helmet, impact->region, impact->elevation, impact->azimuth, &own);
        stack_site(family, same ? impact->region : -1, impact->elevation, impact->azimuth, &written);
        most = fmax(most, fabs(own.inner - written.inner));
    }
    return most;
}

enum status family_assume(const struct case_file *family, const struct case_file *helmet,
                          struct family_notes *notes)
{
    static const double least = 0.05e-3; /* [m] that is worth a word */
    double shift = shell_shift(family, helmet);
    enum status status = case_assumptions(helmet, &notes->lines, &notes->count);
    if (status == STATUS_OK && shift > least)
        status = result_note(&notes->lines, &notes->count,
                             "sizes share the shell over a round head; at a site it keeps its distance from "
                             "the head's own curve, which moves its radius there by %.1f mm at most from "
                             "that of the case as written",
                             1e3 * shift);
    return status;
}
