/* The stack, as the page shows it. */
#include "page/live_parts.h"

#include "base/stopwatch.h"
#include "base/text.h"
#include "draw/write_jpeg.h"
#include "jobs/night_stack.h"
#include "stack/stack.h"

#include <stdlib.h>

enum { LARGEST = 900 }; /* px of its longer side */
static const double least_s = 10;

static struct live_blob *write_picture(const struct picture *picture)
{
    char *bytes = NULL;
    size_t size = 0;
    struct error err = {0};
    struct live_blob *blob = NULL;
    const struct blend blend = {
        .width = picture->width, .height = picture->height, .picture = picture};
    FILE *stream = open_memstream(&bytes, &size);
    if (!stream) {
        return NULL;
    }
    int code = write_jpeg(stream, "glimpse", &blend, &err);
    if (fclose(stream) == 0 && !code) {
        blob = live_blob_make(bytes, size);
    }
    free(bytes);
    return blob;
}

static void find_outline(struct live_glimpse *glimpse, const struct night_stack *stack)
{
    const struct sky_ellipse *shape = &stack->target.shape;
    double rim[ELLIPSE_RIM_MOST][3];
    double step = (double)stack->stack.place.width / glimpse->width;
    int corners = shape->major_deg > 0 ? ellipse_rim(rim, shape) : 0;
    glimpse->corners = 0;
    for (int i = 0; i < corners; i++) {
        double *at = glimpse->outline[glimpse->corners];
        if (wcs_pixel(&at[0], &at[1], &stack->stack.wcs, rim[i])) {
            at[0] = (at[0] + 0.5) / step - 0.5;
            at[1] = (at[1] + 0.5) / step - 0.5;
            glimpse->corners++;
        }
    }
}

static void write_words(struct live_glimpse *glimpse, const struct emergence *emergence)
{
    char broken[EMERGENCE_TEXT];
    emergence_write(glimpse->text, sizeof glimpse->text, emergence);
    emergence_write_broken(broken, sizeof broken, emergence);
    if (broken[0]) {
        text_append(glimpse->text, sizeof glimpse->text, "; %s", broken);
    }
    emergence_write_frames(glimpse->frames, sizeof glimpse->frames, emergence);
    text_append(glimpse->frames, sizeof glimpse->frames, "; %s", emergence_caution);
}

void live_glimpse(struct live *live, const struct night_stack *stack)
{
    const struct stack_look look = {.largest = LARGEST};
    struct picture picture = {0};
    struct error err = {0};
    double now = stopwatch_s();
    if (stack->stack.frames == 0 || (live->glimpse_s > 0 && now - live->glimpse_s < least_s) ||
        stack_picture(&picture, &stack->stack, &look, &err)) {
        return;
    }
    live->glimpse_s = now;
    live_feed_publish(&live->feed, LIVE_GLIMPSE, write_picture(&picture));
    pthread_mutex_lock(&live->lock);
    struct live_glimpse *glimpse = &live->state.glimpse;
    glimpse->width = picture.width;
    glimpse->height = picture.height;
    find_outline(glimpse, stack);
    write_words(glimpse, &stack->emergence);
    live_publish(live);
    pthread_mutex_unlock(&live->lock);
    free(picture.rgb);
}
