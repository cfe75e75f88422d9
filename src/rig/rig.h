/* rig/rig.h: the photographer's own settings file: bodies, lenses, places, heads.
 *
 * An INI file (UTF-8; lines of at most 190 bytes; ';' and '#' begin comment lines, " ;" a comment
 * behind a value). Names and keys ignore letter case.
 *
 *     [body Otter]
 *     pixels = 6000x4000
 *
 * Sections are [body NAME], [lens NAME], [place NAME], [head NAME], [profile NAME] and [defaults];
 * the keys of each are in the table of rig_parse.c, from which rig_key_words and alidade-rig(5)
 * have them.
 */
#ifndef ALIDADE_RIG_RIG_H
#define ALIDADE_RIG_RIG_H

#include "base/error.h"
#include "base/shutter.h"
#include "rig/trail_choice.h"
#include "sky/lens_profile.h"
#include "sky/skyline.h"
#include "sky/time.h"
#include "sky/zone.h"

#include <stdbool.h>
#include <stddef.h>

enum { RIG_TEXT_SIZE = 64, RIG_NAME_SIZE = 40, RIG_MOST = 32 };
enum { RIG_PATHS_MOST = 8, RIG_PATH_SIZE = 192 };

/* What every section that has a name begins with. */
struct rig_entry {
    char name[RIG_NAME_SIZE];
    long line; /* where the section begins; 0: nothing here */
};

struct rig_body {
    struct rig_entry entry;
    char model[RIG_TEXT_SIZE];          /* "" if not told; so below */
    double width_px, height_px;         /* of its full frames, width >= height */
    double pixel_um;                    /* pitch of the pixels */
    double sensor_width, sensor_height; /* mm */
    /* All three are told, or follow from two; of a model that is to be looked up in the table of
     * cameras (rig_in_use_know_cameras) fewer, and the pixels may stay NAN after it. */
    double read_noise;        /* electrons; NAN if not told */
    double efficiency;        /* 0..1; NAN if not told */
    char zone[RIG_TEXT_SIZE]; /* that its clock is set to, as zone_file_read_any reads it */
    struct shutter shutter;   /* empty if not told */
};

struct rig_lens {
    struct rig_entry entry;
    char model[RIG_TEXT_SIZE];
    double shortest_mm, longest_mm; /* equal unless it is a zoom */
    double f_number, f_longest; /* at the shortest and the longest; NAN if not told */
    double star_px; /* full width at half maximum at the edge of the frame; NAN if not told */
    double distortion_percent; /* at the corner of the body's frames, barrel < 0; NAN if not
                                  told */
};

/* How a lens bends at one focal length. */
struct rig_profile {
    struct rig_entry entry;
    char lens[RIG_TEXT_SIZE]; /* its name */
    double focal_mm;
    double radius_mm;                         /* on the sensor, from the axis: where the terms */
    double term_percent[LENS_TERMS];          /* of struct lens_profile count in full */
    double axis_x_percent, axis_y_percent;    /* of the radius, right and down; 0 if not told */
    double error_percent, axis_error_percent; /* NAN if not told */
    struct time_stamp learned;                /* when */
};

struct rig_place {
    struct rig_entry entry;
    double latitude_deg, longitude_deg; /* north and east positive, -90..90 and -180..180 */
    double height_m;                    /* 0 if not told */
    double utc_offset_min;              /* clock minus UTC; NAN if not told */
    char zone[RIG_TEXT_SIZE];           /* of the clocks there, instead */
    double sky_mag;                     /* mag/arcsec2 at the zenith; NAN if not told */
    double bortle;                      /* 1..9; NAN if not told */
    struct skyline skyline;             /* empty if not told */
};

struct rig_head {
    struct rig_entry entry;
    double lean_east_deg, lean_north_deg; /* of the top of the pan axis, from the vertical */
    double skew_deg, squint_deg;          /* as in struct head (tripod/head.h) */
    double error_deg;                     /* of the four; NAN if not told */
    struct time_stamp learned;            /* when */
};

/* Files or folders; names that do not begin with / count from the settings file's folder. */
struct rig_paths {
    char path[RIG_PATHS_MOST][RIG_PATH_SIZE];
    int count;
};

struct rig_defaults {
    struct rig_entry entry;
    char camera[RIG_TEXT_SIZE]; /* a model of the table of cameras, instead of a body */
    char body[RIG_TEXT_SIZE], lens[RIG_TEXT_SIZE], place[RIG_TEXT_SIZE], head[RIG_TEXT_SIZE];
    struct trail_choice trail;
    struct rig_paths index;
};

