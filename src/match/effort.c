#include "match/effort.h"

#include "base/stopwatch.h"

#include <math.h>
#include <stdint.h>

/* One region is fitted so often: from another quad of it the pose may grow better. */
enum { MOST_FITS = 4 };

bool effort_is_spent(const struct effort *effort)
{
    return effort->is_over || effort->spent >= effort->most;
}

bool effort_goes_on(struct effort *effort)
{
    if (!effort->pause || effort->paused || effort->spent < effort->pause_at) {
        return true;
    }
    double start = stopwatch_ms();
    effort->paused = true;
    effort->is_over = effort->pause(effort->context);
    effort->pause_ms += stopwatch_ms() - start;
    return !effort->is_over;
}

/* Of a catalogue star, the place where it was seen and the hand. Recipes differ in where they see
 * a star by a small part of such a place. */
static uint32_t pair_mark(const struct verdict *verdict, int pair, bool mirrored,
                          const struct star_list *list)
{
    const double place_px = 8;
    const struct star *star = &list->star[verdict->detection[pair]];
    uint64_t column = (uint64_t)(int64_t)floor(star->x / place_px);
    uint64_t row = (uint64_t)(int64_t)floor(star->y / place_px);
    uint64_t h = (((uint64_t)verdict->star[pair] << 1) + mirrored) * 0x9e3779b97f4a7c15u;
    h = (h ^ column ^ (row << 24) ^ (h >> 29)) * 0xbf58476d1ce4e5b9u;
    return (uint32_t)((h ^ (h >> 32)) % EFFORT_MARKS);
}

void effort_note_failure(struct effort *effort, const struct verdict *verdict, bool mirrored,
                         const struct star_list *list)
{
    for (int i = 0; i < verdict->pairs; i++) {
        unsigned char *failed = &effort->failed[pair_mark(verdict, i, mirrored, list)];
        *failed = (unsigned char)(*failed + (*failed < MOST_FITS));
    }
}

int effort_failures(const struct effort *effort, const struct verdict *verdict, bool mirrored,
                    const struct star_list *list)
{
    int often[MOST_FITS + 1] = {0}, times = MOST_FITS, known = 0;
    for (int i = 0; i < verdict->pairs; i++) {
        often[effort->failed[pair_mark(verdict, i, mirrored, list)]]++;
    }
    for (; times > 0; times--) {
        known += often[times];
        if (2 * known > verdict->pairs) {
            break;
        }
    }
    return times;
}

bool effort_was_failure(const struct effort *effort, const struct verdict *verdict, bool mirrored,
                        const struct star_list *list)
{
    return effort_failures(effort, verdict, mirrored, list) >= MOST_FITS;
}
