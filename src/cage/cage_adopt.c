#define _GNU_SOURCE /* process_vm_readv */

#include "cage/cage_adopt.h"

#include "base/large.h"
#include "cage/cage_message.h"
#include "image/picture_samples.h"

#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <sys/uio.h>

/* What frame.h allows. */
enum { LONGEST_SIDE = 60000, MOST_PIXELS = 400000000, LARGEST_PROFILE = 64 << 20 };

/* The linker's marks of what of this program is constant, or starts so. */
extern const char __executable_start[], edata[];

/* NULL, or a text of the program itself, which a worker has at the same place. */
static bool is_own_text(const char *text)
{
    uintptr_t at = (uintptr_t)text;
    return !text || (at >= (uintptr_t)__executable_start && at < (uintptr_t)edata &&
                     memchr(text, 0, (uintptr_t)edata - at));
}

static bool are_facts(struct frame_facts *facts)
{
    const struct fact *all[] = {&facts->focal_mm,     &facts->focal_35mm,    &facts->pixel_um,
                                &facts->exposure_s,   &facts->iso,           &facts->f_number,
                                &facts->latitude_deg, &facts->longitude_deg, &facts->height_m,
                                &facts->ra_deg,       &facts->dec_deg};
    bool right = is_own_text(facts->start_source);
    for (size_t i = 0; i < sizeof all / sizeof *all; i++) {
        right = right && is_own_text(all[i]->source) && all[i]->origin <= FACT_USER;
    }
    facts->camera[sizeof facts->camera - 1] = '\0';
    facts->lens[sizeof facts->lens - 1] = '\0';
    return right && facts->start_local.decimals >= 0 &&
           facts->start_local.decimals <= TIME_STAMP_DECIMALS && facts->start_utc.decimals >= 0 &&
           facts->start_utc.decimals <= TIME_STAMP_DECIMALS;
}

static bool is_size(int width, int height)
{
    return width >= 1 && height >= 1 && width <= LONGEST_SIDE && height <= LONGEST_SIDE &&
           (long)width * height <= MOST_PIXELS;
}

/* What has no values has no size. */
static bool is_plane(const void *values, int width, int height, int bin)
{
    return !values || (is_size(width, height) && bin >= 1);
}

static bool is_frame(struct frame *frame)
{
    const struct plane *plane = &frame->luminance;
    const struct colours *colours = &frame->colours;
    const struct picture *picture = &frame->picture;
    bool right = is_size(frame->width, frame->height) && frame->format &&
                 is_own_text(frame->format) && are_facts(&frame->facts) &&
                 picture->profile_size <= LARGEST_PROFILE;
    for (int c = 0; c < 3; c++) {
        right = right && is_plane(colours->value[c], colours->width, colours->height, colours->bin);
    }
    return right && is_plane(plane->value, plane->width, plane->height, plane->bin) &&
           is_plane(picture->rgb, picture->width, picture->height, 1) &&
           is_plane(picture->deep, picture->width, picture->height, 1);
}

static bool fetch(void *to, const void *from, size_t size, const struct cage_way *way)
{
    const struct iovec here = {.iov_base = to, .iov_len = size};
    const struct iovec there = {.iov_base = (void *)from, .iov_len = size};
    /* Where the system does not let one process read another, the other one sends. */
    if (process_vm_readv(way->worker, &here, 1, &there, 1, 0) == (ssize_t)size) {
        return true;
    }
    const struct cage_ask ask = {.from = from, .size = size};
    return cage_send(way->socket, &ask, sizeof ask) && cage_receive(way->socket, to, size);
}

/* A block of the worker's as one of this process; NULL stays NULL. */
static void *take(const void *from, size_t size, const struct cage_way *way, bool *lives,
                  bool *short_of)
{
    if (!from || size == 0 || !*lives || *short_of) {
        return NULL;
    }
    void *block = large_alloc(size);
    *short_of = !block;
    if (block && !fetch(block, from, size, way)) {
        *lives = false;
    }
    return block;
}

static void take_parts(struct frame *frame, const struct frame *far, const struct cage_way *way,
                       bool *lives, bool *short_of)
{
    size_t plane = (size_t)far->luminance.width * (size_t)far->luminance.height * sizeof(float);
    size_t colours = (size_t)far->colours.width * (size_t)far->colours.height * sizeof(float);
    size_t pixels =
        (size_t)picture_kept_columns(&far->picture) * (size_t)picture_kept_rows(&far->picture);
    frame->luminance.value = take(far->luminance.value, plane, way, lives, short_of);
    for (int c = 0; c < 3; c++) {
        frame->colours.value[c] = take(far->colours.value[c], colours, way, lives, short_of);
    }
    frame->picture.rgb = take(far->picture.rgb, 3 * pixels, way, lives, short_of);
    frame->picture.deep =
        take(far->picture.deep, 3 * sizeof(uint16_t) * pixels, way, lives, short_of);
    frame->picture.profile =
        take(far->picture.profile, far->picture.profile_size, way, lives, short_of);
}

int cage_adopt(struct frame *frame, const struct frame *far, const struct cage_way *way,
               bool *lives, struct error *err)
{
    const struct cage_ask no_more = {.size = 0};
    bool short_of = false;
    *frame = *far;
    memset(frame->colours.value, 0, sizeof frame->colours.value);
    frame->luminance.value = NULL;
    frame->picture.rgb = frame->picture.profile = NULL;
    frame->picture.deep = NULL;
    struct frame claimed = *far;
    *lives = is_frame(&claimed);
    frame->facts = claimed.facts;
    if (*lives) {
        take_parts(frame, far, way, lives, &short_of);
    }
    *lives = *lives && cage_send(way->socket, &no_more, sizeof no_more);
    if (*lives && !short_of) {
        return 0;
    }
    frame_free(frame);
    return short_of ? error_memory(err) : ERROR_INPUT;
}
