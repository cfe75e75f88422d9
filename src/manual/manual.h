/* manual/manual.h: the program that writes manual pages and completions when the tree is built. */
#ifndef ALIDADE_MANUAL_MANUAL_H
#define ALIDADE_MANUAL_MANUAL_H

#include "base/command.h"
#include "base/schema.h"

/* For main: "page DATE < SOURCE" writes a manual page, "schema" the JSON Schema of the tables
 * (which end with NULL), "bash", "zsh" or "fish" a completion, to stdout. Returns the exit code. */
int manual_main(const struct program *program, const struct schema *const *tables, int argc,
                char **argv);

#endif
