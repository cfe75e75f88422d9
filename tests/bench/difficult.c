/* tests/bench/difficult.c: frames with what goes wrong in the field and at the desk: what share is
 * still solved, and whether any answer is wrong. */
#include "base/parallel.h"
#include "demo/nebulae.h"
#include "demo/render.h"
#include "demo/render_write.h"
#include "image/binner.h"
#include "match/solve.h"
#include "tests/bench/bench_common.h"
#include "tests/bench/bench_options.h"
#include "tests/bench/rendering_bound.h"

#include <stddef.h>
#include <string.h>
#include <unistd.h>

enum { WIDTH = 3000, HEIGHT = 2000 };

enum kind {
    NOTHING,
    STREAKS,
    TRAFFIC,
    MOON,
    GRADIENT,
    THIN_CLOUD,
    BROKEN_CLOUD,
    TREES,
    WIRES,
    DEW,
    DEFOCUS,
    KNOCK,
    WIND,
    COLUMNS,
    HOT,
    JPEG,
    SHARPENED,
    SMOOTHED,
    STAR_REDUCED,
    CLIPPED,
    LETTERED,
    PIECE,
    KINDS
};

static const struct {
    const char *name, *key;
    bool stack; /* a finished picture of 8 bits instead of one exposure */
} kinds[KINDS] = {
    [NOTHING] = {"nothing, for comparison", "nothing", false},
    [STREAKS] = {"trails of 10 to 40 px", "streaks", false},
    [TRAFFIC] = {"satellites and aeroplanes, 1 to 6", "traffic", false},
    [MOON] = {"moonlight, sky of 15 to 17 mag", "moon", false},
    [GRADIENT] = {"gradients of 3 times, amplifier glow", "gradient", false},
    [THIN_CLOUD] = {"thin cloud, 0.3 to 1 mag in the mean", "thin-cloud", false},
    [BROKEN_CLOUD] = {"broken cloud, 1 to 2.5 mag in the mean", "broken-cloud", false},
    [TREES] = {"trees and a roof over up to half", "trees", false},
    [WIRES] = {"power lines, 3 to 12", "wires", false},
    [DEW] = {"dew on the lens", "dew", false},
    [DEFOCUS] = {"out of focus, discs of 5 to 10 px", "defocus", false},
    [KNOCK] = {"knocked in mid-exposure, 4 to 25 px", "knock", false},
    [WIND] = {"shaken by wind, 2 to 5 px rms", "wind", false},
    [COLUMNS] = {"hot and dead columns, 10 to 100", "columns", false},
    [HOT] = {"hot pixels, 0.03 to 0.3 %", "hot", false},
    [JPEG] = {"JPEG of quality 10 to 40", "jpeg", false},
    [SHARPENED] = {"sharpened", "sharpened", true},
    [SMOOTHED] = {"noise reduced", "smoothed", true},
    [STAR_REDUCED] = {"stack with stars reduced", "star-reduced", true},
    [CLIPPED] = {"background clipped to black", "clipped", true},
    [LETTERED] = {"with a border and lettering", "lettered", true},
    [PIECE] = {"piece of a wide stack, turned, JPEG", "piece", true},
};

struct outcome {
    enum kind kind;
    bool solved, right;
    int detected;
    double bias, width; /* of streaks: along the trail, median of a frame; px */
    double over_bound;  /* of streaks: typical error over what photons allow */
    double turned;      /* of pieces, radians ... */
    double off_px;      /* ... and by how much the answer is off where it is worst */
};

struct run {
    int each;        /* frames of each kind */
    int first, last; /* kinds */
    const struct bench_sky *sky;
    const struct nebulae *nebulae;
    struct outcome *outcome;
};

/* ---- what goes wrong in the field ---- */

