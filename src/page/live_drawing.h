/* page/live_drawing.h: a solved frame as the camera's display shows it, with what to do in it. */
#ifndef ALIDADE_PAGE_LIVE_DRAWING_H
#define ALIDADE_PAGE_LIVE_DRAWING_H

#include "base/json.h"
#include "jobs/aim_answer.h"

/* Puts the object "drawing" of live_drawing_schema into the open object. margin_percent as in
 * struct aim_wish. Nothing of the target's is put that lies behind the camera. */
void live_drawing_put(struct json *json, const struct aim_answer *answer, double margin_percent);

#endif
