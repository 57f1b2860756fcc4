#ifndef FOAMPULSE_IMPACT_HEADFORM_H
#define FOAMPULSE_IMPACT_HEADFORM_H

#include <stddef.h>

#include "solver/base/status.h"

/*
 * Headforms of standards, by set ("en-960") and size ("J"), from the data file cases/headforms.csv.
 */

enum { HEADFORM_NAME = 32, HEADFORM_TEXT = 256 };

/* One headform. NaN where the data file has no number. */
struct headform {
    char set[HEADFORM_NAME], size[HEADFORM_NAME];
    double mass;          /* [kg], or of the drop assembly where the note says so */
    double mass_range[2]; /* [kg] that the standard allows */
    double circumference; /* [m] */
    double half_axes[3];  /* half length, breadth, height [m]; the height is sqrt(length x breadth), common
                           * practice, no source */
    double inertia[3];    /* about the axes forward, right, up [kg m2] */
    char provenance[HEADFORM_NAME], provenance_shape[HEADFORM_NAME], provenance_inertia[HEADFORM_NAME];
    char source[HEADFORM_TEXT], source_shape[HEADFORM_TEXT],
        source_inertia[HEADFORM_TEXT]; /* of the mass, ... */
    char note[HEADFORM_TEXT];
};

struct headform_table {
    size_t count;
    struct headform *rows; /* (count) in the order of the file: sets together */
};

/* What a headform is covered with, and Coulomb friction of liner or padding on it. */
struct headform_skin {
    const char *name;
    double friction;
    const char *provenance, *source;
};
enum { HEADFORM_SKINS = 3 };
extern const struct headform_skin headform_skins[HEADFORM_SKINS]; /* the first is the default */

/* The skin of a name; NULL when there is none. */
const struct headform_skin *headform_skin_find(const char *name);

/* Moments of inertia [kg m2] about the three axes of a uniform ellipsoid: m (b^2 + c^2)/5. */
void headform_ellipsoid_inertia(double mass, const double half_axes[3], double inertia[3]);

/* Reads the data file (data_find). On error the table is zeroed: STATUS_FILE, STATUS_INPUT, STATUS_MEMORY. */
enum status headform_table_load(struct headform_table *table, struct errors *errors);

/* The same from a file of this path. */
enum status headform_table_read(const char *path, struct headform_table *table, struct errors *errors);

/* Releases and zeroes; {0} is allowed. */
void headform_table_free(struct headform_table *table);

/* The headform of a set and size; NULL when there is none. */
const struct headform *headform_find(const struct headform_table *table, const char *set, const char *size);

/* Names for messages: the sets (set NULL), or the sizes of a set. Writes up to `room` pointers into the
 * table; returns how many there are. */
size_t headform_names(const struct headform_table *table, const char *set, const char **names, size_t room);

/* Half axes [m] of a head of which only the circumference [m] is known: the ellipse of that perimeter whose
 * breadth is 0.79 of its length (ratio from memory), height sqrt(length x breadth). Perimeter by Ramanujan's
 * second formula (1914), exact to 1e-12 here. */
void headform_ellipse(double circumference, double half_axes[3]);

#endif
