#include "stack/stack.h"

#include "base/large.h"
#include "base/units.h"
#include "sky/vector.h"
#include "stack/stack_parts.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Room around the target for the sky that it is held against. */
static const double room = 1.3;

/* The largest size of so many pixels in all, in the proportions of width and height. */
static void limit_size(struct stack_place *place, double width, double height, double pixels)
{
    double shrink = fmin(1, sqrt(pixels / (width * height)));
    place->width = (int)fmax(1, floor(width * shrink));
    place->height = (int)fmax(1, floor(height * shrink));
}

void stack_place_for(struct stack_place *place, const struct sky_ellipse *target,
                     const struct wcs *wcs, int bin)
{
    double scale = wcs_scale_arcsec(wcs), needed = 2 * room * ellipse_reach_deg(target) * 3600;
    *place = (struct stack_place){.target = *target, .up_angle_deg = wcs_up_angle_deg(wcs)};
    for (int i = 0; i < 128; i++) {
        int step = (1 + i / 2) * bin;
        place->scale_arcsec = scale * step;
        limit_size(place, (double)wcs->width / step, (double)wcs->height / step,
                   i % 2 ? STACK_MOST_PIXELS : STACK_USUAL_PIXELS);
        double shorter = fmin(place->width, place->height) * place->scale_arcsec;
        bool whole = place->width >= wcs->width / step && place->height >= wcs->height / step;
        if (whole || shorter >= needed) {
            return;
        }
    }
}

/* TAN at the target, which is in the middle. */
static void lay_sheet(struct stack *stack, bool mirrored)
{
    const struct stack_place *p = &stack->place;
    double turn = p->up_angle_deg * RAD_PER_DEG, step = p->scale_arcsec / 3600;
    /* Seen from within the sphere, east is to the left of north: right is 90 degrees clockwise. */
    double hand = mirrored ? -1 : 1;
    stack->wcs = (struct wcs){
        .ra_deg = p->target.ra_deg,
        .dec_deg = p->target.dec_deg,
        .x = (p->width - 1) / 2.0,
        .y = (p->height - 1) / 2.0,
        .cd = {{-hand * step * cos(turn), -step * sin(turn)},
               {hand * step * sin(turn), -step * cos(turn)}},
        .width = p->width,
        .height = p->height,
    };
}

static float *make_plane(const struct stack_place *place)
{
    return calloc((size_t)place->width * (size_t)place->height, sizeof(float));
}

int stack_start(struct stack *stack, const struct stack_place *place, bool mirrored,
                struct error *err)
{
    *stack = (struct stack){.place = *place};
    stack->tint_width = place->width / 2;
    stack->tint_height = place->height / 2;
    stack->cell_columns = place->width / STACK_CELL;
    stack->cell_rows = place->height / STACK_CELL;
    stack->region_columns = (place->width + STACK_REGION - 1) / STACK_REGION;
    stack->region_rows = (place->height + STACK_REGION - 1) / STACK_REGION;
    lay_sheet(stack, mirrored);
    stack->mean = make_plane(place);
    stack->mean_weight = make_plane(place);
    stack->other = make_plane(place);
    stack->other_weight = make_plane(place);
    stack->cell =
        calloc((size_t)stack->cell_columns * (size_t)stack->cell_rows + 1, sizeof *stack->cell);
    stack->region = calloc((size_t)stack->region_columns * (size_t)stack->region_rows, 1);
    if (!stack->mean || !stack->mean_weight || !stack->other || !stack->other_weight ||
        !stack->cell || !stack->region) {
        stack_free(stack);
        return error_memory(err);
    }
    stack_find_regions(stack);
    return 0;
}

void stack_free(struct stack *stack)
{
    free(stack->mean);
    free(stack->mean_weight);
    free(stack->other);
    free(stack->other_weight);
    free(stack->red);
    free(stack->blue);
    free(stack->tint_weight);
    free(stack->cell);
    free(stack->region);
    free(stack->spare);
    memset(stack, 0, sizeof *stack);
}

float stack_value(const struct stack *stack, int x, int y)
{
    size_t at = (size_t)y * (size_t)stack->place.width + (size_t)x;
    return stack->mean_weight[at] > 0 ? stack->mean[at] : NAN;
}

bool stack_target_contains(const struct sky_ellipse *target, const double v[3], double times)
{
    double c[3], inner[3];
    vector_from_radec(c, target->ra_deg, target->dec_deg);
    if (vector_dot(c, v) < cos(fmin(times * ellipse_reach_deg(target), 179) * RAD_PER_DEG)) {
        return false;
    }
    for (int i = 0; i < 3; i++) {
        inner[i] = c[i] + (v[i] - c[i]) / times;
    }
    vector_normalise(inner);
    return ellipse_contains(target, inner);
}

/* Of the region's cells within the outline so many times as large that are not within it a bit
 * larger, so that the faint rim is in neither. */
static long mark_around(struct stack *stack, double times)
{
    const double rim = 1.15;
    long around = 0;
    for (int j = 0; j < stack->region_rows; j++) {
        for (int i = 0; i < stack->region_columns; i++) {
            double v[3], half = (STACK_REGION - 1) / 2.0;
            unsigned char *region =
                &stack->region[(size_t)j * (size_t)stack->region_columns + (size_t)i];
            wcs_direction(v, &stack->wcs, i * STACK_REGION + half, j * STACK_REGION + half);
            *region = !stack_target_contains(&stack->place.target, v, times) ? REGION_ELSEWHERE
                      : !stack_target_contains(&stack->place.target, v, rim) ? REGION_AROUND
                      : ellipse_contains(&stack->place.target, v)            ? REGION_TARGET
                                                                             : REGION_NEAR;
            around += *region == REGION_AROUND;
            stack->has_target_area = stack->has_target_area || *region == REGION_TARGET;
        }
    }
    return around;
}

/* Around a small target more of the sky counts, so that it is known well enough. */
void stack_find_regions(struct stack *stack)
{
    const double most_times = 16;
    const long enough = 400;
    for (double times = 2; times <= most_times; times *= 2) {
        if (mark_around(stack, times) >= enough) {
            return;
        }
    }
}
