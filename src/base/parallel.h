/* base/parallel.h: the same work on many items, on several threads. */
#ifndef ALIDADE_BASE_PARALLEL_H
#define ALIDADE_BASE_PARALLEL_H

/* Number of processors that this process may run on, at least 1. */
int parallel_processors(void);

/* How many threads each of items that are worked on side by side may have, at least 1; threads: of
 * all, 0: one a processor. */
int parallel_share(int threads, int items);

/* Calls work(item, context) once for each item 0..items-1, on up to threads threads, in rising
 * order of start. Returns when all are done. Runs on the calling thread alone if threads < 2 or
 * no thread can be started. */
void parallel_each(int items, int threads, void (*work)(int item, void *context), void *context);

#endif
