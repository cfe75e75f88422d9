#include "night/emergence.h"

#include <math.h>

/* A signal of so many times its error is one. */
static const double significance = 3;
/* A promise is broken where the measured is lower than it by more than so many sigma of both. */
static const double broken_sigma = 2;
/* And also where it is lower at all, and the frames themselves show that so much of it was lost:
 * how bright a nebula is may be known much worse than that. */
static const double grave_loss = 0.2;

double emergence_promised(const struct emergence *e)
{
    return e->has_promise ? e->once * sqrt(e->lights) : (double)NAN;
}

void emergence_note(struct emergence *e)
{
    if (e->steps == EMERGENCE_STEPS) {
        e->steps /= 2;
        for (int i = 0; i < e->steps; i++) {
            e->step[i] = e->step[2 * i + 1];
        }
    }
    e->step[e->steps++] = (struct emergence_step){.lights = e->lights,
                                                  .frames = e->frames,
                                                  .snr = e->known ? e->snr : (double)NAN,
                                                  .snr_error = e->snr_error,
                                                  .promised = emergence_promised(e)};
}

void emergence_foresee(struct emergence_outlook *outlook, const struct emergence *e)
{
    *outlook = (struct emergence_outlook){.left_s = NAN};
    if (!e->known || e->snr < significance * e->snr_error || !(e->wanted > 0)) {
        return;
    }
    double ratio = e->wanted / e->snr;
    outlook->known = true;
    outlook->visible = e->snr >= e->wanted;
    outlook->frame = ceil(e->lights * ratio * ratio);
    outlook->frame_error = outlook->frame * 2 * e->snr_error / e->snr;
    if (e->cadence_s > 0) {
        outlook->left_s = fmax(0, outlook->frame - e->lights) * e->cadence_s;
    }
}

struct emergence_kept emergence_find_kept(const struct emergence *e)
{
    return (struct emergence_kept){
        .frames = e->lights > 0 ? sqrt((double)e->frames / e->lights) : 1,
        .sky = isfinite(e->sky_ratio) ? 1 / sqrt(fmax(e->sky_ratio, 0.01)) : 1,
        .clear = isfinite(e->dimming_mag) ? pow(10, -0.4 * e->dimming_mag) : 1,
    };
}

bool emergence_is_broken(const struct emergence *e)
{
    const struct emergence_kept kept = emergence_find_kept(e);
    double promised = emergence_promised(e);
    double off = promised * (pow(10, 0.4 * e->off_mag) - 1);
    if (!e->known || !e->has_promise) {
        return false;
    }
    bool lost = fmin(kept.frames, fmin(kept.sky, kept.clear)) <= 1 - grave_loss;
    return (lost && e->snr < promised - broken_sigma * e->snr_error) ||
           (e->snr < promised - broken_sigma * hypot(off, e->snr_error) &&
            e->snr < promised * pow(10, -0.4 * e->off_mag));
}
