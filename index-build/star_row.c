#include "star_row.h"

#include "base/decimal.h"
#include "base/text.h"
#include "match/index.h"
#include "sky/vector.h"

#include <math.h>
#include <stdio.h>
#include <string.h>
#include <strings.h>

static const double degree = 0.017453292519943296; /* in radians */

/* Six times the fastest star known: beyond this the unit is wrong. */
static const double fastest_mas_yr = 60000;

/* Fewer stars are a test or a typing exercise, and their right ascensions say little. */
enum { DOUBT_LEAST_STARS = 10 };

static bool is_null_word(const char *start, size_t length)
{
    static const char *const words[] = {"nan", "null", "none", "n/a", "na", "\\n", "masked"};
    bool dashes = true;
    for (size_t i = 0; i < length; i++) {
        dashes = dashes && start[i] == '-';
    }
    for (size_t i = 0; i < sizeof words / sizeof *words && !dashes; i++) {
        dashes = strlen(words[i]) == length && strncasecmp(start, words[i], length) == 0;
    }
    return dashes;
}

/* An angle like "12 34 56.7". */
static bool read_spelt(double *degrees, enum star_part part, const char *start, size_t length)
{
    char text[64];
    enum star_part whole = star_part_of(part);
    if ((whole != PART_RA && whole != PART_DEC) || length >= sizeof text) {
        return false;
    }
    for (size_t i = 0; i < length; i++) {
        text[i] = start[i] == '_' ? ' ' : start[i]; /* some tables join the pieces so */
    }
    text[length] = '\0';
    return whole == PART_RA ? text_read_ra(degrees, text) : text_read_dec(degrees, text);
}

/* A whole number of up to 64 bits, which a double would round. "25.0" is one too. */
static bool read_whole(uint64_t *number, const char *start, size_t length)
{
    uint64_t n = 0;
    size_t i = 0;
    for (; i < length && start[i] >= '0' && start[i] <= '9'; i++) {
        uint64_t digit = (uint64_t)(start[i] - '0');
        if (n > (UINT64_MAX - digit) / 10) {
            return false;
        }
        n = n * 10 + digit;
    }
    size_t digits = i;
    for (i += i < length && start[i] == '.'; i < length && start[i] == '0'; i++) {
    }
    *number = n;
    return digits > 0 && i == length;
}

static void set_number_text(struct star_row *row, const char *start, size_t length)
{
    bool absent = length == 0 || is_null_word(start, length);
    row->value[PART_ID] = 0;
    row->state[PART_ID] = absent                                    ? CELL_ABSENT
                          : read_whole(&row->number, start, length) ? CELL_NUMBER
                                                                    : CELL_WRONG;
}

void star_row_set_whole(struct star_row *row, int64_t value)
{
    row->value[PART_ID] = 0;
    row->number = (uint64_t)value;
    row->state[PART_ID] = value >= 0 ? CELL_NUMBER : CELL_WRONG;
}

void star_row_set_text(struct star_row *row, enum star_part part, const char *start, size_t length)
{
    if (part == PART_ID) {
        set_number_text(row, start, length);
        return;
    }
    if (part == PART_DEC_SIGN) {
        row->value[part] = length == 1 && *start == '-' ? -1 : 1;
        row->state[part] = length == 0                           ? CELL_ABSENT
                           : length == 1 && strchr("+-", *start) ? CELL_NUMBER
                                                                 : CELL_WRONG;
        return;
    }
    const char *end = start + length;
    double value = 0;
    enum cell_state state = CELL_WRONG;
    if (decimal_read(&value, start, end) == end && length > 0) {
        state = CELL_NUMBER;
    } else if (is_null_word(start, length)) {
        state = CELL_ABSENT;
    } else if (read_spelt(&value, part, start, length)) {
        state = CELL_DEGREES;
    }
    row->value[part] = value;
    row->state[part] = state;
}

void star_row_set_number(struct star_row *row, enum star_part part, double value)
{
    bool whole = part != PART_ID || (value >= 0 && value < 0x1p63 && value == floor(value));
    row->value[part] = value;
    row->number = part == PART_ID && whole ? (uint64_t)value : row->number;
    row->state[part] = !isfinite(value) ? CELL_ABSENT : whole ? CELL_NUMBER : CELL_WRONG;
}

void star_row_move(double v[3], double ra_deg, double dec_deg, double pm_ra, double pm_dec,
                   double years)
{
    double ca = cos(ra_deg * degree), sa = sin(ra_deg * degree);
    double cd = cos(dec_deg * degree), sd = sin(dec_deg * degree);
    double east = pm_ra * years / 3.6e6 * degree, north = pm_dec * years / 3.6e6 * degree;
    v[0] = cd * ca - east * sa - north * sd * ca;
    v[1] = cd * sa + east * ca - north * sd * sa;
    v[2] = sd + north * cd;
    vector_normalise(v);
}

