#include "base/median.h"

#include <math.h>
#include <stdlib.h>

enum { FEW = 16, MOST_SPLITS = 60 };

static int by_value(const void *left, const void *right)
{
    double a = *(const double *)left, b = *(const double *)right;
    return (a > b) - (a < b);
}

static void sort_few(double *value, int n)
{
    for (int i = 1; i < n; i++) {
        double v = value[i];
        int j = i;
        for (; j > 0 && value[j - 1] > v; j--) {
            value[j] = value[j - 1];
        }
        value[j] = v;
    }
}

static double middle_of(double a, double b, double c)
{
    return a < b ? (b < c ? b : a < c ? c : a) : (a < c ? a : b < c ? c : b);
}

/* Hoare 1961: puts what is smaller than the pivot before what is larger; returns where the latter
 * begins. */
static int split(double *value, int n)
{
    double pivot = middle_of(value[0], value[n / 2], value[n - 1]);
    int i = 0, j = n - 1;
    for (;;) {
        while (value[i] < pivot) {
            i++;
        }
        while (value[j] > pivot) {
            j--;
        }
        if (i >= j) {
            return j + 1;
        }
        double v = value[i];
        value[i++] = value[j];
        value[j--] = v;
    }
}

/* Hoare 1961 again: of the two parts only the one with the rank is split further. Where splitting
 * does not get on, all that is left is sorted. */
double median_rank(double *value, int n, int rank)
{
    for (int splits = 0; n >= FEW && splits < MOST_SPLITS; splits++) {
        int first = split(value, n);
        if (rank < first) {
            n = first;
        } else {
            value += first;
            n -= first;
            rank -= first;
        }
    }
    if (n < FEW) {
        sort_few(value, n);
    } else {
        qsort(value, (size_t)n, sizeof *value, by_value);
    }
    return value[rank];
}

double median_quantile(double *value, int n, double part)
{
    int rank = (int)(part * n);
    return n < 1 ? 0 : median_rank(value, n, rank < n ? rank : n - 1);
}

double median_of(double *value, int n)
{
    return median_quantile(value, n, 0.5);
}

double median_middle(double *value, int n)
{
    if (n < 1) {
        return (double)NAN;
    }
    double upper = median_rank(value, n, n / 2);
    return 0.5 * (upper + median_rank(value, n, (n - 1) / 2));
}
