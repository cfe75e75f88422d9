/* base/large.h: memory for whole pictures. */
#ifndef ALIDADE_BASE_LARGE_H
#define ALIDADE_BASE_LARGE_H

#include <stddef.h>

/* As malloc, and released by free. From a few megabytes on the system is asked for large pages, so
 * that touching the memory for the first time doesn't cost more than filling it. */
void *large_alloc(size_t size);

#endif
