/* tests/bench/no_sky.c: pictures that show something else than the sky, drawn pixel by pixel and led
 * through the whole of a solve: none may be solved. */
#include "base/parallel.h"
#include "match/solve.h"
#include "tests/bench/bench_common.h"
#include "tests/bench/bench_options.h"

#include <stddef.h>
#include <string.h>

enum { WIDTH = 900, HEIGHT = 600, CELL = 60 };
enum kind { CITY, TEXT, CONFETTI, SNOW, BOKEH, SPOTS, CHARTS, TILES, KINDS };
static const char *const kind_name[KINDS] = {
    [CITY] = "city lights",  [TEXT] = "rows of text",     [CONFETTI] = "confetti",
    [SNOW] = "snow",         [BOKEH] = "discs of light",  [SPOTS] = "noise with star-like spots",
    [CHARTS] = "charts mirrored cell by cell", [TILES] = "skies in shuffled tiles"};

struct settings {
    const char *index, *numbers;
    int pictures, first, threads;
};

struct canvas {
    float *value;
    struct random dice;
    const struct index *index;
};

struct run {
    const struct settings *settings;
    const struct index *index;
    bool *solved;
};

static double between(struct canvas *c, double low, double high)
{
    return random_between(&c->dice, low, high);
}

static void add(struct canvas *c, int x, int y, double light)
{
    if (x >= 0 && y >= 0 && x < WIDTH && y < HEIGHT) {
        c->value[y * WIDTH + x] += (float)light;
    }
}

/* A star: a Gaussian of that width. */
static void add_star(struct canvas *c, double x, double y, double peak, double width)
{
    int reach = (int)ceil(4 * width);
    for (int j = -reach; j <= reach; j++) {
        for (int i = -reach; i <= reach; i++) {
            double dx = floor(x) + i - x, dy = floor(y) + j - y;
            add(c, (int)floor(x) + i, (int)floor(y) + j,
                peak * exp(-(dx * dx + dy * dy) / (2 * width * width)));
        }
    }
}

static void add_box(struct canvas *c, double x, double y, double width, double height, double light)
{
    for (int j = (int)y; j < y + height; j++) {
        for (int i = (int)x; i < x + width; i++) {
            add(c, i, j, light);
        }
    }
}

static void add_disc(struct canvas *c, double x, double y, double radius, double light)
{
    for (int j = (int)(y - radius); j <= y + radius; j++) {
        for (int i = (int)(x - radius); i <= x + radius; i++) {
            double far = hypot(i - x, j - y);
            add(c, i, j, far < radius ? light * (far > 0.85 * radius ? 1.4 : 1) : 0);
        }
    }
}

/* Streets of lamps that become smaller, windows of houses, and their light in the haze. */
static void draw_city(struct canvas *c)
{
    for (int street = 0; street < 5; street++) {
        double x = between(c, 0, WIDTH), y = between(c, 0.4, 1) * HEIGHT, step = between(c, 8, 40);
        double turn = between(c, -0.4, 0.4), peak = between(c, 60, 200);
        for (int lamp = 0; lamp < 40; lamp++) {
            add_star(c, x + lamp * step * cos(turn), y + lamp * step * sin(turn), peak,
                     between(c, 1.1, 1.5));
            step *= 0.98;
        }
    }
    for (int house = 0; house < 12; house++) {
        double x = between(c, 0, WIDTH), y = between(c, 100, HEIGHT), pitch = between(c, 7, 14);
        for (int window = 0; window < 60; window++) {
            if (random_uniform(&c->dice) < 0.4) {
                add_box(c, x + window % 6 * pitch, y + window / 6 * pitch, pitch / 3, pitch / 3,
                        between(c, 40, 160));
            }
        }
    }
}

