#include "solver/base/units.h"

#include <ctype.h>
#include <locale.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/*
 * A factor is kept as a quotient of two numbers that a double holds exactly, so that 35 mm is the double
 * nearest to 0.035 and not 35 times a rounded thousandth.
 */
struct unit {
    enum quantity quantity;
    const char *name;
    double up, down; /* SI value = (value - zero) up / down */
    double zero;
};

static const double pi = 3.14159265358979323846;

/*
 * International yard and pound agreement of 1959: 1 in = 25.4 mm, 1 ft = 0.3048 m, 1 lb = 0.45359237 kg.
 * ISO 80000-3: standard acceleration of free fall 9.80665 m/s2. 1 psi = 1 lb x 9.80665 m/s2 / (1 in)^2.
 */
static const struct unit units[] = {
    {QUANTITY_NUMBER, "", 1, 1, 0},
    {QUANTITY_FRACTION, "", 1, 1, 0},
    {QUANTITY_FRACTION, "%", 1, 100, 0},
    {QUANTITY_LENGTH, "mm", 1, 1e3, 0},
    {QUANTITY_LENGTH, "cm", 1, 1e2, 0},
    {QUANTITY_LENGTH, "m", 1, 1, 0},
    {QUANTITY_LENGTH, "um", 1, 1e6, 0},
    {QUANTITY_LENGTH, "in", 254, 1e4, 0},
    {QUANTITY_AREA, "mm2", 1, 1e6, 0},
    {QUANTITY_AREA, "cm2", 1, 1e4, 0},
    {QUANTITY_AREA, "m2", 1, 1, 0},
    {QUANTITY_MASS, "g", 1, 1e3, 0},
    {QUANTITY_MASS, "kg", 1, 1, 0},
    {QUANTITY_DENSITY, "kg/m3", 1, 1, 0},
    {QUANTITY_DENSITY, "g/l", 1, 1, 0},
    {QUANTITY_DENSITY, "g/cm3", 1e3, 1, 0},
    {QUANTITY_DENSITY, "lb/ft3", 453592370000, 28316846592, 0},
    {QUANTITY_STRESS, "Pa", 1, 1, 0},
    {QUANTITY_STRESS, "kPa", 1e3, 1, 0},
    {QUANTITY_STRESS, "MPa", 1e6, 1, 0},
    {QUANTITY_STRESS, "GPa", 1e9, 1, 0},
    {QUANTITY_STRESS, "N/mm2", 1e6, 1, 0},
    {QUANTITY_STRESS, "psi", 44482216152605, 6451600000, 0},
    {QUANTITY_FORCE, "N", 1, 1, 0},
    {QUANTITY_FORCE, "kN", 1e3, 1, 0},
    {QUANTITY_SPEED, "m/s", 1, 1, 0},
    {QUANTITY_SPEED, "mm/s", 1, 1e3, 0},
    {QUANTITY_SPEED, "km/h", 5, 18, 0},
    {QUANTITY_SPEED, "ft/s", 3048, 1e4, 0},
    {QUANTITY_TIME, "us", 1, 1e6, 0},
    {QUANTITY_TIME, "ms", 1, 1e3, 0},
    {QUANTITY_TIME, "s", 1, 1, 0},
    {QUANTITY_ANGLE, "deg", pi, 180, 0},
    {QUANTITY_ANGLE, "rad", 1, 1, 0},
    {QUANTITY_TEMPERATURE, "degC", 1, 1, 0},
    {QUANTITY_TEMPERATURE, "C", 1, 1, 0},
    {QUANTITY_TEMPERATURE, "K", 1, 1, 273.15},
    {QUANTITY_TEMPERATURE, "degF", 5, 9, 32},
    {QUANTITY_INERTIA, "g cm2", 1, 1e7, 0},
    {QUANTITY_INERTIA, "kg cm2", 1, 1e4, 0},
    {QUANTITY_INERTIA, "kg m2", 1, 1, 0},
    {QUANTITY_RATE, "1/s", 1, 1, 0},
    {QUANTITY_ENERGY, "J", 1, 1, 0},
    {QUANTITY_ACCELERATION, "g", 980665, 1e5, 0},
    {QUANTITY_ACCELERATION, "m/s2", 1, 1, 0},
    {QUANTITY_ROTATION_SPEED, "rad/s", 1, 1, 0},
    {QUANTITY_ROTATION_ACCELERATION, "rad/s2", 1, 1, 0},
    {QUANTITY_IMPULSE, "N s", 1, 1, 0},
    {QUANTITY_ENERGY_PER_AREA, "J/m2", 1, 1, 0},
    {QUANTITY_ENERGY_PER_AREA, "kJ/m2", 1e3, 1, 0},
};

