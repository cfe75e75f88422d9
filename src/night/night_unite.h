/* night/night_unite.h: several lines of one frame become one. */
#ifndef ALIDADE_NIGHT_NIGHT_UNITE_H
#define ALIDADE_NIGHT_NIGHT_UNITE_H

#include "base/error.h"
#include "night/night_list.h"

/* Of lines with the same name, from the one numbered first on, only the last one stays, in the
 * place of the first: for the lines of one log, in which another line of that name is of a file
 * that was replaced or is tried again. ERROR_MEMORY. */
int night_unite_names(struct night_list *list, int first, struct error *err);

/* Of frames with the same content only the last one stays, in the place of the first, whatever
 * their names; list->copies counts those whose names tell of several files. Lines that do not tell
 * the content are of one frame if length, time of change and name within the folder agree, and one
 * name may be the other seen from another folder; those that tell nothing of the file, if the names
 * are equal. ERROR_MEMORY. */
int night_unite_frames(struct night_list *list, struct error *err);

/* Counts one more frame that was found in so many places. ERROR_MEMORY. */
int night_copies_add(struct night_copies *copies, const char *name, int places, struct error *err);

/* "2 copies of IMG_1.jpg, counted once", "6 files are copies of 2 frames ..."; "" for none. */
void night_copies_write(char *out, size_t size, const struct night_copies *copies);

#endif
