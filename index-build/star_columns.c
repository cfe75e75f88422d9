#include "star_columns.h"

#include "base/decimal.h"
#include "base/units.h"
#include "known_tables.h"

#include <math.h>
#include <stdio.h>
#include <string.h>
#include <strings.h>

enum { MAX_NAMES = 24 };

struct unit {
    const char *text; /* as column_make_plain leaves it */
    double factor;
    bool coordinate; /* an angle of the coordinate itself, without cos(dec) */
};

#define ANGLE_UNITS                                                                                \
    {"deg", 1, false}, {"degree", 1, false}, {"degrees", 1, false}, {"d", 1, false},               \
        {"rad", DEG_PER_RAD, false}, {"radian", DEG_PER_RAD, false},                               \
        {"radians", DEG_PER_RAD, false}, {"arcmin", 1 / 60.0, false},                              \
        {"arcsec", 1 / 3600.0, false},                                                             \
    {                                                                                              \
        "mas", 1 / 3.6e6, false                                                                    \
    }

static const struct unit ra_units[] = {
    ANGLE_UNITS,         {"h", 15, false},     {"hr", 15, false},        {"hrs", 15, false},
    {"hour", 15, false}, {"hours", 15, false}, {"hourangle", 15, false}, {"hms", 15, false},
    {NULL, 0, false},
};

static const struct unit dec_units[] = {ANGLE_UNITS, {"dms", 1, false}, {NULL, 0, false}};

/* Seconds of time only ever describe the coordinate itself. */
static const struct unit motion_units[] = {
    {"masyr", 1, false},       {"masyr1", 1, false},       {"masa", 1, false},
    {"masa1", 1, false},       {"uasyr", 0.001, false},    {"uasyr1", 0.001, false},
    {"arcsecyr", 1000, false}, {"arcsecyr1", 1000, false}, {"arcseca", 1000, false},
    {"arcseca1", 1000, false}, {"degyr", 3.6e6, false},    {"degyr1", 3.6e6, false},
    {"syr", 15000, true},      {"syr1", 15000, true},      {"sa", 15000, true},
    {"sa1", 15000, true},      {NULL, 0, false},
};

static const struct unit mag_units[] = {
    {"mag", 1, false},        {"mags", 1, false},    {"magnitude", 1, false},
    {"magnitudes", 1, false}, {"magvega", 1, false}, {"vegamag", 1, false},
    {"magab", 1, false},      {"abmag", 1, false},   {"mmag", 0.001, false},
    {NULL, 0, false},
};

static const struct unit year_units[] = {
    {"yr", 1, false}, {"a", 1, false}, {"jyear", 1, false}, {"year", 1, false}, {NULL, 0, false}};
static const struct unit ra_minutes[] = {{"min", 15 / 60.0, false}, {NULL, 0, false}};
static const struct unit ra_seconds[] = {
    {"s", 15 / 3600.0, false}, {"sec", 15 / 3600.0, false}, {NULL, 0, false}};
static const struct unit dec_minutes[] = {{"arcmin", 1 / 60.0, false}, {NULL, 0, false}};
static const struct unit dec_seconds[] = {{"arcsec", 1 / 3600.0, false}, {NULL, 0, false}};

/* Usual names as column_make_plain leaves them, the best first (Tycho's mean places before those
 * that it observed). */
struct part {
    const char *title;
    const char *option; /* names the column on the command line */
    const char *example;
    const struct unit *units;
    bool unit_in_name; /* a unit may follow the name: "ra_hours" */
    double factor;     /* where no unit is told */
    const char *names[MAX_NAMES];
};

#define RA_NAMES                                                                                   \
    {                                                                                              \
        "ramdeg", "ra", "raicrs", "raj2000", "alpha", "alphaj2000", "rightascension", "ra2000"     \
    }
#define DEC_NAMES                                                                                  \
    {                                                                                              \
        "demdeg", "dec", "de", "deicrs", "decicrs", "dej2000", "decj2000", "delta", "deltaj2000",  \
            "declination", "decl", "dec2000", "de2000"                                             \
    }

