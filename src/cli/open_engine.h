/* cli/open_engine.h: the index, the settings file and the tables that a command line names. */
#ifndef ALIDADE_CLI_OPEN_ENGINE_H
#define ALIDADE_CLI_OPEN_ENGINE_H

#include "cli/hint_options.h"
#include "cli/index_place.h"
#include "cli/reading_options.h"
#include "jobs/job_solve.h"

/* What all commands that solve are given. */
struct solver_settings {
    struct hint_settings hints;
    struct rig_settings rig;
    struct index_names index;
    const char *catalogs;
    struct reading_settings reading;
};

/* Adds to the engine the indexes that index_places finds, the settings file that rig_open finds,
 * and the table of cameras in the folder that catalogs_place finds, without which it goes on,
 * unless the folder was asked for; a cage to read pictures in, unless that is not wanted; and the
 * hints to the wish. To be called before there is a second thread. ERROR_INPUT, ERROR_USAGE,
 * ERROR_MEMORY. Inverse: job_engine_close. */
int open_engine(struct job_engine *engine, struct solve_wish *wish,
                const struct solver_settings *settings, struct error *err);

/* The indexes alone: those that the settings name, else the usual one and those of the settings
 * file, which is open already if it is to be heeded. ERROR_INPUT, ERROR_USAGE, ERROR_MEMORY. */
int open_engine_indexes(struct job_engine *engine, const struct solver_settings *settings,
                        struct error *err);

/* The settings file alone, with what the table of cameras knows of the cameras that it, or
 * --camera, names by their models; the table is only read then. ERROR_INPUT, ERROR_USAGE,
 * ERROR_MEMORY. */
int open_engine_rig(struct job_engine *engine, const struct rig_settings *settings,
                    const char *catalogs, struct error *err);

#endif
