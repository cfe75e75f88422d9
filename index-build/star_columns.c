#include "star_columns.h"

#include <stdio.h>
#include <string.h>
#include <strings.h>

enum { PLAIN_SIZE = 80, MAX_NAMES = 20 };

struct unit {
    const char *text; /* as make_plain leaves it */
    double factor;
    bool coordinate; /* an angle of the coordinate itself, without cos(dec) */
};

static const double degrees_per_radian = 57.295779513082321;

static const struct unit ra_units[] = {
    {"deg", 1, false},     {"degree", 1, false}, {"degrees", 1, false}, {"d", 1, false},
    {"h", 15, false},      {"hr", 15, false},    {"hrs", 15, false},    {"hour", 15, false},
    {"hours", 15, false},  {"hms", 15, false},   {"rad", 0, false},     {"radian", 0, false},
    {"radians", 0, false}, {NULL, 0, false},
};

static const struct unit dec_units[] = {
    {"deg", 1, false},    {"degree", 1, false},  {"degrees", 1, false},
    {"d", 1, false},      {"dms", 1, false},     {"rad", 0, false},
    {"radian", 0, false}, {"radians", 0, false}, {NULL, 0, false},
};

/* Seconds of time only ever describe the coordinate itself. */
static const struct unit motion_units[] = {
    {"masyr", 1, false},       {"masyr1", 1, false},       {"masa", 1, false},
    {"masa1", 1, false},       {"uasyr", 0.001, false},    {"uasyr1", 0.001, false},
    {"arcsecyr", 1000, false}, {"arcsecyr1", 1000, false}, {"arcseca", 1000, false},
    {"arcseca1", 1000, false}, {"degyr", 3.6e6, false},    {"degyr1", 3.6e6, false},
    {"syr", 15000, true},      {"syr1", 15000, true},      {"sa", 15000, true},
    {"sa1", 15000, true},      {NULL, 0, false},
};

/* Usual names as make_plain leaves them, the best first. */
struct part {
    const char *title;
    const char *option; /* names the column on the command line */
    const char *example;
    const struct unit *units; /* may follow the name: "ra_hours"; NULL: none do */
    const char *names[MAX_NAMES];
};

static const struct part parts[PART_COUNT] = {
    [PART_RA] = {"right ascension",
                 "--ra",
                 "ra_deg",
                 ra_units,
                 {"ra", "raj2000", "raicrs", "alpha", "alphaj2000", "rightascension", "ra2000"}},
    [PART_DEC] = {"declination",
                  "--dec",
                  "dec_deg",
                  dec_units,
                  {"dec", "de", "dej2000", "decj2000", "deicrs", "decicrs", "delta", "deltaj2000",
                   "declination", "decl", "dec2000", "de2000"}},
    [PART_MAG] = {"magnitude",
                  "--mag",
                  "v_mag",
                  NULL,
                  {"vmag", "magv", "vmagnitude", "mag", "magnitude", "hpmag", "vtmag",
                   "photgmeanmag", "gmag", "photrpmeanmag", "rpmag", "bmag", "btmag", "v"}},
    [PART_COLOUR] = {"colour",
                     "--colour",
                     "b_v",
                     NULL,
                     {"bv", "bvmag", "bvcolour", "bvcolor", "ci", "colour", "color", "bprp"}},
    [PART_ID] = {"number",
                 "--id",
                 "hip",
                 NULL,
                 {"hip", "id", "sourceid", "hd", "hr", "tyc", "starid", "number"}},
    [PART_PM_RA] = {"proper motion in right ascension",
                    "--pm-ra",
                    "pm_ra",
                    motion_units,
                    {"pmra", "pmracosde", "pmracosdec", "pmrastar", "mura", "mualpha",
                     "mualphastar", "mualphacosdelta", "pmalpha"}},
    [PART_PM_DEC] = {"proper motion in declination",
                     "--pm-dec",
                     "pm_dec",
                     motion_units,
                     {"pmdec", "pmde", "mudec", "mude", "mudelta", "pmdelta"}},
};

