/* image/moment.h: dates and times as cameras and FITS headers write them. */
#ifndef ALIDADE_IMAGE_MOMENT_H
#define ALIDADE_IMAGE_MOMENT_H

#include "sky/time.h"

#include <stdbool.h>

enum { MOMENT_DECIMALS = 3 };

/* Reads "2026:03:14 21:04:05" (EXIF) or "2026-03-14T21:04:05.25" (FITS), in whatever zone, to
 * MOMENT_DECIMALS at most. fraction: the digits behind the second where they are kept elsewhere;
 * NULL, or without digits: as text has them. False for anything else, or when it cannot be a time a
 * picture was taken: from 1980 to 2199. */
bool moment_read(struct time_stamp *moment, const char *text, const char *fraction);

/* Reads an offset from UTC, "+02:00", in minutes. */
bool moment_read_offset(int *minutes, const char *text);

#endif