static bool is_null(const struct star_row *row, int part, const struct star_columns *columns)
{
    if (row->state[part] != CELL_NUMBER) {
        return false;
    }
    double value = part == PART_ID ? (double)row->number : row->value[part];
    return value == columns->null[part];
}

/* Brings each part to its unit; parts without a usable cell are NaN. Cells that hold the table's
 * mark of a missing value become absent. */
static void scale(double out[PART_COUNT], struct star_row *row, const struct star_columns *columns)
{
    for (int part = 0; part < PART_COUNT; part++) {
        if (is_null(row, part, columns)) {
            row->state[part] = CELL_ABSENT;
        }
        double value = row->value[part];
        out[part] = row->state[part] == CELL_NUMBER    ? value * columns->factor[part]
                    : row->state[part] == CELL_DEGREES ? value
                                                       : (double)NAN;
    }
}

static double or_zero(double value)
{
    return isnan(value) ? 0 : value;
}

/* Adds minutes and seconds that stand in columns of their own. A sign before whole degrees counts
 * for all ("-00"). */
static void join_split(double value[PART_COUNT], struct star_row *row)
{
    static const enum star_part pieces[] = {PART_RA_MINUTES, PART_RA_SECONDS, PART_DEC_SIGN,
                                            PART_DEC_MINUTES, PART_DEC_SECONDS};
    for (size_t i = 0; i < sizeof pieces / sizeof *pieces; i++) {
        if (row->state[pieces[i]] == CELL_WRONG || value[pieces[i]] < -1) {
            row->state[star_part_of(pieces[i])] = CELL_WRONG;
        }
    }
    value[PART_RA] += or_zero(value[PART_RA_MINUTES]) + or_zero(value[PART_RA_SECONDS]);
    double rest = or_zero(value[PART_DEC_MINUTES]) + or_zero(value[PART_DEC_SECONDS]);
    if (value[PART_DEC_SIGN] < 0 || signbit(value[PART_DEC])) {
        value[PART_DEC] = -fabs(value[PART_DEC]) - rest;
    } else {
        value[PART_DEC] += rest;
    }
}

static void take_else(double value[PART_COUNT], struct star_row *row)
{
    if ((row->state[PART_RA] == CELL_ABSENT || row->state[PART_DEC] == CELL_ABSENT) &&
        row->state[PART_RA_ELSE] != CELL_ABSENT && row->state[PART_DEC_ELSE] != CELL_ABSENT) {
        for (int i = 0; i < 2; i++) {
            value[PART_RA + i] = value[PART_RA_ELSE + i];
            row->state[PART_RA + i] = row->state[PART_RA_ELSE + i];
        }
    }
    if (row->state[PART_MAG] == CELL_ABSENT && row->state[PART_MAG_ELSE] == CELL_NUMBER) {
        value[PART_MAG] = value[PART_MAG_ELSE];
        row->state[PART_MAG] = CELL_NUMBER;
    }
}

static struct row_fault find_fault(const double value[PART_COUNT], const struct star_row *row,
                                   const struct star_columns *columns)
{
    static const double low[] = {0, -90, -30}, high[] = {360, 90, 30};
    for (int part = PART_RA; part <= PART_MAG; part++) {
        enum fault_kind kind = row->state[part] == CELL_ABSENT  ? FAULT_ABSENT
                               : row->state[part] == CELL_WRONG ? FAULT_WRONG
                               : !(value[part] >= low[part] && value[part] <= high[part])
                                   ? FAULT_RANGE
                                   : FAULT_NONE;
        if (kind) {
            return (struct row_fault){kind, (enum star_part)part};
        }
    }
    for (int part = PART_PM_RA; part <= PART_PM_DEC && columns->to_epoch > 0; part++) {
        enum fault_kind kind = row->state[part] == CELL_WRONG       ? FAULT_WRONG
                               : fabs(value[part]) > fastest_mas_yr ? FAULT_RANGE
                                                                    : FAULT_NONE;
        if (kind) {
            return (struct row_fault){kind, (enum star_part)part};
        }
    }
    if ((columns->has_faintest && value[PART_MAG] > columns->faintest) ||
        (columns->has_brightest && value[PART_MAG] < columns->brightest)) {
        return (struct row_fault){FAULT_LEFT_OUT, PART_MAG};
    }
    return (struct row_fault){FAULT_NONE, PART_RA};
}

