/* night/review_parts.h: the steps that review_make takes. */
#ifndef ALIDADE_NIGHT_REVIEW_PARTS_H
#define ALIDADE_NIGHT_REVIEW_PARTS_H

#include "night/review.h"

/* Moves, gaps, and runs of frames with one cause. Needs times, verdicts and places. */
void review_find_events(struct review *review);

/* Counts satellites and aeroplanes. Needs the order of time. */
void review_find_crossings(struct review *review);

/* The best frame to align the others to, and the area that the kept ones share. ERROR_MEMORY. */
int review_find_cover(struct review *review, struct error *err);

#endif
