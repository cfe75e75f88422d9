/* cli/find_target.h: what a command's --target means. */
#ifndef ALIDADE_CLI_FIND_TARGET_H
#define ALIDADE_CLI_FIND_TARGET_H

#include "cli/aim_answer.h"

/* Fills context->target and, as far as the tables are found, context->objects from what the
 * settings say. ERROR_USAGE for a target that nothing is called by, ERROR_INPUT for tables that are
 * needed and not found. */
int target_find(struct aim_context *context, struct error *err);

#endif
