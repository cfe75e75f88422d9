/* night/night_list.h: the frames of a night, and the files of lines that keep them. */
#ifndef ALIDADE_NIGHT_NIGHT_LIST_H
#define ALIDADE_NIGHT_NIGHT_LIST_H

#include "base/error.h"
#include "night/night_frame.h"

#include <stdbool.h>

/* Starts as all zeros; free with night_list_free. */
struct night_list {
    struct night_frame *frame;
    int count, capacity;
    struct night_copies {
        int frames;  /* that were found in more than one place, and are in the list once */
        int places;  /* all places of these */
        char *first; /* name of the first; owned */
    } copies;
};

void night_list_free(struct night_list *list);

/* Takes over what is in *frame, which is empty afterwards, also on ERROR_MEMORY. */
int night_list_add(struct night_list *list, struct night_frame *frame, struct error *err);

/* What the lines of a file were. */
struct night_lines {
    long frames, others; /* others: whole lines that do not tell of a frame */
    long broken;         /* no JSON: the number of them ... */
    long first_broken;   /* ... and the first one, counted from 1 */
    bool torn;           /* the file does not end with a newline: its last line counts as broken
                            unless it can be read */
};

/* Adds the frames of a file of JSON lines in its order; a broken line is passed over. ERROR_INPUT
 * if the file cannot be read or its lines are of a later format, ERROR_MEMORY. An empty file has no
 * frames. */
int night_list_read(struct night_list *list, struct night_lines *lines, const char *name,
                    struct error *err);

#endif