enum { UNIT_COUNT = sizeof units / sizeof *units, VALUE_LENGTH = 120 };

static const struct {
    const char *name;    /* with its article, as in "a length" */
    const char *allowed; /* the units above, the usual ones first */
    const char *shown;   /* the unit of reports */
} quantities[QUANTITY_COUNT] = {
    [QUANTITY_NUMBER] = {"a number", "a bare number without a unit", ""},
    [QUANTITY_FRACTION] = {"a fraction", "a bare number or %", "%"},
    [QUANTITY_LENGTH] = {"a length", "mm, cm, m, um, in", "mm"},
    [QUANTITY_AREA] = {"an area", "mm2, cm2, m2", "cm2"},
    [QUANTITY_MASS] = {"a mass", "g, kg", "kg"},
    [QUANTITY_DENSITY] = {"a density", "kg/m3, g/l, g/cm3, lb/ft3", "kg/m3"},
    [QUANTITY_STRESS] = {"a stress", "Pa, kPa, MPa, GPa, N/mm2, psi", "MPa"},
    [QUANTITY_FORCE] = {"a force", "N, kN", "N"},
    [QUANTITY_SPEED] = {"a speed", "m/s, mm/s, km/h, ft/s", "m/s"},
    [QUANTITY_TIME] = {"a time", "us, ms, s", "ms"},
    [QUANTITY_ANGLE] = {"an angle", "deg, rad", "deg"},
    [QUANTITY_TEMPERATURE] = {"a temperature", "degC, C, K, degF", "degC"},
    [QUANTITY_INERTIA] = {"a moment of inertia", "g cm2, kg cm2, kg m2", "kg m2"},
    [QUANTITY_RATE] = {"a rate", "1/s", "1/s"},
    [QUANTITY_ENERGY] = {"an energy", "J", "J"},
    [QUANTITY_ACCELERATION] = {"an acceleration", "g, m/s2", "g"},
    [QUANTITY_ROTATION_SPEED] = {"a rotational speed", "rad/s", "rad/s"},
    [QUANTITY_ROTATION_ACCELERATION] = {"a rotational acceleration", "rad/s2", "rad/s2"},
    [QUANTITY_IMPULSE] = {"an impulse", "N s", "N s"},
    [QUANTITY_ENERGY_PER_AREA] = {"an energy per area", "J/m2, kJ/m2", "kJ/m2"},
};

/* What people type or paste, and the plain spelling it stands for. */
static const struct {
    const char *typed, *plain;
} spellings[] = {
    {"\xc2\xa0", " "},     /* no-break space */
    {"\xe2\x80\xaf", " "}, /* narrow no-break space */
    {"\xe2\x80\x87", " "}, /* figure space */
    {"\xe2\x80\x89", " "}, /* thin space */
    {"\t", " "},
    {"\xc2\xb7", " "},        /* middle dot, as in kg·m2 */
    {"\xe2\x8b\x85", " "},    /* dot operator */
    {"\xe2\x88\x92", "-"},    /* minus sign */
    {"\xc2\xb2", "2"},        /* superscript two */
    {"\xc2\xb3", "3"},        /* superscript three */
    {"^", ""},                /* kg/m^3 */
    {"\xc2\xb5", "u"},        /* micro sign */
    {"\xce\xbc", "u"},        /* Greek mu */
    {"\xc2\xb0", "deg"},      /* degree sign */
    {"\xc2\xba", "deg"},      /* masculine ordinal, next to it on keyboards */
    {"\xe2\x84\x83", "degC"}, /* degree Celsius in one character */
    {"\xe2\x84\x89", "degF"},
};

