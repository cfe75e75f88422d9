#include "base/text.h"

#include "base/decimal.h"

#include <errno.h>
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Marks that people write between the parts of an angle. */
enum mark {
    MARK_NONE,
    MARK_HOUR,
    MARK_DEGREE,
    MARK_M,
    MARK_S,
    MARK_ARCMIN,
    MARK_ARCSEC,
    MARK_COLON
};

struct spelling {
    const char *text;
    enum mark mark;
};

/* Longer spellings stand before their own beginnings. */
static const struct spelling spellings[] = {
    {"h", MARK_HOUR},        {"H", MARK_HOUR},    {"\u02b0", MARK_HOUR}, /* raised h */
    {"d", MARK_DEGREE},      {"D", MARK_DEGREE},  {"\u00b0", MARK_DEGREE},
    {"\u00ba", MARK_DEGREE}, /* the ordinal sign, on many keyboards the nearest thing */
    {"m", MARK_M},           {"M", MARK_M},       {"\u1d50", MARK_M}, /* raised m */
    {"s", MARK_S},           {"S", MARK_S},       {"\u02e2", MARK_S}, /* raised s */
    {"''", MARK_ARCSEC},     {"\"", MARK_ARCSEC}, {"\u2033", MARK_ARCSEC},
    {"\u201d", MARK_ARCSEC}, {"'", MARK_ARCMIN},  {"\u2032", MARK_ARCMIN},
    {"\u2019", MARK_ARCMIN}, {":", MARK_COLON},   {NULL, MARK_NONE},
};

/* The parts of an angle as they stand in the text. */
struct parts {
    double value[3];
    enum mark mark[3]; /* what follows each */
    int count;
    bool negative;
};

static const char *skip_prefix(const char *p, const char *end, const char *prefix)
{
    size_t length = strlen(prefix);
    return (size_t)(end - p) >= length && memcmp(p, prefix, length) == 0 ? p + length : NULL;
}

static const char *skip_blanks(const char *p, const char *end)
{
    static const char *const wide[] = {"\u00a0", "\u2009", "\u202f"};
    while (p < end) {
        const char *next = strchr(" \t\r\n\v\f", *p) && *p ? p + 1 : NULL;
        for (size_t i = 0; !next && i < sizeof wide / sizeof *wide; i++) {
            next = skip_prefix(p, end, wide[i]);
        }
        if (!next) {
            break;
        }
        p = next;
    }
    return p;
}

static const char *skip_sign(const char *p, const char *end, bool *negative)
{
    static const char minus[] = "\u2212";
    const char *after = skip_prefix(p, end, minus);
    *negative = after || (p < end && *p == '-');
    if (after) {
        return after;
    }
    return p < end && (*p == '-' || *p == '+') ? p + 1 : p;
}

static const char *skip_mark(const char *p, const char *end, enum mark *mark)
{
    *mark = MARK_NONE;
    for (const struct spelling *s = spellings; s->text; s++) {
        const char *after = skip_prefix(p, end, s->text);
        if (after) {
            *mark = s->mark;
            return after;
        }
    }
    return p;
}

/* Splits an angle into up to three numbers without sign and the marks behind them. */
static bool split_angle(struct parts *parts, const char *p, const char *end)
{
    memset(parts, 0, sizeof *parts);
    p = skip_blanks(p, end);
    p = skip_blanks(skip_sign(p, end, &parts->negative), end);
    while (p < end) {
        if (parts->count == 3 || *p == '-' || *p == '+') {
            return false;
        }
        int i = parts->count++;
        p = decimal_read(&parts->value[i], p, end);
        if (!p) {
            return false;
        }
        p = skip_mark(skip_blanks(p, end), end, &parts->mark[i]);
        p = skip_blanks(p, end);
    }
    return parts->count > 0;
}

/* Whether the marks form one of the known patterns. The last part may go without its mark when
 * the others have theirs ("20h58m47"); letters, arc marks and colons don't mix. */
static bool marks_agree(const struct parts *parts)
{
    enum mark first = parts->mark[0];
    if (first == MARK_COLON || first == MARK_NONE) {
        for (int i = 0; i < parts->count; i++) {
            bool last = i == parts->count - 1;
            if (parts->mark[i] != (last ? MARK_NONE : first)) {
                return false;
            }
        }
        return true;
    }
    if (first != MARK_HOUR && first != MARK_DEGREE) {
        return false;
    }
    static const enum mark letter[3] = {MARK_NONE, MARK_M, MARK_S};
    static const enum mark arc[3] = {MARK_NONE, MARK_ARCMIN, MARK_ARCSEC};
    bool letters = true, arcs = first == MARK_DEGREE;
    for (int i = 1; i < parts->count; i++) {
        bool bare = i == parts->count - 1 && parts->mark[i] == MARK_NONE;
        letters = letters && (bare || parts->mark[i] == letter[i]);
        arcs = arcs && (bare || parts->mark[i] == arc[i]);
    }
    return letters || arcs;
}

/* Adds the parts up, in units of the first; the sign is left out. */
static bool join_parts(double *value, const struct parts *parts)
{
    double sum = 0, unit = 1;
    for (int i = 0; i < parts->count; i++) {
        double v = parts->value[i];
        bool last = i == parts->count - 1;
        if ((!last && v != floor(v)) || (i > 0 && v >= 60)) {
            return false;
        }
        sum += v / unit;
        unit *= 60;
    }
    *value = sum;
    return true;
}

