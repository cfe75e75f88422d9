#include "night/night_known.h"

#include "base/path.h"

#include <stdlib.h>
#include <string.h>

static int compare(const void *left, const void *right)
{
    const struct night_frame *const *a = left, *const *b = right;
    return strcmp(path_base((*a)->name), path_base((*b)->name));
}

int night_known_index(struct night_known *known, struct night_list *list, struct error *err)
{
    int code = night_list_last_of_each(list, err);
    known->frame = calloc((size_t)list->count + 1, sizeof *known->frame);
    if (code || !known->frame) {
        return code ? code : error_memory(err);
    }
    known->count = list->count;
    for (int i = 0; i < list->count; i++) {
        known->frame[i] = &list->frame[i];
    }
    qsort(known->frame, (size_t)known->count, sizeof *known->frame, compare);
    return 0;
}

void night_known_free(struct night_known *known)
{
    free(known->frame);
    memset(known, 0, sizeof *known);
}

/* The first of that name, or where it would be. */
static int find_first(const struct night_known *known, const char *name)
{
    int low = 0, high = known->count;
    while (low < high) {
        int middle = (low + high) / 2;
        if (strcmp(path_base(known->frame[middle]->name), name) < 0) {
            low = middle + 1;
        } else {
            high = middle;
        }
    }
    return low;
}

const struct night_frame *night_known_find(const struct night_known *known, const char *name,
                                           long long bytes, long long modified_ns)
{
    const char *base = path_base(name);
    for (int i = find_first(known, base); i < known->count; i++) {
        const struct night_frame *frame = known->frame[i];
        if (strcmp(path_base(frame->name), base) != 0) {
            break;
        }
        if (frame->bytes == bytes && frame->modified_ns == modified_ns) {
            return frame;
        }
    }
    return NULL;
}
