/* night/night_frame.h: what is known of one frame of a night, and the JSON line that keeps it.
 *
 * The line is the one that `solve --json` prints; the log of a session holds the same lines. */
#ifndef ALIDADE_NIGHT_NIGHT_FRAME_H
#define ALIDADE_NIGHT_NIGHT_FRAME_H

#include "base/error.h"
#include "base/schema.h"
#include "health/health.h"
#include "image/frame.h"
#include "match/pose.h"
#include "match/solution.h"
#include "match/solve.h"
#include "night/night_curve.h"
#include "night/night_file.h"
#include "sky/time.h"
#include "sky/wcs.h"
#include "stars/streak.h"
#include "tripod/aim.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* Which clock a time was read from. */
enum night_clock {
    NIGHT_CLOCK_NONE = 0,
    NIGHT_CLOCK_FILE,  /* when the file was last written, less the exposure: a guess */
    NIGHT_CLOCK_LOCAL, /* the camera's, in whatever zone it is set to */
    NIGHT_CLOCK_UTC
};

/* Where a target is in the frame. */
struct night_target {
    char name[80];          /* "": no target is known */
    double ra_deg, dec_deg; /* ICRS */
    bool has_pixel;         /* not if it is behind the camera */
    double x, y;            /* px of its centre, in the picture or not */
    double share;           /* of its area that lies in the frame, 0..1 */
    enum aim_verdict verdict;
};

struct night_times {
    double read_ms, detect_ms, match_ms, fit_ms, health_ms, total_ms;
};

/* Where the camera pointed: as struct pose, without how well that is known. */
struct night_pose {
    double axis[3][3], focal_px, distortion, x, y, half_diagonal;
};

/* Starts as all zeros; free with night_frame_free. Numbers that a file may not tell are 0 then. A
 * night has thousands of them: what few frames have, or what is seldom long, is not in the
 * structure itself. */
struct night_frame {
    int log_format;           /* of the line that it was read from; 0: from none */
    float scale_error_arcsec; /* of scale_arcsec, one sigma; NAN: not known */
    char *name;               /* of the file, as given: any bytes; owned */
    long long bytes;          /* its length; 0: unknown */
    long long modified_ns;    /* when it was last written, since 1970 UTC; 0: unknown */
    uint64_t digest;          /* of its content: see struct night_file; 0: unknown */
    int read_errors; /* tries that the disk, card or network failed, the last one included */

    bool read; /* the file could be read: else all that follows is empty but for why */
    bool solved, mirrored, by_lens; /* the last: as the lens was known beforehand; of solved ones */
    enum error_cause unread;        /* and this, then */
    enum projection_kind projection; /* of a solved one, as in struct wcs */
    char format[16];                 /* "JPEG" */
    int width, height;
    char *camera, *lens; /* NULL: not told; owned */
    double focal_mm, f_number, iso, exposure_s;
    struct time_stamp start_utc, start_local;     /* as in struct frame_facts */
    double latitude_deg, longitude_deg, height_m; /* by the camera's receiver; all 0: not told */

    char *why; /* if not solved: a short sentence, UTF-8; NULL: none; owned */
    double ra_deg, dec_deg, field_width_deg, field_height_deg;
    double scale_arcsec, up_angle_deg; /* as wcs_scale_arcsec, wcs_up_angle_deg */
    double reach_deg;                  /* likewise */
    union {
        struct night_pose pose;   /* focal_px is 0 if it is not known */
        struct night_curve curve; /* of a fisheye or panorama, by projection */
    };
    int detected, matched;
    double rms_px, rms_arcsec, chance_log10;
    int distortion_order;
    float up_angle_error_deg;                /* of up_angle_deg, one sigma; NAN: not known */
    double distortion_px;                    /* at the corner */
    double distortion_percent;               /* wcs_corner_distortion; NAN if not told */
    double middle_error_px, corner_error_px; /* as in struct solution */
    double proven_share, proven_sky_share;   /* as in struct trust; NAN: not told */
    struct trust *trust;                     /* NULL: nothing tells of a part unproven; owned */

    struct night_target target;
    struct frame_health health;
    char *says;                 /* health_write_verdict; NULL if health was not measured; owned */
    struct streak_list streaks; /* satellites and aeroplanes; of a solved frame */
    struct night_times times;
};

void night_frame_free(struct night_frame *frame);

/* What its sentences say, "" where there is none. */
const char *night_frame_why(const struct night_frame *frame);
const char *night_frame_says(const struct night_frame *frame);

/* Fills all of a pose but its covariance; see pose_expect for that. */
void night_frame_pose(struct pose *pose, const struct night_frame *frame);

/* A frame of its own, into an empty one; under another name if that is not NULL. ERROR_MEMORY. */
int night_frame_copy(struct night_frame *to, const struct night_frame *from, const char *name,
                     struct error *err);

/* Whether trying the file again would say the same: it was read, or its content is at fault. */
bool night_frame_is_settled(const struct night_frame *frame);

/* All borrowed; file, solution, health and streaks may be NULL. */
struct night_source {
    const char *name;
    const struct night_file *file; /* as it was when it was read; NULL: as it is now */
    const struct frame *frame;     /* its facts and size; NULL: it could not be read, because: */
    const struct error *unread;
    const struct solution *solution;
    const struct frame_health *health;
    const struct streak_list *streaks;
};

/* Fills an empty frame. ERROR_MEMORY only. */
int night_frame_make(struct night_frame *frame, const struct night_source *source,
                     struct error *err);

/* Fills frame->target from where the frame points; nothing is done if it is not solved. */
void night_frame_aim(struct night_frame *frame, const struct aim_target *target);

/* The WCS of a solved frame, from its pose: within a pixel of the solution's own for lenses that
 * distort by less than 2 %; of a fisheye or panorama the solution's own; without either from its
 * middle, right there alone. False if the frame is not solved. */
bool night_frame_wcs(struct wcs *wcs, const struct night_frame *frame);

/* When its exposure began. A local time is written into *utc as if it were UTC. */
enum night_clock night_frame_start(struct utc *utc, const struct night_frame *frame);

/* The line's table, of a struct night_frame, and its two halves: frame, format, solved and why; and
 * all that follows. A name that is not UTF-8 is given again as "frame_bytes", with its odd bytes as
 * %FF. */
extern const struct schema night_frame_schema, night_frame_head_schema, night_frame_details_schema;

/* The whole line without a newline, in *json, which must be empty; ERROR_MEMORY. Inverse:
 * night_frame_read. */
int night_frame_write(struct json *json, const struct night_frame *frame, struct error *err);

/* Reads a line of length bytes into an empty frame. What is missing or of the wrong type counts as
 * not known; a solved frame without a usable centre, scale and size as not solved. ERROR_INPUT if
 * it is no JSON object; ERROR_NO, without a sentence, if it is one but does not tell of a frame;
 * ERROR_MEMORY. The frame is empty then. */
int night_frame_read(struct night_frame *frame, const char *line, size_t length, struct error *err);

#endif