static bool read_ra(double *deg, const char *start, const char *end)
{
    struct parts parts;
    double value;
    if (!split_angle(&parts, start, end) || !marks_agree(&parts) || !join_parts(&value, &parts)) {
        return false;
    }
    bool hours = parts.mark[0] == MARK_HOUR || (parts.count > 1 && parts.mark[0] != MARK_DEGREE);
    if (hours) {
        value *= 15;
    }
    if (value >= 360 || (parts.negative && value > 0)) {
        return false;
    }
    *deg = value;
    return true;
}

static bool read_dec(double *deg, const char *start, const char *end)
{
    struct parts parts;
    double value;
    if (!split_angle(&parts, start, end) || !marks_agree(&parts) || !join_parts(&value, &parts) ||
        parts.mark[0] == MARK_HOUR || value > 90) {
        return false;
    }
    *deg = parts.negative ? -value : value;
    return true;
}

bool text_read_double(double *value, const char *text)
{
    const char *end = text + strlen(text);
    double v;
    const char *p = decimal_read(&v, skip_blanks(text, end), end);
    if (!p || skip_blanks(p, end) != end) {
        return false;
    }
    *value = v;
    return true;
}

bool text_read_long(long *value, const char *text)
{
    const char *end = text + strlen(text);
    const char *p = skip_blanks(text, end);
    const char *digits = p < end && (*p == '-' || *p == '+') ? p + 1 : p;
    if (digits >= end || *digits < '0' || *digits > '9') {
        return false; /* strtol would take more than that */
    }
    char *after;
    errno = 0;
    long v = strtol(p, &after, 10);
    if (errno == ERANGE || skip_blanks(after, end) != end) {
        return false;
    }
    *value = v;
    return true;
}

bool text_read_ra(double *deg, const char *text)
{
    return read_ra(deg, text, text + strlen(text));
}

bool text_read_dec(double *deg, const char *text)
{
    return read_dec(deg, text, text + strlen(text));
}

/* Without a comma, every gap is tried, and exactly one must make sense. */
bool text_read_radec(double *ra_deg, double *dec_deg, const char *text)
{
    const char *end = text + strlen(text);
    const char *comma = strchr(text, ',');
    double ra = 0, dec = 0;
    int ways = 0;
    if (comma) {
        ways = read_ra(&ra, text, comma) && read_dec(&dec, comma + 1, end);
    }
    const char *p = skip_blanks(text, end);
    for (; !comma && p < end; p++) {
        double try_ra, try_dec;
        const char *next = skip_blanks(p, end);
        if (next > p && next < end && read_ra(&try_ra, text, p) && read_dec(&try_dec, next, end)) {
            ra = try_ra;
            dec = try_dec;
            ways++;
        }
        p = next > p ? next - 1 : p;
    }
    if (ways != 1) {
        return false;
    }
    *ra_deg = ra;
    *dec_deg = dec;
    return true;
}

/* All in whole tenths, so that no part ever shows 60, nor the locale's decimal point. */
void text_write_ra(char *out, size_t size, double ra_deg)
{
    if (!isfinite(ra_deg)) {
        snprintf(out, size, "?");
        return;
    }
    double turn = fmod(ra_deg, 360);
    long day = 24L * 36000;
    long tenths = lround(turn / 360 * (double)day);
    tenths = (tenths % day + day) % day;
    snprintf(out, size, "%02ldh%02ldm%02ld.%lds", tenths / 36000, tenths / 600 % 60,
             tenths / 10 % 60, tenths % 10);
}

void text_write_dec(char *out, size_t size, double dec_deg)
{
    if (!(fabs(dec_deg) <= 360)) {
        snprintf(out, size, "?");
        return;
    }
    long seconds = lround(fabs(dec_deg) * 3600);
    snprintf(out, size, "%c%02ld\u00b0%02ld'%02ld\"", dec_deg < 0 && seconds > 0 ? '-' : '+',
             seconds / 3600, seconds / 60 % 60, seconds % 60);
}

/* Each unit gives way to the next one where it would round to a full one. */
void text_write_angle(char *out, size_t size, double angle_deg)
{
    double angle = fabs(angle_deg);
    const char *sign = angle_deg < 0 ? "-" : "";
    if (!(angle < 1e9)) {
        snprintf(out, size, "?");
    } else if (lround(angle * 60) >= 60) {
        long tenths = lround(angle * 10);
        snprintf(out, size, "%s%ld.%ld\u00b0", sign, tenths / 10, tenths % 10);
    } else if (lround(angle * 3600) >= 60) {
        snprintf(out, size, "%s%ld'", sign, lround(angle * 60));
    } else if (lround(angle * 36000) >= 10 || angle == 0) {
        snprintf(out, size, "%s%ld\"", sign, lround(angle * 3600));
    } else {
        snprintf(out, size, "%s0.%ld\"", sign, lround(angle * 36000));
    }
}

void text_append(char *out, size_t size, const char *format, ...)
{
    size_t used = strlen(out);
    va_list values;
    va_start(values, format);
    vsnprintf(out + used, size - used, format, values);
    va_end(values);
}

char *text_copy(const char *text)
{
    size_t size = strlen(text) + 1;
    char *copy = malloc(size);
    return copy ? memcpy(copy, text, size) : NULL;
}

double text_rounded(double value, int decimals)
{
    double parts = pow(10, decimals), nearest = round(value * parts) / parts;
    return nearest == 0 ? 0 : nearest;
}
