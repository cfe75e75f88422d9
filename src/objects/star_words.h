/* objects/star_words.h: what a star is called in a drawing. */
#ifndef ALIDADE_OBJECTS_STAR_WORDS_H
#define ALIDADE_OBJECTS_STAR_WORDS_H

#include "objects/objects.h"

#include <stdbool.h>
#include <stddef.h>

/* The name that most people know: of a star no fainter than a magnitude its own, "Vega"; else the
 * designation as a map writes it, "θ¹ Ori", "45 Ori". False if it has only such of variable or
 * nearby stars, "RR Lyr", which say little to most. UTF-8; cut to size. */
bool star_write_name(char *out, size_t size, const struct object *star, double faintest_named);

/* The Greek letter alone, "θ¹", for where the constellation is plain; false if it has none. */
bool star_write_letter(char *out, size_t size, const struct object *star);

#endif
