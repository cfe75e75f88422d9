/* cli/object_list.h: what is in a frame, as a table, CSV or JSON. */
#ifndef ALIDADE_CLI_OBJECT_LIST_H
#define ALIDADE_CLI_OBJECT_LIST_H

#include "jobs/job_solve.h"
#include "jobs/occasion.h"
#include "objects/listing.h"

#include <stdio.h>

enum list_format { LIST_TEXT, LIST_CSV, LIST_JSON };

/* Of a solved frame; with Sun, Moon and planets if its occasion has the time in UTC. header: before
 * a CSV. ERROR_MEMORY only. */
int object_list_write(FILE *out, const struct solved_frame *solved, const struct occasion *occasion,
                      const struct atlas *atlas, enum list_format format, int most, bool header,
                      struct error *err);

/* Of a frame without a solution: why, as JSON. ERROR_MEMORY only. */
int object_list_unsolved(FILE *out, const struct solved_frame *solved, struct error *err);

#endif
