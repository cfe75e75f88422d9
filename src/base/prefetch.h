/* base/prefetch.h: asks for memory that will be read soon, where it lies scattered. */
#ifndef ALIDADE_BASE_PREFETCH_H
#define ALIDADE_BASE_PREFETCH_H

/* Advice only: any address is good, and nothing changes but how long reading takes. */
static inline void prefetch(const void *address)
{
#ifdef __GNUC__
    __builtin_prefetch(address);
#else
    (void)address;
#endif
}

#endif
