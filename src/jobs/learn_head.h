/* jobs/learn_head.h: frames before and after one movement of the head -> the settings file. */
#ifndef ALIDADE_JOBS_LEARN_HEAD_H
#define ALIDADE_JOBS_LEARN_HEAD_H

#include "jobs/aim_series.h"
#include "tripod/head.h"

struct learned_head {
    struct head_lesson lesson;
    struct head head;
    double error_deg;
    struct occasion occasion; /* of the last frame */
    char name[RIG_NAME_SIZE];
    char file[4096];
    bool has_clock; /* of a levelled head that was panned */
    struct clock_fault clock;
};

/* series holds the sights of all frames. Keeps what was learned in the settings file, which may not
 * exist yet, under the name given, else that of the head in use, else "tripod". ERROR_NO with a
 * sentence if the frames do not show it; ERROR_OUTPUT, ERROR_INPUT, ERROR_USAGE, ERROR_MEMORY. */
int learn_head(struct learned_head *learned, const struct aim_series *series,
               const struct aim_context *context, enum head_axis which, const char *name,
               const char *file, struct error *err);

#endif
