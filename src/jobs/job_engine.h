/* jobs/job_engine.h: what all jobs of a program share: index, tables and settings file. */
#ifndef ALIDADE_JOBS_JOB_ENGINE_H
#define ALIDADE_JOBS_JOB_ENGINE_H

#include "match/index_set.h"
#include "objects/field.h"
#include "rig/body_table.h"
#include "rig/rig_in_use.h"

#include <stdbool.h>

/* Opened once; then any number of threads and jobs may use it at a time, and none may change it.
 * Starts as all zeros; free with job_engine_close. Must not be moved: rig points into it. */
struct job_engine {
    struct index_set indexes;
    struct body_table bodies; /* empty if there is none */
    struct atlas atlas;       /* of its parts perhaps only the objects */
    bool has_objects, has_atlas;
    struct rig_in_use rig; /* all zeros: nothing is known */
    /* Of pictures, closed with the engine. NULL: this process reads them. */
    const struct frame_reader *reader;
};

/* Opens the index of that name, or those in that folder, and all tables in that folder; either may
 * be NULL. The settings file is the caller's to read, by rig_in_use_read. ERROR_USAGE, ERROR_INPUT,
 * ERROR_MEMORY; the engine is empty then. */
int job_engine_open(struct job_engine *engine, const char *index, const char *tables,
                    struct error *err);
void job_engine_close(struct job_engine *engine);

/* The parts of that, for what needs no more. On failure the rest stays as it is.
 * One more index, or folder of them; ERROR_INPUT, ERROR_MEMORY. */
int job_engine_add_index(struct job_engine *engine, const char *index, struct error *err);
/* The table of cameras, which helps frames that do not state their pixels; or the objects; or all
 * of the sky, the objects included. ERROR_INPUT, ERROR_MEMORY. */
int job_engine_add_bodies(struct job_engine *engine, const char *tables, struct error *err);
int job_engine_add_objects(struct job_engine *engine, const char *tables, struct error *err);
int job_engine_add_atlas(struct job_engine *engine, const char *tables, struct error *err);

/* The index of the whole sky, or the one that comes nearest to it: which has fewest stars a square
 * degree. There must be one. */
const struct index *job_engine_widest(const struct job_engine *engine);

/* The file of an index that was written to since it was opened; NULL: none was. */
const char *job_engine_stale(const struct job_engine *engine);
/* Opens all indexes anew, by what they were added as; no job may run meanwhile. On failure nothing
 * has changed. ERROR_INPUT, ERROR_MEMORY. */
int job_engine_renew(struct job_engine *engine, struct error *err);

#endif
