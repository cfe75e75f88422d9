/* jobs/job_engine.h: what all jobs of a program share: index, tables and settings file. */
#ifndef ALIDADE_JOBS_JOB_ENGINE_H
#define ALIDADE_JOBS_JOB_ENGINE_H

#include "match/index.h"
#include "objects/field.h"
#include "rig/body_table.h"
#include "rig/rig_in_use.h"

#include <stdbool.h>

/* Opened once; then any number of threads and jobs may use it at a time, and none may change it.
 * Starts as all zeros; free with job_engine_close. Must not be moved: rig points into it. */
struct job_engine {
    char index_name[4096];
    struct index_file index;
    struct body_table bodies; /* empty if there is none */
    struct atlas atlas;       /* of its parts perhaps only the objects */
    bool has_objects, has_atlas;
    struct rig_in_use rig; /* all zeros: nothing is known */
};

/* Opens the index of that name and all tables in that folder; either may be NULL. The settings file
 * is the caller's to read, by rig_in_use_read. ERROR_USAGE, ERROR_INPUT, ERROR_MEMORY; the engine
 * is empty then. */
int job_engine_open(struct job_engine *engine, const char *index, const char *tables,
                    struct error *err);
void job_engine_close(struct job_engine *engine);

/* The parts of that, for what needs no more. On failure the rest stays as it is.
 * The index; ERROR_USAGE for a name that is too long, ERROR_INPUT, ERROR_MEMORY. */
int job_engine_add_index(struct job_engine *engine, const char *index, struct error *err);
/* The table of cameras, which helps frames that do not state their pixels; or the objects; or all
 * of the sky, the objects included. ERROR_INPUT, ERROR_MEMORY. */
int job_engine_add_bodies(struct job_engine *engine, const char *tables, struct error *err);
int job_engine_add_objects(struct job_engine *engine, const char *tables, struct error *err);
int job_engine_add_atlas(struct job_engine *engine, const char *tables, struct error *err);

/* Whether the file of the index was written to since it was opened. */
bool job_engine_is_stale(const struct job_engine *engine);
/* Opens the index anew, under its name; no job may run meanwhile. On failure nothing has changed.
 * ERROR_INPUT. */
int job_engine_renew(struct job_engine *engine, struct error *err);

#endif
