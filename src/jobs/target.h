/* jobs/target.h: what a target is called -> what it is. */
#ifndef ALIDADE_JOBS_TARGET_H
#define ALIDADE_JOBS_TARGET_H

#include "base/error.h"
#include "jobs/occasion.h"
#include "plan/night_plan.h"
#include "tripod/aim.h"

#include <stdbool.h>

/* From a name of the objects, or a position "RA,DEC", which needs none of them, or of the Moon or
 * a planet, whose shape depends on the time (target_at). ERROR_USAGE with a sentence for what is
 * neither, ERROR_MEMORY. The Sun is refused. */
int target_find(struct aim_target *target, const struct objects *objects, const char *name,
                struct error *err);

/* The same from the plan of a night: its target, or, unless alone, the middle of all that its frame
 * was composed of. */
int target_from_plan(struct aim_target *target, const struct objects *objects,
                     const struct night_plan *plan, bool alone, struct error *err);

/* Where it is at the middle of an exposure. False for what moves where that time is not known in
 * UTC: the target then has no place. */
bool target_at(struct aim_target *target, const struct occasion *occasion);

/* Whether a target is called by its position, which needs no tables. */
bool target_is_position(const char *name);

#endif
