/* cli/complaint.h: what is wrong, and which options mend it. */
#ifndef ALIDADE_CLI_COMPLAINT_H
#define ALIDADE_CLI_COMPLAINT_H

#include "base/error.h"

#include <stdio.h>

/* "; give --focal MM, or ...", to stand behind an error's text; "" for REMEDY_NONE. */
const char *complaint_remedy(enum error_remedy remedy);

/* Writes "alidade watch: ..." with the remedy, and a newline; wrapped on a terminal. */
void complaint_write(FILE *out, const char *who, const struct error *err);

#endif
