#include "jobs/job_engine.h"

#include <stdio.h>
#include <string.h>

int job_engine_add_index(struct job_engine *engine, const char *index, struct error *err)
{
    if ((size_t)snprintf(engine->index_name, sizeof engine->index_name, "%s", index) >=
        sizeof engine->index_name) {
        return error_set(err, ERROR_USAGE, "the name of the index is too long");
    }
    return index_open(&engine->index, engine->index_name, err);
}

int job_engine_add_bodies(struct job_engine *engine, const char *tables, struct error *err)
{
    return body_table_load(&engine->bodies, tables, err);
}

int job_engine_add_objects(struct job_engine *engine, const char *tables, struct error *err)
{
    int code = objects_load(&engine->atlas.objects, tables, err);
    engine->has_objects = code == 0;
    return code;
}

int job_engine_add_atlas(struct job_engine *engine, const char *tables, struct error *err)
{
    objects_free(&engine->atlas.objects);
    int code = atlas_load(&engine->atlas, tables, err);
    engine->has_objects = engine->has_atlas = code == 0;
    return code;
}

int job_engine_open(struct job_engine *engine, const char *index, const char *tables,
                    struct error *err)
{
    int code = index ? job_engine_add_index(engine, index, err) : 0;
    code = code || !tables ? code : job_engine_add_bodies(engine, tables, err);
    code = code || !tables ? code : job_engine_add_atlas(engine, tables, err);
    if (code) {
        job_engine_close(engine);
    }
    return code;
}

void job_engine_close(struct job_engine *engine)
{
    index_close(&engine->index);
    body_table_free(&engine->bodies);
    atlas_free(&engine->atlas);
    memset(engine, 0, sizeof *engine);
}

bool job_engine_is_stale(const struct job_engine *engine)
{
    return file_map_changed(&engine->index.map);
}

int job_engine_renew(struct job_engine *engine, struct error *err)
{
    struct index_file fresh;
    int code = index_open(&fresh, engine->index_name, err);
    if (!code) {
        index_close(&engine->index);
        engine->index = fresh;
    }
    return code;
}
