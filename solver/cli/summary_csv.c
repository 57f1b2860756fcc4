#include "solver/cli/summary.h"

#include <math.h>

#include "solver/cli/csv_out.h"
#include "solver/cli/terminal.h"

#define DEGREE 57.29577951308232 /* 180 / pi */

/* Parts of the ledger that one row has, so that all get the column. */
static void find_told(const struct case_result *results, size_t count, int told[ENERGY_COUNT])
{
    for (size_t part = 0; part < ENERGY_COUNT; part++) {
        told[part] = !energy_optional(part);
        for (size_t i = 0; i < count; i++) {
            for (size_t h = 0; h < results[i].hit_count; h++)
                told[part] |= output_tells(&results[i].hits[h].output, part);
        }
    }
}

static void csv_head(const int told[ENERGY_COUNT])
{
    terminal_print(
        stdout, STYLE_PLAIN,
        "file,title,impact,hit,status,message,size,headform_set,headform_size,headform_own,headform_mass_kg,"
        "site,elevation_deg,azimuth_deg,region,head_radius_mm,edge_distance_mm,anvil,anvil_form,angle_deg,"
        "towards_elevation_deg,towards_azimuth_deg,face_friction,head_friction,head_inertia_kg_m2,"
        "inertia_assumed,speed_m_s,"
        "temperature_C,model,"
        "why,why_region,why_layer,margin_metric,margin,margin_state,"
        "hoop_shown,hoop_kept_peak_g,hoop_kept_hic,hoop_cut_peak_g,hoop_cut_hic");
    for (size_t i = 0; i < METRIC_COUNT; i++)
        terminal_print(stdout, STYLE_PLAIN, ",%s", metric_table[i].name);
    for (size_t i = 0; i < ENERGY_COUNT; i++) {
        if (told[i])
            terminal_print(stdout, STYLE_PLAIN, ",%s_J", energy_table[i].name);
    }
    terminal_print(stdout, STYLE_PLAIN, "\n");
}

static void csv_row(const struct case_result *result, const struct hit_result *hit,
                    const int told[ENERGY_COUNT])
{
    const struct judgement *worst = summary_worst(hit);
    csv_out_text(result->file, ",");
    csv_out_text(result->title, ",");
    terminal_print(stdout, STYLE_PLAIN, "%d,%d,%s,", hit->impact, hit->hit, summary_status(hit->status));
    csv_out_text(hit->message, ",");
    csv_out_text(hit->size, ",");
    csv_out_text(hit->headform_set, ",");
    csv_out_text(hit->headform_size, ",");
    csv_out_text(hit->headform_own, ",");
    csv_out_number(hit->headform_mass, ",");
    csv_out_text(hit->site, ",");
    csv_out_number(hit->elevation * DEGREE, ",");
    csv_out_number(hit->azimuth * DEGREE, ",");
    csv_out_text(hit->region, ",");
    csv_out_number(1e3 * hit->head_radius, ",");
    csv_out_number(1e3 * hit->edge_distance, ",");
    csv_out_text(hit->anvil, ",");
    csv_out_text(hit->anvil_form, ",");
    csv_out_number(hit->angle * DEGREE, ",");
    csv_out_number(hit->towards[0] * DEGREE, ",");
    csv_out_number(hit->towards[1] * DEGREE, ",");
    csv_out_number(hit->face_friction, ",");
    csv_out_number(hit->head_friction, ",");
    csv_out_number(hit->head_inertia, ",");
    terminal_print(stdout, STYLE_PLAIN, "%d,", hit->inertia_assumed);
    csv_out_number(hit->speed, ",");
    csv_out_number(hit->temperature, ",");
    csv_out_text(hit->model, ",");
    csv_out_text(hit->why, ",");
    csv_out_text(hit->why_region, ",");
    csv_out_number(hit->why_layer ? hit->why_layer : (double)NAN, ",");
    csv_out_text(worst ? metric_table[worst->metric].name : "", ",");
    csv_out_number(worst ? worst->margin : (double)NAN, ",");
    csv_out_text(worst ? verdict_text(worst->state) : "", ",");
    csv_out_text(hit->hoop.shown, ",");
    csv_out_number(hit->hoop.kept_peak, ",");
    csv_out_number(hit->hoop.kept_hic, ",");
    csv_out_number(hit->hoop.cut_peak, ",");
    csv_out_number(hit->hoop.cut_hic, "");
    for (size_t i = 0; i < METRIC_COUNT; i++) {
        terminal_print(stdout, STYLE_PLAIN, ",");
        csv_out_number(hit->status == HIT_COMPUTED ? hit->output.metrics[i] : (double)NAN, "");
    }
    for (size_t i = 0; i < ENERGY_COUNT; i++) {
        if (!told[i])
            continue;
        terminal_print(stdout, STYLE_PLAIN, ",");
        csv_out_number(hit->status == HIT_COMPUTED ? hit->output.energy[i] : (double)NAN, "");
    }
    terminal_print(stdout, STYLE_PLAIN, "\n");
}

void summary_csv(const struct case_result *results, size_t count)
{
    int told[ENERGY_COUNT];
    find_told(results, count, told);
    csv_head(told);
    for (size_t i = 0; i < count; i++) {
        for (size_t h = 0; h < results[i].hit_count; h++)
            csv_row(&results[i], &results[i].hits[h], told);
    }
}
