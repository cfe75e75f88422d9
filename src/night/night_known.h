/* night/night_known.h: the frames of a log, found again by the files that they are of. */
#ifndef ALIDADE_NIGHT_NIGHT_KNOWN_H
#define ALIDADE_NIGHT_NIGHT_KNOWN_H

#include "base/error.h"
#include "night/night_list.h"

#include <stdbool.h>

/* Starts as all zeros; free with night_known_free. */
struct night_known {
    const struct night_frame **by_content; /* those whose content is known; borrowed */
    const struct night_frame **by_name;    /* all, by name within the folder */
    int contents, names;
    int settled; /* frames that need no other try, of several lines of one name the last counts */
};

/* The list must outlive *known and not change. ERROR_MEMORY. */
int night_known_index(struct night_known *known, const struct night_list *list, struct error *err);
void night_known_free(struct night_known *known);

/* The last line of this very content, whatever name, folder or time the file has. Lines that do not
 * tell the content, and files that cannot be read now, are found by name within the folder, length
 * and time of change; where several lines have these in common, by the folders that name and line
 * have in common, and not at all if that does not decide, or the line's name is another file's.
 * NULL if none is known. Ask night_frame_is_settled whether it may be believed. */
const struct night_frame *night_known_find(const struct night_known *known, const char *name,
                                           const struct night_file *file);

/* Contents that were met during a run. Starts as all zeros; free with night_seen_free. */
struct night_seen {
    struct night_content {
        uint64_t digest;
        long long bytes;
    } * content; /* in order */
    int count, capacity;
};

bool night_seen_holds(const struct night_seen *seen, const struct night_file *file);
/* Nothing is done if the content is unknown, or met already. ERROR_MEMORY. */
int night_seen_add(struct night_seen *seen, const struct night_file *file, struct error *err);
void night_seen_free(struct night_seen *seen);

#endif
