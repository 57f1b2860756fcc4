#include "cases/probe.h"

/*
 * In place of probe_try of the program: the first reading of a result happens in the fuzzer itself, where it
 * is measured and where a crash is seen.
 */
enum status __wrap_probe_try(const char *path, enum status (*attempt)(void *context, struct errors *errors),
                             void *context, struct errors *errors);

enum status __wrap_probe_try(const char *path, enum status (*attempt)(void *context, struct errors *errors),
                             void *context, struct errors *errors)
{
    struct errors inner = {0};
    enum status status = attempt(context, &inner);
    if (status == STATUS_OK)
        return STATUS_OK;
    return errors_add(errors, status, path, 0, 0, "%s", inner.kept[0].text);
}
