#include "page/live_drawing.h"

#include "base/schema.h"
#include "jobs/path_json.h"
#include "objects/caption.h"
#include "sky/vector.h"

#include <math.h>

enum { STARS_SHOWN = 24 };

static void put_spot(struct json *json, const char *key, double x, double y)
{
    schema_open(json, key);
    schema_put_number(json, "x", x);
    schema_put_number(json, "y", y);
    schema_close(json);
}

static void put_outline(struct json *json, const struct stand *stand,
                        const struct sky_ellipse *shape)
{
    double rim[ELLIPSE_RIM_MOST][3], x, y;
    int count = shape->major_deg > 0 ? ellipse_rim(rim, shape) : 0;
    schema_open(json, "outline");
    for (int i = 0; i < count; i++) {
        if (stand_pixel(&x, &y, stand, NULL, rim[i], 0)) {
            schema_put_number(json, NULL, x);
            schema_put_number(json, NULL, y);
        }
    }
    schema_close(json);
}

static void put_target(struct json *json, const struct aim_answer *answer)
{
    const struct aim_target *target = &answer->target;
    struct head_move move = *advice_move(&answer->advice);
    double v[3], x, y;
    vector_from_radec(v, target->shape.ra_deg, target->shape.dec_deg);
    schema_open(json, "target");
    schema_put_text(json, "name", target->name);
    if (stand_pixel(&x, &y, &answer->stand, NULL, v, 0)) {
        put_spot(json, "at", x, y);
    }
    if (stand_pixel(&x, &y, &answer->stand, move.turn, v, 0)) {
        put_spot(json, "goal", x, y);
    }
    put_outline(json, &answer->stand, &target->shape);
    schema_close(json);
}

static void put_star(struct json *json, const struct cue *cue)
{
    char name[80] = "";
    if (cue->star->object) {
        caption_full(name, sizeof name, cue->star->object);
    } else {
        snprintf(name, sizeof name, "mag %.1f", cue->star->mag);
    }
    schema_open(json, "star");
    schema_put_text(json, "name", name);
    schema_put_number(json, "x", cue->star->x);
    schema_put_number(json, "y", cue->star->y);
    schema_put_number(json, "to_x", cue->to_x);
    schema_put_number(json, "to_y", cue->to_y);
    if (cue->mark && cue->mark->object) {
        caption_full(name, sizeof name, cue->mark->object);
        schema_put_text(json, "mark", name);
    }
    schema_close(json);
}

/* The brightest, by which the frame is known again on the display. */
static void put_stars(struct json *json, const struct aim_answer *answer)
{
    schema_open(json, "stars");
    for (int i = 0; i < STARS_SHOWN; i++) {
        const struct cue_star *star = &answer->star[i];
        if (vector_dot(star->v, star->v) > 0) { /* else there are no more */
            schema_open(json, NULL);
            schema_put_number(json, "x", star->x);
            schema_put_number(json, "y", star->y);
            schema_put_number(json, "mag", star->mag);
            schema_close(json);
        }
    }
    schema_close(json);
}

void live_drawing_put(struct json *json, const struct aim_answer *answer, double margin_percent)
{
    const struct wcs *wcs = &answer->stand.wcs;
    double shorter = fmin(wcs->width, wcs->height);
    schema_open(json, "drawing");
    schema_put_integer(json, "width", (long)wcs->width);
    schema_put_integer(json, "height", (long)wcs->height);
    schema_put_number(json, "safe_px", margin_percent / 100 * shorter);
    put_target(json, answer);
    if (answer->has_cue && !advice_is_still(&answer->advice, advice_move(&answer->advice))) {
        put_star(json, &answer->cue);
    }
    put_stars(json, answer);
    path_json_put(json, answer, &answer->target);
    schema_close(json);
}
