#include "tests/support/prediction.h"

#include <jansson.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

static const char results[] = ".build/validate/";

static double number(const json_t *object, const char *key)
{
    const json_t *value = json_object_get(object, key);
    return json_is_number(value) ? json_number_value(value) : NAN;
}

/* 0 for an impact that was not computed. */
static int read_row(const json_t *impact, struct prediction_row *row)
{
    const char *status = json_string_value(json_object_get(impact, "status"));
    const char *site = json_string_value(json_object_get(impact, "site"));
    if (!status || !site || strcmp(status, "computed") != 0)
        return 0;
    const json_t *metrics = json_object_get(impact, "metrics"), *energy = json_object_get(impact, "energy");
    *row = (struct prediction_row){.speed = number(impact, "speed_m_s"),
                                   .head_radius = number(impact, "head_radius_mm"),
                                   .headform_mass = number(json_object_get(impact, "headform"), "mass_kg"),
                                   .shell_share = number(energy, "shell_J") / number(energy, "initial_J")};
    snprintf(row->site, sizeof row->site, "%s", site);
    for (int i = 0; i < METRIC_COUNT; i++)
        row->metric[i] = number(metrics, metric_table[i].name);
    return isfinite(row->metric[METRIC_peak]);
}

static int read_prediction(const json_t *root, struct prediction *prediction)
{
    const json_t *read = json_array_get(json_object_get(root, "cases"), 0);
    const json_t *impacts = json_object_get(read, "impacts");
    size_t count = json_array_size(impacts);
    int good = count > 0 && count <= PREDICTION_ROWS;
    prediction->helmet_mass = number(json_object_get(read, "mass_kg"), "helmet");
    prediction->count = good ? count : 0;
    for (size_t i = 0; good && i < count; i++)
        good = read_row(json_array_get(impacts, i), &prediction->row[i]);
    return good;
}

/* Appends to a command; texts come from this folder and hold no single quote. */
static void append(char *command, size_t size, const char *before, const char *text)
{
    size_t used = strlen(command);
    snprintf(command + used, size - used, "%s'%s'", before, text);
}

int prediction_run(const char *case_path, const char *const *sets, struct prediction *prediction)
{
    const char *program = getenv("FOAMPULSE");
    char command[4096] = "";
    *prediction = (struct prediction){0};
    mkdir(results, 0777);
    append(command, sizeof command, "", program ? program : ".build/release/foampulse");
    append(command, sizeof command, " run --json -q -o ", results);
    append(command, sizeof command, " ", case_path);
    for (size_t i = 0; sets && sets[i]; i++)
        append(command, sizeof command, " -s ", sets[i]);
    FILE *pipe = popen(command, "r");
    json_error_t error;
    json_t *root = pipe ? json_loadf(pipe, 0, &error) : NULL;
    int status = pipe ? pclose(pipe) : -1;
    int good = status == 0 && root && read_prediction(root, prediction);
    if (!good) {
        fprintf(stderr, "not computed (wait status %d): %s\n", status, command);
        if (json_object_get(root, "errors"))
            json_dumpf(json_object_get(root, "errors"), stderr, JSON_INDENT(1));
        *prediction = (struct prediction){0};
    }
    json_decref(root);
    return good;
}

double prediction_mean(const struct prediction *prediction, enum metric metric)
{
    double sum = 0;
    for (size_t i = 0; i < prediction->count; i++)
        sum += prediction->row[i].metric[metric];
    return sum / (double)prediction->count;
}
