#ifndef FOAMPULSE_PLOTS_GNUPLOT_H
#define FOAMPULSE_PLOTS_GNUPLOT_H

#include <stdatomic.h>
#include <stddef.h>

#include "plots/script.h"
#include "solver/base/status.h"

/*
 * The bridge to gnuplot: a child process reads the commands and writes the picture; this side opens all
 * files. A picture is complete or absent: its last bytes are checked, then it gets its name.
 */

enum picture_format { PICTURE_PNG, PICTURE_SVG, PICTURE_PDF, PICTURE_GIF, PICTURE_TEXT, PICTURE_FORMATS };

/* "png", "svg", "pdf", "gif", "text". */
extern const char *const picture_format_names[PICTURE_FORMATS];

/* The child is killed after 60 s; tests set another deadline. */
void gnuplot_deadline(double seconds);

/* While *flag is not 0, pictures are not drawn and the child is killed: STATUS_INTERRUPTED. NULL: never. */
void gnuplot_watch(const atomic_int *flag);

/* Commands that choose the terminal: `width` x `height` in units of which text of the common size is 10 high
 * (a text picture has its own size). In a GIF every plot or multiplot is a frame. To be added first. */
void gnuplot_terminal(struct script *script, enum picture_format format, int width, int height);

/* Size of a font in a format that looks like `size` in a png picture, where the common size is 20. */
int gnuplot_font(enum picture_format format, int size);

/* Runs the script. The picture goes to the file `path` (replacing it), or, when `path` is NULL, into a fresh
 * text (memory_free `*text`). STATUS_FILE: gnuplot is not there, dies, takes too long,
 * delivers nothing or only a part, or the disk is full; STATUS_MEMORY; STATUS_INTERRUPTED. Then nothing is
 * left behind. PICTURE_TEXT goes with no path and no other format does. */
enum status gnuplot_draw(const struct script *script, enum picture_format format, const char *path,
                         char **text, struct errors *errors);

#endif
