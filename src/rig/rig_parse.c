#include "rig/rig.h"

#include "base/text.h"
#include "sky/time.h"

#include <ini.h>
#include <math.h>
#include <stdio.h>
#include <string.h>
#include <strings.h>

enum { LONGEST_LINE = 190, LONGEST_FILE = 1 << 20 };

/* Of those before DEFAULTS one is in use. */
enum section { BODY, LENS, PLACE, HEAD, DEFAULTS, PROFILE, SECTIONS };

enum form {
    TEXT,
    NUMBER,
    SIZE,      /* "6000x4000": two numbers, the larger first */
    RANGE,     /* "70-300" or "250": two numbers, the smaller first */
    PAIR,      /* "0.2, -0.1" */
    TERMS,     /* "-0.6, 0.2": LENS_TERMS numbers, those at the end may be left out */
    LATITUDE,  /* with or without N, S */
    LONGITUDE, /* with or without E, W */
    OFFSET,    /* "+01:00": minutes */
    EXPOSURES, /* "30, 15, 1/4": a struct shutter */
    TRAIL,     /* "500", "3 px": a struct trail_choice */
    SKYLINE,   /* "0:12 45:20": points of a struct skyline, more with each line */
    TIME,      /* "2026-02-24T19:30:00Z": a struct time_stamp */
    PATHS      /* a file or folder: one of a struct rig_paths, more with each line */
};

struct key {
    enum section section;
    const char *name;
    const char *meaning; /* a sentence for the manual */
    enum form form;
    size_t store; /* of the member, the first of two */
    double low, high;
    const char *expected;
    double untold; /* the number where nothing is told */
};

