/* jobs/hints.h: what is known of a frame beforehand, and where from. */
#ifndef ALIDADE_JOBS_HINTS_H
#define ALIDADE_JOBS_HINTS_H

#include "image/frame.h"
#include "match/solve.h"
#include "rig/body_table.h"
#include "rig/rig_in_use.h"

#include <stdbool.h>

/* A direction that may not have been given. */
struct direction {
    bool given;
    double ra_deg, dec_deg; /* ICRS */
};

/* All zeros: nothing is known. */
struct hint_settings {
    double scale_arcsec, focal_mm, pixel_um; /* 0: not given */
    double tolerance_percent;                /* 0: not given */
    struct direction near;
    double within_deg; /* 0: not given */
    bool strict;       /* look nowhere else than within these bounds */
};

/* Where the hints of a frame came from, for a report. */
struct hint_use {
    char scale_words[240];     /* what it rests on; empty: no scale is known */
    const char *near_words;    /* where the rough position came from; NULL: none is known */
    double focal_mm, pixel_um; /* the best that is known; 0: nothing */
    bool focal_unused;         /* a focal length was given, but the pixel pitch is not known */
};

/* Puts together what the user, the settings file and the frame say; the first that knows wins. Of
 * the settings file a lens counts if it was chosen by name, if its focal length is near the one
 * that the frame tells, or if the frame tells none; a body if the frame has its size, or is one of
 * its frames resized. bodies are asked where nobody else knows the pixels, and no equivalent focal
 * length of the file's own tells the scale. rig_file and bodies may be NULL. */
void hints_apply(struct solve_options *options, struct hint_use *use, const struct frame *frame,
                 const struct hint_settings *hints, const struct rig_in_use *rig_file,
                 const struct body_table *bodies);

#endif
