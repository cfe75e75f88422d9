/* stars/detect.c: finds the stars of a frame with SEP. */
#include "stars/stars.h"

#include <math.h>
#include <sep.h>
#include <stdlib.h>
#include <string.h>

#define PIXEL_STACK 2000000
#define SUB_OBJECTS 4000
#define DEFAULT_MAX_STARS 4000
#define MAX_RAW 60000

static const float kernel[25] = {
    1, 4, 6, 4, 1, 4, 16, 24, 16, 4, 6, 24, 36, 24, 6, 4, 16, 24, 16, 4, 1, 4, 6, 4, 1,
};

static const int mesh_of_recipe[DETECT_RECIPES] = { 64, 20, 128 };

static void describe_image(sep_image *image, const struct plane *plane, float *value)
{
    memset(image, 0, sizeof *image);
    image->data = value;
    image->dtype = SEP_TFLOAT;
    image->w = plane->width;
    image->h = plane->height;
    image->gain = 0;
}

static int by_flux(const void *left, const void *right)
{
    const struct star *a = left, *b = right;
    return (a->flux < b->flux) - (a->flux > b->flux);
}

static void fill_star(struct star *s, const sep_catalog *found, int i, const struct plane *plane,
                      double noise)
{
    double bin = plane->bin;
    double floor_width = 0.29; /* rms half-width of one pixel */
    s->x = bin * found->x[i] + (bin - 1) / 2;
    s->y = bin * found->y[i] + (bin - 1) / 2;
    s->flux = found->flux[i];
    s->peak = found->peak[i];
    s->size = bin * fmax((double)found->b[i], floor_width);
    s->elongation = fmax(1, fmax((double)found->a[i], floor_width)
                                / fmax((double)found->b[i], floor_width));
    s->angle_deg = (double)found->theta[i] * 180 / 3.14159265358979323846;
    s->snr = s->flux / (noise * sqrt((double)found->npix[i]));
}

static int collect(struct star_list *list, const sep_catalog *found, const struct frame *frame,
                   int max_stars, struct error *err)
{
    const struct plane *plane = &frame->luminance;
    list->raw_count = found->nobj;
    if (found->nobj == 0) {
        return 0;
    }
    list->star = calloc((size_t)found->nobj, sizeof *list->star);
    if (!list->star) {
        return error_memory(err);
    }
    for (int i = 0; i < found->nobj; i++) {
        struct star s = { 0 };
        fill_star(&s, found, i, plane, list->sky_noise);
        bool sharp = s.peak > 0.8 * s.flux;
        if (!(s.flux > 0) || sharp || !isfinite(s.x) || !isfinite(s.y)) {
            continue;
        }
        s.saturated = plane->full > 0
                      && s.peak + list->sky >= 0.98 * (double)plane->full;
        list->star[list->count++] = s;
    }
    qsort(list->star, (size_t)list->count, sizeof *list->star, by_flux);
    list->count = list->count < max_stars ? list->count : max_stars;
    return 0;
}

static int extract(struct star_list *list, const struct frame *frame, float *value, float *noise,
                   int mesh, int max_stars, struct error *err)
{
    sep_image image;
    sep_bkg *sky = NULL;
    sep_catalog *found = NULL;
    describe_image(&image, &frame->luminance, value);
    int status = sep_background(&image, mesh, mesh, 3, 3, 0, &sky);
    if (status == 0) {
        list->sky = (double)sep_bkg_global(sky);
        list->sky_noise = (double)sep_bkg_globalrms(sky);
        status = sep_bkg_subarray(sky, value, SEP_TFLOAT);
    }
    if (status == 0) {
        status = sep_bkg_rmsarray(sky, noise, SEP_TFLOAT);
    }
    size_t n = (size_t)image.w * (size_t)image.h;
    for (size_t i = 0; i < n; i++) {
        value[i] = isnan(value[i]) ? 0 : value[i];
        noise[i] = fmaxf(noise[i], 1e-20F);
    }
    image.noise = noise;
    image.ndtype = SEP_TFLOAT;
    image.noise_type = SEP_NOISE_STDDEV;
    for (float threshold = 1.5F; status == 0 && list->sky_noise > 0; threshold *= 2) {
        sep_catalog_free(found);
        found = NULL;
        int failed = sep_extract(&image, threshold, SEP_THRESH_REL, 3, kernel, 5, 5,
                                 SEP_FILTER_CONV, 32, 0.005, 1, 1.0, &found);
        if (!failed && found->nobj < MAX_RAW) {
            break;
        }
        if (threshold > 1000) {
            break;
        }
    }
    int code = status ? error_memory(err) : 0;
    if (!code && found) {
        code = collect(list, found, frame, max_stars, err);
    }
    sep_catalog_free(found);
    sep_bkg_free(sky);
    return code;
}

int stars_detect(struct star_list *list, const struct frame *frame,
                 const struct detect_options *options, struct error *err)
{
    const struct plane *plane = &frame->luminance;
    memset(list, 0, sizeof *list);
    list->width = frame->width;
    list->height = frame->height;
    if (!plane->value || plane->width < 8 || plane->height < 8) {
        return 0;
    }
    size_t n = (size_t)plane->width * (size_t)plane->height;
    float *value = malloc(n * sizeof *value);
    float *noise = malloc(n * sizeof *noise);
    int code = 0;
    if (!value || !noise) {
        code = error_memory(err);
    } else {
        memcpy(value, plane->value, n * sizeof *value);
        sep_set_extract_pixstack(PIXEL_STACK);
        sep_set_sub_object_limit(SUB_OBJECTS);
        code = extract(list, frame, value, noise, mesh_of_recipe[options->recipe],
                       options->max_stars > 0 ? options->max_stars : DEFAULT_MAX_STARS, err);
    }
    free(value);
    free(noise);
    if (code) {
        star_list_free(list);
    }
    return code;
}

void star_list_free(struct star_list *list)
{
    free(list->star);
    memset(list, 0, sizeof *list);
}