const char *units_allowed(enum quantity quantity)
{
    return quantities[quantity].allowed;
}

const char *units_quantity_name(enum quantity quantity)
{
    return strchr(quantities[quantity].name, ' ') + 1;
}

static const struct unit *unit_find(enum quantity quantity, const char *name)
{
    for (size_t i = 0; i < UNIT_COUNT; i++) {
        if (units[i].quantity == quantity && strcmp(units[i].name, name) == 0)
            return &units[i];
    }
    return NULL;
}

/* --- plain spelling ----------------------------------------------------------------------------------------
 */

/* Plain spelling of what stands at *text, which is moved past it. */
static const char *spelling_next(const char **text, char single[2])
{
    for (size_t i = 0; i < sizeof spellings / sizeof *spellings; i++) {
        size_t length = strlen(spellings[i].typed);
        if (strncmp(*text, spellings[i].typed, length) == 0) {
            *text += length;
            return spellings[i].plain;
        }
    }
    unsigned char c = (unsigned char)*(*text)++;
    single[0] = (char)(iscntrl(c) && c < 0x80 ? '?' : c);
    return single;
}

/* Spaces that carry nothing: at either end, doubled, beside a slash, between the degree sign and C or F. */
static int space_is_idle(const char *plain, size_t length, const char *rest)
{
    if (length == 0 || plain[length - 1] == ' ' || plain[length - 1] == '/')
        return 1;
    if (*rest == '\0' || *rest == '/')
        return 1;
    return length >= 3 && strncmp(plain + length - 3, "deg", 3) == 0 && (*rest == 'C' || *rest == 'F');
}

/* Writes `text` in plain spelling; 0 when it is longer than any value. */
static int text_plain(const char *text, char plain[VALUE_LENGTH])
{
    char single[2] = "";
    char spaced[VALUE_LENGTH];
    size_t length = 0;
    while (*text) {
        const char *piece = spelling_next(&text, single);
        if (length + strlen(piece) >= VALUE_LENGTH)
            return 0;
        memcpy(spaced + length, piece, strlen(piece));
        length += strlen(piece);
    }
    spaced[length] = '\0';
    length = 0;
    for (const char *c = spaced; *c; c++) {
        if (*c != ' ' || !space_is_idle(plain, length, c + 1))
            plain[length++] = *c;
    }
    while (length && plain[length - 1] == ' ')
        length--;
    plain[length] = '\0';
    return 1;
}

/* --- numbers -----------------------------------------------------------------------------------------------
 */

static const char *digits_end(const char *text)
{
    while (*text >= '0' && *text <= '9')
        text++;
    return text;
}

/* End of a decimal number without sign that starts at `text`; `text` itself when there is none. */
static const char *number_end(const char *text)
{
    const char *end = digits_end(text);
    size_t digits = (size_t)(end - text);
    if (*end == '.') {
        const char *fraction = digits_end(end + 1);
        digits += (size_t)(fraction - (end + 1));
        end = fraction;
    }
    if (digits == 0)
        return text;
    if (*end == 'e' || *end == 'E') {
        const char *exponent = end + 1 + (end[1] == '+' || end[1] == '-');
        if (digits_end(exponent) > exponent)
            end = digits_end(exponent);
    }
    return end;
}

/* strtod and snprintf use a decimal comma under some locales: this sets the "C" locale for the calling thread
 * and returns what to give to locale_restore. */
static locale_t locale_plain(locale_t *before)
{
    locale_t plain = newlocale(LC_ALL_MASK, "C", (locale_t)0);
    *before = plain ? uselocale(plain) : (locale_t)0;
    return plain;
}

static void locale_restore(locale_t plain, locale_t before)
{
    if (!plain)
        return;
    uselocale(before);
    freelocale(plain);
}

