#include "night/review_parts.h"

#include "sky/vector.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* So many frames, evenly over the night, and the ends of each batch, stand for all: between them a
 * tripod's frames move evenly. */
enum { MOST_FRAMES = 200, FINE_WIDTH = 180, FINE_HEIGHT = 120 };

static bool is_kept(const struct review_frame *f)
{
    return f->judgement.verdict == JUDGE_KEEP && f->frame->solved;
}

/* The sharpest with the most stars; between equals the one in the middle of things. */
static double badness(const struct review *review, const struct review_frame *f)
{
    double width = f->frame->health.fwhm_px / review->usual.width_px;
    double stars = review->usual.stars / fmax(1, f->frame->detected);
    double off = hypot(f->x / f->frame->width - 0.5, f->y / f->frame->height - 0.5);
    return (isfinite(width) ? width : 1.5) + 0.5 * stars + (isfinite(off) ? off : 1);
}

static void find_reference(struct review *review)
{
    double best = (double)INFINITY;
    for (int i = 0; i < review->frames; i++) {
        const struct review_frame *f = &review->frame[i];
        if (is_kept(f) && badness(review, f) < best) {
            best = badness(review, f);
            review->reference = i;
        }
    }
}

struct sights {
    const struct night_frame **frame;
    int count;
};

/* A pose projects ten times as fast as a WCS with distortion. */
static bool shows(const struct night_frame *frame, const double v[3])
{
    double p[2], x, y;
    struct wcs wcs;
    if (frame->pose.focal_px > 0) {
        struct pose pose;
        night_frame_pose(&pose, frame);
        if (!pose_project(p, NULL, &pose, v)) {
            return false;
        }
        x = 0.5 * (frame->width - 1) + (frame->mirrored ? -p[0] : p[0]);
        y = 0.5 * (frame->height - 1) + p[1];
    } else if (!night_frame_wcs(&wcs, frame) || !wcs_pixel(&x, &y, &wcs, v)) {
        return false;
    }
    return x >= -0.5 && y >= -0.5 && x < frame->width - 0.5 && y < frame->height - 0.5;
}

static bool is_end_of_batch(const struct review *review, int i)
{
    int before = i - 1, after = i + 1;
    while (before >= 0 && !is_kept(&review->frame[before])) {
        before--;
    }
    while (after < review->frames && !is_kept(&review->frame[after])) {
        after++;
    }
    int batch = review->frame[i].batch;
    return before < 0 || after >= review->frames || review->frame[before].batch != batch ||
           review->frame[after].batch != batch;
}

static int choose_sights(struct sights *sights, const struct review *review, struct error *err)
{
    int kept = review->count[JUDGE_KEEP], step = kept / MOST_FRAMES + 1, seen = 0;
    sights->frame = malloc(((size_t)kept + 1) * sizeof *sights->frame);
    if (!sights->frame) {
        return error_memory(err);
    }
    for (int i = 0; i < review->frames; i++) {
        if (is_kept(&review->frame[i]) && (seen++ % step == 0 || is_end_of_batch(review, i))) {
            sights->frame[sights->count++] = review->frame[i].frame;
        }
    }
    return 0;
}

/* Share of the frames that show what the reference shows at (x, y). */
static double share_at(const struct sights *sights, const struct wcs *reference, double x, double y)
{
    double v[3];
    int shown = 0;
    wcs_direction(v, reference, x, y);
    for (int i = 0; i < sights->count; i++) {
        shown += shows(sights->frame[i], v);
    }
    return (double)shown / sights->count;
}

static void draw_map(struct review_cover *cover, const struct sights *sights,
                     const struct wcs *reference)
{
    double margin = 0.35;
    cover->step_px = fmax((1 + 2 * margin) * reference->width / REVIEW_MAP_WIDTH,
                          (1 + 2 * margin) * reference->height / REVIEW_MAP_HEIGHT);
    cover->left = 0.5 * (reference->width - 1 - cover->step_px * (REVIEW_MAP_WIDTH - 1));
    cover->top = 0.5 * (reference->height - 1 - cover->step_px * (REVIEW_MAP_HEIGHT - 1));
    for (int row = 0; row < REVIEW_MAP_HEIGHT; row++) {
        for (int column = 0; column < REVIEW_MAP_WIDTH; column++) {
            cover->share[row][column] =
                (float)share_at(sights, reference, cover->left + column * cover->step_px,
                                cover->top + row * cover->step_px);
        }
    }
}

/* Corners of the cells of a fine grid over the reference; 1: all frames show it. */
struct fine {
    unsigned char all[FINE_HEIGHT + 1][FINE_WIDTH + 1];
};

static bool cell_is_common(const struct fine *fine, int row, int column)
{
    return fine->all[row][column] && fine->all[row][column + 1] && fine->all[row + 1][column] &&
           fine->all[row + 1][column + 1];
}

