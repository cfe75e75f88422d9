#define _DEFAULT_SOURCE /* madvise */

#include "base/large.h"

#include <stdlib.h>
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