static double number_value(const char *text)
{
    locale_t before, plain = locale_plain(&before);
    double value = strtod(text, NULL);
    locale_restore(plain, before);
    return value;
}

static int starts_with_word(const char *text, const char *word)
{
    for (; *word; text++, word++) {
        if (tolower((unsigned char)*text) != *word)
            return 0;
    }
    return 1;
}

static int mantissa_is_zero(const char *text, const char *end)
{
    for (; text < end && *text != 'e' && *text != 'E'; text++) {
        if (*text >= '1' && *text <= '9')
            return 0;
    }
    return 1;
}

/* Explains "45,5" and "1,000"; `start` is where the number starts, sign included, `comma` its comma. */
static void comma_explain(const char *start, const char *comma, char *message)
{
    int before = (int)(comma - start);
    const char *digits = start + (*start == '-' || *start == '+');
    const char *after = comma + 1;
    if (digits_end(after) - after == 3 && *digits != '0' && comma - digits <= 3)
        snprintf(
            message, UNITS_MESSAGE,
            "a number has a decimal point and no commas: write %.*s.%s, or %.*s%s if thousands are meant",
            before, start, after, before, start, after);
    else
        snprintf(message, UNITS_MESSAGE, "a number has a decimal point, not a comma: write %.*s.%s", before,
                 start, after);
}

/* Explains digits grouped by a space, an underscore or an apostrophe. */
static void group_explain(const char *start, char *message)
{
    char joined[VALUE_LENGTH];
    size_t length = 0;
    for (const char *c = start; *c; c++) {
        int between = c > start && isdigit((unsigned char)c[-1]) && isdigit((unsigned char)c[1]);
        if (!between || !strchr(" _'", *c))
            joined[length++] = *c;
    }
    joined[length] = '\0';
    snprintf(message, UNITS_MESSAGE, "the digits of a number stand together: write %s", joined);
}

/* A number that other programs read and this one does not; 1 when `message` explains it. */
static int number_is_foreign(const char *start, char *message)
{
    const char *text = start + (*start == '-' || *start == '+');
    const char *end = number_end(text);
    const char *word = text + (*text == '.');
    if (starts_with_word(word, "inf") || starts_with_word(word, "nan"))
        snprintf(message, UNITS_MESSAGE, "%s is not a finite number: write it in decimal digits", start);
    else if (text[0] == '0' && (text[1] == 'x' || text[1] == 'X'))
        snprintf(message, UNITS_MESSAGE, "numbers are decimal: write %s%llu", *start == '-' ? "-" : "",
                 strtoull(text, NULL, 16));
    else if (end > text && *end == ',' && isdigit((unsigned char)end[1]))
        comma_explain(start, end, message);
    else if (end > text && *end && strchr("_' ", *end) && isdigit((unsigned char)end[1]) &&
             strncmp(end, " 1/", 3) != 0)
        group_explain(start, message);
    else
        return 0;
    return 1;
}

/* Reads the number at the start of plain text; `rest` is then what follows, without space. */
static int number_read(const char *plain, double *value, const char **rest, char *message)
{
    if (number_is_foreign(plain, message))
        return 0;
    const char *text = plain + (*plain == '-' || *plain == '+');
    const char *end = number_end(text);
    if (end == text) {
        snprintf(message, UNITS_MESSAGE, "\"%s\" does not start with a number", plain);
        return 0;
    }
    double size = number_value(text);
    if (size == 0 && !mantissa_is_zero(text, end)) {
        snprintf(message, UNITS_MESSAGE, "%.*s is too small for this program", (int)(end - plain), plain);
        return 0;
    }
    *value = *plain == '-' ? -size : size;
    *rest = end + (*end == ' ');
    return 1;
}

/* --- units -------------------------------------------------------------------------------------------------
 */

