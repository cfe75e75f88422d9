/* cli/learn_lens_report.h: what was learned of a lens. */
#ifndef ALIDADE_CLI_LEARN_LENS_REPORT_H
#define ALIDADE_CLI_LEARN_LENS_REPORT_H

#include "base/schema.h"
#include "jobs/learn_lens.h"

#include <stdio.h>

extern const struct schema learned_lens_schema; /* what --learn-lens found */

/* ERROR_MEMORY only. */
int learn_lens_report(FILE *out, const struct learned_lens *learned, bool as_json,
                      struct error *err);

#endif