/* Julian year of a star's position; what no catalogue has is taken as missing. */
static double epoch_of(const double value[PART_COUNT], const struct star_columns *columns)
{
    double year = value[PART_EPOCH];
    return year > 1800 && year < 2200 ? year : columns->from_epoch;
}

static void find_direction(double v[3], struct row_tally *tally, const double value[PART_COUNT],
                           const struct star_columns *columns)
{
    double pm_ra = value[PART_PM_RA], pm_dec = value[PART_PM_DEC];
    double years = columns->to_epoch > 0 ? columns->to_epoch - epoch_of(value, columns) : 0;
    if (years == 0 || isnan(pm_ra) || isnan(pm_dec)) {
        tally->unmoved += years != 0;
        vector_from_radec(v, value[PART_RA], value[PART_DEC]);
        return;
    }
    if (columns->pm_ra_is_coordinate) {
        pm_ra *= cos(value[PART_DEC] * degree);
    }
    star_row_move(v, value[PART_RA], value[PART_DEC], pm_ra, pm_dec, years);
}

static int16_t thousandths(double value)
{
    return (int16_t)lrint(value * 1000);
}

/* A number that is no whole one is none: 0. */
static uint64_t find_id(struct row_tally *tally, const struct star_row *row)
{
    tally->unnumbered += row->state[PART_ID] == CELL_WRONG;
    return row->state[PART_ID] == CELL_NUMBER ? row->number : 0;
}

static void note_star(struct row_tally *tally, const struct star_row *row,
                      const double value[PART_COUNT], const struct star_columns *columns)
{
    double epoch = epoch_of(value, columns), mag = value[PART_MAG];
    if (row->state[PART_RA] == CELL_DEGREES) {
        tally->ra_spelt = true;
    } else {
        tally->ra_most = fmax(tally->ra_most, value[PART_RA]);
    }
    if (!tally->any) {
        tally->mag_least = tally->mag_most = mag;
        tally->epoch_least = tally->epoch_most = epoch;
        tally->any = true;
    }
    tally->mag_least = fmin(tally->mag_least, mag);
    tally->mag_most = fmax(tally->mag_most, mag);
    tally->epoch_least = fmin(tally->epoch_least, epoch);
    tally->epoch_most = fmax(tally->epoch_most, epoch);
}

struct row_fault star_row_judge(struct catalogue_star *star, struct row_tally *tally,
                                const struct star_row *given, const struct star_columns *columns)
{
    double value[PART_COUNT];
    struct star_row made = *given, *row = &made;
    scale(value, row, columns);
    join_split(value, row);
    take_else(value, row);
    struct row_fault fault = find_fault(value, row, columns);
    if (fault.kind) {
        return fault;
    }
    double v[3];
    note_star(tally, row, value, columns);
    find_direction(v, tally, value, columns);
    *star = (struct catalogue_star){0};
    index_set_place(star->place, v);
    bool coloured = fabs(value[PART_COLOUR]) <= 30;
    star->mag = thousandths(value[PART_MAG]);
    star->colour = coloured ? thousandths(value[PART_COLOUR]) : CATALOGUE_NO_COLOUR;
    star->id = find_id(tally, row);
    return fault;
}

/* A copy that is safe to print: what is not plain ASCII becomes '?'. */
static void copy_printable(char *out, size_t size, const char *text, size_t length)
{
    size_t n = length < size - 1 ? length : size - 1;
    for (size_t i = 0; i < n; i++) {
        out[i] = text[i] >= ' ' && text[i] <= '~' ? text[i] : '?';
    }
    out[n] = '\0';
    if (n < length && n > 3) {
        memcpy(out + n - 3, "...", 3);
    }
}

static void explain(char *out, size_t size, struct row_fault fault,
                    const struct star_columns *columns, const char *text, size_t length)
{
    static const double low[] = {0, -90, -30}, high[] = {360, 90, 30};
    const char *title = star_part_name(fault.part);
    char cell[28];
    copy_printable(cell, sizeof cell, text, length);
    if (fault.kind == FAULT_ABSENT) {
        snprintf(out, size, "no %s", title);
    } else if (fault.kind == FAULT_WRONG) {
        snprintf(out, size, "%s \"%s\" is not a number", title, cell);
    } else if (fault.part <= PART_MAG) {
        double factor = columns->factor[fault.part];
        snprintf(out, size, "%s %s is outside %.6g..%.6g", title, cell, low[fault.part] / factor,
                 high[fault.part] / factor);
    } else {
        snprintf(out, size, "%s %s is beyond any star's", title, cell);
    }
}