/* "a mass or an acceleration": the quantities that have this unit, into `text`; 0 when none has. */
static int unit_owners(const char *name, char *text, size_t size)
{
    size_t length = 0;
    text[0] = '\0';
    for (size_t i = 0; i < UNIT_COUNT; i++) {
        if (*name && strcmp(units[i].name, name) == 0 && length < size)
            length += (size_t)snprintf(text + length, size - length, "%s%s", length ? " or " : "",
                                       quantities[units[i].quantity].name);
    }
    return length > 0;
}

/* Nearest unit of this quantity; of any when `quantity` is QUANTITY_COUNT. */
static const char *unit_nearest(enum quantity quantity, const char *name)
{
    const char *names[UNIT_COUNT];
    size_t count = 0;
    for (size_t i = 0; i < UNIT_COUNT; i++) {
        if (units[i].quantity == quantity || quantity == QUANTITY_COUNT)
            names[count++] = units[i].name;
    }
    return units_nearest(name, names, count);
}

static void unit_explain(enum quantity quantity, const char *plain, const char *name, char *message)
{
    const char *wanted = quantities[quantity].name, *allowed = quantities[quantity].allowed;
    char owners[96];
    const char *comma = strrchr(name, ',');
    if (!*name) {
        snprintf(message, UNITS_MESSAGE, "%s has no unit; %s is wanted: %s", plain, wanted, allowed);
    } else if (comma && comma[1] == '\0') {
        snprintf(message, UNITS_MESSAGE, "the comma after %.*s is one too many", (int)(strlen(plain) - 1),
                 plain);
    } else if (unit_owners(name, owners, sizeof owners)) {
        snprintf(message, UNITS_MESSAGE, "%s is %s; %s is wanted: %s", name, owners, wanted, allowed);
    } else {
        const char *nearest = unit_nearest(quantity, name);
        if (!nearest)
            nearest = unit_nearest(QUANTITY_COUNT, name);
        snprintf(message, UNITS_MESSAGE, "unknown unit \"%s\"%s%s%s; %s is wanted: %s", name,
                 nearest ? ", did you mean " : "", nearest ? nearest : "", nearest ? "?" : "", wanted,
                 allowed);
    }
}

/* Number and unit of a text; `unit` points into `plain`. */
static int value_split(enum quantity quantity, const char *text, char plain[VALUE_LENGTH], double *value,
                       const char **unit, char *message)
{
    if (!text_plain(text, plain)) {
        snprintf(message, UNITS_MESSAGE, "too long for a value; %s is wanted: %s", quantities[quantity].name,
                 quantities[quantity].allowed);
        return 0;
    }
    if (*plain)
        return number_read(plain, value, unit, message);
    snprintf(message, UNITS_MESSAGE, "nothing is given; %s is wanted: %s", quantities[quantity].name,
             quantities[quantity].allowed);
    return 0;
}

int units_read(enum quantity quantity, const char *text, double *value, char message[UNITS_MESSAGE])
{
    char plain[VALUE_LENGTH];
    const char *name;
    double number;
    *value = 0;
    message[0] = '\0';
    if (!value_split(quantity, text, plain, &number, &name, message))
        return 0;
    const struct unit *unit = unit_find(quantity, name);
    if (!unit) {
        unit_explain(quantity, plain, name, message);
        return 0;
    }
    double converted = (number - unit->zero) * unit->up / unit->down;
    if (!isfinite(converted)) {
        snprintf(message, UNITS_MESSAGE, "%s is too large for this program", plain);
        return 0;
    }
    *value = converted;
    return 1;
}

int units_number(const char *text, double *value, char message[UNITS_MESSAGE])
{
    return units_read(QUANTITY_NUMBER, text, value, message);
}

int units_split(const char *text, double *value, char unit[UNITS_NAME], char message[UNITS_MESSAGE])
{
    char plain[VALUE_LENGTH];
    const char *name;
    *value = 0;
    unit[0] = message[0] = '\0';
    if (!value_split(QUANTITY_NUMBER, text, plain, value, &name, message))
        return 0;
    if (strlen(name) >= UNITS_NAME) {
        snprintf(message, UNITS_MESSAGE, "\"%s\" is no unit", name);
        return 0;
    }
    memcpy(unit, name, strlen(name) + 1);
    return 1;
}