static void draw_text(struct canvas *c)
{
    double size = between(c, 6, 20);
    for (double y = 20; y < HEIGHT - size; y += 1.6 * size) {
        for (double x = 20; x < WIDTH - size; x += size * between(c, 0.6, 1.4)) {
            for (int stroke = 0; stroke < 3; stroke++) {
                bool upright = random_uniform(&c->dice) < 0.6;
                add_box(c, x + between(c, 0, 0.5) * size, y + between(c, 0, 0.5) * size,
                        upright ? size / 8 : size / 2, upright ? size / 2 : size / 8, 150);
            }
        }
    }
}

static void draw_confetti(struct canvas *c)
{
    for (int piece = 0; piece < 400; piece++) {
        add_box(c, between(c, 0, WIDTH), between(c, 0, HEIGHT), between(c, 2, 9), between(c, 2, 9),
                between(c, 30, 180));
    }
}

/* Flakes of all sizes, the near ones out of focus, all a little drawn out the same way. */
static void draw_snow(struct canvas *c)
{
    double drift = between(c, -2, 2);
    for (int flake = 0; flake < 600; flake++) {
        double x = between(c, 0, WIDTH), y = between(c, 0, HEIGHT), width = between(c, 0.8, 2.2);
        double peak = 30 * pow(between(c, 0.05, 1), -0.8);
        for (int part = 0; part < 3; part++) {
            add_star(c, x + drift * part, y + 1.5 * part, peak / 2, width);
        }
    }
}

static void draw_bokeh(struct canvas *c)
{
    double radius = between(c, 3, 25);
    for (int light = 0; light < 150; light++) {
        add_disc(c, between(c, 0, WIDTH), between(c, 0, HEIGHT), radius * between(c, 0.9, 1.1),
                 between(c, 20, 120));
    }
}

/* As many as a sky shows, as bright and as wide. */
static void draw_spots(struct canvas *c)
{
    int count = (int)between(c, 20, 500);
    double width = between(c, 0.9, 2);
    for (int spot = 0; spot < count; spot++) {
        add_star(c, between(c, 0, WIDTH), between(c, 0, HEIGHT),
                 fmin(230, 12 * pow(between(c, 0.001, 1), -0.7)), width);
    }
}

/* Where stars of a true sky would be: true of none once move has been at them. */
static void draw_sky(struct canvas *c, void (*move)(double *x, double *y, const int *order),
                     const int *order)
{
    uint32_t star[400];
    double centre[3], scale = between(c, 0.005, 0.04);
    random_direction(&c->dice, centre);
    struct wcs wcs = {.x = WIDTH / 2.0, .y = HEIGHT / 2.0, .width = WIDTH, .height = HEIGHT};
    wcs.ra_deg = atan2(centre[1], centre[0]) * DEG_PER_RAD;
    wcs.dec_deg = asin(centre[2]) * DEG_PER_RAD;
    wcs.cd[0][0] = -scale;
    wcs.cd[1][1] = -scale;
    double radius = hypot(WIDTH, HEIGHT) / 2 * scale * RAD_PER_DEG;
    int count = index_brightest(star, 400, c->index, centre, radius, 12000);
    for (int i = 0; i < count; i++) {
        double v[3], x, y;
        index_star_vector(v, &c->index->star[star[i]]);
        if (wcs_pixel(&x, &y, &wcs, v) && x > 0 && y > 0 && x < WIDTH && y < HEIGHT) {
            move(&x, &y, order);
            add_star(c, x, y, fmin(230, 200 * pow(i + 1, -0.6)), 1.3);
        }
    }
}

static void mirror_in_cell(double *x, double *y, const int *order)
{
    (void)order, (void)y;
    *x = floor(*x / CELL) * CELL + CELL - fmod(*x, CELL);
}

static void move_tile(double *x, double *y, const int *order)
{
    int columns = WIDTH / CELL, tile = (int)(*y / CELL) * columns + (int)(*x / CELL);
    *x = fmod(*x, CELL) + order[tile] % columns * CELL;
    *y = fmod(*y, CELL) + order[tile] / columns * CELL;
}

