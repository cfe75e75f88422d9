/* plan/plan_shots.h: the steps of plan_target that settle exposures, hours and re-centrings. */
#ifndef ALIDADE_PLAN_PLAN_SHOTS_H
#define ALIDADE_PLAN_PLAN_SHOTS_H

#include "plan/plan.h"

#include <stdbool.h>

/* How long and how many; and the hours that lie best in the window. Needs the first member and the
 * window. */
void plan_hours(struct plan_item *item, const struct plan_settings *settings);

/* After how many frames to re-centre, by the room that the drift takes. Needs fit and plan_hours.
 */
void plan_batches(struct plan_item *item, const struct plan_settings *settings);

/* Shortens the batches to what smear allows, and tells the smear at their end. Needs plan_batches;
 * takes some milliseconds. */
void plan_smear(struct plan_item *item, const struct plan_settings *settings);

/* How high it stands while the frames are taken, and how far the camera turns against the sky
 * meanwhile. Needs plan_hours. False for times that ERFA refuses. */
bool plan_session(struct plan_item *item, const struct place *place);

#endif
