/* cli/parts_schema.h: what the JSON of several commands has in common. */
#ifndef ALIDADE_CLI_PARTS_SCHEMA_H
#define ALIDADE_CLI_PARTS_SCHEMA_H

#include "base/schema.h"
#include "plan/night_plan.h"
#include "tripod/clock.h"
#include "tripod/clock_doubt.h"
#include "tripod/head.h"

extern const struct schema pixel_schema;      /* x, y */
extern const struct schema off_middle_schema; /* right_widths, up_heights */
extern const struct schema head_schema;       /* the axes of a head */
extern const struct schema angles_schema;     /* pan_right_deg, tilt_up_deg */
extern const struct schema move_schema;       /* the same, and what stays undone */
extern const struct schema clock_schema;      /* fast_s, error_s */
extern const struct schema clock_doubt_schema;

extern const struct schema hours_schema; /* words, from_utc, until_utc */

/* Puts the object "planned_hours", unless there is no plan (NULL) or it does not know them. */
void parts_put_hours(struct json *json, const struct night_plan *plan);

/* Puts the object "clock_doubt", nothing without a doubt. */
void parts_put_clock_doubt(struct json *json, const struct clock_doubt *doubt);

/* Put the object "pixel" or "clock_if_level". */
void parts_put_pixel(struct json *json, double x, double y);
void parts_put_clock(struct json *json, const struct clock_fault *fault);

/* Put the keys of a head that is always known, or of a move, into the open object. */
void parts_put_head(struct json *json, const struct head *head);
void parts_put_move(struct json *json, const struct head_move *move);

#endif
