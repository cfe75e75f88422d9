/* cli/learn_head.h: frames before and after one movement of the head -> the settings file. */
#ifndef ALIDADE_CLI_LEARN_HEAD_H
#define ALIDADE_CLI_LEARN_HEAD_H

#include "cli/aim_series.h"

/* series holds the sights of all frames. Writes what was learned to out and into the settings file,
 * under the name given, else the head in use, else "tripod". ERROR_NO with a sentence if the frames
 * do not tell, ERROR_OUTPUT, ERROR_INPUT, ERROR_USAGE. */
int learn_head(FILE *out, const struct aim_series *series, const struct aim_context *context,
               const char *name, struct error *err);

#endif
