#include "stars/sky_cell.h"

#include <math.h>
#include <stdbool.h>
#include <string.h>

#define CLIP 3.0    /* rms from the middle, beyond which nothing is sky */
#define CROWDED 0.3 /* rms between mean and median, from which stars make up too much */

/* LANES values are summed side by side, in an order that no compiler changes. */
enum { LANES = 8, MOST_CLIPS = 8, MOST_LOOKS = 12, BINS = 128 };

/* Mean and rms of the values between low and high. */
struct spread {
    double mean, rms;
    int count;
};

static double add_up(const float lane[LANES])
{
    double sum = 0;
    for (int k = 0; k < LANES; k++) {
        sum += (double)lane[k];
    }
    return sum;
}

/* About a value near the mean, so that floats will do. */
static struct spread measure_spread(const float *value, int n, double about, double low,
                                    double high)
{
    float count[LANES] = {0}, sum[LANES] = {0}, square[LANES] = {0};
    float middle = (float)about, from = (float)low, to = (float)high;
    for (int i = 0; i < n; i += LANES) {
        for (int k = 0; k < LANES; k++) {
            float v = value[i + k];
            bool inside = v >= from && v <= to; /* never for NaN */
            float off = inside ? v - middle : 0;
            count[k] += inside ? 1.0F : 0.0F;
            sum[k] += off;
            square[k] += off * off;
        }
    }
    struct spread s = {0};
    double total = add_up(count);
    s.count = (int)total;
    if (s.count > 0) {
        double mean = add_up(sum) / total;
        s.mean = (double)middle + mean;
        s.rms = sqrt(fmax(add_up(square) / total - mean * mean, 0));
    }
    return s;
}

/* Where most of the values are: clipped until the rms hardly falls any more. */
static struct spread find_bulk(const float *value, int n, double first)
{
    struct spread s = measure_spread(value, n, first, -INFINITY, INFINITY);
    s = measure_spread(value, n, s.mean, -INFINITY, INFINITY);
    for (int i = 0; i < MOST_CLIPS && s.rms > 0; i++) {
        /* The first time closer: one bright star makes an rms that nothing is beyond. */
        double reach = (i == 0 ? 2 : CLIP) * s.rms;
        struct spread next = measure_spread(value, n, s.mean, s.mean - reach, s.mean + reach);
        bool settled = i > 0 && next.rms > 0.9 * s.rms;
        if (next.count == 0) {
            break;
        }
        s = next;
        if (settled) {
            break;
        }
    }
    return s;
}

/* Counts of values in steps from a first value on. */
struct histogram {
    int count[BINS];
    double first, step;
};

static void fill_histogram(struct histogram *h, const float *value, int n)
{
    float first = (float)h->first, per = (float)(1 / h->step);
    memset(h->count, 0, sizeof h->count);
    for (int i = 0; i < n; i++) {
        float at = (value[i] - first) * per;
        if (at >= 0 && at < BINS) {
            h->count[(int)at]++;
        }
    }
}

/* Mean, rms and median of the bins low to high - 1, in bins. */
struct look {
    double mean, rms, median;
};

static bool look_at(struct look *look, const struct histogram *h, int low, int high)
{
    long n = 0, sum = 0, square = 0, below = 0;
    for (int i = low; i < high; i++) {
        long c = h->count[i];
        n += c;
        sum += c * i;
        square += c * i * i;
    }
    if (n == 0) {
        return false;
    }
    int i = low;
    while (2 * (below + h->count[i]) < n) {
        below += h->count[i++];
    }
    double mean = (double)sum / (double)n;
    look->mean = mean + 0.5;
    look->rms = sqrt(fmax((double)square / (double)n - mean * mean, 0));
    look->median = i + ((double)n / 2 - (double)below) / h->count[i];
    return true;
}

void sky_cell_measure(float *mode, float *rms, float *value, int n)
{
    int whole = (n + LANES - 1) / LANES * LANES;
    for (int i = n; i < whole; i++) {
        value[i] = NAN; /* is neither above nor below anything */
    }
    struct spread bulk = find_bulk(value, whole, (double)value[n / 2]);
    *mode = (float)bulk.mean;
    *rms = (float)bulk.rms;
    double reach = 4 * bulk.rms;
    struct histogram h = {.first = bulk.mean - reach, .step = 2 * reach / BINS};
    if (!(h.step > 1e-7 * fabs(bulk.mean)) || !isfinite(1 / h.step)) {
        return; /* all alike */
    }
    fill_histogram(&h, value, n);
    struct look look;
    int low = 0, high = BINS;
    for (int i = 0; i < MOST_LOOKS && look_at(&look, &h, low, high); i++) {
        int next_low = (int)fmax(floor(look.median - CLIP * look.rms), 0);
        int next_high = (int)fmin(ceil(look.median + CLIP * look.rms), BINS);
        double middle = fabs(look.mean - look.median) < CROWDED * look.rms
                            ? 2.5 * look.median - 1.5 * look.mean
                            : look.median;
        *mode = (float)(h.first + middle * h.step);
        *rms = (float)(look.rms * h.step);
        if (next_low == low && next_high == high) {
            break;
        }
        low = next_low;
        high = next_high;
    }
}