static const struct part parts[PART_COUNT] = {
    [PART_RA] = {"right ascension", "--ra", "ra_deg", ra_units, true, 1, RA_NAMES},
    [PART_DEC] = {"declination", "--dec", "dec_deg", dec_units, true, 1, DEC_NAMES},
    [PART_MAG] = {"magnitude",
                  "--mag",
                  "v_mag",
                  mag_units,
                  false,
                  1,
                  {"vmag",      "magv",     "vmagnitude",   "mag",  "magnitude",
                   "hpmag",     "vtmag",    "photgmeanmag", "gmag", "photrpmeanmag",
                   "rpmag",     "bmag",     "btmag",        "v",    "g",
                   "johnsonvv", "johnsonv", "fluxv",        "fmag", "ucmag",
                   "umag"}},
    [PART_COLOUR] = {"colour",
                     "--colour",
                     "b_v",
                     mag_units,
                     false,
                     1,
                     {"bv", "bvmag", "bvcolour", "bvcolor", "ci", "colour", "color", "bprp",
                      "bprpmag"}},
    [PART_ID] = {"number",
                 "--id",
                 "hip",
                 NULL,
                 false,
                 1,
                 {"hip", "id", "sourceid", "source", "hipnumber", "hd", "hr", "tyc", "ucac4",
                  "starid", "number", "gaiaedr3sourceid", "gaiadr3sourceid", "gaiadr2sourceid"}},
    [PART_PM_RA] = {"proper motion in right ascension",
                    "--pm-ra",
                    "pm_ra",
                    motion_units,
                    true,
                    1,
                    {"pmra", "pmracosde", "pmracosdec", "pmrastar", "mura", "mualpha",
                     "mualphastar", "mualphacosdelta", "pmalpha", "mua"}},
    [PART_PM_DEC] = {"proper motion in declination",
                     "--pm-dec",
                     "pm_dec",
                     motion_units,
                     true,
                     1,
                     {"pmdec", "pmde", "mudec", "mude", "mudelta", "pmdelta", "mud"}},
    [PART_EPOCH] = {"epoch", "--from-epoch", "ref_epoch", year_units, false, 1, {"refepoch"}},
    [PART_RA_MINUTES] = {"right ascension", "--ra", "RAm", ra_minutes, false, 15 / 60.0, {"ram"}},
    [PART_RA_SECONDS] = {"right ascension", "--ra", "RAs", ra_seconds, false, 15 / 3600.0, {"ras"}},
    [PART_DEC_SIGN] = {"declination", "--dec", "DE-", NULL, false, 1, {NULL}},
    [PART_DEC_MINUTES] =
        {"declination", "--dec", "DEm", dec_minutes, false, 1 / 60.0, {"dem", "decm"}},
    [PART_DEC_SECONDS] =
        {"declination", "--dec", "DEs", dec_seconds, false, 1 / 3600.0, {"des", "decs"}},
    [PART_RA_ELSE] = {"right ascension", "--ra", "ra_deg", ra_units, true, 1, RA_NAMES},
    [PART_DEC_ELSE] = {"declination", "--dec", "dec_deg", dec_units, true, 1, DEC_NAMES},
    [PART_MAG_ELSE] = {"magnitude", "--mag", "v_mag", mag_units, false, 1, {"btmag"}},
};

/* Sun: B-V 0.65, BP-RP 0.82; both are 0 for an A0 star (from memory). Good to 0.1 or so: a tint. */
static const double b_v_per_bp_rp = 0.8;

const char *star_part_name(enum star_part part)
{
    return parts[part].title;
}

enum star_part star_part_of(enum star_part part)
{
    switch (part) {
    case PART_RA_MINUTES:
    case PART_RA_SECONDS:
    case PART_RA_ELSE:
        return PART_RA;
    case PART_DEC_SIGN:
    case PART_DEC_MINUTES:
    case PART_DEC_SECONDS:
    case PART_DEC_ELSE:
        return PART_DEC;
    case PART_MAG_ELSE:
        return PART_MAG;
    default:
        return part;
    }
}

static const struct unit *find_unit(const struct unit *units, const char *plain)
{
    for (const struct unit *u = units; u && u->text; u++) {
        if (strcmp(u->text, plain) == 0) {
            return u;
        }
    }
    return NULL;
}

