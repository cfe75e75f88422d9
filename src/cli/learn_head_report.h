/* cli/learn_head_report.h: what was learned of a head. */
#ifndef ALIDADE_CLI_LEARN_HEAD_REPORT_H
#define ALIDADE_CLI_LEARN_HEAD_REPORT_H

#include "jobs/learn_head.h"

#include <stdio.h>

/* ERROR_MEMORY only. */
int learn_head_report(FILE *out, const struct learned_head *learned, bool as_json,
                      struct error *err);

#endif
