/* image/guards/back_guard.h: a look at files of digital backs before LibRaw acts on them. */
#ifndef ALIDADE_IMAGE_GUARDS_BACK_GUARD_H
#define ALIDADE_IMAGE_GUARDS_BACK_GUARD_H

#include "base/error.h"

#include <stddef.h>
#include <stdio.h>

/* Where LibRaw 0.20 takes a file for that of a digital back, by a mark of four letters in its first
 * 32 bytes, it goes through two directories of as many entries as they state, up to 2^32. Refuses
 * those that lie beyond the file or state more than a file has. Other files pass. ERROR_INPUT. */
int back_guard_check(FILE *stream, size_t size, const char *name, struct error *err);

#endif
