/* cli/claims.h: what every command reads besides its frames, told to the layer that guards it. */
#ifndef ALIDADE_CLI_CLAIMS_H
#define ALIDADE_CLI_CLAIMS_H

#include "base/outputs.h"
#include "cli/index_place.h"
#include "cli/rig_options.h"

/* Adds the index, the tables of objects and the settings file, where they are found; what is
 * missing is for its reader to report. index and catalogs: the options, or NULL; rig NULL: without
 * that file. ERROR_MEMORY. */
int claims_add_usual(struct outputs *outputs, const struct index_names *index, const char *catalogs,
                     const struct rig_settings *rig, struct error *err);

/* Adds the frames that are operands: "the frame itself", or "a frame" of several. ERROR_MEMORY. */
int claims_add_frames(struct outputs *outputs, int frames, char **frame, struct error *err);

/* outputs_check, and then outputs_free. code: of what was done so far; it is returned if not 0. */
int claims_settle(struct outputs *outputs, int code, struct error *err);

#endif