static const struct key keys[] = {
    {BODY, "model",
     "Part of what EXIF calls the camera; by it a frame's body is recognised. Of a camera that the "
     "table knows it is enough: the sensor follows.",
     TEXT, offsetof(struct rig_body, model), 0, 0, "text", 0},
    {BODY, "pixels", "Size of its full frames in pixels.", SIZE,
     offsetof(struct rig_body, width_px), 16, 60000, "a size like 6000x4000", NAN},
    {BODY, "pixel", "Pitch of its pixels.", NUMBER, offsetof(struct rig_body, pixel_um), 0.5, 100,
     "the pitch of its pixels, 0.5 to 100 micrometres", NAN},
    {BODY, "sensor",
     "Size of its sensor. Of pixels, pixel and sensor two are enough, or the model of a known "
     "camera.",
     SIZE, offsetof(struct rig_body, sensor_width), 1, 300, "a size in mm like 22.2x14.8", NAN},
    {BODY, "read noise", "Read noise of a pixel.", NUMBER, offsetof(struct rig_body, read_noise), 0,
     1000, "electrons, 0 to 1000", NAN},
    {BODY, "efficiency", "Share of the light entering the lens that is counted, 0.1 if not given.",
     NUMBER, offsetof(struct rig_body, efficiency), 0.001, 1, "a share of 0.001 to 1", NAN},
    {BODY, "shutter", "Exposures that it has, if these are not the usual thirds of a stop.",
     EXPOSURES, offsetof(struct rig_body, shutter), 0, 0,
     "exposures in seconds like 30, 15, 8, 1, 1/2", 0},
    {BODY, "zone",
     "How its clock is set, if not as clocks at the place: a time zone like Europe/Berlin, UTC, or "
     "an "
     "offset.",
     TEXT, offsetof(struct rig_body, zone), 0, 0, "a zone like Europe/Berlin, UTC or +01:00", 0},
    {LENS, "model", "Part of what EXIF calls the lens.", TEXT, offsetof(struct rig_lens, model), 0,
     0, "text", 0},
    {LENS, "focal", "Focal length, or the shortest and longest of a zoom.", RANGE,
     offsetof(struct rig_lens, shortest_mm), 1, 20000,
     "a focal length in mm like 250, or 70-300 of a zoom", NAN},
    {LENS, "aperture", "F-number to plan with, or those of a zoom at its shortest and its longest.",
     RANGE, offsetof(struct rig_lens, f_number), 0.5, 128,
     "an f-number of 0.5 to 128, or 4-5.6 of a zoom", NAN},
    {LENS, "star width",
     "Width of its stars at the edge of the frame, as the line size of solve shows it for the "
     "corners: what a stack's stars are held against. 3 arcsec of seeing and 2 px if not given.",
     NUMBER, offsetof(struct rig_lens, star_px), 0.5, 50, "pixels, 0.5 to 50", NAN},
    {LENS, "distortion",
     "Distortion at the corner of the frame, as solving reports it: barrel is "
     "negative, pincushion positive. A learned profile goes before it.",
     NUMBER, offsetof(struct rig_lens, distortion_percent), -30, 30,
     "per cent at the corner, -30 to 30, barrel negative", NAN},
    {PLACE, "latitude", "Latitude, also with N or S behind it.", LATITUDE,
     offsetof(struct rig_place, latitude_deg), -90, 90,
     "a latitude of -90 to 90 degrees, north positive", NAN},
    {PLACE, "longitude", "Longitude, also with E or W behind it.", LONGITUDE,
     offsetof(struct rig_place, longitude_deg), -180, 180,
     "a longitude of -180 to 180 degrees, east positive", NAN},
    {PLACE, "height", "Height above the sea, for the air's pressure.", NUMBER,
     offsetof(struct rig_place, height_m), -500, 9000, "metres above the sea, -500 to 9000", 0},
    {PLACE, "utc offset", "How far the clocks there, and the camera's, are ahead of UTC.", OFFSET,
     offsetof(struct rig_place, utc_offset_min), -14 * 60, 14 * 60,
     "the clock's offset like +01:00, -14:00 to +14:00", NAN},
    {PLACE, "zone", "The time zone instead, with its summer time.", TEXT,
     offsetof(struct rig_place, zone), 0, 0, "a zone like Europe/Berlin", 0},
    {PLACE, "sky", "Brightness of the sky at the zenith without the Moon.", NUMBER,
     offsetof(struct rig_place, sky_mag), 14, 23, "magnitudes per square arcsecond, 14 to 23", NAN},
    {PLACE, "bortle", "The same as a class, from 1 (wilderness) to 9 (city).", NUMBER,
     offsetof(struct rig_place, bortle), 1, 9, "a class of 1 to 9", NAN},
    {PLACE, "skyline",
     "How high roofs, trees and hills reach: true azimuth and altitude of points of their upper "
     "edge, with straight lines between. A further line goes on.",
     SKYLINE, offsetof(struct rig_place, skyline), 0, 0,
     "points like 0:12 45:20 S:8 270:-, azimuth and altitude in degrees", 0},
    {HEAD, "lean east", "How far the top of the pan axis leans east.", NUMBER,
     offsetof(struct rig_head, lean_east_deg), -90, 90, "degrees, -90 to 90", 0},
    {HEAD, "lean north", "How far it leans north.", NUMBER,
     offsetof(struct rig_head, lean_north_deg), -90, 90, "degrees, -90 to 90", 0},
    {HEAD, "skew", "How far the right end of the tilt axis is above square to the pan axis.",
     NUMBER, offsetof(struct rig_head, skew_deg), -45, 45, "degrees, -45 to 45", 0},
    {HEAD, "squint", "How far it is ahead of square to the line of sight.", NUMBER,
     offsetof(struct rig_head, squint_deg), -45, 45, "degrees, -45 to 45", 0},
    {HEAD, "error", "Error of these four, one sigma.", NUMBER, offsetof(struct rig_head, error_deg),
     0, 90, "degrees, 0 to 90", NAN},
    {HEAD, "learned", "When alidade-aim measured them.", TIME, offsetof(struct rig_head, learned),
     0, 0, "a time like 2026-02-24T19:30:00Z", 0},
    {PROFILE, "lens", "The lens, by the name of its section.", TEXT,
     offsetof(struct rig_profile, lens), 0, 0, "text", 0},
    {PROFILE, "focal", "The focal length that it holds for, to 3 %.", NUMBER,
     offsetof(struct rig_profile, focal_mm), 1, 20000, "a focal length in mm, 1 to 20000", NAN},
    {PROFILE, "radius",
     "How far from the optical axis on the sensor the distortion below is reached: the corner of "
     "the frames that it was learned from.",
     NUMBER, offsetof(struct rig_profile, radius_mm), 0.1, 300, "mm on the sensor, 0.1 to 300",
     NAN},
    {PROFILE, "distortion",
     "By how many per cent of its distance from the axis a star is drawn too far out there, barrel "
     "negative, pincushion positive: the parts that grow with the second, fourth and sixth power "
     "of the distance.",
     TERMS, offsetof(struct rig_profile, term_percent), -30, 30,
     "up to three numbers like -0.6, 0.2, in per cent, -30 to 30, barrel negative", NAN},
    {PROFILE, "error", "Error of their sum, one sigma.", NUMBER,
     offsetof(struct rig_profile, error_percent), 0, 30, "per cent, 0 to 30", NAN},
    {PROFILE, "axis",
     "Where the optical axis is, right and down of the middle of a frame as displayed, in per cent "
     "of the radius; counted for frames in landscape format.",
     PAIR, offsetof(struct rig_profile, axis_x_percent), -30, 30,
     "two numbers like 0.8, -0.3, in per cent, -30 to 30", 0},
    {PROFILE, "axis error", "Error of either, one sigma.", NUMBER,
     offsetof(struct rig_profile, axis_error_percent), 0, 30, "per cent, 0 to 30", NAN},
    {PROFILE, "learned", "When the last of the frames was taken that it was learned from.", TIME,
     offsetof(struct rig_profile, learned), 0, 0, "a time like 2026-02-24T19:30:00Z", 0},
    {DEFAULTS, "camera",
     "The camera by its model, as the table of known cameras has it, instead of a body.", TEXT,
     offsetof(struct rig_defaults, camera), 0, 0, "text", 0},
    {DEFAULTS, "body", "The body to use where there are several.", TEXT,
     offsetof(struct rig_defaults, body), 0, 0, "text", 0},
    {DEFAULTS, "lens", "The lens.", TEXT, offsetof(struct rig_defaults, lens), 0, 0, "text", 0},
    {DEFAULTS, "place", "The place.", TEXT, offsetof(struct rig_defaults, place), 0, 0, "text", 0},
    {DEFAULTS, "head", "The tripod's head.", TEXT, offsetof(struct rig_defaults, head), 0, 0,
     "text", 0},
    {DEFAULTS, "trail",
     "How long stars may trail: a rule of seconds times millimetres, 500 or stricter, or pixels.",
     TRAIL, offsetof(struct rig_defaults, trail), 0, 0, "500 or 300, a rule, or pixels like 3 px",
     0},
    {DEFAULTS, "index",
     "An index of stars, or a folder of them, to use together with the one that came with the "
     "program, if none is named for a run. A further line names another; places count from the "
     "settings file's folder.",
     PATHS, offsetof(struct rig_defaults, index), 0, 0, "at most 8 files and folders", 0},
};

