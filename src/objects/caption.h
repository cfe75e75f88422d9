/* objects/caption.h: how sentences and drawings call an object. */
#ifndef ALIDADE_OBJECTS_CAPTION_H
#define ALIDADE_OBJECTS_CAPTION_H

#include "objects/objects.h"

#include <stdbool.h>
#include <stddef.h>

/* "M 31 (Andromeda Galaxy)"; of what has no usual English name, and of a star, the designation
 * alone. Cut to size, never within a character. */
void caption_full(char *out, size_t size, const struct object *object);

/* The designation alone, and the usual English name alone, "" if there is none. Cut likewise. */
void caption_id(char *out, size_t size, const struct object *object);
void caption_common(char *out, size_t size, const struct object *object);

#endif
