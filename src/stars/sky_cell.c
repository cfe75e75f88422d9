#include "stars/sky_cell.h"

#include "base/wider.h"

#include <math.h>
#include <stdbool.h>
#include <string.h>

#define CLIP 3.0    /* rms from the median, beyond which nothing is sky */
#define CROWDED 0.3 /* rms between mean and median, from which stars make up too much */
#define REACH 5.0   /* of the histogram to either side, in what the rms is thought to be */

enum { BINS = 64, FIRST = 31, ROOM = 32, MOST_LOOKS = 12, MOST_SCALES = 24, AT_ONCE = 128 };

/* Sums of counts times squares of bins stay within an int. */
enum { MOST_VALUES = 100000 };

/* A few values need no more: the median is interpolated within its bin. */
enum { FEW = 150, BINS_OF_FEW = 32 };

/* Values next to each other are mostly alike: counted in turns, lest each wait for the one before.
 */
enum { TURNS = 4 };

/* Counts of values in steps from a first value on, and sums over the bins before each. */
struct histogram {
    int count[BINS + 1], bins; /* the last one: of what is in none */
    int before[BINS + 1], sum[BINS + 1], square[BINS + 1];
    float first, step;
};

/* The bin of each of n values; that after the last one if it is in none. */
static PLAIN void find_bins_plain(int *restrict bin, const float *restrict value, int n,
                                  float first, float per, float bins)
{
    for (int i = 0; i < n; i++) {
        float at = (value[i] - first) * per;
        at = at >= 0 ? at : bins;
        bin[i] = (int)(at < bins ? at : bins);
    }
}

WIDER(find_bins,
      (int *restrict bin, const float *restrict value, int n, float first, float per, float bins),
      (bin, value, n, first, per, bins))

static void fill_histogram(struct histogram *h, const float *value, int n, int apart)
{
    float per = 1 / h->step, bins = (float)h->bins;
    float chosen[AT_ONCE];
    int bin[AT_ONCE], count[TURNS][BINS + 1], turns = n < FEW ? 1 : TURNS;
    memset(count, 0, (size_t)turns * sizeof *count);
    for (int i = 0; i < n;) {
        int some = 0;
        for (; apart > 1 && some < AT_ONCE && i < n; i += apart) {
            chosen[some++] = value[i];
        }
        if (apart > 1) {
            find_bins(bin, chosen, some, h->first, per, bins);
        } else {
            some = n - i < AT_ONCE ? n - i : AT_ONCE;
            find_bins(bin, value + i, some, h->first, per, bins);
            i += some;
        }
        int whole = turns > 1 ? some - some % TURNS : 0;
        for (int k = 0; k < whole; k += TURNS) {
            for (int turn = 0; turn < TURNS; turn++) {
                count[turn][bin[k + turn]]++;
            }
        }
        for (int k = whole; k < some; k++) {
            count[0][bin[k]]++;
        }
    }
    memcpy(h->count, count[0], sizeof h->count);
    for (int turn = 1; turn < turns; turn++) {
        for (int k = 0; k <= BINS; k++) {
            h->count[k] += count[turn][k];
        }
    }
    h->before[0] = h->sum[0] = h->square[0] = 0;
    for (int k = 0; k < h->bins; k++) {
        int times = h->count[k] * k;
        h->before[k + 1] = h->before[k] + h->count[k];
        h->sum[k + 1] = h->sum[k] + times;
        h->square[k + 1] = h->square[k] + times * k;
    }
}

/* Mean, rms and median of some bins, in bins. */
struct look {
    double mean, rms, median;
};

/* The first bin with which half of what is in them is reached; there is something. Without
 * branches, which no processor could foresee here. */
static int middle_bin(const struct histogram *h, int low, int high)
{
    int both = h->before[low] + h->before[high];
    for (int n = high - low; n > 1;) {
        int half = n / 2;
        low += 2 * h->before[low + half] < both ? half : 0;
        n -= half;
    }
    return low;
}

static bool look_at(struct look *look, const struct histogram *h, int low, int high)
{
    int n = h->before[high] - h->before[low], sum = h->sum[high] - h->sum[low];
    int square = h->square[high] - h->square[low];
    if (n == 0) {
        return false;
    }
    int i = middle_bin(h, low, high);
    double mean = (double)sum / n;
    look->mean = mean + 0.5;
    look->rms = sqrt(fmax((double)square / n - mean * mean, 0));
    look->median = i + (n / 2.0 - (h->before[i] - h->before[low])) / h->count[i];
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
        double lowest = look->median - CLIP * look->rms, highest = look->median + CLIP * look->rms;
        int next_low = lowest > 0 ? (int)lowest : 0;
        int next_high = highest < h->bins ? (int)highest : h->bins;
        next_high += next_high < highest && next_high < h->bins;
        if (next_low == low && next_high == high) {
            break;
        }
        low = next_low;
        high = next_high;
    }
    return true;
}

/* How many of the values are less than each, and how many are not more. All against all: no
 * processor could foresee where a sort would go. */
static PLAIN void count_below_plain(int less[restrict ROOM], int not_more[restrict ROOM],
                                    const float value[restrict ROOM])
{
    for (int i = 0; i < ROOM; i++) {
        less[i] = not_more[i] = 0;
    }
    for (int k = 0; k < ROOM; k++) {
        float other = value[k];
        for (int i = 0; i < ROOM; i++) {
            less[i] += other < value[i];
            not_more[i] += other <= value[i];
        }
    }
}

WIDER(count_below,
      (int less[restrict ROOM], int not_more[restrict ROOM], const float value[restrict ROOM]),
      (less, not_more, value))

/* Median and rms by quartiles of a few of the values; a normal distribution has its quartiles 1.349
 * rms apart. */
static void guess(double *middle, double *rms, const float *value, int n)
{
    int m = n < FIRST ? n : FIRST, less[ROOM], not_more[ROOM];
    const int rank[] = {m / 4, m / 2, 3 * m / 4};
    float some[ROOM], at_rank[3] = {0};
    for (int i = 0; i < ROOM; i++) {
        some[i] = i < m ? value[(long)i * n / m] : INFINITY;
    }
    count_below(less, not_more, some);
    for (int i = 0; i < m; i++) {
        for (int k = 0; k < 3; k++) {
            bool here = less[i] <= rank[k] && rank[k] < not_more[i];
            at_rank[k] = here ? some[i] : at_rank[k];
        }
    }
    *middle = (double)at_rank[1];
    *rms = ((double)at_rank[2] - (double)at_rank[0]) / 1.349;
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
