#include "stars/sift.h"

#include "base/median.h"

#include <math.h>
#include <stdlib.h>

#define HOT 0.35      /* least part of the light that must be left without the highest pixel */
#define SOUND 20.0    /* height from which the isophote holds nearly all the light */
#define TYPICAL 8.0   /* height from which a source tells of the typical star */
#define SHARP 0.5     /* of the fall of a star's edge */
#define LEAST_SOUND 6 /* sources that make a median worth having */

static bool is_hot(const struct source *s)
{
    return !(s->profile_light > 0) || (!s->broad && s->rest < HOT);
}

/* Aeroplanes, satellites, wires: many times longer than the frame's stars, and thin. */
static bool is_line(const struct source *s, const struct profile *p)
{
    double longer, shorter, star_longer, star_shorter;
    profile_widths(&s->outline, &longer, &shorter);
    profile_widths(p, &star_longer, &star_shorter);
    return longer > 3 * star_longer + 3 &&
           longer / fmax(shorter, 0.3) > 3 * star_longer / star_shorter;
}

/* How much of a star's light the isophote of a bright one holds against the profile's fit. */
static double profile_scale(const struct source *s, int n, double *scratch)
{
    int m = 0;
    for (int i = 0; i < n; i++) {
        if (s[i].height > SOUND && !s[i].clipped && !s[i].merged && !s[i].dropped) {
            scratch[m++] = s[i].whole / s[i].profile_light;
        }
    }
    return m >= LEAST_SOUND ? median_of(scratch, m) : 1;
}

/* A faint star's light is best told by the profile's fit, a bright one's by its isophote, which
 * grows on when the peak is saturated or stretched flat. */
static double best_flux(const struct source *s, double scale)
{
    double u = fmin(fmax((s->height / MEASURE_ISOPHOTE - 2) / 3, 0), 1);
    return fmax(u * s->whole + (1 - u) * scale * s->profile_light, s->light);
}

static double typical_spread(const struct source *s, int n, double *scratch)
{
    int m = 0;
    for (int i = 0; i < n; i++) {
        if (!s[i].dropped && s[i].height > TYPICAL) {
            scratch[m++] = s[i].flux / s[i].peak;
        }
    }
    return median_of(scratch, m);
}

/* Nearly the highest peak of star-like sources: where the frame's brightness range ends. */
static double ceiling(const struct source *s, int n, double spread, double *scratch)
{
    int m = 0;
    for (int i = 0; i < n; i++) {
        if (!s[i].dropped && s[i].flux < 2 * spread * s[i].peak) {
            scratch[m++] = s[i].peak;
        }
    }
    return median_quantile(scratch, m, 0.998);
}

/* Knots of nebulae, star clouds, galaxies: wide without being bright, and without an edge. Stars
 * widen only as their peaks come near the ceiling. */
static bool is_soft(const struct source *s, double spread, double top, double widest)
{
    double wide = spread > 0 ? s->flux / s->peak / spread : 0;
    double high = top > 0 ? s->peak / top : 1;
    return wide > widest + 10 * fmax(high - 0.3, 0) && high <= 0.8 && s->clipped < 2 &&
           s->edge <= SHARP;
}

int sift_sources(struct source *s, int n, const struct profile *p, double widest, bool keep_hot,
                 struct error *err)
{
    double *scratch = malloc(((size_t)n + 1) * sizeof *scratch);
    if (!scratch) {
        return error_memory(err);
    }
    for (int i = 0; i < n; i++) {
        s[i].dropped = !(s[i].light > 0) || (!keep_hot && is_hot(&s[i])) || is_line(&s[i], p);
    }
    double scale = profile_scale(s, n, scratch);
    for (int i = 0; i < n; i++) {
        s[i].flux = s[i].dropped ? 0 : best_flux(&s[i], scale);
    }
    double spread = typical_spread(s, n, scratch);
    double top = ceiling(s, n, spread, scratch);
    for (int i = 0; i < n; i++) {
        s[i].dropped = s[i].dropped || is_soft(&s[i], spread, top, widest);
    }
    free(scratch);
    return 0;
}
