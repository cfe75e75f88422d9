/* match/known_lens.h: a camera whose lens is known, pointed by stars that are paired. */
#ifndef ALIDADE_MATCH_KNOWN_LENS_H
#define ALIDADE_MATCH_KNOWN_LENS_H

#include "match/lens_fit.h"
#include "match/pairs.h"
#include "sky/horizon.h"
#include "sky/lens_profile.h"
#include "sky/wcs.h"

#include <stdbool.h>

struct known_lens {
    struct lens_profile profile;   /* axis as in the picture, right and down */
    const struct horizon *horizon; /* of the middle of the exposure, borrowed; NULL: not known */
};

/* Ways to point it: as stars are seen, refraction included, with attitude and focal length to be
 * found; or by the places of the catalogue, with a stretch that stands for refraction. */
enum known_lens_way { KNOWN_LENS_SEEN, KNOWN_LENS_STRETCHED, KNOWN_LENS_WAYS };

/* The finder's pairs as a view of the pose; free its sightings. ERROR_MEMORY. */
int known_lens_view(struct lens_view *view, const struct pose *pose,
                    const struct pair_finder *finder, struct error *err);

/* How many numbers are found that way. */
int known_lens_parameters(enum known_lens_way way);

/* The WCS by the finder's pairs, of which scale px is the deviation; pose is where to start.
 * Without a horizon all is as if there were no air. False if the pairs do not determine it. */
bool known_lens_fit(struct wcs *wcs, const struct known_lens *lens, enum known_lens_way way,
                    const struct pose *pose, struct pair_finder *finder, double scale);

#endif
