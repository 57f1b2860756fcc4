#include "plots/board.h"

#include "plots/style.h"

static double across(const struct board *board, double x)
{
    return x / board->width;
}

static double upwards(const struct board *board, double y)
{
    return 1 - y / board->height;
}

void board_begin(const struct board *board, const char *title, const char *below, const char *remark)
{
    style_begin(board->script, board->format, (int)board->width, (int)board->height, title, remark);
    if (board->format == PICTURE_TEXT)
        return;
    script_add(board->script,
               "set label 901 at screen 0.015,%g\nset label 902 at screen 0.985,%g\n"
               "set style textbox opaque noborder margins 0.3,0.3\nset label ",
               upwards(board, 22), upwards(board, board->height - 12));
    script_text(board->script, below, 150);
    script_add(board->script, " at screen 0.015,%g left tc rgb '" STYLE_SOFT "' font ',%d' front\n",
               upwards(board, 44), gnuplot_font(board->format, BOARD_SMALL));
}

void board_plot(const struct board *board, double left, double right, double top, double bottom)
{
    script_add(board->script,
               "set lmargin at screen %g\nset rmargin at screen %g\nset tmargin at screen %g\nset bmargin at "
               "screen %g\n",
               across(board, left), across(board, right), upwards(board, top), upwards(board, bottom));
}

void board_text(const struct board *board, double x, double y, const char *text, size_t most)
{
    script_add(board->script, "set label ");
    script_text(board->script, text, most);
    script_add(board->script, " at screen %g,%g left tc rgb '" STYLE_INK "' font ',%d' front\n",
               across(board, x), upwards(board, y), gnuplot_font(board->format, BOARD_SMALL));
}

void board_line(const struct board *board, double x, double y, double length, const char *look)
{
    script_add(board->script, "set arrow from screen %g,%g to screen %g,%g nohead %s front\n",
               across(board, x), upwards(board, y), across(board, x + length), upwards(board, y), look);
}

void board_mark(const struct board *board, double x, double y, const char *look)
{
    script_add(board->script, "set label '' at screen %g,%g point %s front\n", across(board, x),
               upwards(board, y), look);
}

void board_box(const struct board *board, double x, double y, double width, double height, const char *fill)
{
    script_add(board->script,
               "set object rectangle from screen %g,%g to screen %g,%g fs solid border rgb '" STYLE_INK
               "' fc rgb '%s' lw 0.5 front\n",
               across(board, x), upwards(board, y + height), across(board, x + width), upwards(board, y),
               fill);
}
