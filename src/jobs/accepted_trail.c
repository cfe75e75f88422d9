#include "jobs/accepted_trail.h"

#include "base/units.h"

static const double usual_sensor_um = 22200;

void accepted_trail_find(struct health_limits *limits, const struct trail_frame *frame,
                         const struct trail_choice *choice, const struct shutter *shutter,
                         double accepted_s)
{
    double pixel_um =
        frame->hints->pixel_um > 0 ? frame->hints->pixel_um : usual_sensor_um / frame->width;
    struct trail_sight sight = {frame->hints->focal_mm, frame->scale_arcsec, frame->dec_deg};
    bool solved = sight.scale_arcsec > 0;
    if (!solved && !(sight.focal_mm > 0)) {
        return;
    }
    if (!solved) {
        sight.scale_arcsec = pixel_um / 1000 / sight.focal_mm * ARCSEC_PER_RAD;
        sight.dec_deg = 0;
    }
    if (!(sight.focal_mm > 0)) {
        sight.focal_mm = pixel_um / 1000 / sight.scale_arcsec * ARCSEC_PER_RAD;
    }
    limits->exposure_s =
        accepted_s > 0 ? accepted_s : trail_choice_exposure(choice, shutter, &sight);
    limits->trail_px = trail_px_of_seconds(limits->exposure_s, sight.scale_arcsec, sight.dec_deg);
}