static const char *const section_words[SECTIONS] = {"body", "lens",     "place",
                                                    "head", "defaults", "profile"};

bool rig_key_words(struct rig_key_words *words, int i)
{
    if (i < 0 || (size_t)i >= sizeof keys / sizeof *keys) {
        return false;
    }
    *words = (struct rig_key_words){section_words[keys[i].section], keys[i].name, keys[i].meaning,
                                    keys[i].expected};
    return true;
}

bool rig_recognise(const char *text, size_t length)
{
    const char *at = text, *end = text + length;
    while (at < end && strchr(" \t\r\n;#", *at) && *at) {
        const char *stop = memchr(at, '\n', (size_t)(end - at));
        at = !strchr(";#", *at) ? at + 1 : stop ? stop : end;
    }
    for (int s = 0; at < end && *at == '[' && s < SECTIONS; s++) {
        size_t word = strlen(section_words[s]);
        if ((size_t)(end - at) > word + 1 && strncasecmp(at + 1, section_words[s], word) == 0 &&
            strchr(" \t]", at[word + 1])) {
            return at[word + 1] != '\0';
        }
    }
    return false;
}

struct reading {
    struct rig_file *file;
    const char *name;        /* of the file */
    const char *next, *end;  /* what is still to be read */
    long line;               /* of the line handed out last, counted from 1 */
    long section_line;       /* of the last heading */
    enum section section;    /* that entry belongs to */
    struct rig_entry *entry; /* the one being filled; NULL: none yet */
    bool failed;
    struct error *err;
};