/* Whether plain is the name, alone or followed by a unit; *unit is NULL when alone. */
static bool match_name(const char *plain, const char *name, const struct part *part,
                       const struct unit **unit)
{
    size_t length = strlen(name);
    *unit = NULL;
    if (strncmp(plain, name, length) != 0) {
        return false;
    }
    if (plain[length] == '\0') {
        return true;
    }
    *unit = part->unit_in_name ? find_unit(part->units, plain + length) : NULL;
    return *unit != NULL;
}

static int find_plain(const struct column_list *list, const char *name)
{
    for (int i = 0; i < list->count; i++) {
        if (strcmp(list->column[i].plain, name) == 0) {
            return i;
        }
    }
    return -1;
}

/* "DE-", the column of a sign, is no declination. */
static int find_sign(const struct column_list *list)
{
    for (int i = 0; i < list->count; i++) {
        if (strcasecmp(list->column[i].name, "DE-") == 0 ||
            strcasecmp(list->column[i].name, "DEC-") == 0) {
            return i;
        }
    }
    return -1;
}

/* Hours, minutes and seconds in columns of their own: "RAh" holds whole hours then, and taking it
 * for the right ascension would be silently wrong. */
static bool is_split_angle(const struct column_list *list, const char *plain)
{
    return (strcmp(plain, "rah") == 0 && find_plain(list, "ram") >= 0) ||
           (strcmp(plain, "ded") == 0 && find_plain(list, "dem") >= 0) ||
           (strcmp(plain, "decd") == 0 && find_plain(list, "decm") >= 0);
}

/* The best column by a usual name behind those that are taken; angles spelt out come last, since
 * they are rounded. */
static int find_usual(const struct column_list *list, enum star_part part, int taken)
{
    const struct part *p = &parts[part];
    int spelt = -1, sign = find_sign(list);
    for (int n = 0; n < MAX_NAMES && p->names[n]; n++) {
        for (int i = 0; i < list->count; i++) {
            const char *plain = list->column[i].plain;
            const struct unit *unit;
            if (i == taken || i == sign || !match_name(plain, p->names[n], p, &unit) ||
                is_split_angle(list, plain)) {
                continue;
            }
            if (unit && strstr(unit->text, "ms")) {
                spelt = spelt < 0 ? i : spelt;
                continue;
            }
            return i;
        }
    }
    return spelt;
}

/* The column whose role in a VOTable says what it is: the main one of its kind, else the first. */
static int find_role(const struct column_list *list, enum star_part part)
{
    static const char *const roles[PART_EPOCH] = {
        [PART_RA] = "pos.eq.ra",
        [PART_DEC] = "pos.eq.dec",
        [PART_MAG] = "phot.mag;em.opt",
        [PART_PM_RA] = "pos.pm;pos.eq.ra",
        [PART_PM_DEC] = "pos.pm;pos.eq.dec",
    };
    int first = -1;
    for (int i = 0; i < list->count && part < PART_EPOCH && roles[part]; i++) {
        const char *role = list->column[i].role;
        size_t length = strlen(roles[part]);
        if (strncasecmp(role, roles[part], length) != 0) {
            continue;
        }
        if (strcasecmp(role + length, ";meta.main") == 0) {
            return i;
        }
        first = first < 0 ? i : first;
    }
    return first;
}

/* "a, b, c", cut with "..." where it does not fit. */
static void list_names(char *out, size_t size, const struct column_list *list)
{
    size_t used = 0;
    out[0] = '\0';
    for (int i = 0; i < list->count; i++) {
        const char *name = list->column[i].name;
        size_t need = strlen(name) + 2;
        if (used + need + 4 > size) {
            snprintf(out + used, size - used, "...");
            return;
        }
        used += (size_t)snprintf(out + used, size - used, "%s%s", name,
                                 i + 1 < list->count ? ", " : "");
    }
}

