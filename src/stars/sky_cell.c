#include "stars/sky_cell.h"

#include <math.h>
#include <stdbool.h>
#include <string.h>

#define CLIP 3.0    /* rms from the median, beyond which nothing is sky */
#define CROWDED 0.3 /* rms between mean and median, from which stars make up too much */
#define REACH 5.0   /* of the histogram to either side, in what the rms is thought to be */

enum { BINS = 64, FIRST = 31, MOST_LOOKS = 12, MOST_SCALES = 24 };

/* Sums of counts times squares of bins stay within an int. */
enum { MOST_VALUES = 100000 };

/* A few values need no more: the median is interpolated within its bin. */
enum { FEW = 150, BINS_OF_FEW = 32 };

/* Counts of values in steps from a first value on. */
struct histogram {
    int count[BINS], bins;
    float first, step;
};

static void fill_histogram(struct histogram *h, const float *value, int n, int apart)
{
    float per = 1 / h->step, bins = (float)h->bins;
    memset(h->count, 0, (size_t)h->bins * sizeof *h->count);
    for (int i = 0; i < n; i += apart) {
        float at = (value[i] - h->first) * per;
        if (at >= 0 && at < bins) {
            h->count[(int)at]++;
        }
    }
}

/* Mean, rms and median of some bins, in bins. */
struct look {
    double mean, rms, median;
};

static bool look_at(struct look *look, const struct histogram *h, int low, int high)
{
    int n = 0, sum = 0, square = 0, below = 0, i = low;
    for (int k = low; k < high; k++) {
        int count = h->count[k];
        n += count;
        sum += count * k;
        square += count * k * k;
    }
    if (n == 0) {
        return false;
    }
    while (2 * (below + h->count[i]) < n) {
        below += h->count[i++];
    }
    double mean = (double)sum / n;
    look->mean = mean + 0.5;
    look->rms = sqrt(fmax((double)square / n - mean * mean, 0));
    look->median = i + (n / 2.0 - below) / h->count[i];
    return true;
}

/* Leaves out what is far from the median until nothing changes. */
static bool clip(struct look *look, const struct histogram *h)
{
    int low = 0, high = h->bins;
    for (int i = 0; i < MOST_LOOKS; i++) {
        if (!look_at(look, h, low, high)) {
            return false;
        }
        int next_low = (int)fmax(floor(look->median - CLIP * look->rms), 0);
        int next_high = (int)fmin(ceil(look->median + CLIP * look->rms), h->bins);
        if (next_low == low && next_high == high) {
            break;
        }
        low = next_low;
        high = next_high;
    }
    return true;
}

/* Median and rms by quartiles of a few of the values; a normal distribution has its quartiles 1.349
 * rms apart. */
static void guess(double *middle, double *rms, const float *value, int n)
{
    float sorted[FIRST] = {0};
    int m = n < FIRST ? n : FIRST;
    for (int i = 0; i < m; i++) {
        float v = value[(long)i * n / m];
        int k = i;
        for (; k > 0 && sorted[k - 1] > v; k--) {
            sorted[k] = sorted[k - 1];
        }
        sorted[k] = v;
    }
    *middle = (double)sorted[m / 2];
    *rms = ((double)sorted[3 * m / 4] - (double)sorted[m / 4]) / 1.349;
}

/* Of all values, where quartiles tell nothing because most are alike. */
static double plain_rms(const float *value, int n, double middle)
{
    double square = 0;
    for (int i = 0; i < n; i++) {
        double off = (double)value[i] - middle;
        square += off * off;
    }
    return sqrt(square / n);
}

void sky_cell_measure(float *mode, float *rms, const float *value, int n, double known_rms)
{
    double middle = 0, scale = known_rms;
    int apart = n / MOST_VALUES + 1;
    if (!(scale > 0)) {
        guess(&middle, &scale, value, n);
        scale = scale > 0 ? scale : plain_rms(value, n, middle);
    }
    *mode = (float)middle;
    *rms = 0;
    /* The histogram is made again where the scale was wrong. */
    for (int i = 0; i < MOST_SCALES; i++) {
        struct histogram h;
        h.bins = n < FEW ? BINS_OF_FEW : BINS;
        h.first = (float)(middle - REACH * scale);
        h.step = (float)(2 * REACH * scale / h.bins);
        struct look look;
        if (!(h.step > 1e-7F * fabsf(h.first)) || !isfinite(1 / h.step)) {
            return; /* all alike, or beyond floats */
        }
        fill_histogram(&h, value, n, apart);
        if (!clip(&look, &h)) {
            return;
        }
        double measured = look.rms * (double)h.step;
        middle = (double)h.first + look.median * (double)h.step;
        double peak = fabs(look.mean - look.median) < CROWDED * look.rms
                          ? 2.5 * look.median - 1.5 * look.mean
                          : look.median;
        *mode = (float)((double)h.first + peak * (double)h.step);
        *rms = (float)measured;
        if (!(measured < 0.25 * scale || CLIP * measured > 0.8 * REACH * scale)) {
            return;
        }
        scale = fmax(measured, (double)h.step); /* the median is known to a bin */
    }
}
