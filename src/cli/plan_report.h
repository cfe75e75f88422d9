/* cli/plan_report.h: a plan as text and as JSON. */
#ifndef ALIDADE_CLI_PLAN_REPORT_H
#define ALIDADE_CLI_PLAN_REPORT_H

#include "plan/plan_words.h"

#include <stdio.h>

/* The whole night; sheet->item and sheet->approach are not looked at. */
void plan_report_night(FILE *out, const struct plan_sheet *sheet, const struct plan *plan);
/* One target. */
void plan_report_target(FILE *out, const struct plan_sheet *sheet);

/* The same as one line of JSON. ERROR_MEMORY. */
int plan_json_night(FILE *out, const struct plan_sheet *sheet, const struct plan *plan,
                    struct error *err);
int plan_json_target(FILE *out, const struct plan_sheet *sheet, struct error *err);

#endif
