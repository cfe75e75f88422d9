#include "base/random.h"
#include "frame_reading.h"
#include "near.h"
#include "tiff_maker.h"

Suite *raw_suite(void);

enum { WIDTH = 48, HEIGHT = 36 };

static double values[WIDTH * HEIGHT];

static void fill_values(void)
{
    for (int i = 0; i < WIDTH * HEIGHT; i++) {
        values[i] = 300 + (i * 7919 + i / 13 * 31) % 3000;
    }
}

static void read_ok(struct frame *frame, const char *path, const struct frame_options *how)
{
    read_good(frame, path, how);
    ck_assert_str_eq(frame->format, "camera raw");
}

/* Mean of a cell of the file's values above black, whose pattern is 2 x 2. */
static double want_cell(int x0, int y0, int cell, const float black[4])
{
    double sum = 0;
    for (int y = y0; y < y0 + cell; y++) {
        for (int x = x0; x < x0 + cell; x++) {
            sum += values[y * WIDTH + x] - (double)black[y % 2 * 2 + x % 2];
        }
    }
    return sum / (cell * cell);
}

/* Bayer cells are summed by fours, X-Trans by nines, grey pixels taken alone; each place's own
 * black level counts, and white less black is full. */
START_TEST(test_cells)
{
    static const int cells[] = {2, 6, 0}, bins[] = {2, 3, 1};
    static const float black[] = {256, 258, 260, 270};
    const struct dng_kind kind = {.cell = cells[_i], .black = black, .white = 4095};
    const struct frame_options how = {0};
    struct frame frame = {0};
    fill_values();
    read_ok(&frame, dng_make("a.jpg", WIDTH, HEIGHT, &kind, values), &how);
    int bin = bins[_i], columns = WIDTH / bin;
    ck_assert_int_eq(frame.width, WIDTH);
    ck_assert_int_eq(frame.height, HEIGHT);
    ck_assert_int_eq(frame.luminance.bin, bin);
    for (int i = 0; i < columns * (HEIGHT / bin); i++) {
        assert_near((double)frame.luminance.value[i],
                    want_cell(i % columns * bin, i / columns * bin, bin, black), 1e-3, "value");
    }
    assert_near((double)frame.luminance.full, 4095 - 261, 1e-3, "white less black");
    frame_free(&frame);
}
END_TEST

/* The sensor's rim is cut off, and black levels count from the corner of what is left. */
START_TEST(test_active_area)
{
    static const float black[] = {10, 20, 30, 40};
    static const uint32_t active[] = {4, 6, 34, 46};
    const struct dng_kind kind = {.cell = 2, .black = black, .active = active};
    const struct frame_options how = {0};
    struct frame frame = {0};
    fill_values();
    read_ok(&frame, dng_make("a.dng", WIDTH, HEIGHT, &kind, values), &how);
    ck_assert_int_eq(frame.width, 40);
    ck_assert_int_eq(frame.height, 30);
    for (int i = 0; i < 20 * 15; i++) {
        int x = 6 + i % 20 * 2, y = 4 + i / 20 * 2;
        const double *v = values + y * WIDTH + x;
        double want = (v[0] + v[1] + v[WIDTH] + v[WIDTH + 1]) / 4 - 25;
        assert_near((double)frame.luminance.value[i], want, 1e-3, "value");
    }
    frame_free(&frame);
}
END_TEST

/* EXIF's orientation, tag 274, turns the cells; the first one goes to a corner that we know. */
START_TEST(test_orientation)
{
    static const struct {
        int orientation;
        bool upright, right, lower; /* where the file's first cell comes to lie */
    } cases[] = {{1, false, false, false},
                 {3, false, true, true},
                 {6, true, true, false},
                 {8, true, false, true}};
    const struct dng_kind kind = {.cell = 2, .orientation = cases[_i].orientation};
    const struct frame_options how = {.want_picture = true};
    static const float none[4] = {0};
    struct frame frame = {0};
    fill_values();
    read_ok(&frame, dng_make("a.dng", WIDTH, HEIGHT, &kind, values), &how);
    const struct plane *p = &frame.luminance;
    ck_assert_int_eq(frame.width, cases[_i].upright ? HEIGHT : WIDTH);
    ck_assert_int_eq(frame.picture.width, frame.width);
    int x = cases[_i].right ? p->width - 1 : 0, y = cases[_i].lower ? p->height - 1 : 0;
    assert_near((double)p->value[y * p->width + x], want_cell(0, 0, 2, none), 1e-3, "first cell");
    frame_free(&frame);
}
END_TEST

