/* jobs/learn_skyline.h: solved frames with roofs and trees in them -> the place of the settings
 * file. */
#ifndef ALIDADE_JOBS_LEARN_SKYLINE_H
#define ALIDADE_JOBS_LEARN_SKYLINE_H

#include "jobs/aim_context.h"
#include "tripod/skyline_lesson.h"

#include <pthread.h>

/* Stars that the frames of a run should show. Starts as all zeros; skyline_sights_open, then
 * skyline_sights_free. */
struct skyline_sights {
    pthread_mutex_t lock;
    bool open;
    struct skyline_star *star;
    int stars, room;
    int frames;
};

int skyline_sights_open(struct skyline_sights *sights, struct error *err);
void skyline_sights_free(struct skyline_sights *sights);

/* Takes the stars of a solved frame, from any thread: those that are bright enough to show under
 * its open sky, by what it shows of others. ERROR_USAGE without its time in UTC or a place;
 * ERROR_MEMORY. */
int skyline_sights_add(struct skyline_sights *sights, const struct solved_frame *solved,
                       const struct aim_context *context, struct error *err);

struct learned_skyline {
    struct skyline_lesson lesson;
    int frames, stars;
    char place[RIG_NAME_SIZE];
    char file[4096];
};

/* Keeps what the sights show in the settings file, under the place in use; what is known of other
 * azimuths stays. ERROR_NO if the frames show no skyline; ERROR_USAGE for a place that the settings
 * file does not have; ERROR_OUTPUT, ERROR_INPUT, ERROR_MEMORY. */
int learn_skyline(struct learned_skyline *learned, const struct skyline_sights *sights,
                  const struct aim_context *context, const char *file, struct error *err);

#endif
