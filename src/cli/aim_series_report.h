/* cli/aim_series_report.h: what the frames of one tripod say together. */
#ifndef ALIDADE_CLI_AIM_SERIES_REPORT_H
#define ALIDADE_CLI_AIM_SERIES_REPORT_H

#include "jobs/aim_series.h"

#include <stdio.h>

/* Nothing if there were not two frames with a time. ERROR_MEMORY. */
int aim_series_report(FILE *out, const struct aim_series_answer *found,
                      const struct aim_context *context, bool as_json, struct error *err);

#endif
