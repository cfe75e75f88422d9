/* night/night_known.h: the frames of a log, found again by the files that they are of. */
#ifndef ALIDADE_NIGHT_NIGHT_KNOWN_H
#define ALIDADE_NIGHT_NIGHT_KNOWN_H

#include "base/error.h"
#include "night/night_list.h"

/* Starts as all zeros; free with night_known_free. */
struct night_known {
    const struct night_frame **frame; /* by name within the folder; borrowed */
    int count;
};

/* Of several frames of one name the last stays in the list, which must outlive *known and not
 * change. ERROR_MEMORY. */
int night_known_index(struct night_known *known, struct night_list *list, struct error *err);
void night_known_free(struct night_known *known);

/* The frame of this very file: the same name within its folder, length and time of change. NULL if
 * none is known, or the file has been replaced. */
const struct night_frame *night_known_find(const struct night_known *known, const char *name,
                                           long long bytes, long long modified_ns);

#endif
