#include "base/path.h"
#include "base/text.h"
#include "night/review_parts.h"

#include <math.h>
#include <stdio.h>

/* A line at the same place in so many of the frames around is a wire, or a lamp's flare. */
enum { AROUND = 5, FIXED = 4 };
static const double same_place = 0.01; /* of the picture's width */

static bool is_alike(const struct streak *a, const struct streak *b, double tolerance)
{
    return hypot(a->x0 - b->x0, a->y0 - b->y0) < tolerance &&
           hypot(a->x1 - b->x1, a->y1 - b->y1) < tolerance;
}

static bool has_alike(const struct night_frame *frame, const struct streak *streak)
{
    for (int i = 0; i < frame->streaks.count; i++) {
        if (is_alike(&frame->streaks.streak[i], streak, same_place * frame->width)) {
            return true;
        }
    }
    return false;
}

static bool stays(const struct review *review, int at, const struct streak *streak)
{
    int alike = 0;
    for (int i = at - AROUND; i <= at + AROUND; i++) {
        alike +=
            i >= 0 && i < review->frames && i != at && has_alike(review->frame[i].frame, streak);
    }
    return alike >= FIXED;
}

void review_find_crossings(struct review *review)
{
    for (int i = 0; i < review->frames; i++) {
        struct review_frame *f = &review->frame[i];
        const struct streak_list *list = &f->frame->streaks;
        for (int k = 0; k < list->count; k++) {
            f->crossings += !stays(review, i, &list->streak[k]);
        }
        review->crossed += f->crossings > 0;
    }
}

void review_write_crossed(char *out, size_t size, const struct review *review)
{
    const int most = 3;
    int named = 0;
    out[0] = '\0';
    if (!review->crossed) {
        return;
    }
    text_append(out, size, "%d frame%s, by satellites or aeroplanes: ", review->crossed,
                review->crossed == 1 ? "" : "s");
    for (int i = 0; i < review->frames && named < most; i++) {
        if (review->frame[i].crossings) {
            text_append(out, size, "%s%s", named++ ? ", " : "",
                        path_base(review->frame[i].frame->name));
        }
    }
    if (review->crossed > named) {
        text_append(out, size, " and %d more", review->crossed - named);
    }
}
