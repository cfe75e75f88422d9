/* A page has no processes; the browser is its cage. */
#include "cli/reading_options.h"

int reading_begin(struct job_engine *engine, const struct reading_settings *settings,
                  struct error *err)
{
    (void)engine;
    (void)settings;
    (void)err;
    return 0;
}
