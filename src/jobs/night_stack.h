/* jobs/night_stack.h: the frames of a night on their way into the stack: which of them, corrected
 * by what, and how the target stands out beside what was promised. */
#ifndef ALIDADE_JOBS_NIGHT_STACK_H
#define ALIDADE_JOBS_NIGHT_STACK_H

#include "jobs/job_control.h"
#include "jobs/job_solve.h"
#include "night/emergence.h"
#include "stack/calibration.h"
#include "stack/stack.h"
#include "tripod/aim.h"

#include <stdbool.h>

/* What is wanted; all zeros: nothing. Borrowed texts. */
struct stack_wish {
    bool wanted;            /* also without a file: somebody looks at the stack */
    const char *png, *fits; /* files that are written; NULL: none */
    bool red;               /* the PNG in black and red */
};

bool stack_wish_given(const struct stack_wish *wish);

/* Starts as all zeros, which is none, and takes nothing; free with night_stack_free. To be used by
 * one thread at a time. */
struct night_stack {
    const struct stack_wish *wish;   /* borrowed, like what follows */
    const struct job_engine *engine; /* NULL: no promise can be made */
    struct aim_target target;
    struct stack stack; /* frames 0 until the first frame is in it */
    struct calibration calibration;
    struct emergence emergence;
    struct frame_health reference; /* of the first frame in the stack, */
    double reference_s;            /* and its exposure */
    struct {
        double sum;
        int count;
    } sky, dimming, width; /* against the reference; width: in px */
    int measure_at;        /* frames in the stack at which the signal is measured next, */
    int tell_at;           /* and lights, where none of these comes into the stack */
    int written;           /* frames that the files show */
    double written_s;      /* when they were written */
    int threads;           /* for each frame; 0: one */
    bool news;             /* the signal was measured since this was last reset */
};

void night_stack_open(struct night_stack *night, const struct stack_wish *wish,
                      const struct job_engine *engine, const struct aim_target *target);
void night_stack_free(struct night_stack *night);

/* Takes in a frame: a light that is worth it into the stack, a dark or flat for those that follow;
 * others are counted by why not. solved with its planes, which are changed; NULL, and frame->read
 * false, for one that could not be read. ERROR_MEMORY. */
int night_stack_take(struct night_stack *night, const struct night_frame *frame,
                     struct solved_frame *solved, struct error *err);

/* Counts a light that is left out for that reason. */
void night_stack_lose(struct night_stack *night, enum judge_cause cause);

/* Whether frames have come since the signal was measured. */
bool night_stack_is_behind(const struct night_stack *night);

/* Measures the target's signal as the stack is now, and keeps it as a step. */
void night_stack_measure(struct night_stack *night);

/* Writes the files that are wanted, if they would be new: not more often than every few seconds,
 * nor for less than a few per cent more frames, but for the last time. now_s on stopwatch_s.
 * ERROR_OUTPUT, ERROR_MEMORY. */
int night_stack_write(struct night_stack *night, double now_s, bool last, struct error *err);

/* Frames whose lines are known, once more from their files: in order, threads at a time, so that
 * no more of them are in memory. */
struct night_stack_reading {
    const struct solve_wish *solve;
    const struct job_engine *engine;
    const struct job_control *control; /* may be NULL; its progress counts frames */
    int threads;                       /* 0: one a processor */
    /* Called after each frame that was taken in, on one thread; NULL: nobody asks. ERROR_MEMORY
     * ends the reading. */
    int (*taken)(void *context, struct night_stack *night, struct error *err);
    void *context;
};

/* A frame and the path of its file now, both borrowed. */
struct night_stack_file {
    const struct night_frame *frame;
    const char *path;
    enum judge_cause lost; /* it is not read, only counted as lost; JUDGE_NOTHING: it is read */
};

/* Dark and flat frames first, then the others in their order. Files that cannot be read any more
 * are counted as lost. ERROR_MEMORY; 0 also when cancelled. */
int night_stack_read(struct night_stack *night, const struct night_stack_file *file, int files,
                     const struct night_stack_reading *reading, struct error *err);

#endif
