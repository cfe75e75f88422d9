/* cli/plan_options.h: options of the command that plans. */
#ifndef ALIDADE_CLI_PLAN_OPTIONS_H
#define ALIDADE_CLI_PLAN_OPTIONS_H

#include "base/options.h"
#include "cli/rig_options.h"
#include "jobs/job_plan.h"

#include <stdbool.h>

struct plan_options {
    struct rig_settings rig;
    const char *catalogs, *card, *save;
    struct job_plan_wish wish; /* as far as options fill it themselves; see plan_options_wish */
    double total_min, widen_percent;
    int dark, align; /* as the choices are listed */
    bool json, red, replace;
};

extern const struct option_row plan_option_rows[];
extern const struct plan_options plan_option_defaults;

/* The wish of these options, by this computer's clock. */
struct job_plan_wish plan_options_wish(const struct plan_options *options);

/* How far this computer's clock is ahead of UTC now. */
double plan_options_own_offset_min(void);

#endif
