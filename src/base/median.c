#include "base/median.h"

#include <math.h>
#include <stdlib.h>

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

static void sort(double *value, int n)
{
    if (n < 40) {
        sort_few(value, n);
    } else {
        qsort(value, (size_t)n, sizeof *value, by_value);
    }
}

double median_quantile(double *value, int n, double part)
{
    if (n < 1) {
        return 0;
    }
    sort(value, n);
    int i = (int)(part * n);
    return value[i < n ? i : n - 1];
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
    sort(value, n);
    return 0.5 * (value[n / 2] + value[(n - 1) / 2]);
}
