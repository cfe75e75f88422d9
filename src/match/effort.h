/* match/effort.h: how much is done for one frame before it is given up.
 *
 * Counted in steps, not in time, so that the answer is the same on every machine. A step is what a
 * processor of today does in 0.05 to 0.1 us; verifying, pairing and fitting add theirs. */
#ifndef ALIDADE_MATCH_EFFORT_H
#define ALIDADE_MATCH_EFFORT_H

#include "match/verify.h"
#include "stars/stars.h"

#include <stdbool.h>

enum { EFFORT_MARKS = 1 << 15 };

/* Of all searches for one frame, whichever recipe made their lists. Starts as all zeros. */
struct effort {
    long spent; /* steps so far */
    long most;  /* nothing is begun beyond so many */
    /* How often a fit of a verdict with such a pair failed, by a hash of the pair. */
    unsigned char failed[EFFORT_MARKS];
    bool looked_all_sky; /* as match/all_sky.h does: once is enough */
    /* Asked once, between two stages of a search, when pause_at steps are spent: true ends all
     * searches. NULL: nobody is asked. */
    bool (*pause)(void *context);
    void *context;
    long pause_at;
    bool paused, is_over;
    double pause_ms; /* of the clock, that it took */
};

bool effort_is_spent(const struct effort *effort);

/* Asks pause if it is time; false if there is to be no more searching. */
bool effort_goes_on(struct effort *effort);

/* Remembers that the verdict did not survive a fit. */
void effort_note_failure(struct effort *effort, const struct verdict *verdict, bool mirrored,
                         const struct star_list *list);

/* How often a fit of most of the verdict's pairs failed before; counted no further than for
 * effort_was_failure. */
int effort_failures(const struct effort *effort, const struct verdict *verdict, bool mirrored,
                    const struct star_list *list);

/* Whether fits of most of the verdict's pairs failed before, each of them so often that another fit
 * would say the same: many quads of one region lead to the same pose. */
bool effort_was_failure(const struct effort *effort, const struct verdict *verdict, bool mirrored,
                        const struct star_list *list);

#endif
