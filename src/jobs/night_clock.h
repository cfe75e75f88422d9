/* jobs/night_clock.h: when the frames of a log were taken, and what a whole night says of the
 * camera's clock. */
#ifndef ALIDADE_JOBS_NIGHT_CLOCK_H
#define ALIDADE_JOBS_NIGHT_CLOCK_H

#include "jobs/aim_answer.h"
#include "night/night_list.h"

/* As occasion_find, of a frame as a log keeps it. */
void night_occasion(struct occasion *occasion, const struct night_frame *frame,
                    const struct rig *rig, const struct occasion_settings *settings);

/* The doubt that most of the solved frames share (60 % of up to 25 of them, evenly through the
 * list): by Sun, ground, level or plan, or since files were written as fast as they were taken, but
 * one or more days, to a quarter of an hour, after that. By fewer hours a card's own file times may
 * be off. None, unless place and zone are known. */
void night_clock_doubt(struct clock_doubt *doubt, const struct night_list *list,
                       const struct rig *rig, const struct night_plan *plan);

#endif
