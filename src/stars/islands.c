#include "stars/islands.h"

#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

/* Pixels of an island whose neighbours are still to be looked at. */
struct walk {
    size_t *pixel;
    size_t count, capacity;
    unsigned char *seen; /* of each pixel of the relief */
};

static bool step_on(struct walk *walk, size_t pixel)
{
    if (walk->count == walk->capacity) {
        size_t capacity = walk->capacity ? 2 * walk->capacity : 1024;
        size_t *grown = realloc(walk->pixel, capacity * sizeof *grown);
        if (!grown) {
            return false;
        }
        walk->pixel = grown;
        walk->capacity = capacity;
    }
    walk->seen[pixel] = 1;
    walk->pixel[walk->count++] = pixel;
    return true;
}

static bool walk_island(struct walk *walk, const struct relief *r, float shore, size_t from)
{
    size_t width = (size_t)r->width, height = (size_t)r->height;
    bool good = step_on(walk, from);
    while (good && walk->count > 0) {
        size_t at = walk->pixel[--walk->count], x = at % width, y = at / width;
        size_t top = y > 0 ? y - 1 : 0, bottom = y + 1 < height ? y + 1 : y;
        size_t left = x > 0 ? x - 1 : 0, right = x + 1 < width ? x + 1 : x;
        for (size_t j = top; good && j <= bottom; j++) {
            for (size_t i = j * width + left; good && i <= j * width + right; i++) {
                if (r->level[i] >= shore && !walk->seen[i]) {
                    good = step_on(walk, i);
                }
            }
        }
    }
    return good;
}

static bool hide(struct islands *hidden, struct relief *r, size_t pixel)
{
    if (hidden->count == hidden->capacity) {
        size_t capacity = hidden->capacity ? 2 * hidden->capacity : 4096;
        struct hidden_pixel *grown = realloc(hidden->pixel, capacity * sizeof *grown);
        if (!grown) {
            return false;
        }
        hidden->pixel = grown;
        hidden->capacity = capacity;
    }
    hidden->pixel[hidden->count++] = (struct hidden_pixel){pixel, r->level[pixel]};
    r->level[pixel] = 0;
    return true;
}

/* Most pixels lie below: they are passed over by the block. */
enum { BLOCK = 32 };

static bool reaches(const float *level, size_t n, float limit)
{
    int reached = 0;
    for (size_t i = 0; i < n; i++) {
        reached |= level[i] >= limit;
    }
    return reached;
}

/* The first pixel from here on that reaches the limit; n if none does. */
static size_t next_at(const struct relief *r, size_t from, size_t n, float limit)
{
    while (from < n) {
        size_t length = n - from < BLOCK ? n - from : BLOCK;
        if (!(length == BLOCK ? reaches(r->level + from, BLOCK, limit)
                              : reaches(r->level + from, length, limit))) {
            from += length;
            continue;
        }
        while (!(r->level[from] >= limit)) {
            from++;
        }
        return from;
    }
    return n;
}

int islands_hide(struct islands *hidden, struct relief *r, float shore, float peak,
                 struct error *err)
{
    size_t n = (size_t)r->width * (size_t)r->height;
    struct walk walk = {.seen = calloc(n, 1)};
    bool good = walk.seen != NULL;
    for (size_t i = next_at(r, 0, n, peak); good && i < n; i = next_at(r, i + 1, n, peak)) {
        good = walk.seen[i] || walk_island(&walk, r, shore, i);
    }
    for (size_t i = next_at(r, 0, n, shore); good && i < n; i = next_at(r, i + 1, n, shore)) {
        good = walk.seen[i] || hide(hidden, r, i);
    }
    free(walk.seen);
    free(walk.pixel);
    return good ? 0 : error_memory(err);
}

void islands_show(struct islands *hidden, struct relief *r)
{
    for (size_t i = 0; i < hidden->count; i++) {
        r->level[hidden->pixel[i].at] = hidden->pixel[i].level;
    }
    free(hidden->pixel);
    memset(hidden, 0, sizeof *hidden);
}
