#include "plots/sweeps.h"

#include "cases/store_sweep.h"
#include "plots/curves.h"
#include "plots/map.h"
#include "plots/tradeoff.h"

typedef enum status compose(struct script *, const struct sweep *, const struct slice_choice *,
                            enum picture_format, struct errors *);

const struct sweeps_info sweeps_table[SWEEPS_COUNT] = {
    {"curves", "margins of all impacts against each factor", SWEEPS_ANY, SWEEPS_ANY, NULL},
    {"map", "least margin of all impacts over two factors, with the boundary of the limits", SWEEPS_ANY,
     SWEEPS_ANY, map_shows},
    {"front", "peak g and least margin against helmet mass, with the front of the best trade-offs",
     SWEEPS_ANY, SWEEPS_ANY, tradeoff_shows},
};

static compose *const composers[SWEEPS_COUNT] = {curves_compose, map_compose, tradeoff_compose};

enum sweeps_kind sweeps_kind_of(const char *path, const char **word, const char **schema)
{
    static const struct {
        enum sweeps_kind kind;
        const char *word, *schema;
    } kinds[] = {{SWEEPS_SWEEP, "sweep", STORE_SWEEP},
                 {SWEEPS_TUNE, "tune", STORE_TUNE},
                 {SWEEPS_TOLERANCE, "tolerance", STORE_TOLERANCE}};
    for (size_t i = 0; i < sizeof kinds / sizeof *kinds; i++) {
        if (store_sweep_there(path, kinds[i].schema)) {
            *word = kinds[i].word;
            *schema = kinds[i].schema;
            return kinds[i].kind;
        }
    }
    return 0;
}

enum status sweeps_draw(size_t at, const struct sweep *sweep, const struct slice_choice *choice,
                        enum picture_format format, const char *path, char **text, struct errors *errors)
{
    struct script script = {0};
    enum status status = composers[at](&script, sweep, choice, format, errors);
    if (status == STATUS_OK)
        status = gnuplot_draw(&script, format, path, text, errors);
    script_free(&script);
    return status;
}
