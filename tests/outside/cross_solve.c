/* Solves pictures of one catalogue's sky with the index of another: star lists without pixels, then
 * rendered frames that go through the detector.
 *
 * usage: cross_solve INDEX SKY LISTS FRAMES
 * SKY is a table with the columns hip, ra_deg, dec_deg, v_mag, b_v; only its stars are in the sky.
 * Prints "lists N right N wrong N" and the same for frames. Exit code 0 unless something could not
 * be read or memory is short. */
#include "base/random.h"
#include "base/units.h"
#include "demo/model_stars.h"
#include "demo/render.h"
#include "match/solve.h"
#include "sky/vector.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

struct score {
    int tried, right, wrong;
};

/* Middle and scale within 1 % of the picture. */
static bool is_right(const struct wcs *found, const struct wcs *truth)
{
    double ra, dec, true_ra, true_dec, width, height;
    wcs_centre(found, &ra, &dec);
    wcs_centre(truth, &true_ra, &true_dec);
    wcs_field(truth, &width, &height);
    return radec_angle_deg(ra, dec, true_ra, true_dec) < 0.01 * width &&
           fabs(wcs_scale_arcsec(found) / wcs_scale_arcsec(truth) - 1) < 0.01 &&
           wcs_mirrored(found) == wcs_mirrored(truth);
}

static void count(struct score *score, const struct solution *solution, const struct wcs *truth)
{
    bool right = solution->solved && is_right(&solution->wcs, truth);
    score->tried++;
    score->right += right;
    score->wrong += solution->solved && !right;
}

static double scale_of(double width_deg, int width_px)
{
    return 2 * tan(width_deg / 2 * RAD_PER_DEG) * ARCSEC_PER_RAD / width_px;
}

static void point(double *ra_deg, double *dec_deg, double *up_angle_deg, struct random *random)
{
    double v[3];
    random_direction(random, v);
    vector_to_radec(ra_deg, dec_deg, v);
    *up_angle_deg = random_between(random, 0, 360);
}

/* 12 to 40 degrees wide, to V 6.5: the Yale catalogue goes no deeper. */
static int solve_list(struct score *score, struct model_stars *model, const struct starfield *sky,
                      const struct index *index, struct random *random, struct error *err)
{
    struct model_options options = {.lens = {.width = 3000, .height = 2000},
                                    .position_noise_px = 0.3,
                                    .mag_noise = 0.15,
                                    .missing = 0.05,
                                    .spurious = 0.1,
                                    .limit_mag = 6.5,
                                    .only_listed = true,
                                    .seed = random_bits(random)};
    const struct solve_options nothing = {0};
    struct solution solution = {0};
    options.lens.scale_arcsec = scale_of(random_between(random, 12, 40), 3000);
    options.lens.mirrored = random_uniform(random) < 0.5;
    point(&options.ra_deg, &options.dec_deg, &options.up_angle_deg, random);
    int code = model_star_list(model, sky, &options, err);
    code = code ? code : solve_stars(&solution, &model->list, index, &nothing, err);
    if (!code) {
        count(score, &solution, &model->truth);
    }
    solution_free(&solution);
    return code;
}

/* A tracked lens on a small sensor, 20 to 35 degrees wide, so shallow that the made-up stars of the
 * renderer's sky, which are fainter than V 6.5, hardly show. */
static struct render_options frame_options(struct random *random)
{
    struct render_options options = render_options_typical();
    options.lens.width = 1500;
    options.lens.height = 1000;
    options.lens.scale_arcsec = scale_of(random_between(random, 20, 35), 1500);
    options.camera.focal_mm = options.camera.pixel_um * 206.265 / options.lens.scale_arcsec;
    options.camera.f_number = 1.8;
    options.camera.exposure_s = 4;
    options.camera.sky_mag = 20;
    options.tracked = true;
    point(&options.ra_deg, &options.dec_deg, &options.up_angle_deg, random);
    options.seed = random_bits(random);
    return options;
}

static int solve_rendered(struct score *score, const struct starfield *sky,
                          const struct index *index, struct random *random, struct error *err)
{
    const struct render_options options = frame_options(random);
    const struct solve_options nothing = {0};
    struct rendering rendering = {0};
    struct frame frame = {0};
    struct solution solution = {0};
    struct star_list list = {0};
    struct solve_times times;
    int code = render(&rendering, sky, NULL, &options, err);
    code = code ? code : rendering_to_frame(&frame, &rendering, err);
    code = code ? code : solve_frame(&solution, &list, &times, &frame, index, &nothing, err);
    if (!code) {
        count(score, &solution, &rendering.truth);
    }
    solution_free(&solution);
    star_list_free(&list);
    frame_free(&frame);
    rendering_free(&rendering);
    return code;
}

static int measure(struct score score[2], int lists, int frames, const struct starfield *sky,
                   const struct index *index, struct error *err)
{
    struct model_stars model = {0};
    struct random random = {1};
    int code = 0;
    for (int i = 0; i < lists && !code; i++) {
        code = solve_list(&score[0], &model, sky, index, &random, err);
    }
    for (int i = 0; i < frames && !code; i++) {
        code = solve_rendered(&score[1], sky, index, &random, err);
    }
    model_stars_free(&model);
    return code;
}

int main(int argc, char **argv)
{
    struct error err = {0};
    struct index_file file = {0};
    struct starfield sky = {0};
    struct score score[2] = {{0}, {0}};
    if (argc != 5) {
        fprintf(stderr, "usage: cross_solve INDEX SKY LISTS FRAMES\n");
        return ERROR_USAGE;
    }
    int code = index_open(&file, argv[1], &err);
    code = code ? code : starfield_load(&sky, argv[2], 1, &err);
    code = code ? code : measure(score, atoi(argv[3]), atoi(argv[4]), &sky, &file.index, &err);
    if (code) {
        fprintf(stderr, "%s\n", err.text);
    } else {
        printf("lists %d right %d wrong %d\n", score[0].tried, score[0].right, score[0].wrong);
        printf("frames %d right %d wrong %d\n", score[1].tried, score[1].right, score[1].wrong);
    }
    starfield_free(&sky);
    index_close(&file);
    return code;
}