static int wrong(struct reading *reading, const char *what, const char *more)
{
    if (!reading->failed) {
        reading->failed = true;
        error_set(reading->err, ERROR_INPUT, "%s: line %ld: %s%s", reading->name, reading->line,
                  what, more);
    }
    return 0;
}

/* Hands inih one line, without the blanks before it, which it would take for a continuation. */
static char *next_line(char *out, int size, void *stream)
{
    struct reading *reading = stream;
    if (reading->failed || reading->next >= reading->end) {
        return NULL;
    }
    const char *start = reading->next;
    const char *stop = memchr(start, '\n', (size_t)(reading->end - start));
    stop = stop ? stop : reading->end;
    reading->next = stop < reading->end ? stop + 1 : stop;
    reading->line++;
    while (start < stop && (*start == ' ' || *start == '\t')) {
        start++;
    }
    if (start < stop && *start == '[') {
        reading->section_line = reading->line;
        if (!memchr(start, ']', (size_t)(stop - start))) {
            wrong(reading, "expected a ] behind the name of the section", "");
            return NULL;
        }
    }
    size_t length = (size_t)(stop - start);
    bool comment = length && (*start == ';' || *start == '#');
    if (!comment && (length > LONGEST_LINE || (int)length >= size)) {
        wrong(reading, "the line is too long", ", expected at most 190 bytes");
        return NULL;
    }
    if (memchr(start, '\0', length)) {
        wrong(reading, "a zero byte", ", expected text");
        return NULL;
    }
    snprintf(out, (size_t)size, "%.*s", comment ? 0 : (int)length, start);
    return out;
}

/* The entries of a kind, all of which begin with a struct rig_entry. */
struct shelf {
    char *first;
    size_t stride;
    int *count;
};

static struct shelf shelf_of(struct rig_file *file, enum section section)
{
    switch (section) {
    case BODY:
        return (struct shelf){(char *)file->body, sizeof *file->body, &file->bodies};
    case LENS:
        return (struct shelf){(char *)file->lens, sizeof *file->lens, &file->lenses};
    case PLACE:
        return (struct shelf){(char *)file->place, sizeof *file->place, &file->places};
    case HEAD:
        return (struct shelf){(char *)file->head, sizeof *file->head, &file->heads};
    case PROFILE:
        return (struct shelf){(char *)file->profile, sizeof *file->profile, &file->profiles};
    case DEFAULTS:
    case SECTIONS:
        break;
    }
    return (struct shelf){NULL, 0, NULL};
}

static struct rig_entry *shelf_entry(const struct shelf *shelf, int i)
{
    return (void *)(shelf->first + (size_t)i * shelf->stride);
}

static struct rig_entry *shelf_find(const struct shelf *shelf, const char *name)
{
    for (int i = 0; i < *shelf->count; i++) {
        if (strcasecmp(shelf_entry(shelf, i)->name, name) == 0) {
            return shelf_entry(shelf, i);
        }
    }
    return NULL;
}

/* How many numbers a value has. */
static int numbers_of(enum form form)
{
    return form == TERMS ? LENS_TERMS : form == SIZE || form == RANGE || form == PAIR ? 2 : 1;
}

