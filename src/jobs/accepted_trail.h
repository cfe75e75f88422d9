/* jobs/accepted_trail.h: which exposure is right for a frame's lens, by the rule that plans use. */
#ifndef ALIDADE_JOBS_ACCEPTED_TRAIL_H
#define ALIDADE_JOBS_ACCEPTED_TRAIL_H

#include "health/health.h"
#include "jobs/hints.h"
#include "rig/trail_choice.h"

/* What is known of a frame. */
struct trail_frame {
    const struct hint_use *hints;
    int width;           /* px, of the picture; of its longer side */
    double scale_arcsec; /* 0: not solved, so that all stars count as on the equator */
    double dec_deg;
};

/* Sets trail_px and exposure_s of the limits: accepted_s if that is above 0, else what the choice
 * allows and the shutter has. Where neither focal length nor pixels are known the sensor counts as
 * a crop sensor 22.2 mm wide, as it does for a plan; without a scale and a focal length the limits
 * stay as they are. */
void accepted_trail_find(struct health_limits *limits, const struct trail_frame *frame,
                         const struct trail_choice *choice, const struct shutter *shutter,
                         double accepted_s);

#endif