/* A piece of a picture two to three times as wide, from anywhere in it. */
static void cut_piece(struct lens *lens, struct random *r)
{
    double times = random_between(r, 2, 3), room = (times - 1) / 2;
    lens->axis_x = random_between(r, -room, room) * WIDTH;
    lens->axis_y = random_between(r, -room, room) * HEIGHT;
    lens->corner_px = times * hypot(WIDTH, HEIGHT) / 2;
    lens->distortion *= 2;
}

static void spoil(struct render_options *o, enum kind kind, struct random *r)
{
    double px_s = 15.041 * cos(o->dec_deg * RAD_PER_DEG) / camera_scale_arcsec(&o->camera);
    switch (kind) {
    case STREAKS:
        o->camera.exposure_s = random_between(r, 10, 40) / fmax(px_s, 0.05);
        break;
    case TRAFFIC:
        o->traffic.satellites = 1 + (int)(3 * random_uniform(r));
        o->traffic.aeroplanes = (int)(4 * random_uniform(r));
        o->traffic.seed = random_bits(r);
        break;
    case MOON:
        o->camera.sky_mag = random_between(r, 15, 17);
        o->light.moon_glow = random_between(r, 0.5, 1.5);
        break;
    case GRADIENT:
        o->light.moon_glow = random_between(r, 1, 2);
        o->sensor.amp_glow_e = bench_log_between(r, 200, 5000);
        break;
    case THIN_CLOUD:
        o->light.cloud = random_between(r, 0.3, 1);
        break;
    case BROKEN_CLOUD:
        o->light.cloud = random_between(r, 1, 2.5);
        break;
    case TREES:
        o->light.foreground = random_between(r, 0.3, 0.7);
        break;
    case WIRES:
        o->light.wires = 3 + (int)(10 * random_uniform(r));
        break;
    case DEW:
        o->shake.dew = random_between(r, 0.4, 0.9);
        break;
    case DEFOCUS:
        o->shake.defocus_px = random_between(r, 5, 10);
        break;
    case KNOCK:
        o->shake.knock_x = random_between(r, -18, 18);
        o->shake.knock_y = random_between(r, 4, 18);
        o->shake.knock_at = random_between(r, 0.2, 0.8);
        break;
    case WIND:
        o->shake.wind_px = random_between(r, 2, 5);
        o->shake.wind_angle_deg = random_between(r, -90, 90);
        break;
    case COLUMNS:
        o->sensor.dead_columns = (int)bench_log_between(r, 10, 100);
        break;
    case HOT:
        o->sensor.hot_share = bench_log_between(r, 3e-4, 3e-3);
        break;
    case PIECE:
        cut_piece(&o->lens, r);
        break;
    default:
        break;
    }
}

static struct render_options make_options(struct random *r, enum kind kind)
{
    struct render_options o = render_options_typical();
    double widest = kind == PIECE ? 25 : 40, width = bench_log_between(r, 5, widest), v[3];
    o.camera = bench_camera(r, width);
    /* As wide a sensor with pixels twice as large. */
    o.camera.pixel_um *= (double)BENCH_WIDTH / WIDTH;
    o.camera.exposure_s = fmax(o.camera.exposure_s, 1);
    o.lens = bench_lens(r, &o.camera);
    o.lens.width = WIDTH;
    o.lens.height = HEIGHT;
    o.lens.scale_arcsec = camera_scale_arcsec(&o.camera);
    o.lens.axis_x /= 2;
    o.lens.axis_y /= 2;
    random_direction(r, v);
    vector_to_radec(&o.ra_deg, &o.dec_deg, v);
    o.up_angle_deg = random_between(r, 0, 360);
    o.light.moon_angle_deg = random_between(r, -180, 180);
    o.light.seed = random_bits(r);
    o.sensor.seed = random_bits(r);
    if (kinds[kind].stack) {
        o.camera.stacked = (int)bench_log_between(r, 20, 200);
        o.tracked = true;
    }
    spoil(&o, kind, r);
    o.seed = random_bits(r);
    return o;
}

/* ---- what goes wrong at the desk: bytes of a finished picture ---- */

