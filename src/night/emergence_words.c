#include "night/emergence.h"

#include "base/text.h"
#include "plan/signal_words.h"

#include <math.h>

const char emergence_caution[] =
    "a glimpse while the frames come; the real stack is made elsewhere";

/* What takes so much of the signal to noise is named as a reason. */
static const double least_loss = 0.1;

static void write_span(char *out, size_t size, double seconds)
{
    double minutes = ceil(seconds / 60);
    if (minutes < 100) {
        snprintf(out, size, "%.0f min", minutes);
    } else {
        snprintf(out, size, "%.1f h", minutes / 60);
    }
}

static void write_outlook(char *out, size_t size, const struct emergence *e)
{
    struct emergence_outlook outlook;
    char span[40];
    emergence_foresee(&outlook, e);
    if (!outlook.known) {
        text_append(out, size, "; too faint yet to say when it will show");
    } else if (outlook.visible) {
        text_append(out, size, "; visible since about frame %.0f", outlook.frame);
    } else {
        double error = fmax(1, outlook.frame_error), unit = pow(10, floor(log10(error)));
        text_append(out, size, "; visible at about frame %.0f ± %.0f, %d now",
                    fmax(round(outlook.frame / unit) * unit, e->lights + 1),
                    round(error / unit) * unit, e->lights);
        if (isfinite(outlook.left_s)) {
            write_span(span, sizeof span, outlook.left_s);
            text_append(out, size, "; %s more", span);
        }
    }
}

void emergence_write(char *out, size_t size, const struct emergence *e)
{
    char promised[40];
    if (!e->known) {
        snprintf(out, size, "not measured: %s", e->unknown);
        return;
    }
    int decimals = e->snr_error > 0 ? (int)fmin(fmax(ceil(-log10(e->snr_error)), 0), 6) : 2;
    snprintf(out, size, "S/N %.*f ± %.*f per pixel", decimals, e->snr, decimals, e->snr_error);
    if (e->has_promise) {
        signal_write_ratio(promised, sizeof promised, emergence_promised(e));
        text_append(out, size, ", promised %s", promised);
    }
    if (e->planned > 0) {
        signal_write_ratio(promised, sizeof promised, e->planned * sqrt(e->lights));
        text_append(out, size, ", planned %s", promised);
    }
    write_outlook(out, size, e);
}

static const char *lost_words(enum judge_cause cause)
{
    switch (cause) {
    case JUDGE_UNSOLVED:
        return "without a solution";
    case JUDGE_BLUR:
        return "shaken";
    case JUDGE_STARS:
        return "for cloud";
    case JUDGE_WIDTH:
        return "for focus";
    case JUDGE_LENGTH:
        return "for trails";
    case JUDGE_SKY:
        return "for a bright sky";
    case JUDGE_PLACE:
        return "without the target";
    case JUDGE_UNREAD:
        return "unread";
    default:
        return "for other reasons";
    }
}

/* ": 12 for cloud, 6 for focus" */
static void write_causes(char *out, size_t size, const struct emergence *e)
{
    int named = 0;
    for (int i = 0; i < JUDGE_CAUSES; i++) {
        if (e->lost[i]) {
            text_append(out, size, "%s%d %s", named++ ? ", " : ": ", e->lost[i],
                        lost_words((enum judge_cause)i));
        }
    }
}

void emergence_write_frames(char *out, size_t size, const struct emergence *e)
{
    int lost = e->lights - e->frames;
    snprintf(out, size, "%d frame%s in the stack, %.0f s", e->frames, e->frames == 1 ? "" : "s",
             e->exposure_s);
    if (lost > 0) {
        text_append(out, size, "; %d left out", lost);
        write_causes(out, size, e);
    }
    if (e->darks || e->flats) {
        text_append(out, size, "; corrected by %d dark%s and %d flat%s", e->darks,
                    e->darks == 1 ? "" : "s", e->flats, e->flats == 1 ? "" : "s");
    }
}

void emergence_write_broken(char *out, size_t size, const struct emergence *e)
{
    out[0] = '\0';
    if (!emergence_is_broken(e)) {
        return;
    }
    const struct emergence_kept kept = emergence_find_kept(e);
    double worst = fmin(kept.frames, fmin(kept.sky, kept.clear));
    snprintf(out, size, "less than promised: ");
    if (worst > 1 - least_loss) {
        bool wide = isfinite(e->width_ratio) && e->width_ratio > 1 + 2 * least_loss;
        text_append(out, size,
                    wide ? "stars are %.2f times as wide as in the frame that promised: focus"
                         : "the target is fainter than catalogued, or larger than its outline",
                    e->width_ratio);
    } else if (worst == kept.frames) {
        text_append(out, size, "%d of %d frames were lost", e->lights - e->frames, e->lights);
        write_causes(out, size, e);
    } else if (worst == kept.sky) {
        text_append(out, size, "the sky is %.1f times as bright as in the frame that promised",
                    e->sky_ratio);
    } else {
        text_append(out, size, "haze or cloud takes %.1f mag", e->dimming_mag);
    }
}
