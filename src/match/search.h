/* match/search.h: from a star list to the best hypothesis about where it points. */
#ifndef ALIDADE_MATCH_SEARCH_H
#define ALIDADE_MATCH_SEARCH_H

#include "match/effort.h"
#include "match/verify.h"

/* One stage of the search: which quads of the frame are looked up. Stages are tried in turn; a
 * later one looks wider. */
struct search_stage {
    double window; /* share of the picture's width and height that stars may come from */
    double
        place[2];   /* middle of the window, shares of width and height from the picture's middle */
    int stars;      /* the brightest so many of the window */
    int neighbours; /* quads join an anchor with three of so many nearest brighter ones */
    double tolerance; /* of the shape, for a quad as long as the picture's half diagonal */
    int done_stars, done_neighbours; /* combinations within both were tried by an earlier stage */
    /* For pieces cut from the edge of a wide picture: the projection stretches them in one
     * direction. Stretches of first_ring to last_ring are tried, none if both are 0; see search.c.
     */
    int first_ring, last_ring;
};

struct search_options {
    struct verify_options verify;
    double near[3];        /* unit vector; only used when near_cos > -1 */
    double near_cos;       /* candidates whose quad is farther from near are not tried */
    double accept_log10;   /* chance below which a hypothesis is taken */
    bool both_hands;       /* also try the mirrored list */
    struct effort *effort; /* no quad is looked up when it is spent; NULL: nothing is counted */
    long most_hypotheses;  /* no anchor is begun once so many have been tried in all; 0: no limit */
    /* Asked before a hypothesis is taken; false lets the search go on. */
    bool (*confirm)(const struct verdict *verdict, bool mirrored, void *context);
    void *context;
};

/* Carried from stage to stage. Starts as all zeros. */
struct search_state {
    struct verdict best; /* of all hypotheses so far; best.pairs is 0 if there was none */
    bool best_mirrored;
    long hypotheses; /* counted as tried */
    long lookups;
    double chance_log10; /* of the best */
    bool accepted;
};

/* direct and mirrored are the same list in both hands. Ends at the first hypothesis whose chance is
 * below the limit and that is confirmed. */
void search_stage(struct search_state *state, const struct search_stage *stage,
                  const struct detections *direct, const struct detections *mirrored,
                  const struct index *index, const struct search_options *options);

/* The table of stages, in the order to be tried. */
extern const struct search_stage search_stages[];
extern const int search_stage_count;

#endif