static unsigned char to_byte(double v)
{
    return (unsigned char)fmin(fmax(v + 0.5, 0), 255);
}

enum { REACH = 2 };

static int within(int i, int n)
{
    return i < 0 ? 0 : i >= n ? n - 1 : i;
}

/* Mean of the 5 x 5 pixels around each, along rows and then columns; edges repeat. */
static void box_mean(float *out, const unsigned char *in)
{
    float *rows = bench_calloc((size_t)WIDTH * HEIGHT, sizeof *rows);
    for (int pass = 0; pass < 2; pass++) {
        for (int y = 0; y < HEIGHT; y++) {
            for (int x = 0; x < WIDTH; x++) {
                float sum = 0;
                for (int k = -REACH; k <= REACH; k++) {
                    int i = pass ? x : within(x + k, WIDTH), j = pass ? within(y + k, HEIGHT) : y;
                    size_t at = (size_t)j * WIDTH + (size_t)i;
                    sum += pass ? rows[at] : (float)in[at];
                }
                (pass ? out : rows)[(size_t)y * WIDTH + (size_t)x] = sum / (2 * REACH + 1);
            }
        }
    }
    free(rows);
}

static void sharpen(unsigned char *bytes, struct random *r)
{
    float *mean = bench_calloc((size_t)WIDTH * HEIGHT, sizeof *mean);
    double strength = random_between(r, 1, 3);
    box_mean(mean, bytes);
    for (size_t i = 0; i < (size_t)WIDTH * HEIGHT; i++) {
        bytes[i] = to_byte(bytes[i] + strength * (bytes[i] - (double)mean[i]));
    }
    free(mean);
}

/* As programs do that keep what stands out and smear the rest. */
static void smooth(unsigned char *bytes, struct random *r)
{
    float *mean = bench_calloc((size_t)WIDTH * HEIGHT, sizeof *mean);
    double keep = random_between(r, 6, 25);
    box_mean(mean, bytes);
    for (size_t i = 0; i < (size_t)WIDTH * HEIGHT; i++) {
        double off = bytes[i] - (double)mean[i], share = off * off / (off * off + keep * keep);
        bytes[i] = to_byte((double)mean[i] + share * off);
    }
    free(mean);
}

/* The lowest of 3 x 3 pixels, mixed with the picture: stars shrink and fade. */
static void reduce_stars(unsigned char *bytes, struct random *r)
{
    unsigned char *from = bench_calloc((size_t)WIDTH * HEIGHT, 1);
    double share = random_between(r, 0.5, 0.9);
    memcpy(from, bytes, (size_t)WIDTH * HEIGHT);
    for (int y = 1; y < HEIGHT - 1; y++) {
        for (int x = 1; x < WIDTH - 1; x++) {
            size_t at = (size_t)y * WIDTH + (size_t)x;
            int low = 255;
            for (int j = -1; j <= 1; j++) {
                for (int i = -1; i <= 1; i++) {
                    int v = from[at + (size_t)(j * WIDTH + i)];
                    low = v < low ? v : low;
                }
            }
            bytes[at] = to_byte(from[at] + share * (low - from[at]));
        }
    }
    free(from);
}

static void clip_black(unsigned char *bytes, struct random *r)
{
    double sample[1000];
    for (int i = 0; i < 1000; i++) {
        sample[i] = bytes[(size_t)(random_uniform(r) * WIDTH * HEIGHT)];
    }
    double black = bench_quantile(sample, 1000, random_between(r, 0.6, 0.97));
    for (size_t i = 0; i < (size_t)WIDTH * HEIGHT; i++) {
        bytes[i] = to_byte((bytes[i] - black) * 255 / fmax(255 - black, 1));
    }
}

