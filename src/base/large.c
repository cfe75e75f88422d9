#define _DEFAULT_SOURCE /* madvise */

#include "base/large.h"

#include <limits.h>
#include <stdint.h>
#include <stdlib.h>
#ifdef __GLIBC__
#include <malloc.h>
#endif
#include <sys/mman.h>

enum { PAGE = 1 << 21 };

void *large_alloc(size_t size)
{
    void *memory = NULL;
    if (size < 2 * (size_t)PAGE) {
        return malloc(size);
    }
    if (posix_memalign(&memory, PAGE, size) != 0) {
        return NULL;
    }
#ifdef MADV_HUGEPAGE
    madvise(memory, size, MADV_HUGEPAGE); /* advice only: the memory is good either way */
#endif
    return memory;
}

void large_keep(void)
{
#if defined __GLIBC__ && UINTPTR_MAX > UINT32_MAX && !defined __SANITIZE_ADDRESS__
    /* Addresses alone, until they are written to. */
    const size_t room = (size_t)1 << 30;
    mallopt(M_ARENA_MAX, 1);
    mallopt(M_MMAP_MAX, 0);
    mallopt(M_TRIM_THRESHOLD, INT_MAX);
    free(large_alloc(room));
#endif
}
