/* jobs/learn_lens.h: solved frames of a night -> the profile of their lens in the settings file. */
#ifndef ALIDADE_JOBS_LEARN_LENS_H
#define ALIDADE_JOBS_LEARN_LENS_H

#include "jobs/job_solve.h"
#include "match/lens_fit.h"

#include <pthread.h>

/* What is kept of one solved frame. */
struct lens_note {
    const char *name; /* borrowed */
    int width, height;
    double focal_mm; /* 0: not known */
    char model[64];  /* of the lens, as the camera wrote it */
    struct star_list stars;
    struct match_pair *pair;
    int pairs;
    const struct index *index; /* of the pairs; borrowed */
    struct pose pose;
    bool mirrored;
    struct occasion occasion;
};

/* The frames of a run, added from any thread. Starts as all zeros; lens_night_open, and free with
 * lens_night_free. */
struct lens_night {
    struct lens_note *note;
    int count;
    pthread_mutex_t lock;
};

/* Makes room for so many frames. ERROR_MEMORY. */
int lens_night_open(struct lens_night *night, int most, struct error *err);
void lens_night_free(struct lens_night *night);

/* Takes the stars and pairs out of a solved frame that was solved with want_stars. */
void lens_night_add(struct lens_night *night, struct solved_frame *solved,
                    const struct job_engine *engine, const struct occasion_settings *settings);

struct learned_lens {
    struct lens_lesson lesson;
    double focal_mm, half_px;
    int seen;     /* frames of which place and time are known, so that refraction is kept apart */
    int left_out; /* frames of another focal length or size */
    char name[RIG_NAME_SIZE]; /* of the lens */
    char profile[RIG_NAME_SIZE];
    bool is_new; /* the lens was not in the settings file */
    char model[64];
    char learned[32]; /* start of the last frame, "" if it is not known */
    char file[4096];
};

/* Learns from the frames of the focal length and size that most have, and keeps the profile in the
 * settings file, which may not exist yet, under the name given, else that of the lens in use, else
 * "lens"; an earlier profile of that lens and focal length is replaced. Frames are paired once more
 * with what was learned first, so that stars which an earlier fit missed in the corners count too.
 * The same frames teach the same, in any order and on any number of threads. ERROR_NO with a
 * sentence if the stars do not show it; ERROR_USAGE if no focal length is known; ERROR_OUTPUT,
 * ERROR_INPUT, ERROR_MEMORY. */
int learn_lens(struct learned_lens *learned, struct lens_night *night,
               const struct job_engine *engine, const char *name, const char *file,
               struct error *err);

#endif