/* A pale border, and rows of strokes such as letters have. */
static void letter(unsigned char *bytes, struct random *r)
{
    int border = (int)random_between(r, 30, 150), paper = (int)random_between(r, 120, 255);
    for (int y = 0; y < HEIGHT; y++) {
        for (int x = 0; x < WIDTH; x++) {
            if (x < border || y < border || x >= WIDTH - border || y >= HEIGHT - border) {
                bytes[(size_t)y * WIDTH + (size_t)x] = (unsigned char)paper;
            }
        }
    }
    int lines = 2 + (int)(6 * random_uniform(r)), size = (int)random_between(r, 12, 40);
    for (int line = 0; line < lines; line++) {
        int y0 = (int)random_between(r, border, HEIGHT - border - size), x0 = border + size;
        int letters = (int)random_between(r, 10, 50);
        for (int n = 0; n < letters && x0 + size < WIDTH - border; n++, x0 += size) {
            int stroke = size / 8 + 1, shape = (int)(4 * random_uniform(r));
            for (int t = 0; t < size * 3 / 4; t++) {
                for (int k = 0; k < stroke; k++) {
                    int x = shape == 0 ? x0 + k : shape == 1 ? x0 + t / 2 : x0 + t * 2 / 3;
                    int y = shape == 2 ? y0 + k : shape == 3 ? y0 + size - t : y0 + t;
                    bytes[(size_t)(y + (shape == 1 ? k : 0)) * WIDTH + (size_t)x] = 250;
                    bytes[(size_t)(y0 + t) * WIDTH + (size_t)(x0 + k)] = 250;
                }
            }
        }
    }
}

/* Where a pixel of a turned picture was before. */
static void turn_back(double *u, double *v, double x, double y, double angle)
{
    double dx = x - 0.5 * (WIDTH - 1), dy = y - 0.5 * (HEIGHT - 1), c = cos(angle), s = sin(angle);
    *u = c * dx - s * dy + 0.5 * (WIDTH - 1);
    *v = s * dx + c * dy + 0.5 * (HEIGHT - 1);
}

static bool is_inside(double u, double v)
{
    return u >= 0 && v >= 0 && u < WIDTH - 1 && v < HEIGHT - 1;
}

/* Turned about its middle, as one does to level a landscape: black where nothing was. */
static void turn(unsigned char *bytes, double angle)
{
    unsigned char *from = bench_calloc((size_t)WIDTH * HEIGHT, 1);
    memcpy(from, bytes, (size_t)WIDTH * HEIGHT);
    for (int y = 0; y < HEIGHT; y++) {
        for (int x = 0; x < WIDTH; x++) {
            unsigned char *to = &bytes[(size_t)y * WIDTH + (size_t)x];
            double u, v;
            turn_back(&u, &v, x, y, angle);
            *to = 0;
            if (is_inside(u, v)) {
                const unsigned char *at = from + (size_t)v * WIDTH + (size_t)u;
                double right = u - floor(u), down = v - floor(v);
                double upper = at[0] * (1 - right) + at[1] * right;
                double lower = at[WIDTH] * (1 - right) + at[WIDTH + 1] * right;
                *to = to_byte(upper * (1 - down) + lower * down);
            }
        }
    }
    free(from);
}

static double turn_angle(struct random *r)
{
    return random_between(r, 20, 30) * RAD_PER_DEG * (random_uniform(r) < 0.5 ? -1 : 1);
}

static void process(unsigned char *bytes, struct outcome *out, struct random *r)
{
    switch (out->kind) {
    case SHARPENED:
        sharpen(bytes, r);
        break;
    case SMOOTHED:
        smooth(bytes, r);
        break;
    case STAR_REDUCED:
        reduce_stars(bytes, r);
        break;
    case CLIPPED:
        clip_black(bytes, r);
        break;
    case LETTERED:
        letter(bytes, r);
        break;
    case PIECE:
        out->turned = turn_angle(r);
        turn(bytes, out->turned);
        break;
    default:
        break;
    }
}

/* ---- the frame as it would be read ---- */

