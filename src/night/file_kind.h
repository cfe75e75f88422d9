/* night/file_kind.h: what a file holds that an output must not destroy. */
#ifndef ALIDADE_NIGHT_FILE_KIND_H
#define ALIDADE_NIGHT_FILE_KIND_H

#include "base/outputs.h"

/* By content, never by name: the formats that frames are read from and pictures of other formats,
 * lines of frames, settings files, indexes. FILE_OTHER also for an empty file, and for a FITS
 * header without data. A file_kind_teller for outputs_check. */
enum file_kind file_kind_look(const char *name);

#endif