static int refuse_missing(const struct column_list *list, enum star_part part, const char *named,
                          struct error *err)
{
    char names[200];
    list_names(names, sizeof names, list);
    if (named) {
        return error_set(err, ERROR_INPUT, "%.120s: no column \"%.60s\"; there are: %s",
                         list->table, named, names);
    }
    return error_set(err, ERROR_INPUT,
                     "%.120s: no column looks like the %s (\"%s\" would); name it with %s; "
                     "there are: %s",
                     list->table, parts[part].title, parts[part].example, parts[part].option,
                     names);
}

/* The column that the user names, "NAME" or "NAME:UNIT"; *unit is "" or the unit. */
static int find_named(const struct column_list *list, const char *named, const char **unit)
{
    *unit = "";
    int found = column_list_find(list, named);
    const char *colon = strchr(named, ':');
    for (; found < 0 && colon; colon = strchr(colon + 1, ':')) {
        char name[sizeof list->column->name];
        snprintf(name, sizeof name, "%.*s", (int)(colon - named), named);
        found = column_list_find(list, name);
        *unit = colon + 1;
    }
    return found;
}

/* Right ascension or declination in columns of their own for each unit. */
static void find_split(struct star_columns *out, const struct column_list *list)
{
    int hours = find_plain(list, "rah"), degrees = find_plain(list, "ded");
    degrees = degrees >= 0 ? degrees : find_plain(list, "decd");
    if (out->column[PART_RA] < 0 && hours >= 0 && find_plain(list, "ram") >= 0) {
        out->column[PART_RA] = hours;
        out->column[PART_RA_MINUTES] = find_usual(list, PART_RA_MINUTES, -1);
        out->column[PART_RA_SECONDS] = find_usual(list, PART_RA_SECONDS, -1);
    }
    if (out->column[PART_DEC] < 0 && degrees >= 0) {
        out->column[PART_DEC] = degrees;
        out->column[PART_DEC_SIGN] = find_sign(list);
        out->column[PART_DEC_MINUTES] = find_usual(list, PART_DEC_MINUTES, -1);
        out->column[PART_DEC_SECONDS] = find_usual(list, PART_DEC_SECONDS, -1);
    }
}

/* A second pair of coordinates, and the other magnitude of Tycho, help rows that lack the first. */
static void find_else(struct star_columns *out, const struct column_list *list,
                      const struct catalogue_columns *wanted)
{
    int ra = find_usual(list, PART_RA, out->column[PART_RA]);
    int dec = find_usual(list, PART_DEC, out->column[PART_DEC]);
    if (!wanted->ra && !wanted->dec && ra >= 0 && dec >= 0 && out->column[PART_RA_MINUTES] < 0) {
        out->column[PART_RA_ELSE] = ra;
        out->column[PART_DEC_ELSE] = dec;
    }
    if (!wanted->mag && out->column[PART_MAG] == find_plain(list, "vtmag")) {
        out->column[PART_MAG_ELSE] = find_usual(list, PART_MAG_ELSE, -1);
    }
}

static int find_columns(struct star_columns *out, const char *unit[PART_COUNT],
                        const struct column_list *list, const struct catalogue_columns *wanted,
                        const struct known_columns *known, struct error *err)
{
    const char *named[PART_COUNT] = {wanted->ra, wanted->dec,   wanted->mag,   wanted->colour,
                                     wanted->id, wanted->pm_ra, wanted->pm_dec};
    for (int part = 0; part < PART_COUNT; part++) {
        unit[part] = "";
        out->column[part] = named[part]          ? find_named(list, named[part], &unit[part])
                            : part <= PART_EPOCH ? find_usual(list, (enum star_part)part, -1)
                                                 : -1;
        if (out->column[part] < 0 && named[part]) {
            return refuse_missing(list, (enum star_part)part, named[part], err);
        }
    }
    find_split(out, list);
    for (int part = PART_RA; part <= PART_PM_DEC; part++) {
        if (out->column[part] < 0) {
            out->column[part] = find_role(list, (enum star_part)part);
        }
    }
    if (known && known->mag && !wanted->mag) {
        out->column[PART_MAG] = find_plain(list, known->mag);
    }
    for (int part = PART_RA; part <= PART_MAG; part++) {
        if (out->column[part] < 0) {
            return refuse_missing(list, (enum star_part)part, NULL, err);
        }
    }
    find_else(out, list, wanted);
    return 0;
}

