/* health/health.h: whether a frame is a good frame: how sharp, how steady, how clear.
 *
 * What needs pixels and stars alone is told of every frame; what needs the sky (drift, magnitudes)
 * only of a solved one. Unknown numbers are NaN. Pixels are those of the displayed picture; angles
 * in it run from +x (right) towards +y (down); a direction without a sense is -90..90 degrees. */
#ifndef ALIDADE_HEALTH_HEALTH_H
#define ALIDADE_HEALTH_HEALTH_H

#include "base/error.h"
#include "base/json_read.h"
#include "base/schema.h"
#include "image/frame.h"
#include "match/index.h"
#include "match/solution.h"
#include "stars/frame_kind.h"
#include "stars/stars.h"

#include <stdbool.h>
#include <stddef.h>

/* What can be wrong, the worst first. */
enum health_fault {
    HEALTH_NOT_LIGHT = 0, /* see kind */
    HEALTH_DOUBLE,        /* each star shows twice */
    HEALTH_MOTION,        /* the camera moved otherwise than the sky */
    HEALTH_TRAILS,        /* the sky's drift is longer than the limit */
    HEALTH_SOFT,          /* stars are wide all over */
    HEALTH_TILT,          /* one side is much softer than another */
    HEALTH_HIDDEN,        /* no stars where the catalogue has some */
    HEALTH_UNEVEN,        /* some parts are dimmer than others */
    HEALTH_BRIGHT_SKY,    /* the sky takes most of the scale */
    HEALTH_SATURATED,     /* so do too many stars */
    HEALTH_FAULTS
};

/* What is called a fault. All zeros: health_usual. */
struct health_limits {
    double elongation;      /* what is rounder is no trail, whatever its length */
    double trail_px;        /* longest drift */
    double exposure_s;      /* that is advised instead; 0: the one that trails trail_px */
    double motion_px;       /* longest trail that the drift does not explain ... */
    double motion_share;    /* ... and the same as a share of the drift */
    double double_px;       /* shortest distance of two images */
    double fwhm_px;         /* widest stars, median of the picture */
    double tilt;            /* widest corner over the narrowest, if they are ... */
    double tilt_px;         /* ... so different, too */
    double hidden_share;    /* of the picture */
    double uneven_mag;      /* between parts of the picture */
    double sky_share;       /* of full scale */
    double saturated_share; /* of the stars found */
};

/* The table of README.md, "Is it a good frame?". */
struct health_limits health_usual(void);

enum health_parts { HEALTH_COLUMNS = 3, HEALTH_ROWS = 3 };

struct frame_health {
    unsigned faults; /* bit 1 << fault for each */
    struct frame_look look;
    struct health_limits limits; /* that it was judged by */
    bool solved;

    /* Shape: medians over single, unsaturated stars; see stars/shape.h. */
    int shapes;
    double fwhm_px, fwhm_arcsec; /* across the trail */
    double fwhm_middle_px;
    double fwhm_corner_px[4]; /* upper left, upper right, lower left, lower right */
    double elongation;        /* rms length over rms width */
    double trail_px, trail_angle_deg;
    bool steady;  /* the stars agree on the trail */
    float arcs_s; /* the stars are arcs, of this exposure by their length, and neither width nor
                     light of them is measured; 0: they are not */

    /* Trail against drift, in the middle of the picture. */
    double exposure_s;
    double drift_px;                    /* of a fixed camera in that time */
    double drift_angle_deg;             /* also without exposure_s */
    double motion_px, motion_angle_deg; /* what the drift does not explain */
    bool follows;            /* the sky, to less than half of the drift: tracked or stacked */
    float arcs_error_s;      /* of arcs_s, one sigma */
    double limit_exposure_s; /* that is advised: in which the drift is as long as the limit, or
                                limits.exposure_s */

    /* Two images of each star; 0: single. */
    double double_px, double_angle_deg; /* from the brighter to the fainter, -180..180 */
    double double_share;                /* of the fainter in the brighter's light */

    /* Light. */
    float sky_mag_error; /* one sigma, like the other errors; the black level counts as exact */
    bool linear;         /* values count photons: 16 bits or more, and the stars confirm it */
    bool black_known;
    double sky_level, sky_share; /* median, of full scale: 0..1, unknown beyond */
    double sky_mag;              /* V magnitudes a square arcsecond */
    double saturated_share;
    double zero_mag, zero_error; /* V of a star of B-V 0.6 that gives one unit (a second, if the
                                    exposure is known) */
    double colour_term;          /* V = zero - 2.5 log10(light) + term (B-V - 0.6) */
    int zero_stars;
    float fwhm_error_px;
    double vignetting; /* share of the light lost in the corners */
    double uneven_mag;
    int dim_part; /* row * HEALTH_COLUMNS + column of the dimmest part */
    float trail_error_px;
    double limit_mag; /* V at which stars reach 5 times the noise */

    /* Catalogue stars that should show. */
    int expected;
    float limit_error;
    double missing_share; /* of them */
    double hidden_share;  /* of the parts of the picture that have some */
    bool hidden[HEALTH_ROWS * HEALTH_COLUMNS];
};

/* All borrowed. solution and index may be NULL. */
struct health_input {
    const struct frame *frame; /* with its plane */
    const struct star_list *list;
    const struct solution *solution;
    const struct index *index;
    bool black_known; /* the plane's value without light; that of camera raw is 0 by itself */
    double black;
};

/* ERROR_MEMORY only. limits may be NULL. */
int health_measure(struct frame_health *health, const struct health_input *input,
                   const struct health_limits *limits, struct error *err);

/* Of the faults it has, the worst; HEALTH_FAULTS if there is none. */
enum health_fault health_worst(const struct frame_health *health);

/* Between two frames of one camera and lens: what changed from the earlier to the later. NaN where
 * either does not know. Magnitudes lost are what a cloud takes, if the exposures are alike but for
 * their time. */
struct health_change {
    double dimming_mag; /* of the stars: by zero points, else by limiting magnitudes */
    double sky_ratio;   /* of the sky's level over black, for a second each where known */
    double fwhm_ratio;
};

void health_compare(struct health_change *change, const struct frame_health *before,
                    const struct frame_health *now);

/* One sentence without a full stop: "trails 9.8 px along the drift: the exposure is too long for
 * this lens, 0.6 s would trail 3 px". */
void health_write_fault(char *out, size_t size, const struct frame_health *health,
                        enum health_fault fault);

/* The worst fault's sentence, or that it is good and what there is to say for it; of a frame that
 * was not solved no more than that no fault is to be seen. */
void health_write_verdict(char *out, size_t size, const struct frame_health *health);

/* Lines of figures, each one subject; empty where nothing is known. */
void health_write_shape(char *out, size_t size, const struct frame_health *health);
void health_write_sky(char *out, size_t size, const struct frame_health *health);
void health_write_depth(char *out, size_t size, const struct frame_health *health);

/* For machines: "trails", "motion" ...; "good" for HEALTH_FAULTS. */
const char *health_fault_key(enum health_fault fault);

/* The key of the worst fault. Without one, "good" is said of a solved frame with enough stars, and
 * "unknown" of others: what shows no sky that is known may look faultless and be worthless. */
const char *health_verdict_key(const struct frame_health *health);

/* The object "health", of a struct frame_health. */
extern const struct schema health_schema;

/* Reads that object; NULL, and what it does not tell, counts as not known. Not kept in it:
 * which parts are hidden or dim, the trails' steadiness and arcs, the limits (health_usual is put
 * in), the exposure and the level of look. Inverse: schema_write. */
void health_read_json(struct frame_health *health, const struct json_node *object);

#endif