static bool is_number(enum form form)
{
    return form != TEXT && form != EXPOSURES && form != TRAIL && form != SKYLINE && form != TIME &&
           form != PATHS;
}

static void start_entry(struct rig_entry *entry, enum section section)
{
    for (size_t i = 0; i < sizeof keys / sizeof *keys; i++) {
        if (keys[i].section == section && is_number(keys[i].form)) {
            double *store = (void *)((char *)entry + keys[i].store);
            for (int j = 0; j < numbers_of(keys[i].form); j++) {
                store[j] = keys[i].untold;
            }
        }
    }
}

static bool add_entry(struct reading *reading, const char *name)
{
    struct shelf shelf = shelf_of(reading->file, reading->section);
    const char *word = section_words[reading->section];
    struct rig_entry *twin = shelf_find(&shelf, name);
    char text[160];
    if (twin) {
        snprintf(text, sizeof text, " named \"%s\"; the first is in line %ld", name, twin->line);
        reading->line = reading->section_line;
        char what[32];
        snprintf(what, sizeof what, "a second %s", word);
        return wrong(reading, what, text);
    }
    if (*shelf.count == RIG_MOST) {
        snprintf(text, sizeof text, "more than %d of a kind: ", RIG_MOST);
        return wrong(reading, text, word);
    }
    reading->entry = shelf_entry(&shelf, (*shelf.count)++);
    start_entry(reading->entry, reading->section);
    snprintf(reading->entry->name, sizeof reading->entry->name, "%s", name);
    return true;
}

/* "body Meadow" -> the entry. */
static bool enter_section(struct reading *reading, const char *heading)
{
    size_t length = strcspn(heading, " \t");
    const char *name = heading + length + strspn(heading + length, " \t");
    int section = 0;
    while (section < SECTIONS && (strlen(section_words[section]) != length ||
                                  strncasecmp(section_words[section], heading, length) != 0)) {
        section++;
    }
    if (section == SECTIONS) {
        return wrong(reading, "expected a section [body NAME], [lens NAME], [place NAME], ",
                     "[head NAME], [profile NAME] or [defaults]");
    }
    reading->section = (enum section)section;
    if ((section == DEFAULTS) != !*name) {
        return wrong(reading,
                     section == DEFAULTS ? "the section [defaults] has no name"
                                         : "the section needs a name: ",
                     section == DEFAULTS ? "" : "[body NAME]");
    }
    if (strlen(name) >= RIG_NAME_SIZE) {
        return wrong(reading, "the name of the section is too long", ", expected at most 39 bytes");
    }
    if (section == DEFAULTS) {
        reading->entry = &reading->file->defaults.entry;
    } else if (!add_entry(reading, name)) {
        return false;
    }
    reading->entry->line = reading->section_line;
    return true;
}

/* Two numbers with a sign between them; blanks are allowed. */
static bool read_two(double value[2], const char *text, char between)
{
    char first[LONGEST_LINE + 1];
    const char *sign = strchr(text, between);
    if (!sign) {
        return false;
    }
    snprintf(first, sizeof first, "%.*s", (int)(sign - text), text);
    return text_read_double(&value[0], first) && text_read_double(&value[1], sign + 1);
}

static bool read_size(double value[2], const char *text)
{
    if (!read_two(value, text, 'x')) {
        return false;
    }
    if (value[0] < value[1]) {
        double shorter = value[0];
        value[0] = value[1];
        value[1] = shorter;
    }
    return true;
}

static bool read_range(double value[2], const char *text)
{
    if (text_read_double(&value[0], text)) {
        value[1] = value[0];
        return true;
    }
    return read_two(value, text, '-') && value[0] <= value[1];
}

static bool read_terms(double value[LENS_TERMS], const char *text)
{
    char piece[LONGEST_LINE + 1];
    for (int i = 0; i < LENS_TERMS; i++) {
        size_t length = strcspn(text, ",");
        snprintf(piece, sizeof piece, "%.*s", (int)length, text);
        if (!text_read_double(&value[i], piece)) {
            return false;
        }
        if (!text[length]) {
            return true;
        }
        text += length + 1;
    }
    return false;
}