static void read_jpeg(struct frame *frame, const struct rendering *rendering, unsigned char *bytes,
                      enum kind kind, struct random *r)
{
    const struct render_header bare = {.bare = true};
    const struct frame_options how = {0};
    struct error err = {0};
    char name[64];
    const char *folder = getenv("TMPDIR");
    snprintf(name, sizeof name, "%.30s/difficult-%ld-%lx.jpg", folder ? folder : "/tmp",
             (long)getpid(), (unsigned long)(random_bits(r) & 0xffffff));
    int quality = (int)(kind == JPEG ? random_between(r, 10, 40) : random_between(r, 85, 95));
    bench_require(render_write_jpeg_bytes(rendering, bytes, name, quality, &bare, &err), &err);
    int code = frame_read(frame, name, &how, &err);
    unlink(name);
    bench_require(code, &err);
}

/* As if it had been read from a file of 8 bits. */
static void take_bytes(struct frame *frame, const struct rendering *rendering,
                       const unsigned char *bytes)
{
    struct error err = {0};
    bench_require(rendering_to_frame(frame, rendering, &err), &err);
    for (size_t i = 0; i < (size_t)WIDTH * HEIGHT; i++) {
        frame->luminance.value[i] = (float)bytes[i];
    }
    frame->luminance.full = 255;
}

static void make_frame(struct frame *frame, const struct rendering *rendering, struct outcome *out,
                       struct random *r)
{
    struct error err = {0};
    enum kind kind = out->kind;
    bool jpeg = kind == JPEG || kind == PIECE;
    if (!kinds[kind].stack && !jpeg) {
        bench_require(rendering_to_frame(frame, rendering, &err), &err);
        return;
    }
    unsigned char *bytes = bench_calloc((size_t)WIDTH * HEIGHT, 1);
    rendering_to_bytes(bytes, rendering);
    process(bytes, out, r);
    if (jpeg) {
        read_jpeg(frame, rendering, bytes, kind, r);
    } else {
        take_bytes(frame, rendering, bytes);
    }
    free(bytes);
}

/* ---- how exact the answer for a piece is ---- */

/* Largest error over the picture, px; black corners do not count. */
static double piece_error(const struct wcs *found, const struct wcs *truth, double angle)
{
    enum { GRID = 13 };
    double most = 0, scale = wcs_scale_arcsec(truth) / 3600;
    for (int i = 0; i < GRID * GRID; i++) {
        double x = (double)(i % GRID) / (GRID - 1) * (WIDTH - 1), u, v, seen[3], is[3];
        double y = (double)(i / GRID) / (GRID - 1) * (HEIGHT - 1);
        turn_back(&u, &v, x, y, angle);
        if (is_inside(u, v)) {
            wcs_direction(seen, found, x, y);
            wcs_direction(is, truth, u, v);
            most = fmax(most, vector_angle_deg(seen, is) / scale);
        }
    }
    return most;
}

/* ---- where streaks are placed ---- */

enum { MOST_STREAKS = 400 };

/* Errors of a frame's streaks against the middle of the exposure. */
struct streaks {
    double along[MOST_STREAKS];  /* px */
    double square[MOST_STREAKS]; /* of the whole error, over the variance that photons allow */
    int count;
};

static void note_streak(struct streaks *streaks, const struct star *s,
                        const struct render_star *truth, const struct rendering_bound *bound)
{
    double dx = s->x - truth->x, dy = s->y - truth->y, a = s->angle_deg * RAD_PER_DEG;
    if (hypot(dx, dy) < 4 && !s->saturated && s->snr > 20 && streaks->count < MOST_STREAKS) {
        streaks->along[streaks->count] = dx * cos(a) + dy * sin(a);
        streaks->square[streaks->count] =
            (dx * dx + dy * dy) / rendering_bound_variance(bound, truth);
        streaks->count++;
    }
}