/* Reads a unit, which may begin with a number ("0.1mas/yr"). NULL if it is unknown. */
static const struct unit *read_unit(double *factor, const struct unit *units, const char *text)
{
    const char *end = text + strlen(text);
    const char *rest = decimal_read(factor, text, end);
    char plain[PLAIN_SIZE];
    *factor = rest ? *factor : 1;
    column_make_plain(plain, rest ? rest : text);
    const struct unit *unit = find_unit(units, plain);
    if (unit) {
        *factor *= unit->factor;
    }
    return unit;
}

/* The unit that the user or the table states, else the one in the column's name; *unit is NULL if
 * neither. */
static int find_column_unit(const struct unit **unit, double *factor,
                            const struct column_list *list, enum star_part part, int column,
                            const char *named, struct error *err)
{
    const struct part *p = &parts[part];
    const struct column *c = &list->column[column];
    const char *text = named[0] ? named : c->unit;
    char plain[PLAIN_SIZE];
    column_make_plain(plain, text);
    if (plain[0]) {
        *unit = read_unit(factor, p->units, text);
        if (*unit) {
            return 0;
        }
        return error_set(err, ERROR_INPUT, "%.200s: column %.60s: unknown unit \"%.40s\" of %s",
                         list->table, c->name, text, p->title);
    }
    *factor = p->factor;
    column_make_plain(plain, c->name);
    for (int n = 0; n < MAX_NAMES && p->names[n]; n++) {
        if (match_name(plain, p->names[n], p, unit) && *unit) {
            *factor = (*unit)->factor;
            return 0;
        }
    }
    *unit = NULL;
    return 0;
}

/* Parts that only help are left out when their unit is unknown, unless the user named them. */
static bool is_needed(enum star_part part, const struct star_columns *columns,
                      const struct catalogue_columns *wanted)
{
    switch (part) {
    case PART_COLOUR:
        return wanted->colour != NULL;
    case PART_PM_RA:
    case PART_PM_DEC:
        return columns->to_epoch > 0 || wanted->pm_ra || wanted->pm_dec;
    case PART_EPOCH:
    case PART_RA_ELSE:
    case PART_DEC_ELSE:
    case PART_MAG_ELSE:
        return false;
    default:
        return true;
    }
}

static int settle_ra(struct star_columns *out, const struct column_list *list,
                     const struct unit *unit, const struct catalogue_columns *wanted,
                     const struct known_columns *known, struct error *err)
{
    bool split = out->column[PART_RA_MINUTES] >= 0;
    const struct unit *told = unit ? unit : NULL;
    if (!told && split) {
        told = find_unit(ra_units, "h");
    } else if (!told && known && known->ra_unit && !wanted->ra) {
        told = find_unit(ra_units, known->ra_unit);
    }
    if (wanted->ra_in_hours && told && told->factor != 15) {
        return error_set(err, ERROR_INPUT,
                         "%.200s: column %.60s says that it is in %s, so --ra-hours is wrong",
                         list->table, list->column[out->column[PART_RA]].name, told->text);
    }
    if (!unit) {
        out->factor[PART_RA] = wanted->ra_in_hours ? 15 : told ? told->factor : 1;
    }
    out->ra_unit_told = told || wanted->ra_in_hours;
    return 0;
}

static int find_units(struct star_columns *out, const struct column_list *list,
                      const char *const named[PART_COUNT], const struct catalogue_columns *wanted,
                      const struct known_columns *known, struct error *err)
{
    for (int part = 0; part < PART_COUNT; part++) {
        const struct unit *unit = NULL;
        struct error cause = {0};
        out->factor[part] = parts[part].factor;
        if (out->column[part] < 0 || !parts[part].units) {
            continue;
        }
        int code = find_column_unit(&unit, &out->factor[part], list, (enum star_part)part,
                                    out->column[part], named[part], &cause);
        if (code && is_needed((enum star_part)part, out, wanted)) {
            return error_set(err, code, "%s", cause.text);
        }
        if (code) {
            out->column[part] = -1;
        } else if (part == PART_RA) {
            code = settle_ra(out, list, unit, wanted, known, err);
            if (code) {
                return code;
            }
        } else if (part == PART_PM_RA) {
            out->pm_ra_is_coordinate = wanted->pm_without_cos_dec || (unit && unit->coordinate);
        }
    }
    return 0;
}