/* A whole file. Starts as all zeros; holds no memory of its own. */
struct rig_file {
    struct rig_body body[RIG_MOST];
    struct rig_lens lens[RIG_MOST];
    struct rig_place place[RIG_MOST];
    struct rig_head head[RIG_MOST];
    struct rig_profile profile[RIG_MOST];
    int bodies, lenses, places, heads, profiles;
    struct rig_defaults defaults;
};

/* Reads length bytes of a file called name. ERROR_INPUT naming file and line: an unknown section
 * or key, a value that is not what it should be, two of one name, a section that lacks what it
 * needs, a default that is not there; *file is then only partly filled. */
int rig_parse(struct rig_file *file, const char *text, size_t length, const char *name,
              struct error *err);

/* Which of each kind is meant; NULL: the default, or the only one. */
struct rig_choice {
    const char *body, *lens, *place, *head;
};

/* What is in use. Members are NULL if there is none; they are borrowed from the file. */
struct rig {
    const struct rig_body *body;
    const struct rig_lens *lens;
    const struct rig_place *place;
    const struct rig_head *head;
    struct trail_choice trail;
    bool body_named, lens_named, place_named; /* chosen for this run, not by default */
    const struct zone *zone;                  /* of the clock, given for this run */
    const struct zone *place_zone;
    const struct zone
        *body_zone; /* of each body of the file; those unknown that it tells none of */
    const struct rig_file *file;
};

/* ERROR_USAGE for a name that the file does not have, listing those that it has. */
int rig_choose(struct rig *rig, const struct rig_file *file, const struct rig_choice *choice,
               struct error *err);

/* Completes what is told of a body: of pixels, pitch and sensor, two give the third. name: of the
 * settings file. ERROR_INPUT for what contradicts itself, or is too little, unless it has a model.
 */
int rig_body_complete(struct rig_body *body, const char *name, struct error *err);

/* The body or lens whose model is part of the model that EXIF tells; NULL if there is none. */
const struct rig_body *rig_body_of_model(const struct rig_file *file, const char *model);
const struct rig_lens *rig_lens_of_model(const struct rig_file *file, const char *model);

/* The profile of a lens that the file keeps for that focal length, to 3 %; NULL if there is none.
 */
const struct rig_profile *rig_profile_of(const struct rig_file *file, const struct rig_lens *lens,
                                         double focal_mm);

/* What one profile says; its radius over its own focal length. Errors that it does not tell are 0.
 */
void rig_profile_read(struct lens_profile *profile, const struct rig_profile *kept);

/* How the lens bends at a focal length: as its profile for that, or, of a zoom, between those of
 * the next shorter and longer one: in a straight line by the logarithm of the focal length, at the
 * same places of the sensor, with a quarter of their difference added to the error (assumed).
 * False, with *profile all zeros, if none is kept, or beyond the shortest and longest that are. */
bool rig_lens_profile(struct lens_profile *profile, const struct rig_file *file,
                      const struct rig_lens *lens, double focal_mm);

/* The zone of the clock of a camera, by the model that EXIF tells ("" if it does not): the one
 * given for this run, else the body's, else the place's; NULL if nobody tells. */
const struct zone *rig_clock(const struct rig *rig, const char *model);

/* The zone that times are told in: the one given for this run, else the place's; NULL if nobody
 * tells. */
const struct zone *rig_times_zone(const struct rig *rig);

/* Pitch in um of the pixels of a frame of that size in pixels, as displayed. Where only the sensor
 * is known, that over the frame, if the shapes agree to 2 %. Else the body's own where
 * the size is the body's (to 2 %: raw files have a rim), held either way; larger by the factor
 * where a frame of the same shape is smaller, which is taken for a resized one (*resized). False
 * where the shape is another: cut, and nobody knows from what. */
bool rig_pixel_of_frame(double *pixel_um, bool *resized, const struct rig_body *body, double width,
                        double height);

/* Whether text, of which the beginning is enough, is that of a settings file: its first line that
 * is no comment is a heading known here. */
bool rig_recognise(const char *text, size_t length);

/* What the file may say, for a manual: key i, counted from 0; false when there is none. */
struct rig_key_words {
    const char *section, *key; /* "body", "read noise" */
    const char *meaning;       /* a sentence */
    const char *expected;      /* of the value: "electrons, 0 to 1000" */
};
bool rig_key_words(struct rig_key_words *words, int i);

struct rig_value {
    const char *key, *text;
};

/* Text of a settings file with values put into the section ("head Ball"): a key that is there gets
 * its line replaced, others follow the section's last one, a section that is not there comes at the
 * end. Everything else stays as it was, byte for byte. *out belongs to the caller and is
 * terminated. A key may come several times, as skyline does: a line each. ERROR_MEMORY. */
int rig_edit(char **out, size_t *out_length, const char *text, size_t length, const char *section,
             const struct rig_value *values, int count, struct error *err);

#endif
