#include "cli/reading_options.h"

#include "cage/cage.h"

int reading_begin(struct job_engine *engine, const struct reading_settings *settings,
                  struct error *err)
{
    const struct cage_limits limits = {.memory_mb = settings->memory_mb,
                                       .seconds = settings->seconds};
    struct cage *cage = NULL;
    struct error why = {0};
    if (settings->no_cage) {
        return 0;
    }
    int code = cage_open(&cage, &limits, &why);
    if (code) {
        return error_set(err, code, "%s; --no-cage reads them in this one", why.text);
    }
    engine->reader = cage_reader(cage);
    return 0;
}