/* A number with a letter behind it for its sign. */
static bool read_angle(double *value, const char *text, char positive, char negative)
{
    char number[LONGEST_LINE + 1];
    snprintf(number, sizeof number, "%s", text);
    size_t length = strlen(number);
    char last = length ? number[length - 1] : '\0';
    bool minus = last == negative || last == negative + ('a' - 'A');
    bool plus = last == positive || last == positive + ('a' - 'A');
    if (minus || plus) {
        number[length - 1] = '\0';
    }
    if (!text_read_double(value, number) || ((minus || plus) && *value < 0)) {
        return false;
    }
    *value = minus ? -*value : *value;
    return true;
}

static bool read_numbers(double value[LENS_TERMS], enum form form, const char *text)
{
    switch (form) {
    case SIZE:
        return read_size(value, text);
    case RANGE:
        return read_range(value, text);
    case PAIR:
        return read_two(value, text, ',');
    case TERMS:
        return read_terms(value, text);
    case LATITUDE:
        return read_angle(&value[0], text, 'N', 'S');
    case LONGITUDE:
        return read_angle(&value[0], text, 'E', 'W');
    case OFFSET:
        return time_read_offset(&value[0], text);
    case NUMBER:
        return text_read_double(&value[0], text);
    case TEXT:
    case EXPOSURES:
    case TRAIL:
    case SKYLINE:
    case TIME:
    case PATHS:
        break;
    }
    return false;
}

static bool add_path(struct rig_paths *paths, const char *text)
{
    return text[0] && paths->count < RIG_PATHS_MOST &&
           snprintf(paths->path[paths->count++], RIG_PATH_SIZE, "%s", text) < RIG_PATH_SIZE;
}

static bool store_value(struct rig_entry *entry, const struct key *key, const char *text)
{
    char *member = (char *)entry + key->store;
    if (key->form == TEXT) {
        return snprintf(member, RIG_TEXT_SIZE, "%s", text) < RIG_TEXT_SIZE && text[0];
    }
    if (key->form == EXPOSURES) {
        return shutter_read((void *)member, text);
    }
    if (key->form == TRAIL) {
        return trail_choice_read((void *)member, text);
    }
    if (key->form == SKYLINE) {
        return skyline_read((void *)member, text);
    }
    if (key->form == TIME) {
        return time_stamp_read((void *)member, text);
    }
    if (key->form == PATHS) {
        return add_path((void *)member, text);
    }
    const int numbers = numbers_of(key->form);
    double value[LENS_TERMS] = {0};
    if (!read_numbers(value, key->form, text)) {
        return false;
    }
    for (int i = 0; i < numbers; i++) {
        if (!(value[i] >= key->low && value[i] <= key->high)) {
            return false;
        }
    }
    memcpy(member, value, (size_t)numbers * sizeof *value);
    return true;
}

static int take(void *user, const char *heading, const char *name, const char *text)
{
    struct reading *reading = user;
    if (reading->failed) {
        return 0;
    }
    if (!reading->section_line) {
        return wrong(reading, "expected a section such as [body NAME] before the first value", "");
    }
    bool entered = reading->entry && reading->entry->line == reading->section_line;
    if (!entered && !enter_section(reading, heading)) {
        return 0;
    }
    for (size_t i = 0; i < sizeof keys / sizeof *keys; i++) {
        const struct key *key = &keys[i];
        if (key->section != reading->section || strcasecmp(key->name, name) != 0) {
            continue;
        }
        char what[100];
        snprintf(what, sizeof what, "%s: expected ", key->name);
        return store_value(reading->entry, key, text) || wrong(reading, what, key->expected);
    }
    char what[120];
    snprintf(what, sizeof what, "[%s] knows no \"%s\"", section_words[reading->section], name);
    return wrong(reading, what, "");
}