/* The square of a two-dimensional normal error has a median of ln 2 times its mean. */
static void measure_streaks(struct outcome *out, const struct star_list *list,
                            const struct rendering *rendering)
{
    struct streaks streaks = {.count = 0};
    struct rendering_bound bound;
    rendering_bound_start(&bound, rendering);
    for (int i = 0; i < rendering->stars && i < 2000; i++) {
        for (int k = 0; k < list->count; k++) {
            note_streak(&streaks, &list->star[k], &rendering->star[i], &bound);
        }
    }
    rendering_bound_end(&bound);
    out->bias = bench_quantile(streaks.along, streaks.count, 0.5);
    out->over_bound = sqrt(bench_quantile(streaks.square, streaks.count, 0.5) / log(2));
    out->width = rendering->options.camera.fwhm_px;
}

static void try_frame(int n, void *context)
{
    const struct run *run = context;
    int item = run->first * run->each + n;
    struct outcome *out = &run->outcome[item];
    struct random random = {bench_seed(8000, (unsigned)item)};
    struct rendering rendering = {0};
    struct frame frame = {0};
    struct star_list list = {0};
    struct solution solution = {0};
    struct solve_times times;
    const struct solve_options nothing = {0};
    struct error err = {0};
    out->kind = (enum kind)(item / run->each);
    struct render_options o = make_options(&random, out->kind);
    const struct nebulae *nebulae = kinds[out->kind].stack ? run->nebulae : NULL;
    bench_require(render(&rendering, &run->sky->field, nebulae, &o, &err), &err);
    make_frame(&frame, &rendering, out, &random);
    bench_require(
        solve_frame(&solution, &list, &times, &frame, &run->sky->index.index, &nothing, &err),
        &err);
    out->solved = solution.solved;
    out->detected = list.count;
    out->right = solution.solved && bench_is_right(&solution.wcs, &rendering.truth);
    if (out->kind == STREAKS) {
        measure_streaks(out, &list, &rendering);
    }
    if (out->kind == PIECE && out->solved) {
        out->off_px = piece_error(&solution.wcs, &rendering.truth, out->turned);
    }
    if (!out->right) {
        printf("%s, number %d: %s, %.1f mm, %.1f s, %d found: %s\n",
               solution.solved ? "WRONG" : "unsolved", item, kinds[out->kind].key,
               o.camera.focal_mm, o.camera.exposure_s, list.count, solution.why);
    }
    solution_free(&solution);
    star_list_free(&list);
    frame_free(&frame);
    rendering_free(&rendering);
}

/* ---- report ---- */

static void note(const char *numbers, enum kind kind, const char *what, double value)
{
    char key[80];
    snprintf(key, sizeof key, "difficult.%s.%s", kinds[kind].key, what);
    bench_note(numbers, key, value);
}

/* Returns how many answers were wrong. */
static int report_kind(const struct run *run, enum kind kind, const char *numbers)
{
    int right = 0, wrong = 0;
    double *found = bench_calloc((size_t)run->each, sizeof *found);
    for (int i = 0; i < run->each; i++) {
        const struct outcome *o = &run->outcome[(int)kind * run->each + i];
        right += o->right;
        wrong += o->solved && !o->right;
        found[i] = o->detected;
    }
    printf("%-42s %6d %8.1f %6d %8.0f\n", kinds[kind].name, run->each, 100.0 * right / run->each,
           wrong, bench_quantile(found, run->each, 0.5));
    note(numbers, kind, "right_percent", 100.0 * right / run->each);
    note(numbers, kind, "wrong", wrong);
    free(found);
    return wrong;
}

