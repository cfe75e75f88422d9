/* cli/night_plan_options.h: the plan of the night that a command line names or a folder holds. */
#ifndef ALIDADE_CLI_NIGHT_PLAN_OPTIONS_H
#define ALIDADE_CLI_NIGHT_PLAN_OPTIONS_H

#include "base/options.h"
#include "jobs/job_engine.h"
#include "plan/night_plan.h"
#include "tripod/aim.h"

/* A row of a table of options, for a struct with that member, a const char pointer. */
#define NIGHT_PLAN_OPTION(settings, member)                                                        \
    {                                                                                              \
        .name = "plan", .kind = OPTION_TEXT, .argument = "FILE",                                   \
        .help = "what plan --save wrote: target, exposure, frames per batch (night-plan.json in "  \
                "the folder of the frames, if there is one)",                                      \
        .store = offsetof(struct settings, member)                                                 \
    }

/* The same for a command that can do without a plan's target. */
struct night_plan_wish {
    const char *option;   /* --plan; NULL: not given */
    const char *beside;   /* a frame, or the folder of frames */
    const char *target;   /* --target; NULL: the plan's */
    const char *catalogs; /* --catalogs */
    bool may_lack;        /* no target at all is fine; then the name of the target stays "" */
};

/* Fills the target, and plan, which *used then points to; engine gets its objects. A plan that was
 * not asked for is left out (*used NULL) where --target names something else. ERROR_USAGE for no
 * target, or another one than the plan's; ERROR_INPUT, ERROR_MEMORY. */
int night_plan_use(struct aim_target *target, const struct night_plan **used,
                   struct night_plan *plan, struct job_engine *engine,
                   const struct night_plan_wish *wish, struct error *err);

#endif
