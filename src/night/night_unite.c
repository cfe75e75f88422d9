#include "night/night_unite.h"

#include "base/path.h"
#include "base/text.h"

#include <stdlib.h>
#include <string.h>

/* Of frames in one list: the earlier line first. */
static int compare_places(const struct night_frame *a, const struct night_frame *b)
{
    return (a > b) - (a < b);
}

static int compare_numbers(long long a, long long b)
{
    return (a > b) - (a < b);
}

static int by_name(const void *left, const void *right)
{
    const struct night_frame *const *a = left, *const *b = right;
    int order = strcmp((*a)->name, (*b)->name);
    return order ? order : compare_places(*a, *b);
}

static int by_content(const void *left, const void *right)
{
    const struct night_frame *const *a = left, *const *b = right;
    int order = ((*a)->digest > (*b)->digest) - ((*a)->digest < (*b)->digest);
    order = order ? order : compare_numbers((*a)->bytes, (*b)->bytes);
    return order ? order : compare_places(*a, *b);
}

static int by_file(const void *left, const void *right)
{
    const struct night_frame *const *a = left, *const *b = right;
    int order = strcmp(path_base((*a)->name), path_base((*b)->name));
    order = order ? order : compare_numbers((*a)->bytes, (*b)->bytes);
    order = order ? order : compare_numbers((*a)->modified_ns, (*b)->modified_ns);
    return order ? order : compare_places(*a, *b);
}

static bool same_name(const struct night_frame *a, const struct night_frame *b)
{
    return strcmp(a->name, b->name) == 0;
}

static bool same_content(const struct night_frame *a, const struct night_frame *b)
{
    return a->digest && a->digest == b->digest && a->bytes == b->bytes;
}

static bool same_file(const struct night_frame *a, const struct night_frame *b)
{
    return a->bytes && a->bytes == b->bytes && a->modified_ns == b->modified_ns &&
           strcmp(path_base(a->name), path_base(b->name)) == 0;
}

/* Puts the later line in the place of the earlier one. */
static void keep_later(struct night_frame *earlier, struct night_frame *later)
{
    night_frame_free(earlier);
    *earlier = *later;
    memset(later, 0, sizeof *later);
}

/* A run of lines that are alike in some way. */
typedef void unite(struct night_list *list, struct night_frame **run, int length);

/* Takes the list, from first on, in an order, hands each run over, and closes the gaps. */
static int unite_runs(struct night_list *list, int first, int (*order)(const void *, const void *),
                      bool (*same)(const struct night_frame *, const struct night_frame *),
                      unite *unite_run, struct error *err)
{
    int count = list->count - first;
    struct night_frame **frame = calloc((size_t)count + 1, sizeof *frame);
    if (!frame) {
        return error_memory(err);
    }
    for (int i = 0; i < count; i++) {
        frame[i] = &list->frame[first + i];
    }
    qsort(frame, (size_t)count, sizeof *frame, order);
    for (int i = 0, next; i < count; i = next) {
        for (next = i + 1; next < count && same(frame[i], frame[next]);) {
            next++;
        }
        if (next - i > 1) {
            unite_run(list, frame + i, next - i);
        }
    }
    free(frame);
    int kept = first;
    for (int i = first; i < list->count; i++) {
        if (list->frame[i].name) {
            list->frame[kept++] = list->frame[i];
        }
    }
    list->count = kept;
    return 0;
}

static void keep_last(struct night_list *list, struct night_frame **run, int length)
{
    (void)list;
    for (int i = 1; i < length; i++) {
        keep_later(run[0], run[i]);
    }
}

int night_unite_names(struct night_list *list, int first, struct error *err)
{
    return unite_runs(list, first, by_name, same_name, keep_last, err);
}

/* So many of the names can not be of one file; of very many lines the first tell. */
static int count_places(struct night_frame **run, int length)
{
    const int most = 100;
    int places = 0;
    for (int i = 0; i < length && i < most; i++) {
        bool met = false;
        for (int k = 0; k < i && !met; k++) {
            met = path_may_be_same(run[k]->name, run[i]->name);
        }
        places += !met;
    }
    return places;
}

static void unite_contents(struct night_list *list, struct night_frame **run, int length)
{
    int places = count_places(run, length);
    keep_last(list, run, length);
    if (places > 1) {
        night_copies_add(&list->copies, run[0]->name, places, NULL);
    }
}

static bool are_other_files(const char *a, const char *b)
{
    struct night_file one, two;
    night_file_glance(&one, a);
    night_file_glance(&two, b);
    return one.inode && two.inode && !night_file_is_same(&one, &two);
}

/* Two lines of which one at least does not tell the content. */
static bool are_one(const struct night_frame *a, const struct night_frame *b)
{
    return (!a->digest || !b->digest) && path_may_be_same(a->name, b->name) &&
           !are_other_files(a->name, b->name);
}

static void unite_files(struct night_list *list, struct night_frame **run, int length)
{
    (void)list;
    for (int i = 1; i < length; i++) {
        for (int k = 0; k < i; k++) {
            if (run[k]->name && are_one(run[k], run[i])) {
                keep_later(run[k], run[i]);
                break;
            }
        }
    }
}

/* A line that knows its file counts before those that do not. */
static void drop_unknown(struct night_list *list, struct night_frame **run, int length)
{
    struct night_frame *known = NULL;
    (void)list;
    for (int i = 0; i < length; i++) {
        known = run[i]->bytes ? run[i] : known;
    }
    for (int i = 0; i < length; i++) {
        if (!run[i]->bytes && (known || i + 1 < length)) {
            night_frame_free(run[i]);
        }
    }
}

int night_unite_frames(struct night_list *list, struct error *err)
{
    int code = unite_runs(list, 0, by_content, same_content, unite_contents, err);
    code = code ? code : unite_runs(list, 0, by_file, same_file, unite_files, err);
    return code ? code : unite_runs(list, 0, by_name, same_name, drop_unknown, err);
}

int night_copies_add(struct night_copies *copies, const char *name, int places, struct error *err)
{
    if (!copies->first && !(copies->first = text_copy(name))) {
        return error_memory(err);
    }
    copies->frames++;
    copies->places += places;
    return 0;
}

void night_copies_write(char *out, size_t size, const struct night_copies *copies)
{
    out[0] = '\0';
    if (copies->frames == 1) {
        text_append(out, size, "%d copies of %s, counted once", copies->places,
                    path_base(copies->first));
    } else if (copies->frames > 1) {
        text_append(out, size, "%d files are copies of %d frames, each counted once: %s ...",
                    copies->places, copies->frames, path_base(copies->first));
    }
}