static void find_colour_scale(struct star_columns *out, const struct column_list *list)
{
    if (out->column[PART_COLOUR] >= 0) {
        char plain[PLAIN_SIZE];
        column_make_plain(plain, list->column[out->column[PART_COLOUR]].name);
        if (strncmp(plain, "bprp", 4) == 0) {
            out->factor[PART_COLOUR] *= b_v_per_bp_rp;
        }
    }
}

static void find_nulls(struct star_columns *out, const struct column_list *list)
{
    for (int part = 0; part < PART_COUNT; part++) {
        double value = NAN;
        if (out->column[part] >= 0) {
            const char *null = list->column[out->column[part]].null;
            const char *end = null + strlen(null);
            value = decimal_read(&value, null, end) == end && *null ? value : (double)NAN;
        }
        out->null[part] = value;
    }
}

static int find_motions(const struct star_columns *out, const struct column_list *list,
                        struct error *err)
{
    for (int part = PART_PM_RA; part <= PART_PM_DEC; part++) {
        if (out->column[part] < 0 && out->to_epoch > 0 && out->to_epoch != out->from_epoch) {
            char names[200];
            list_names(names, sizeof names, list);
            return error_set(err, ERROR_INPUT,
                             "%.120s: no column looks like the %s, so the stars cannot be moved "
                             "to another epoch; name it with %s; there are: %s",
                             list->table, parts[part].title, parts[part].option, names);
        }
    }
    return 0;
}

static void find_epoch(struct star_columns *out, const struct column_list *list,
                       const struct catalogue_columns *wanted, const struct known_columns *known)
{
    out->epoch_told = wanted->from_epoch > 0 || list->epoch > 0;
    out->from_epoch = wanted->from_epoch > 0 ? wanted->from_epoch
                      : list->epoch > 0      ? list->epoch
                      : known                ? known->epoch
                                             : 2000;
    if (wanted->from_epoch > 0) {
        out->column[PART_EPOCH] = -1;
    }
}

/* The old equinox shifts the whole sky by half a degree and more. */
static int check_equinox(const struct column_list *list, const struct star_columns *out,
                         struct error *err)
{
    char plain[PLAIN_SIZE];
    column_make_plain(plain, list->column[out->column[PART_RA]].name);
    bool old = (list->equinox > 0 && list->equinox < 1999) || strstr(plain, "1950") != NULL ||
               strstr(plain, "1900") != NULL || strstr(plain, "fk4") != NULL;
    if (!old) {
        return 0;
    }
    return error_set(err, ERROR_INPUT,
                     "%.200s: column %.60s is for the equinox %s, expected J2000 or ICRS",
                     list->table, list->column[out->column[PART_RA]].name,
                     strstr(plain, "1900") ? "1900" : "B1950");
}

int star_columns_find(struct star_columns *out, const struct column_list *list,
                      const struct catalogue_columns *wanted, struct error *err)
{
    const struct known_columns *known = known_by_columns(list);
    const char *unit[PART_COUNT];
    *out = (struct star_columns){
        .known = known ? known->title : NULL,
        .to_epoch = wanted->to_epoch,
        .has_faintest = wanted->has_faintest,
        .has_brightest = wanted->has_brightest,
        .faintest = wanted->faintest,
        .brightest = wanted->brightest,
    };
    int code = find_columns(out, unit, list, wanted, known, err);
    if (code) {
        return code;
    }
    snprintf(out->ra_name, sizeof out->ra_name, "%s", list->column[out->column[PART_RA]].name);
    find_epoch(out, list, wanted, known);
    code = find_units(out, list, unit, wanted, known, err);
    code = code ? code : check_equinox(list, out, err);
    find_colour_scale(out, list);
    find_nulls(out, list);
    return code ? code : find_motions(out, list, err);
}

bool star_columns_is_unit(const char *text, enum star_part part)
{
    char plain[PLAIN_SIZE];
    column_make_plain(plain, text);
    return find_unit(parts[part].units, plain) != NULL;
}