void units_join(double value, const char *unit, char *text, size_t size)
{
    locale_t before, plain = locale_plain(&before);
    snprintf(text, size, "%.10g%s%s", value, *unit ? " " : "", unit);
    locale_restore(plain, before);
}

int units_convert_difference(double difference, const char *from, const char *to, double *converted)
{
    *converted = strcmp(from, to) == 0 ? difference : NAN;
    for (size_t i = 0; i < UNIT_COUNT && isnan(*converted); i++) {
        const struct unit *unit = strcmp(units[i].name, from) == 0 ? &units[i] : NULL;
        const struct unit *other = unit ? unit_find(unit->quantity, to) : NULL;
        if (other)
            *converted = difference * unit->up * other->down / (unit->down * other->up);
    }
    return !isnan(*converted);
}

enum quantity units_kind(const char *text, const enum quantity *among, size_t count)
{
    char plain[VALUE_LENGTH], message[UNITS_MESSAGE];
    const char *name;
    double number;
    if (!value_split(QUANTITY_NUMBER, text, plain, &number, &name, message))
        return QUANTITY_COUNT;
    for (size_t i = 0; i < count; i++) {
        if (unit_find(among[i], name))
            return among[i];
    }
    return QUANTITY_COUNT;
}

void units_write(enum quantity quantity, double value, char *text, size_t size)
{
    const char *name = quantities[quantity].shown;
    const struct unit *unit = unit_find(quantity, name);
    double shown = value * unit->down / unit->up + unit->zero;
    if (!isfinite(shown)) {
        snprintf(text, size, "-");
        return;
    }
    locale_t before, plain = locale_plain(&before);
    snprintf(text, size, "%.6g%s%s", shown, *name ? " " : "", name);
    locale_restore(plain, before);
}

/* --- nearest word ------------------------------------------------------------------------------------------
 */

enum { WORD_LENGTH = 64, EDIT = 2, CASE_EDIT = 1 };

static int letter_cost(char a, char b)
{
    if (a == b)
        return 0;
    return tolower((unsigned char)a) == tolower((unsigned char)b) ? CASE_EDIT : EDIT;
}

static int lesser(int a, int b)
{
    return a < b ? a : b;
}

/* Edit distance with swapped neighbours as one edit (optimal string alignment), in half edits. */
static int word_distance(const char *a, size_t a_length, const char *b, size_t b_length)
{
    int rows[3][WORD_LENGTH + 1];
    int *before = rows[0], *above = rows[1], *row = rows[2];
    for (size_t j = 0; j <= b_length; j++)
        above[j] = (int)j * EDIT;
    for (size_t i = 1; i <= a_length; i++) {
        row[0] = (int)i * EDIT;
        for (size_t j = 1; j <= b_length; j++) {
            row[j] = lesser(above[j], row[j - 1]) + EDIT;
            row[j] = lesser(row[j], above[j - 1] + letter_cost(a[i - 1], b[j - 1]));
            if (i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1])
                row[j] = lesser(row[j], before[j - 2] + EDIT);
        }
        int *oldest = before;
        before = above;
        above = row;
        row = oldest;
    }
    return above[b_length];
}

/* Near: at most one edit in three letters, and something of the word left. */
const char *units_nearest(const char *word, const char *const *names, size_t count)
{
    size_t length = strlen(word);
    const char *nearest = NULL;
    int least = 0;
    for (size_t i = 0; i < count; i++) {
        size_t other = strlen(names[i]);
        size_t longer = length > other ? length : other;
        if (other == 0 || longer > WORD_LENGTH)
            continue;
        int distance = word_distance(word, length, names[i], other);
        int allowed = EDIT * (int)(longer / 3 > 1 ? longer / 3 : 1);
        if (distance <= allowed && distance < EDIT * (int)longer && (!nearest || distance < least)) {
            nearest = names[i];
            least = distance;
        }
    }
    return nearest;
}
