/* image/guards/raw_guard.h: a look at a raw file's directories before LibRaw acts on them. */
#ifndef ALIDADE_IMAGE_GUARDS_RAW_GUARD_H
#define ALIDADE_IMAGE_GUARDS_RAW_GUARD_H

#include "base/error.h"

#include <stddef.h>
#include <stdio.h>

/* Walks the directories of a raw file that is built like TIFF, and those below them, and refuses
 * what LibRaw 0.20 takes on trust and damage makes dangerous: shapes, patterns and levels whose
 * type, number or range cannot be; and the directories of digital backs (back_guard.h). Other raw
 * files pass. ERROR_INPUT. */
int raw_guard_check(FILE *stream, size_t size, const char *name, struct error *err);

#endif
