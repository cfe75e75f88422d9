#include "base/shutter.h"

#include "base/text.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const struct shutter usual = {
    .s = {30,       25,       20,       15,       13,       10,       8,        6,
          5,        4,        3.2,      2.5,      2,        1.6,      1.3,      1,
          0.8,      0.6,      0.5,      0.4,      0.3,      1 / 4.0,  1 / 5.0,  1 / 6.0,
          1 / 8.0,  1 / 10.,  1 / 13.,  1 / 15.,  1 / 20.,  1 / 25.,  1 / 30.,  1 / 40.,
          1 / 50.,  1 / 60.,  1 / 80.,  1 / 100., 1 / 125., 1 / 160., 1 / 200., 1 / 250.,
          1 / 320., 1 / 400., 1 / 500., 1 / 640., 1 / 800., 1 / 1000.},
    .count = 46};

double shutter_within(const struct shutter *shutter, double seconds)
{
    const double nearly = 1.01;
    const struct shutter *list = shutter->count ? shutter : &usual;
    int i = 0;
    while (i < list->count - 1 && list->s[i] > seconds * nearly) {
        i++;
    }
    return list->s[i];
}

/* "0.5", "1/2" */
static bool read_one(double *seconds, const char *text)
{
    char above[32];
    double below = 1;
    const char *stroke = strchr(text, '/');
    size_t length = stroke ? (size_t)(stroke - text) : strlen(text);
    if (length >= sizeof above) {
        return false;
    }
    snprintf(above, sizeof above, "%.*s", (int)length, text);
    if (!text_read_double(seconds, above) || (stroke && !text_read_double(&below, stroke + 1)) ||
        !(below > 0)) {
        return false;
    }
    *seconds /= below;
    return *seconds >= 1e-5 && *seconds <= 3600;
}

static int longest_first(const void *left, const void *right)
{
    double a = *(const double *)left, b = *(const double *)right;
    return (a < b) - (a > b);
}

bool shutter_read(struct shutter *shutter, const char *text)
{
    struct shutter read = {.count = 0};
    for (const char *at = text;; at++) {
        char one[40];
        size_t length = strcspn(at, ",");
        if (read.count == SHUTTER_MOST || length >= sizeof one) {
            return false;
        }
        snprintf(one, sizeof one, "%.*s", (int)length, at);
        if (!read_one(&read.s[read.count++], one)) {
            return false;
        }
        at += length;
        if (!*at) {
            break;
        }
    }
    qsort(read.s, (size_t)read.count, sizeof *read.s, longest_first);
    *shutter = read;
    return true;
}

void shutter_write(char *out, size_t size, double seconds)
{
    const double longest_fraction = 0.29;
    if (seconds > 0 && seconds < longest_fraction) {
        snprintf(out, size, "1/%.0f s", 1 / seconds);
    } else {
        snprintf(out, size, "%.2g s", seconds);
        if (seconds >= 99.5) {
            snprintf(out, size, "%.0f s", seconds);
        }
    }
}
