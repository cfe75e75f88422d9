/* base/wider.h: loops over pixels in the widest registers that the processor has. */
#ifndef ALIDADE_BASE_WIDER_H
#define ALIDADE_BASE_WIDER_H

/* WIDER(copy_row, (float *to, const float *from, int n), (to, from, n)) defines a static copy_row
 * that does what the copy_row_plain before it does, whose loops work on pixels side by side:
 * that is compiled once more for wider registers, and taken where the processor has them. Results
 * are the same to the bit, since each pixel is worked out as before; no products and sums are fused
 * (-ffp-contract=off). static PLAIN stands before that one. */
#if defined __x86_64__ && defined __GNUC__ && !defined __AVX2__
#define PLAIN inline __attribute__((always_inline))
#define WIDER(name, parameters, arguments)                                                         \
    __attribute__((target("avx2"))) static void name##_wider parameters                            \
    {                                                                                              \
        name##_plain arguments;                                                                    \
    }                                                                                              \
    static void name parameters                                                                    \
    {                                                                                              \
        if (__builtin_cpu_supports("avx2")) {                                                      \
            name##_wider arguments;                                                                \
        } else {                                                                                   \
            name##_plain arguments;                                                                \
        }                                                                                          \
    }
#else
#define PLAIN inline
#define WIDER(name, parameters, arguments)                                                         \
    static void name parameters                                                                    \
    {                                                                                              \
        name##_plain arguments;                                                                    \
    }
#endif

#endif