/* Sun: B-V 0.65, BP-RP 0.82; both are 0 for an A0 star (from memory). Good to 0.1 or so: a tint. */
static const double b_v_per_bp_rp = 0.8;

const char *star_part_name(enum star_part part)
{
    return parts[part].title;
}

/* Letters and digits only, small: "_RAJ2000" and "RA (J2000)" become "raj2000". */
static void make_plain(char plain[PLAIN_SIZE], const char *text)
{
    size_t length = 0;
    for (; *text && length < PLAIN_SIZE - 1; text++) {
        unsigned char c = (unsigned char)*text;
        if (c >= 'A' && c <= 'Z') {
            plain[length++] = (char)(c + ('a' - 'A'));
        } else if ((c >= 'a' && c <= 'z') || (c >= '0' && c <= '9')) {
            plain[length++] = (char)c;
        }
    }
    plain[length] = '\0';
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
static bool match_name(const char *plain, const char *name, const struct unit *units,
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
    *unit = find_unit(units, plain + length);
    return *unit != NULL;
}

static bool has_plain_name(const struct column_list *list, const char *name)
{
    for (int i = 0; i < list->count; i++) {
        char plain[PLAIN_SIZE];
        make_plain(plain, list->name[i]);
        if (strcmp(plain, name) == 0) {
            return true;
        }
    }
    return false;
}

/* Hours, minutes and seconds in columns of their own: "RAh" holds whole hours then, and taking it
 * for the right ascension would be silently wrong. */
static bool is_split_angle(const struct column_list *list, const char *plain)
{
    return (strcmp(plain, "rah") == 0 && has_plain_name(list, "ram")) ||
           (strcmp(plain, "ded") == 0 && has_plain_name(list, "dem")) ||
           (strcmp(plain, "decd") == 0 && has_plain_name(list, "decm"));
}

static int find_usual(const struct column_list *list, enum star_part part)
{
    const struct part *p = &parts[part];
    for (int n = 0; n < MAX_NAMES && p->names[n]; n++) {
        for (int i = 0; i < list->count; i++) {
            char plain[PLAIN_SIZE];
            const struct unit *unit;
            make_plain(plain, list->name[i]);
            if (match_name(plain, p->names[n], p->units, &unit) && !is_split_angle(list, plain)) {
                return i;
            }
        }
    }
    return -1;
}

static int find_named(const struct column_list *list, const char *name)
{
    for (int i = 0; i < list->count; i++) {
        if (strcasecmp(list->name[i], name) == 0) {
            return i;
        }
    }
    return -1;
}

/* "a, b, c", cut with "..." where it does not fit. */
static void list_names(char *out, size_t size, const struct column_list *list)
{
    size_t used = 0;
    out[0] = '\0';
    for (int i = 0; i < list->count; i++) {
        size_t need = strlen(list->name[i]) + 2;
        if (used + need + 4 > size) {
            snprintf(out + used, size - used, "...");
            return;
        }
        used += (size_t)snprintf(out + used, size - used, "%s%s", list->name[i],
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

static int find_columns(struct star_columns *out, const struct column_list *list,
                        const struct catalogue_columns *wanted, struct error *err)
{
    const char *named[PART_COUNT] = {wanted->ra, wanted->dec,   wanted->mag,   wanted->colour,
                                     wanted->id, wanted->pm_ra, wanted->pm_dec};
    for (int part = 0; part < PART_COUNT; part++) {
        out->column[part] =
            named[part] ? find_named(list, named[part]) : find_usual(list, (enum star_part)part);
        if (out->column[part] < 0 && (named[part] || part <= PART_MAG)) {
            return refuse_missing(list, (enum star_part)part, named[part], err);
        }
    }
    return 0;
}

/* The unit that the table states, else the one in the column's name; *unit is NULL if neither. */
static int find_column_unit(const struct unit **unit, const struct column_list *list,
                            enum star_part part, int column, struct error *err)
{
    const struct part *p = &parts[part];
    char plain[PLAIN_SIZE];
    make_plain(plain, list->unit[column]);
    if (plain[0]) {
        *unit = find_unit(p->units, plain);
        if (*unit) {
            return 0;
        }
        return error_set(err, ERROR_INPUT, "%.200s: column %.60s: unknown unit \"%.40s\" of %s",
                         list->table, list->name[column], list->unit[column], p->title);
    }
    make_plain(plain, list->name[column]);
    for (int n = 0; n < MAX_NAMES && p->names[n]; n++) {
        if (match_name(plain, p->names[n], p->units, unit) && *unit) {
            return 0;
        }
    }
    *unit = NULL;
    return 0;
}

/* unit: NULL if neither the table nor its column's name tells one. */
static void set_unit(struct star_columns *out, enum star_part part, const struct unit *unit,
                     bool ra_in_hours)
{
    if (unit) {
        out->factor[part] = unit->factor > 0 ? unit->factor : degrees_per_radian;
    } else if (part == PART_RA && ra_in_hours) {
        out->factor[part] = 15;
    }
    if (part == PART_RA) {
        out->ra_unit_told = unit || ra_in_hours;
    } else if (part == PART_PM_RA) {
        out->pm_ra_is_coordinate = unit && unit->coordinate;
    }
}

static int find_units(struct star_columns *out, const struct column_list *list, bool ra_in_hours,
                      struct error *err)
{
    for (int part = 0; part < PART_COUNT; part++) {
        out->factor[part] = 1;
        if (out->column[part] < 0 || !parts[part].units) {
            continue;
        }
        const struct unit *unit;
        int code = find_column_unit(&unit, list, (enum star_part)part, out->column[part], err);
        if (code) {
            return code;
        }
        if (part == PART_RA && ra_in_hours && unit && unit->factor != 15) {
            return error_set(err, ERROR_INPUT,
                             "%.200s: column %.60s says that it is in %s, so --ra-hours is wrong",
                             list->table, list->name[out->column[part]], unit->text);
        }
        set_unit(out, (enum star_part)part, unit, ra_in_hours);
    }
    return 0;
}

static void find_colour_scale(struct star_columns *out, const struct column_list *list)
{
    if (out->column[PART_COLOUR] >= 0) {
        char plain[PLAIN_SIZE];
        make_plain(plain, list->name[out->column[PART_COLOUR]]);
        if (strcmp(plain, "bprp") == 0) {
            out->factor[PART_COLOUR] = b_v_per_bp_rp;
        }
    }
}

static int set_years(struct star_columns *out, const struct column_list *list,
                     const struct catalogue_columns *wanted, struct error *err)
{
    out->epoch_ignored = wanted->from_epoch <= 0 && has_plain_name(list, "refepoch");
    double from = wanted->from_epoch > 0 ? wanted->from_epoch : 2000;
    out->years = wanted->to_epoch > 0 ? wanted->to_epoch - from : 0;
    for (int part = PART_PM_RA; part <= PART_PM_DEC && out->years != 0; part++) {
        if (out->column[part] < 0) {
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

int star_columns_find(struct star_columns *out, const struct column_list *list,
                      const struct catalogue_columns *wanted, struct error *err)
{
    *out = (struct star_columns){
        .has_faintest = wanted->has_faintest,
        .has_brightest = wanted->has_brightest,
        .faintest = wanted->faintest,
        .brightest = wanted->brightest,
    };
    int code = find_columns(out, list, wanted, err);
    if (!code) {
        code = find_units(out, list, wanted->ra_in_hours, err);
    }
    if (!code) {
        find_colour_scale(out, list);
        code = set_years(out, list, wanted, err);
    }
    return code;
}

bool star_columns_is_unit(const char *text, enum star_part part)
{
    char plain[PLAIN_SIZE];
    make_plain(plain, text);
    return find_unit(parts[part].units, plain) != NULL;
}
