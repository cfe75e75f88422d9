/* cli/open_solver.h: the index, the settings file and the tables that a command line names. */
#ifndef ALIDADE_CLI_OPEN_SOLVER_H
#define ALIDADE_CLI_OPEN_SOLVER_H

#include "cli/hint_options.h"
#include "jobs/frame_solver.h"

/* What all commands that solve are given. */
struct solver_settings {
    struct hint_settings hints;
    struct rig_settings rig;
    const char *index, *catalogs;
};

/* Opens solver, which is empty: the index that index_place finds, the settings file that rig_open
 * finds, and the table of cameras in the folder that catalogs_place finds; without that table it
 * goes on, unless the folder was asked for. settings are borrowed. ERROR_INPUT, ERROR_USAGE,
 * ERROR_MEMORY. Inverse: solver_close. */
int open_solver(struct solver *solver, const struct solver_settings *settings, struct error *err);

#endif