static int lacks(const struct reading *reading, const struct rig_entry *entry, const char *word,
                 const char *what)
{
    return error_set(reading->err, ERROR_INPUT, "%s: line %ld: the %s \"%s\" needs %s",
                     reading->name, entry->line, word, entry->name, what);
}

int rig_body_complete(struct rig_body *body, const char *name, struct error *err)
{
    bool pixels = !isnan(body->width_px), pitch = !isnan(body->pixel_um);
    bool sensor = !isnan(body->sensor_width);
    if (pixels + pitch + sensor < 2) {
        return body->model[0] ? 0
                              : error_set(err, ERROR_INPUT,
                                          "%s: line %ld: the body \"%s\" needs two of pixels, "
                                          "pixel (their pitch) and sensor (its size), or the model "
                                          "of a known camera",
                                          name, body->entry.line, body->entry.name);
    }
    if (!pixels) {
        body->width_px = round(body->sensor_width * 1000 / body->pixel_um);
        body->height_px = round(body->sensor_height * 1000 / body->pixel_um);
    } else if (!pitch) {
        body->pixel_um = body->sensor_width * 1000 / body->width_px;
    }
    if (!sensor) {
        body->sensor_width = body->width_px * body->pixel_um / 1000;
        body->sensor_height = body->height_px * body->pixel_um / 1000;
    }
    double told = body->sensor_width * 1000 / body->width_px / body->pixel_um;
    if (fabs(told - 1) > 0.05) {
        return error_set(err, ERROR_INPUT,
                         "%s: line %ld: the body \"%s\" contradicts itself: its sensor over its "
                         "pixels makes %.3g um, not %.3g",
                         name, body->entry.line, body->entry.name, told * body->pixel_um,
                         body->pixel_um);
    }
    return 0;
}

/* Reads what a profile says of its lens; ERROR_INPUT where it says too little, or what no lens
 * does.
 */
static int check_profile(const struct rig_profile *profile, const struct reading *reading)
{
    struct shelf lenses = shelf_of(reading->file, LENS);
    struct lens_profile bend;
    if (!profile->lens[0] || isnan(profile->focal_mm) || isnan(profile->radius_mm) ||
        isnan(profile->term_percent[0])) {
        return lacks(reading, &profile->entry, "profile", "lens, focal, radius and distortion");
    }
    if (!shelf_find(&lenses, profile->lens)) {
        return error_set(reading->err, ERROR_INPUT,
                         "%s: line %ld: the profile \"%s\" names the lens \"%s\", which the file "
                         "does not have",
                         reading->name, profile->entry.line, profile->entry.name, profile->lens);
    }
    rig_profile_read(&bend, profile);
    if (!lens_profile_is_sound(&bend)) {
        return error_set(reading->err, ERROR_INPUT,
                         "%s: line %ld: the profile \"%s\" folds the frame over at its edge: "
                         "expected a distortion that a lens can have",
                         reading->name, profile->entry.line, profile->entry.name);
    }
    return 0;
}

static int check_entries(const struct reading *reading)
{
    struct rig_file *file = reading->file;
    int code = 0;
    for (int i = 0; !code && i < file->bodies; i++) {
        code = rig_body_complete(&file->body[i], reading->name, reading->err);
    }
    for (int i = 0; !code && i < file->lenses; i++) {
        if (isnan(file->lens[i].longest_mm)) {
            code = lacks(reading, &file->lens[i].entry, "lens", "its focal length: focal = 250");
        }
    }
    for (int i = 0; !code && i < file->places; i++) {
        if (isnan(file->place[i].latitude_deg) || isnan(file->place[i].longitude_deg)) {
            code = lacks(reading, &file->place[i].entry, "place", "latitude and longitude");
        } else if (file->place[i].zone[0] && !isnan(file->place[i].utc_offset_min)) {
            code = error_set(reading->err, ERROR_INPUT,
                             "%s: line %ld: the place \"%s\" has a zone and a utc offset: keep one",
                             reading->name, file->place[i].entry.line, file->place[i].entry.name);
        }
    }
    for (int i = 0; !code && i < file->profiles; i++) {
        code = check_profile(&file->profile[i], reading);
    }
    return code;
}

