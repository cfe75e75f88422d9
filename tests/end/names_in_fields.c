/* Draws everything there is to draw in 200 fields all over the sky, and judges where letters stand.
 * Usage: names_in_fields CATALOGS; exits with 1 if names touch each other or the picture's edge, or
 * if a pixel that is not drawn on is changed. */
#include "base/random.h"
#include "draw/blend.h"
#include "draw/overlay.h"
#include "frames.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { FIELDS = 200, LONG = 1200, SHORT = 800 };

struct tally {
    long names, touching, clipped, changed_clear;
    double fullest; /* largest share of a picture that is drawn on */
};

static bool boxes_overlap(const struct label_box *a, const struct label_box *b)
{
    return a->x < b->x + b->width && b->x < a->x + a->width && a->y < b->y + b->height &&
           b->y < a->y + a->height;
}

static void judge_names(struct tally *tally, const struct overlay_report *report, int width,
                        int height)
{
    for (int i = 0; i < report->names; i++) {
        const struct label_box *box = &report->name[i];
        tally->names++;
        tally->clipped += box->x < -0.5 || box->y < -0.5 || box->x + box->width > width - 0.5 ||
                          box->y + box->height > height - 0.5;
        for (int k = 0; k < i; k++) {
            tally->touching += boxes_overlap(box, &report->name[k]);
        }
    }
}

/* A pixel that nothing is drawn on must come out as it went in. */
static void judge_pixels(struct tally *tally, struct canvas *canvas, const struct picture *picture)
{
    const struct blend blend = {
        .width = picture->width, .height = picture->height, .canvas = canvas, .picture = picture};
    unsigned char row[3 * LONG];
    long drawn = 0;
    for (int y = 0; y < picture->height; y++) {
        const unsigned char *before = picture->rgb + 3 * (size_t)y * (size_t)picture->width;
        const uint32_t *sheet = canvas_row(canvas, y);
        blend_row_8(row, &blend, y);
        for (int x = 0; x < picture->width; x++) {
            drawn += sheet[x] != 0;
            tally->changed_clear += sheet[x] == 0 && memcmp(row + 3 * x, before + 3 * x, 3) != 0;
        }
    }
    double share = (double)drawn / picture->width / picture->height;
    tally->fullest = share > tally->fullest ? share : tally->fullest;
}

static void fill_noise(struct picture *picture, uint64_t seed)
{
    struct random random = {seed};
    for (size_t i = 0; i < (size_t)LONG * SHORT * 3; i++) {
        picture->rgb[i] = (unsigned char)(random_bits(&random) & 0x3f);
    }
}

/* 3 to 60 degrees wide; the Milky Way, poles, both hands and both formats come up. */
static struct wcs random_frame(int number)
{
    struct random random = {(uint64_t)number + 1};
    bool portrait = number % 3 == 1;
    int width = portrait ? SHORT : LONG, height = portrait ? LONG : SHORT;
    double ra = random_between(&random, 0, 360), sine = random_between(&random, -1, 1);
    double dec = number % 17 == 3 ? 89 : number % 17 == 9 ? -89 : asin(sine) * DEG_PER_RAD;
    double field = random_between(&random, 3, 60);
    double scale = 2 * tan(field / 2 * RAD_PER_DEG) * ARCSEC_PER_RAD / LONG;
    return frame_at(ra, dec, random_between(&random, 0, 360), number % 2, width, height, scale);
}

static int draw_field(struct tally *tally, struct picture *picture, const struct atlas *atlas,
                      int number)
{
    struct wcs wcs = random_frame(number);
    struct canvas canvas;
    struct field field;
    struct overlay_report report;
    picture->width = wcs.width;
    picture->height = wcs.height;
    struct overlay_request request = {.wcs = &wcs,
                                      .atlas = atlas,
                                      .field = &field,
                                      .layers = (1U << LAYERS) - 1,
                                      .title = "A field of stars",
                                      .facts = "2026-02-24 20:30:00 UTC",
                                      .time_known = true,
                                      .time = {2461096, 0},
                                      .other = {4, 3, "300 mm"}};
    int code = canvas_open(&canvas, wcs.width, wcs.height, theme_of(THEME_NIGHT), NULL);
    code = code ? code : field_find(&field, &wcs, &atlas->objects, NULL);
    code = code ? code : overlay_draw(&report, &canvas, &request, NULL);
    if (!code) {
        judge_names(tally, &report, wcs.width, wcs.height);
        judge_pixels(tally, &canvas, picture);
        field_free(&field);
    }
    canvas_free(&canvas);
    return code;
}

int main(int argc, char **argv)
{
    struct atlas atlas;
    struct error err = {0};
    struct tally tally = {0};
    struct picture picture = {.rgb = malloc((size_t)LONG * SHORT * 3)};
    if (argc != 2 || !picture.rgb || atlas_load(&atlas, argv[1], &err)) {
        fprintf(stderr, "usage: names_in_fields CATALOGS %s\n", err.text);
        return 2;
    }
    fill_noise(&picture, 5);
    int code = 0;
    for (int i = 0; !code && i < FIELDS; i++) {
        code = draw_field(&tally, &picture, &atlas, i);
    }
    printf("%d fields with every layer: %ld names, %ld touch another, %ld are clipped, %ld clear "
           "pixels changed; at most %.0f %% of a picture is drawn on\n",
           FIELDS, tally.names, tally.touching, tally.clipped, tally.changed_clear,
           100 * tally.fullest);
    atlas_free(&atlas);
    free(picture.rgb);
    return code || tally.touching || tally.clipped || tally.changed_clear || tally.names < FIELDS ||
           tally.fullest > 0.4;
}
