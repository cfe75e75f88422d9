/* jobs/review_stack.h: the frames that a review keeps, laid over each other. */
#ifndef ALIDADE_JOBS_REVIEW_STACK_H
#define ALIDADE_JOBS_REVIEW_STACK_H

#include "draw/night_page.h"
#include "jobs/job_review.h"
#include "jobs/night_stack.h"

/* Starts as all zeros; free with review_stack_free. May not be moved. */
struct review_stack {
    struct night_stack night;
    struct night_page_stack page; /* for the report: pictures of how it came about */
    int frames;                   /* that will be in it, if all can be read */
};

/* All borrowed. */
struct review_stack_work {
    const struct job_engine *engine;
    const struct solve_wish *solve;
    const struct stack_wish *wish;
    const struct job_control *control; /* may be NULL */
    int threads;                       /* 0: one a processor */
};

/* Reads the kept and doubtful frames of a review once more, with the darks and flats, and stacks
 * them in the order of time; writes the files that are wanted. ERROR_CANCELLED, ERROR_OUTPUT,
 * ERROR_MEMORY. */
int review_stack_make(struct review_stack *stack, const struct review *review,
                      const struct review_stack_work *work, struct error *err);
void review_stack_free(struct review_stack *stack);

#endif
