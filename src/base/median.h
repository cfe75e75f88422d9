/* base/median.h: order statistics of small and middling arrays. */
#ifndef ALIDADE_BASE_MEDIAN_H
#define ALIDADE_BASE_MEDIAN_H

/* The value of a rank, 0 for the smallest of n, which come out in another order, as from all of
 * these. No NaN allowed. */
double median_rank(double *value, int n, int rank);

/* The upper median of n values; 0 for none. As above. */
double median_of(double *value, int n);

/* Half of the sum of the two in the middle, or the one there; NaN for none. As above. */
double median_middle(double *value, int n);

/* The value that a part of them, 0..1, does not exceed; as above. */
double median_quantile(double *value, int n, double part);

#endif