/* Bias: the worst frame's, over the width of its stars. Error: the median frame's. */
static void report_streaks(const struct run *run, const char *numbers)
{
    double worst = 0, *over = bench_calloc((size_t)run->each, sizeof *over);
    int n = 0;
    for (int i = 0; i < run->each; i++) {
        const struct outcome *o = &run->outcome[STREAKS * run->each + i];
        if (isfinite(o->bias)) {
            worst = fmax(worst, fabs(o->bias) / o->width);
            over[n++] = o->over_bound;
        }
    }
    double median = bench_quantile(over, n, 0.5);
    printf("\nplaces of trails along them, bias over their width, worst frame: %.3f\n", worst);
    printf("their typical error over what photons allow, median frame: %.2f\n", median);
    bench_note(numbers, "difficult.streak_bias", worst);
    bench_note(numbers, "difficult.streak_error_over_allowed", median);
    free(over);
}

static void report_pieces(const struct run *run, const char *numbers)
{
    double *off = bench_calloc((size_t)run->each, sizeof *off);
    int n = 0;
    for (int i = 0; i < run->each; i++) {
        const struct outcome *o = &run->outcome[PIECE * run->each + i];
        off[n] = o->off_px;
        n += o->solved;
    }
    double typical = bench_quantile(off, n, 0.5), most = bench_quantile(off, n, 0.9);
    printf("\npieces: largest error of an answer anywhere in its picture, median %.2f px, "
           "90 %% below %.2f px\n",
           typical, most);
    bench_note(numbers, "difficult.piece_off_median_px", typical);
    bench_note(numbers, "difficult.piece_off_90_px", most);
    free(off);
}

struct settings {
    const char *index, *numbers;
    int each, threads, kind;
    bool quick;
};

static bool read_kind(void *member, const char *text)
{
    int kind = 0;
    while (kind < KINDS && strcmp(kinds[kind].key, text) != 0) {
        kind++;
    }
    *(int *)member = kind;
    return kind < KINDS;
}

#define AT(member) offsetof(struct settings, member)

static const struct option_row rows[] = {
    BENCH_INDEX_OPTION,
    BENCH_EACH_OPTION("Frames", "25"),
    {"kind", 0, OPTION_READ, "KEY", "Only this kind.", AT(kind), 0, 0, false, read_kind,
     "a kind of the table, like hot"},
    {"quick", 0, OPTION_FLAG, NULL, "4 of each.", AT(quick), 0, 0, false, NULL, NULL},
    BENCH_THREADS_OPTION,
    BENCH_NUMBERS_OPTION,
    {0}};

int main(int argc, char **argv)
{
    struct settings settings = {.index = "build/hipparcos.alidx",
                                .each = 25,
                                .threads = parallel_processors(),
                                .kind = KINDS};
    struct bench_sky sky = {0};
    struct nebulae nebulae = {0};
    struct error err = {0};
    if (!bench_start(&settings, rows, argc, argv, "difficult [options]")) {
        return 0;
    }
    bench_sky_load(&sky, settings.index);
    bench_require(nebulae_load(&nebulae, "catalogs/objects.tsv", &err), &err);
    bool all = settings.kind == KINDS;
    struct run run = {.each = settings.quick ? 4 : settings.each,
                      .first = all ? 0 : settings.kind,
                      .last = all ? KINDS - 1 : settings.kind,
                      .sky = &sky,
                      .nebulae = &nebulae};
    run.outcome = bench_calloc((size_t)(KINDS * run.each), sizeof *run.outcome);
    parallel_each((run.last - run.first + 1) * run.each, settings.threads, try_frame, &run);
    printf("\n%-42s %6s %8s %6s %8s\n", "what is difficult", "frames", "solved %", "wrong",
           "found");
    int wrong = 0;
    for (int kind = run.first; kind <= run.last; kind++) {
        wrong += report_kind(&run, (enum kind)kind, settings.numbers);
    }
    bench_note(settings.numbers, "difficult.wrong", wrong);
    if (run.first <= STREAKS && run.last >= STREAKS) {
        report_streaks(&run, settings.numbers);
    }
    if (run.last == PIECE) {
        report_pieces(&run, settings.numbers);
    }
    free(run.outcome);
    nebulae_free(&nebulae);
    bench_sky_free(&sky);
    return wrong > 0;
}