/* A red light is red in the picture. */
START_TEST(test_picture_colour)
{
    static const int cells[] = {2, 6};
    /* Which filter lies where: the first rows of the two patterns suffice to find a red pixel. */
    const struct dng_kind kind = {.cell = cells[_i], .white = 4095};
    const struct frame_options how = {.want_picture = true};
    struct frame frame = {0};
    static const char *const rows[2][6] = {
        {"RGRGRG", "GBGBGB", "RGRGRG", "GBGBGB", "RGRGRG", "GBGBGB"},
        {"GBGGRG", "RGRBGB", "GBGGRG", "GRGGBG", "BGBRGR", "GRGGBG"}};
    for (int i = 0; i < WIDTH * HEIGHT; i++) {
        char filter = rows[_i][i / WIDTH % 6][i % WIDTH % 6];
        values[i] = filter == 'R' ? 3000 : filter == 'G' ? 1500 : 600;
    }
    read_ok(&frame, dng_make("a.dng", WIDTH, HEIGHT, &kind, values), &how);
    for (int i = 0; i < WIDTH * HEIGHT; i++) {
        const unsigned char *p = frame.picture.rgb + 3L * i;
        ck_assert_msg(p[0] > p[1] && p[1] > p[2], "%d %d %d", p[0], p[1], p[2]);
    }
    frame_free(&frame);
}
END_TEST

/* Large frames are binned in whole cells. */
START_TEST(test_bin_of_cells)
{
    const struct dng_kind kind = {.cell = _i == 0 ? 2 : 6};
    const struct frame_options how = {.max_plane_pixels = WIDTH * HEIGHT / 10};
    struct frame frame = {0};
    fill_values();
    read_ok(&frame, dng_make("a.dng", WIDTH, HEIGHT, &kind, values), &how);
    ck_assert_int_eq(frame.luminance.bin, _i == 0 ? 4 : 6);
    frame_free(&frame);
}
END_TEST

/* A DNG that states so many pixels and has none. */
static const char *claim(int width, int height)
{
    const struct dng_kind kind = {.cell = 2};
    const struct tiff_kind shape = {.bits = 16, .photometric = PHOTOMETRIC_CFA};
    const char *path = scratch_path("a.dng");
    TIFF *tiff = TIFFOpen(path, "wl");
    tiff_put_fields(tiff, width, height, &shape);
    dng_put_fields(tiff, &kind);
    tiff_put_one_byte(tiff, false);
    TIFFWriteDirectory(tiff);
    TIFFClose(tiff);
    return path;
}

START_TEST(test_absurd_claims)
{
    check_refused(claim(60000, 60000), "the header states 60000 x 60000 pixels; expected at most");
    check_refused(claim(20000, 20000), "the header states 20000 x 20000 pixels, but the file has");
}
END_TEST

/* Cut at 20 places and flipped anywhere: a sentence, or a frame; never more. */
START_TEST(test_damage)
{
    static const int cells[] = {2, 6, 0};
    static const float black[] = {256, 258, 260, 270};
    const struct dng_kind kind = {.cell = cells[_i], .black = black, .white = 4095};
    const struct frame_options how = {.want_picture = true};
    struct random random = {(uint64_t)_i + 1};
    size_t size;
    fill_values();
    unsigned char *bytes = scratch_read(dng_make("a.dng", WIDTH, HEIGHT, &kind, values), &size);
    for (int i = 0; i < 220; i++) {
        unsigned char *bad = malloc(size);
        size_t length = i < 20 ? size * (size_t)i / 20 + 1 : size;
        struct frame frame = {0};
        struct error err = {0};
        ck_assert_ptr_nonnull(bad);
        memcpy(bad, bytes, size);
        for (int flips = 0; i >= 20 && flips < 3; flips++) { /* of what is not pixels, mostly */
            size_t at = random_bits(&random) % (flips ? 600 : size);
            at = flips ? size - 1 - at : at;
            bad[at] ^= (unsigned char)(1U << random_bits(&random) % 8);
        }
        const char *path = scratch_write("b.dng", bad, length);
        int code = frame_read(&frame, path, &how, &err);
        ck_assert(code == 0 || (code == ERROR_INPUT && strstr(err.text, path)));
        ck_assert_msg(i >= 20 || code, "cut after %zu of %zu bytes", length, size);
        frame_free(&frame);
        free(bad);
    }
    free(bytes);
}
END_TEST

Suite *raw_suite(void)
{
    Suite *suite = suite_create("raw");
    TCase *tests = tcase_create("raw");
    tcase_add_checked_fixture(tests, scratch_make, scratch_remove);
    tcase_set_timeout(tests, 120);
    tcase_add_loop_test(tests, test_cells, 0, 3);
    tcase_add_test(tests, test_active_area);
    tcase_add_loop_test(tests, test_orientation, 0, 4);
    tcase_add_loop_test(tests, test_picture_colour, 0, 2);
    tcase_add_loop_test(tests, test_bin_of_cells, 0, 2);
    tcase_add_test(tests, test_absurd_claims);
    tcase_add_loop_test(tests, test_damage, 0, 3);
    suite_add_tcase(suite, tests);
    return suite;
}
