/* base/wider.h: loops over pixels in the widest registers that the processor has. */
#ifndef ALIDADE_BASE_WIDER_H
#define ALIDADE_BASE_WIDER_H

#include <stddef.h> /* tells which C library it is */

/* Before a function whose loops work on pixels side by side: it is compiled once more for
 * processors with wider registers, and the program takes the right one as it starts. Results are
 * the same to the bit, since each pixel is worked out as before; no products and sums are fused
 * (-ffp-contract=off). Nothing where compiler or C library cannot do it. */
#if defined __x86_64__ && defined __GLIBC__ && defined __GNUC__ && !defined __clang__ &&           \
    !defined __SANITIZE_ADDRESS__ && !defined __AVX2__
#define WIDER __attribute__((target_clones("avx2", "default")))
#else
#define WIDER
#endif

#endif
