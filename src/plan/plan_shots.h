/* plan/plan_shots.h: the steps of plan_target that settle exposures, hours and re-centrings. */
#ifndef ALIDADE_PLAN_PLAN_SHOTS_H
#define ALIDADE_PLAN_PLAN_SHOTS_H

#include "plan/plan.h"

#include <stdbool.h>

/* How long and how many; and the hours that lie best in the window. Needs the first member and the
 * window. */
void plan_hours(struct plan_item *item, const struct plan_settings *settings);

/* The picture of the camera, held as the plan says. */
void plan_wcs(struct wcs *wcs, const struct plan_item *item, const struct plan_camera *camera);

/* What has to stay in the frame: the first member, or all that the frame was composed of. */
void plan_outline(struct sky_ellipse *outline, const struct plan_item *item);

/* After how many frames to re-centre. Needs fit and plan_hours; takes some milliseconds. */
void plan_batches(struct plan_item *item, const struct plan_settings *settings);

/* How high it stands while the frames are taken, and how far the camera turns against the sky
 * meanwhile. Needs plan_hours. False for times that ERFA refuses. */
bool plan_session(struct plan_item *item, const struct place *place);

#endif
