/* cli/find_target.h: what a command's --target means. */
#ifndef ALIDADE_CLI_FIND_TARGET_H
#define ALIDADE_CLI_FIND_TARGET_H

#include "jobs/aim_answer.h"

/* Fills context->target and, as far as the tables are found in the folder that catalogs_place
 * finds, context->objects. name may be NULL: ERROR_USAGE, as for a target that nothing is called
 * by; ERROR_INPUT for tables that are needed and not found. */
int find_target(struct aim_context *context, const char *name, const char *catalogs,
                struct error *err);

#endif
