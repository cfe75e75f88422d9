#include "night/night_known.h"

#include "base/path.h"

#include <stdlib.h>
#include <string.h>

static int compare_places(const struct night_frame *a, const struct night_frame *b)
{
    return (a > b) - (a < b); /* of one list: the later line */
}

static int compare_contents(uint64_t digest, long long bytes, uint64_t other, long long other_bytes)
{
    int order = (digest > other) - (digest < other);
    return order ? order : (bytes > other_bytes) - (bytes < other_bytes);
}

static int compare_by_content(const void *left, const void *right)
{
    const struct night_frame *const *a = left, *const *b = right;
    int order = compare_contents((*a)->digest, (*a)->bytes, (*b)->digest, (*b)->bytes);
    return order ? order : compare_places(*a, *b);
}

static int compare_by_name(const void *left, const void *right)
{
    const struct night_frame *const *a = left, *const *b = right;
    int order = strcmp(path_base((*a)->name), path_base((*b)->name));
    order = order ? order : strcmp((*a)->name, (*b)->name);
    return order ? order : compare_places(*a, *b);
}

static int count_settled(const struct night_known *known)
{
    int settled = 0;
    for (int i = 0; i < known->names; i++) {
        bool last = i + 1 == known->names ||
                    strcmp(known->by_name[i]->name, known->by_name[i + 1]->name) != 0;
        settled += last && night_frame_is_settled(known->by_name[i]);
    }
    return settled;
}

int night_known_index(struct night_known *known, const struct night_list *list, struct error *err)
{
    size_t room = (size_t)list->count + 1;
    known->by_content = calloc(room, sizeof *known->by_content);
    known->by_name = calloc(room, sizeof *known->by_name);
    if (!known->by_content || !known->by_name) {
        return error_memory(err);
    }
    for (int i = 0; i < list->count; i++) {
        known->by_name[known->names++] = &list->frame[i];
        if (list->frame[i].digest) {
            known->by_content[known->contents++] = &list->frame[i];
        }
    }
    qsort(known->by_content, (size_t)known->contents, sizeof *known->by_content,
          compare_by_content);
    qsort(known->by_name, (size_t)known->names, sizeof *known->by_name, compare_by_name);
    known->settled = count_settled(known);
    return 0;
}

void night_known_free(struct night_known *known)
{
    free(known->by_content);
    free(known->by_name);
    memset(known, 0, sizeof *known);
}

/* The last one of that content. */
static const struct night_frame *find_content(const struct night_known *known,
                                              const struct night_file *file)
{
    int low = 0, high = known->contents; /* before the first one beyond it */
    while (low < high) {
        int middle = (low + high) / 2;
        const struct night_frame *frame = known->by_content[middle];
        if (compare_contents(frame->digest, frame->bytes, file->digest, file->bytes) <= 0) {
            low = middle + 1;
        } else {
            high = middle;
        }
    }
    const struct night_frame *found = low > 0 ? known->by_content[low - 1] : NULL;
    bool same = found && found->digest == file->digest && found->bytes == file->bytes;
    return same ? found : NULL;
}

/* The first of that name, or where it would be. */
static int find_first(const struct night_known *known, const char *base)
{
    int low = 0, high = known->names;
    while (low < high) {
        int middle = (low + high) / 2;
        if (strcmp(path_base(known->by_name[middle]->name), base) < 0) {
            low = middle + 1;
        } else {
            high = middle;
        }
    }
    return low;
}

/* How well a line of that length and time fits: names in common, above all of them for the very
 * file; 0: not at all. */
static int fit_of(const struct night_frame *frame, const char *name, const struct night_file *file)
{
    const int certain = 1 << 20;
    struct night_file named;
    if (!file->bytes || frame->bytes != file->bytes || frame->modified_ns != file->modified_ns ||
        (file->digest && frame->digest)) {
        return 0;
    }
    night_file_glance(&named, frame->name);
    if (named.inode) {
        return night_file_is_same(&named, file) ? certain : 0;
    }
    return path_common_tail(frame->name, name);
}

static const struct night_frame *find_named(const struct night_known *known, const char *name,
                                            const struct night_file *file)
{
    const char *base = path_base(name);
    const struct night_frame *best = NULL;
    int best_fit = 0;
    bool unsure = false;
    for (int i = find_first(known, base); i < known->names; i++) {
        const struct night_frame *frame = known->by_name[i];
        if (strcmp(path_base(frame->name), base) != 0) {
            break;
        }
        int fit = fit_of(frame, name, file);
        if (fit > best_fit || (fit && fit == best_fit && strcmp(frame->name, best->name) == 0)) {
            unsure = unsure && fit == best_fit;
            best = frame;
            best_fit = fit;
        } else if (fit && fit == best_fit) {
            unsure = true;
        }
    }
    return unsure ? NULL : best;
}

const struct night_frame *night_known_find(const struct night_known *known, const char *name,
                                           const struct night_file *file)
{
    const struct night_frame *found = file->digest ? find_content(known, file) : NULL;
    return found ? found : find_named(known, name, file);
}

/* Where it is, or where it would be. */
static int find_seen(const struct night_seen *seen, const struct night_file *file)
{
    int low = 0, high = seen->count;
    while (low < high) {
        int middle = (low + high) / 2;
        const struct night_content *at = &seen->content[middle];
        if (compare_contents(at->digest, at->bytes, file->digest, file->bytes) < 0) {
            low = middle + 1;
        } else {
            high = middle;
        }
    }
    return low;
}

bool night_seen_holds(const struct night_seen *seen, const struct night_file *file)
{
    int at = find_seen(seen, file);
    return file->digest && at < seen->count &&
           compare_contents(seen->content[at].digest, seen->content[at].bytes, file->digest,
                            file->bytes) == 0;
}

int night_seen_add(struct night_seen *seen, const struct night_file *file, struct error *err)
{
    if (!file->digest || night_seen_holds(seen, file)) {
        return 0;
    }
    if (seen->count == seen->capacity) {
        int capacity = 2 * seen->capacity + 64;
        struct night_content *more = realloc(seen->content, (size_t)capacity * sizeof *more);
        if (!more) {
            return error_memory(err);
        }
        seen->content = more;
        seen->capacity = capacity;
    }
    int at = find_seen(seen, file);
    memmove(&seen->content[at + 1], &seen->content[at],
            (size_t)(seen->count - at) * sizeof *seen->content);
    seen->content[at] = (struct night_content){file->digest, file->bytes};
    seen->count++;
    return 0;
}

void night_seen_free(struct night_seen *seen)
{
    free(seen->content);
    memset(seen, 0, sizeof *seen);
}