/* The target's rim as the reference has it; a point is its own rim. */
static void place_target(struct review_cover *cover, const struct review *review,
                         const struct wcs *reference)
{
    const struct sky_ellipse *shape = &review->target.shape;
    double rim[ELLIPSE_RIM_MOST][3], x, y;
    if (!review->has_target || review->target.moves != WANDERER_NONE) {
        return;
    }
    cover->rims = 1;
    ellipse_direction(rim[0], shape, 0, 0);
    if (shape->major_deg > 0 || shape->outline) {
        cover->rims = ellipse_rim(rim, shape);
    }
    for (int i = 0; i < cover->rims; i++) {
        bool placed = wcs_pixel(&x, &y, reference, rim[i]);
        cover->rim[i][0] = placed ? x : (double)NAN;
        cover->rim[i][1] = placed ? y : (double)NAN;
    }
}

/* A rectangle of cells that all frames show, px from the corner of the first pixel. */
struct crop {
    double left, top, width, height;
    int held; /* points of the target's rim */
};

static void count_held(struct crop *crop, const struct review_cover *cover)
{
    for (int i = 0; i < cover->rims; i++) {
        double x = cover->rim[i][0] + 0.5 - crop->left, y = cover->rim[i][1] + 0.5 - crop->top;
        crop->held += x >= 0 && x <= crop->width && y >= 0 && y <= crop->height;
    }
}

/* The target first, then the area. */
static bool is_better_crop(const struct crop *crop, const struct crop *than)
{
    return crop->held > than->held ||
           (crop->held == than->held && crop->width * crop->height > than->width * than->height);
}

/* For each row the heights of common cells above it, each the top of a rectangle that goes as far
 * to both sides as the heights allow: the largest one around anything is among them. */
static void look_at_row(struct crop *best, const struct review_cover *cover,
                        const int height[FINE_WIDTH], int row, const double cell[2])
{
    for (int column = 0; column < FINE_WIDTH; column++) {
        int left = column, right = column;
        while (left > 0 && height[left - 1] >= height[column]) {
            left--;
        }
        while (right < FINE_WIDTH - 1 && height[right + 1] >= height[column]) {
            right++;
        }
        struct crop crop = {left * cell[0], (row + 1 - height[column]) * cell[1],
                            (right - left + 1) * cell[0], height[column] * cell[1], 0};
        if (height[column] > 0) {
            count_held(&crop, cover);
            *best = is_better_crop(&crop, best) ? crop : *best;
        }
    }
}

static void find_crop(struct review_cover *cover, const struct fine *fine,
                      const struct wcs *reference)
{
    int height[FINE_WIDTH] = {0};
    const double cell[2] = {(double)reference->width / FINE_WIDTH,
                            (double)reference->height / FINE_HEIGHT};
    struct crop best = {0, 0, 0, 0, 0};
    for (int row = 0; row < FINE_HEIGHT; row++) {
        for (int column = 0; column < FINE_WIDTH; column++) {
            bool common = cell_is_common(fine, row, column);
            height[column] = common ? height[column] + 1 : 0;
            cover->common_share += common ? 1.0 / (FINE_WIDTH * FINE_HEIGHT) : 0;
        }
        look_at_row(&best, cover, height, row, cell);
    }
    cover->crop_left = best.left;
    cover->crop_top = best.top;
    cover->crop_width = best.width;
    cover->crop_height = best.height;
    cover->crop_holds = best.held;
}

static int find_common(struct review_cover *cover, const struct sights *sights,
                       const struct wcs *reference, struct error *err)
{
    struct fine *fine = calloc(1, sizeof *fine);
    if (!fine) {
        return error_memory(err);
    }
    for (int row = 0; row <= FINE_HEIGHT; row++) {
        for (int column = 0; column <= FINE_WIDTH; column++) {
            double x = (double)column * reference->width / FINE_WIDTH - 0.5;
            double y = (double)row * reference->height / FINE_HEIGHT - 0.5;
            x = fmin(x, reference->width - 0.501);
            y = fmin(y, reference->height - 0.501);
            fine->all[row][column] = share_at(sights, reference, x, y) >= 1;
        }
    }
    find_crop(cover, fine, reference);
    free(fine);
    return 0;
}

int review_find_cover(struct review *review, struct error *err)
{
    struct sights sights = {0};
    struct wcs reference;
    find_reference(review);
    if (review->reference < 0) {
        return 0;
    }
    int code = choose_sights(&sights, review, err);
    if (!code && night_frame_wcs(&reference, review->frame[review->reference].frame)) {
        draw_map(&review->cover, &sights, &reference);
        place_target(&review->cover, review, &reference);
        code = find_common(&review->cover, &sights, &reference, err);
    }
    free(sights.frame);
    return code;
}