static void draw_tiles(struct canvas *c)
{
    enum { TILE_COUNT = WIDTH / CELL * (HEIGHT / CELL) };
    int order[TILE_COUNT];
    for (int i = 0; i < TILE_COUNT; i++) {
        int other = (int)(random_bits(&c->dice) % (uint64_t)(i + 1));
        order[i] = order[other];
        order[other] = i;
    }
    draw_sky(c, move_tile, order);
}

static void draw(struct canvas *c, enum kind kind)
{
    static void (*const draws[KINDS])(struct canvas *) = {
        draw_city, draw_text, draw_confetti, draw_snow, draw_bokeh, draw_spots, NULL, draw_tiles};
    double sky = between(c, 10, 60), noise = between(c, 1, 6);
    for (int i = 0; i < WIDTH * HEIGHT; i++) {
        c->value[i] = (float)sky;
    }
    if (draws[kind]) {
        draws[kind](c);
    } else {
        draw_sky(c, mirror_in_cell, NULL);
    }
    for (int i = 0; i < WIDTH * HEIGHT; i++) {
        double value = (double)c->value[i] + noise * random_normal(&c->dice);
        c->value[i] = (float)rint(fmin(255, fmax(0, value)));
    }
}

static void try_picture(int item, void *context)
{
    const struct run *run = context;
    int number = run->settings->first + item;
    struct canvas c = {.value = bench_calloc(WIDTH * HEIGHT, sizeof *c.value),
                       .dice = {bench_seed(77, (unsigned)number)},
                       .index = run->index};
    struct frame frame = {.width = WIDTH, .height = HEIGHT, .format = "PNG"};
    struct solution solution = {0};
    struct star_list list = {0};
    struct solve_times times;
    struct error err = {0};
    const struct solve_options nothing = {0};
    draw(&c, (enum kind)(number % KINDS));
    frame.luminance =
        (struct plane){.value = c.value, .width = WIDTH, .height = HEIGHT, .bin = 1, .full = 255};
    bench_require(solve_frame(&solution, &list, &times, &frame, run->index, &nothing, &err), &err);
    run->solved[item] = solution.solved;
    if (solution.solved) {
        double ra, dec;
        wcs_radec(&ra, &dec, &solution.wcs, WIDTH / 2.0, HEIGHT / 2.0);
        printf("picture %d (%s) was solved: %.2f %.2f, %d of %d stars, chance 1e%.0f\n", number,
               kind_name[number % KINDS], ra, dec, solution.matched, list.count,
               solution.chance_log10);
    }
    solution_free(&solution);
    star_list_free(&list);
    free(c.value);
}

int main(int argc, char **argv)
{
    struct settings settings = {.index = "build/hipparcos.alidx", .pictures = 200};
    const struct option_row rows[] = {
        BENCH_INDEX_OPTION,
        BENCH_THREADS_OPTION,
        BENCH_NUMBERS_OPTION,
        {"pictures", 0, OPTION_INTEGER, "N", "How many, an eighth of each kind. Default 200.",
         offsetof(struct settings, pictures), 1, 1000000, false, NULL, NULL},
        {"first", 0, OPTION_INTEGER, "N", "The number of the first one. Default 0.",
         offsetof(struct settings, first), 0, 1000000, false, NULL, NULL},
        {0}};
    struct index_file index = {0};
    struct error err = {0};
    int solved = 0;
    if (!bench_start(&settings, rows, argc, argv, "no_sky [--pictures N]")) {
        return 0;
    }
    bench_require(index_open(&index, settings.index, &err), &err);
    struct run run = {&settings, &index.index,
                      bench_calloc((size_t)settings.pictures, sizeof *run.solved)};
    parallel_each(settings.pictures, settings.threads, try_picture, &run);
    for (int i = 0; i < settings.pictures; i++) {
        solved += run.solved[i];
    }
    printf("%d pictures of something else than the sky: %d solved\n", settings.pictures, solved);
    bench_note(settings.numbers, "nosky.pictures", settings.pictures);
    bench_note(settings.numbers, "nosky.solved", solved);
    free(run.solved);
    index_close(&index);
    return solved > 0;
}
