/* base/median.h: order statistics of small and middling arrays. */
#ifndef ALIDADE_BASE_MEDIAN_H
#define ALIDADE_BASE_MEDIAN_H

/* The upper median of n values, which come out sorted, rising; 0 for none. No NaN allowed. */
double median_of(double *value, int n);

/* Half of the sum of the two in the middle, or the one there; NaN for none. As above. */
double median_middle(double *value, int n);

/* The value that a part of them, 0..1, does not exceed; as above. */
double median_quantile(double *value, int n, double part);

#endif
