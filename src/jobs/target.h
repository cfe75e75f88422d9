/* jobs/target.h: what a target is called -> what it is. */
#ifndef ALIDADE_JOBS_TARGET_H
#define ALIDADE_JOBS_TARGET_H

#include "jobs/aim_answer.h"

/* Fills the target of context from a name of its objects, which are loaded, or from a position
 * "RA,DEC". ERROR_USAGE with a sentence for what is neither, ERROR_MEMORY. The Sun is refused. */
int target_find(struct aim_context *context, const char *name, struct error *err);

/* Whether a target is called by its position, which needs no tables. */
bool target_is_position(const char *name);

#endif
