/* How lenses bend, as a settings file keeps it. */
#include "rig/rig.h"

#include <math.h>
#include <string.h>
#include <strings.h>

/* A zoom shows its focal length, and EXIF rounds it, about so well; as the logarithm. */
static const double same_focal = 0.03;
/* Share of the difference of two profiles that is the error of what lies between them. */
static const double between_error = 0.25;

void rig_profile_read(struct lens_profile *profile, const struct rig_profile *kept)
{
    *profile = (struct lens_profile){
        .radius = kept->radius_mm / kept->focal_mm,
        .axis_x = kept->axis_x_percent / 100,
        .axis_y = kept->axis_y_percent / 100,
        .error = isnan(kept->error_percent) ? 0 : kept->error_percent / 100,
        .axis_error = isnan(kept->axis_error_percent) ? 0 : kept->axis_error_percent / 100};
    for (int i = 0; i < LENS_TERMS; i++) {
        profile->term[i] = kept->term_percent[i] / 100;
    }
}

/* The next one at or below (side -1) or at or above (side 1) a focal length. */
static const struct rig_profile *
next_profile(const struct rig_file *file, const struct rig_lens *lens, double focal_mm, int side)
{
    const struct rig_profile *best = NULL;
    double nearest = INFINITY;
    for (int i = 0; i < file->profiles; i++) {
        const struct rig_profile *profile = &file->profile[i];
        double away = side * log(profile->focal_mm / focal_mm);
        if (strcasecmp(profile->lens, lens->entry.name) == 0 && away >= 0 && away < nearest) {
            nearest = away;
            best = profile;
        }
    }
    return best;
}

const struct rig_profile *rig_profile_of(const struct rig_file *file, const struct rig_lens *lens,
                                         double focal_mm)
{
    const struct rig_profile *below = next_profile(file, lens, focal_mm, -1);
    const struct rig_profile *above = next_profile(file, lens, focal_mm, 1);
    double down = below ? log(focal_mm / below->focal_mm) : INFINITY;
    double up = above ? log(above->focal_mm / focal_mm) : INFINITY;
    return fmin(down, up) > same_focal ? NULL : down < up ? below : above;
}

/* The same bend with its terms told at another distance from the axis, mm on the sensor. */
static void read_at(struct lens_profile *profile, const struct rig_profile *kept, double radius_mm)
{
    const double ratio = radius_mm / kept->radius_mm;
    double power = 1;
    rig_profile_read(profile, kept);
    for (int i = 0; i < LENS_TERMS; i++) {
        power *= ratio * ratio;
        profile->term[i] *= power;
    }
    profile->axis_x /= ratio;
    profile->axis_y /= ratio;
    profile->axis_error /= ratio;
}

static void mix(struct lens_profile *out, const struct rig_profile *below,
                const struct rig_profile *above, double focal_mm)
{
    struct lens_profile a, b;
    const double radius_mm = fmin(below->radius_mm, above->radius_mm);
    const double part = log(focal_mm / below->focal_mm) / log(above->focal_mm / below->focal_mm);
    read_at(&a, below, radius_mm);
    read_at(&b, above, radius_mm);
    double differ = between_error * fabs(lens_profile_at(&a, 1) - lens_profile_at(&b, 1));
    *out = (struct lens_profile){.radius = radius_mm / focal_mm,
                                 .axis_x = (1 - part) * a.axis_x + part * b.axis_x,
                                 .axis_y = (1 - part) * a.axis_y + part * b.axis_y,
                                 .error = hypot(fmax(a.error, b.error), differ),
                                 .axis_error = fmax(a.axis_error, b.axis_error)};
    for (int i = 0; i < LENS_TERMS; i++) {
        out->term[i] = (1 - part) * a.term[i] + part * b.term[i];
    }
}

bool rig_lens_profile(struct lens_profile *profile, const struct rig_file *file,
                      const struct rig_lens *lens, double focal_mm)
{
    const struct rig_profile *same = rig_profile_of(file, lens, focal_mm);
    const struct rig_profile *below = next_profile(file, lens, focal_mm, -1);
    const struct rig_profile *above = next_profile(file, lens, focal_mm, 1);
    memset(profile, 0, sizeof *profile);
    if (same) {
        rig_profile_read(profile, same);
        return true;
    }
    if (below && above) {
        mix(profile, below, above, focal_mm);
    }
    return below && above;
}