static const char *default_name(const struct rig_defaults *defaults, enum section section)
{
    const char *names[] = {defaults->body, defaults->lens, defaults->place, defaults->head};
    return section < DEFAULTS ? names[section] : "";
}

static int check_defaults(const struct reading *reading)
{
    const struct rig_defaults *defaults = &reading->file->defaults;
    for (int s = BODY; s < DEFAULTS; s++) {
        const char *name = default_name(defaults, (enum section)s);
        struct shelf shelf = shelf_of(reading->file, (enum section)s);
        if (name[0] && !shelf_find(&shelf, name)) {
            return error_set(reading->err, ERROR_INPUT,
                             "%s: line %ld: [defaults] names the %s \"%s\", which the file does "
                             "not have",
                             reading->name, defaults->entry.line, section_words[s], name);
        }
    }
    return 0;
}

int rig_parse(struct rig_file *file, const char *text, size_t length, const char *name,
              struct error *err)
{
    memset(file, 0, sizeof *file);
    if (length > LONGEST_FILE) {
        return error_set(err, ERROR_INPUT, "%s: is too large for a settings file", name);
    }
    struct reading reading = {.file = file, .name = name, .err = err};
    size_t mark = length >= 3 && memcmp(text, "\xef\xbb\xbf", 3) == 0 ? 3 : 0;
    reading.next = text + mark;
    reading.end = text + length;
    int line = ini_parse_stream(next_line, &reading, take, &reading);
    if (reading.failed) {
        return ERROR_INPUT;
    }
    if (line < 0) {
        return error_memory(err);
    }
    if (line > 0) {
        return error_set(err, ERROR_INPUT, "%s: line %d: expected \"key = value\" or a section",
                         name, line);
    }
    int code = check_entries(&reading);
    return code ? code : check_defaults(&reading);
}

static int unknown(const struct shelf *shelf, const char *word, const char *name, struct error *err)
{
    char known[200] = "";
    for (int i = 0; i < *shelf->count; i++) {
        text_append(known, sizeof known, "%s%.40s", known[0] ? ", " : "; there is ",
                    shelf_entry(shelf, i)->name);
    }
    return error_set(err, ERROR_USAGE, "the settings file has no %s named \"%.60s\"%s", word, name,
                     known);
}

static int choose(const void **chosen, bool *named, const struct rig_file *file,
                  enum section section, const char *name, struct error *err)
{
    struct shelf shelf = shelf_of((struct rig_file *)file, section); /* which is only read */
    const char *fallback = default_name(&file->defaults, section);
    *named = name != NULL;
    if (name || fallback[0]) {
        *chosen = shelf_find(&shelf, name ? name : fallback);
        return *chosen ? 0 : unknown(&shelf, section_words[section], name, err);
    }
    *chosen = *shelf.count == 1 ? shelf_entry(&shelf, 0) : NULL;
    return 0;
}

int rig_choose(struct rig *rig, const struct rig_file *file, const struct rig_choice *choice,
               struct error *err)
{
    const void *chosen[DEFAULTS] = {0};
    const char *name[DEFAULTS] = {choice->body, choice->lens, choice->place, choice->head};
    bool named[DEFAULTS] = {0};
    for (int s = BODY; s < DEFAULTS; s++) {
        int code = choose(&chosen[s], &named[s], file, (enum section)s, name[s], err);
        if (code) {
            return code;
        }
    }
    *rig = (struct rig){.body = chosen[BODY],
                        .lens = chosen[LENS],
                        .place = chosen[PLACE],
                        .head = chosen[HEAD],
                        .trail = file->defaults.trail,
                        .body_named = named[BODY],
                        .lens_named = named[LENS],
                        .place_named = named[PLACE]};
    return 0;
}
