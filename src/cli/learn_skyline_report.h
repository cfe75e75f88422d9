/* cli/learn_skyline_report.h: what was learned of a place's skyline. */
#ifndef ALIDADE_CLI_LEARN_SKYLINE_REPORT_H
#define ALIDADE_CLI_LEARN_SKYLINE_REPORT_H

#include "jobs/learn_skyline.h"

#include <stdio.h>

/* ERROR_MEMORY only. */
int learn_skyline_report(FILE *out, const struct learned_skyline *learned, bool as_json,
                         struct error *err);

#endif
