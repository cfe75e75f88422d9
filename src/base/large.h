/* base/large.h: memory for whole pictures. */
#ifndef ALIDADE_BASE_LARGE_H
#define ALIDADE_BASE_LARGE_H

#include <stddef.h>

/* As malloc, and released by free. From a few megabytes on the system is asked for large pages, so
 * that touching the memory for the first time doesn't cost more than filling it. */
void *large_alloc(size_t size);

/* From here on memory that is freed stays with the program, and what malloc gives out lies in large
 * pages: pictures of a night are read into the same pages one after the other, also by libraries.
 * For programs, at their start, before there is a second thread; the library does not call it. Does
 * nothing where the C library cannot do it. */
void large_keep(void);

#endif
