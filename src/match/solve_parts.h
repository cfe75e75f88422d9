/* match/solve_parts.h: what the searches for one frame have in common; for the files of
 * match/solve.h alone. */
#ifndef ALIDADE_MATCH_SOLVE_PARTS_H
#define ALIDADE_MATCH_SOLVE_PARTS_H

#include "match/solve.h"

/* In place of a recipe: lists made of arcs, whose steps are their own. */
enum { SOLVE_OF_TRAILS = DETECT_RECIPES };

/* One list, index after index until one solves it; attempt is empty before. effort: one for each
 * index. */
int solve_list_among(struct solution *attempt, struct solve_indexes *indexes, struct effort *effort,
                     const struct star_list *stars, int recipe, const struct solve_options *options,
                     struct error *err);

bool solve_is_cancelled(const struct solve_options *options);

/* Stars that are arcs. All zeros: nobody looked. */
struct trail_search {
    const struct frame *frame; /* borrowed, like the others */
    struct solve_indexes *indexes;
    const struct solve_options *options;
    bool looked;
    bool plain;              /* nothing else is there to be solved */
    struct solution attempt; /* to be taken over */
    struct star_list stars;
    double detect_ms;
    long steps;
    int code; /* ERROR_MEMORY */
    struct error err;
};

/* Looks for arcs and, if there are, searches for where they lie: by their middles, then by their
 * ends. True if no other search is worth it. */
bool solve_trails(struct trail_search *search);

#endif