void row_tally_count_bad(struct row_tally *tally, long line, const char *reason)
{
    struct catalogue_report *r = &tally->report;
    r->rows++;
    r->bad++;
    if (r->samples < (int)(sizeof r->sample / sizeof r->sample[0])) {
        r->sample[r->samples].line = line;
        snprintf(r->sample[r->samples].reason, sizeof r->sample[0].reason, "%s", reason);
        r->samples++;
    }
}

void row_tally_count(struct row_tally *tally, struct row_fault fault,
                     const struct star_columns *columns, long line, const char *text, size_t length)
{
    struct catalogue_report *r = &tally->report;
    if (fault.kind == FAULT_NONE || fault.kind == FAULT_LEFT_OUT) {
        r->rows++;
        r->used += fault.kind == FAULT_NONE;
        r->left_out += fault.kind == FAULT_LEFT_OUT;
        return;
    }
    char reason[sizeof r->sample[0].reason] = "";
    if (r->samples < (int)(sizeof r->sample / sizeof r->sample[0])) {
        explain(reason, sizeof reason, fault, columns, text, length);
    }
    row_tally_count_bad(tally, line, reason);
}

void row_tally_merge(struct row_tally *tally, const struct row_tally *later, long line_shift)
{
    struct catalogue_report *r = &tally->report;
    const struct catalogue_report *l = &later->report;
    r->rows += l->rows;
    r->used += l->used;
    r->left_out += l->left_out;
    r->bad += l->bad;
    for (int i = 0; i < l->samples && r->samples < (int)(sizeof r->sample / sizeof r->sample[0]);
         i++) {
        r->sample[r->samples] = l->sample[i];
        r->sample[r->samples++].line += line_shift;
    }
    tally->unmoved += later->unmoved;
    tally->unnumbered += later->unnumbered;
    tally->ra_most = fmax(tally->ra_most, later->ra_most);
    tally->ra_spelt = tally->ra_spelt || later->ra_spelt;
    if (later->any) {
        bool any = tally->any;
        tally->mag_least = any ? fmin(tally->mag_least, later->mag_least) : later->mag_least;
        tally->mag_most = any ? fmax(tally->mag_most, later->mag_most) : later->mag_most;
        tally->epoch_least =
            any ? fmin(tally->epoch_least, later->epoch_least) : later->epoch_least;
        tally->epoch_most = any ? fmax(tally->epoch_most, later->epoch_most) : later->epoch_most;
        tally->any = true;
    }
}

static char *add_warning(struct catalogue_report *r)
{
    return r->warning[r->warnings++];
}

void row_tally_warn(struct row_tally *tally, const struct star_columns *columns)
{
    struct catalogue_report *r = &tally->report;
    size_t size = sizeof r->warning[0];
    if (columns->known && !columns->epoch_told && columns->column[PART_EPOCH] < 0 &&
        columns->from_epoch != 2000) {
        snprintf(
            add_warning(r), size,
            "the columns are those of %s, so the positions count as of %.8g; --from-epoch says "
            "otherwise",
            columns->known, columns->from_epoch);
    }
    if (tally->unnumbered) {
        snprintf(add_warning(r), size,
                 "%ld stars go without their number: it is not a whole one of 64 bits",
                 tally->unnumbered);
    }
    if (tally->unmoved) {
        snprintf(add_warning(r), size, "%ld stars have no proper motion and stay where they are",
                 tally->unmoved);
    }
}

int row_tally_check(const struct row_tally *tally, const struct star_columns *columns,
                    const char *name, struct error *err)
{
    bool many = tally->report.used >= DOUBT_LEAST_STARS;
    if (many && !columns->ra_unit_told && !tally->ra_spelt && tally->ra_most < 24.0001) {
        return error_set(err, ERROR_INPUT,
                         "%.200s: no right ascension is above %.4g, and nothing says whether they "
                         "are hours or degrees; say it with --ra %.72s:h or --ra %.72s:deg",
                         name, tally->ra_most, columns->ra_name, columns->ra_name);
    }
    if (many && tally->mag_least == tally->mag_most) {
        return error_set(err, ERROR_INPUT,
                         "%.200s: all stars have magnitude %.4g, but an index needs to know which "
                         "are brighter",
                         name, tally->mag_least);
    }
    if (tally->any && tally->epoch_most - tally->epoch_least > 0.01 && !(columns->to_epoch > 0)) {
        return error_set(err, ERROR_INPUT,
                         "%.200s: the positions are for years from %.8g to %.8g; bring them to one "
                         "with --epoch YEAR",
                         name, tally->epoch_least, tally->epoch_most);
    }
    return 0;
}
