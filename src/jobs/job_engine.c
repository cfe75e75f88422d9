#include "jobs/job_engine.h"

#include <string.h>

int job_engine_add_index(struct job_engine *engine, const char *index, struct error *err)
{
    return index_set_add(&engine->indexes, index, err);
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
    index_set_close(&engine->indexes);
    body_table_free(&engine->bodies);
    atlas_free(&engine->atlas);
    if (engine->reader) {
        engine->reader->close(engine->reader->context);
    }
    memset(engine, 0, sizeof *engine);
}

const struct index *job_engine_widest(const struct job_engine *engine)
{
    const struct index *order[INDEX_SET_MOST];
    index_set_order(order, &engine->indexes, 0);
    return order[0];
}

const char *job_engine_stale(const struct job_engine *engine)
{
    return index_set_changed(&engine->indexes);
}

int job_engine_renew(struct job_engine *engine, struct error *err)
{
    return index_set_renew(&engine->indexes, err);
}
