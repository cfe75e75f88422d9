/* cli/frame_answers.h: the same question about many frames, answered in their order. */
#ifndef ALIDADE_CLI_FRAME_ANSWERS_H
#define ALIDADE_CLI_FRAME_ANSWERS_H

#include "base/error.h"

#include <stdio.h>

/* Writes what there is to say about one frame to out. Returns its exit code; if that comes with a
 * sentence for stderr, it is in err. Runs on several threads at once. */
typedef int frame_answer(FILE *out, const char *name, const void *context, struct error *err);

/* Calls answer for each frame, on so many threads (0: one a processor). What it writes goes to out
 * in the order of the frames, each as soon as all before it are through; complaints go to stderr
 * after "who: ". Stops early when out cannot be written to any more. Returns the highest code. */
int frames_answer(FILE *out, int frames, char **name, int threads, const char *who,
                  frame_answer *answer, const void *context, struct error *err);

#endif
