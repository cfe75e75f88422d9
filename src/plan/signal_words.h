/* plan/signal_words.h: an outlook in sentences, and for machines. */
#ifndef ALIDADE_PLAN_SIGNAL_WORDS_H
#define ALIDADE_PLAN_SIGNAL_WORDS_H

#include "base/schema.h"
#include "plan/signal.h"

#include <stddef.h>

/* "0.68", "25", "250" */
void signal_write_ratio(char *out, size_t size, double ratio);

/* Sentences without a full stop, cut to size.
 * "S/N 1 takes 59 frames (24 to 150: the catalogued brightness is rough)" */
void signal_write_wanted(char *out, size_t size, const struct signal_outlook *outlook);
/* "the sky makes 92 % of the noise, reading 7 %" */
void signal_write_noise(char *out, size_t size, const struct signal_outlook *outlook);
/* "instead of 59 frames: 28 of twice the exposure, 30 with a lens one stop faster, 25 under a sky 1
 * mag darker"; "" if few frames do anyway */
void signal_write_instead(char *out, size_t size, const struct signal_outlook *outlook);

/* Puts all keys of its table into the open object, which includes them. */
extern const struct schema signal_schema;
void signal_put(struct json *json, const struct signal_outlook *outlook);

#endif
