#include "sky/lens_profile.h"

#include <math.h>
#include <string.h>

double lens_profile_at(const struct lens_profile *profile, double s)
{
    double square = s * s, sum = 0;
    for (int i = LENS_TERMS - 1; i >= 0; i--) {
        sum = (sum + profile->term[i]) * square;
    }
    return sum;
}

double lens_profile_share(const struct lens_profile *profile, double s)
{
    double d = lens_profile_at(profile, s);
    return d / (1 - d);
}

double lens_profile_slope(const struct lens_profile *profile, double s)
{
    double square = s * s, sum = 0;
    for (int i = LENS_TERMS - 1; i >= 0; i--) {
        sum = (sum + (2 * i + 3) * profile->term[i]) * square;
    }
    return sum;
}

bool lens_profile_is_sound(const struct lens_profile *profile)
{
    enum { STEPS = 50 };
    const double steepest = 0.9;
    for (int i = 0; i <= STEPS; i++) {
        if (!(lens_profile_slope(profile, (double)i / STEPS) < steepest)) {
            return false;
        }
    }
    return profile->radius > 0;
}

/* -d(r / R) times u and v, written out in powers of u and v: (u^2 + v^2)^n by the binomials. */
void lens_profile_bend(struct wcs *wcs, const struct lens_profile *profile, double focal_px)
{
    static const double binomial[LENS_TERMS][LENS_TERMS + 1] = {{1, 1}, {1, 2, 1}, {1, 3, 3, 1}};
    const double square = pow(profile->radius * focal_px, -2);
    double unit = 1;
    memset(wcs->a, 0, sizeof wcs->a);
    memset(wcs->b, 0, sizeof wcs->b);
    wcs->order = 0;
    for (int n = 1; n <= LENS_TERMS; n++) {
        unit *= square;
        for (int k = 0; k <= n; k++) {
            double share = -profile->term[n - 1] * binomial[n - 1][k] * unit;
            wcs->a[2 * (n - k) + 1][2 * k] = share;
            wcs->b[2 * (n - k)][2 * k + 1] = share;
        }
        wcs->order = profile->term[n - 1] != 0 ? 2 * n + 1 : wcs->order;
    }
}

const char *lens_profile_word(double share, int decimals)
{
    double shown = round(100 * share * pow(10, decimals));
    return shown < 0 ? "barrel" : shown > 0 ? "pincushion" : "no";
}
