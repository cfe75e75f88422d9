/* cli/find_target.h: what a command's --target means. */
#ifndef ALIDADE_CLI_FIND_TARGET_H
#define ALIDADE_CLI_FIND_TARGET_H

#include "jobs/job_engine.h"
#include "tripod/aim.h"

/* Fills target and, as far as the tables are found in the folder that catalogs_place finds, the
 * objects of the engine. name may be NULL: ERROR_USAGE, as for a target that nothing is called
 * by; ERROR_INPUT for tables that are needed and not found. */
int find_target(struct aim_target *target, struct job_engine *engine, const char *name,
                const char *catalogs, struct error *err);

#endif
