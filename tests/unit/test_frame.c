#include "base/parallel.h"
#include "base/random.h"
#include "image/frame.h"
#include "image/scale_hint.h"
#include "image/gzip_check.h"
#include "image/rice_check.h"
#include "near.h"
#include "picture_maker.h"

#include <fcntl.h>
#include <math.h>
#include <zlib.h>

Suite *frame_suite(void);

/* CFITSIO 4.2 loses the bytes of a tile that doesn't unpack; no leak of ours is to hide behind. */
const char *__lsan_default_suppressions(void);
const char *__lsan_default_suppressions(void)
{
    return "leak:imcomp_decompress_tile";
}

static struct sample_picture sample; /* too large for the stack of a thread */

static const struct frame_options plain = {.want_picture = false},
                                  with_picture = {.want_picture = true};

static void read_good(struct frame *frame, const char *path, const struct frame_options *options)
{
    struct error err = {0};
    int code = frame_read(frame, path, options, &err);
    ck_assert_msg(code == 0, "%s", err.text);
    ck_assert_int_eq(err.code, 0);
}

static void check_refused(const char *path, const char *reason)
{
    struct frame frame, empty;
    struct error err = {0};
    memset(&empty, 0, sizeof empty);
    int code = frame_read(&frame, path, &with_picture, &err);
    ck_assert_msg(code == ERROR_INPUT && err.code == code, "%s: code %d", path, code);
    ck_assert_msg(strstr(err.text, path) == err.text, "no name: %s", err.text);
    ck_assert_msg(strstr(err.text, reason) != NULL, "%s, expected: %s", err.text, reason);
    ck_assert_msg(strchr(err.text, '\n') == NULL, "more than a line: %s", err.text);
    ck_assert_mem_eq(&frame, &empty, sizeof empty);
}

/* Alpha of the sample's pixel, or 1 where it has none. */
static unsigned alpha_at(int x, int y)
{
    int c = sample.channels;
    return c == 2 || c == 4 ? sample.value[(y * sample.width + x) * c + c - 1] : 1;
}

static double mean_at(int x, int y)
{
    const unsigned *pixel = sample.value + (y * sample.width + x) * sample.channels;
    return sample.channels > 2 ? (pixel[0] + pixel[1] + pixel[2]) / 3.0 : pixel[0];
}

static double plane_at(const struct frame *frame, int x, int y)
{
    return (double)frame->luminance.value[y * frame->luminance.width + x];
}

/* PNG. */

static void check_png_values(const struct frame *frame, double scale)
{
    for (int y = 0; y < sample.height; y++) {
        for (int x = 0; x < sample.width; x++) {
            double got = plane_at(frame, x, y);
            if (alpha_at(x, y) == 0) {
                ck_assert(isnan(got));
            } else {
                assert_near(got, mean_at(x, y) * scale, 0.01, "value");
            }
        }
    }
}

START_TEST(test_png_kinds)
{
    static const struct {
        struct png_kind kind;
        int channels;
    } kinds[] = {
        {{PNG_COLOR_TYPE_GRAY, 1, false, NULL, false}, 1},
        {{PNG_COLOR_TYPE_GRAY, 2, false, NULL, false}, 1},
        {{PNG_COLOR_TYPE_GRAY, 4, true, NULL, false}, 1},
        {{PNG_COLOR_TYPE_GRAY, 8, false, NULL, false}, 1},
        {{PNG_COLOR_TYPE_GRAY, 16, false, NULL, false}, 1},
        {{PNG_COLOR_TYPE_GRAY_ALPHA, 8, false, NULL, false}, 2},
        {{PNG_COLOR_TYPE_GRAY_ALPHA, 16, true, NULL, false}, 2},
        {{PNG_COLOR_TYPE_RGB, 8, false, NULL, false}, 3},
        {{PNG_COLOR_TYPE_RGB, 8, true, NULL, false}, 3},
        {{PNG_COLOR_TYPE_RGB, 16, false, NULL, false}, 3},
        {{PNG_COLOR_TYPE_RGB_ALPHA, 8, false, NULL, false}, 4},
        {{PNG_COLOR_TYPE_RGB_ALPHA, 16, true, NULL, false}, 4},
    };
    const struct png_kind *kind = &kinds[_i].kind;
    picture_fill(&sample, 23, 17, kinds[_i].channels, kind->depth);
    for (int i = 0; i < 5 && kinds[_i].channels % 2 == 0; i++) {
        sample.value[(i * 71 + 1) * kinds[_i].channels - 1] = 0; /* some pixels see-through */
    }
    struct frame frame;
    read_good(&frame, png_make("a.png", &sample, kind, 0, 0), &with_picture);
    ck_assert_str_eq(frame.format, "PNG");
    ck_assert_int_eq(frame.rows, ROWS_TOP_DOWN);
    ck_assert_int_eq(frame.width, 23);
    ck_assert_int_eq(frame.height, 17);
    ck_assert_int_eq(frame.luminance.bin, 1);
    assert_near((double)frame.luminance.full, kind->depth == 16 ? 65535 : 255, 0, "full");
    check_png_values(&frame, kind->depth < 8 ? 255.0 / ((1 << kind->depth) - 1) : 1);
    ck_assert_ptr_nonnull(frame.picture.rgb);
    frame_free(&frame);
}
END_TEST

START_TEST(test_png_palette)
{
    static const struct png_kind kind = {PNG_COLOR_TYPE_PALETTE, 4, false, NULL, false};
    struct frame frame;
    picture_fill(&sample, 21, 9, 1, 4);
    read_good(&frame, png_make("a.png", &sample, &kind, 0, 0), &with_picture);
    for (int i = 0; i < 21 * 9; i++) {
        unsigned entry = sample.value[i];
        double got = (double)frame.luminance.value[i];
        if (entry == 15) {
            ck_assert(isnan(got));
        } else {
            assert_near(got, (255 + 2 * entry) / 3.0, 0.01, "value");
        }
        ck_assert_int_eq(frame.picture.rgb[3 * i + 1], 2 * entry);
    }
    frame_free(&frame);
}
END_TEST

START_TEST(test_png_picture)
{
    static const struct png_kind kind = {PNG_COLOR_TYPE_RGB, 8, false, NULL, false};
    struct frame frame;
    picture_fill(&sample, 23, 17, 3, 8);
    const char *path = png_make("a.png", &sample, &kind, 0, 0);
    read_good(&frame, path, &with_picture);
    for (int i = 0; i < 23 * 17 * 3; i++) {
        ck_assert_int_eq(frame.picture.rgb[i], sample.value[i]);
    }
    frame_free(&frame);
    read_good(&frame, path, &plain);
    ck_assert_ptr_null(frame.picture.rgb);
    frame_free(&frame);
}
END_TEST

/* 16 bits: what is bright already keeps its proportions. */
START_TEST(test_png_16_bit_bright)
{
    static const struct png_kind kind = {PNG_COLOR_TYPE_RGB, 16, false, NULL, false};
    struct frame frame;
    picture_fill(&sample, 40, 40, 3, 16);
    read_good(&frame, png_make("a.png", &sample, &kind, 0, 0), &with_picture);
    for (int i = 0; i < 40 * 40 * 3; i++) {
        assert_near(frame.picture.rgb[i], sample.value[i] / 257.0, 1, "level");
    }
    frame_free(&frame);
}
END_TEST

/* What is dark is lifted, its median to a quarter of the range; the order of values stays. */
START_TEST(test_png_16_bit_dark)
{
    static const struct png_kind kind = {PNG_COLOR_TYPE_GRAY, 16, false, NULL, false};
    struct frame frame;
    int below = 0;
    picture_fill(&sample, 40, 40, 1, 16);
    for (int i = 0; i < 40 * 40; i++) {
        double share = sample.value[i] / 65535.0;
        sample.value[i] = 300 + (unsigned)(2000 * pow(share, 4)); /* median 425, most 2300 */
    }
    read_good(&frame, png_make("a.png", &sample, &kind, 0, 0), &with_picture);
    for (int i = 0; i < 40 * 40; i++) {
        below += frame.picture.rgb[3 * i] < 64;
        for (int k = 0; k < 10; k++) {
            ck_assert(sample.value[i] < sample.value[k] ||
                      frame.picture.rgb[3 * i] >= frame.picture.rgb[3 * k]);
        }
    }
    assert_near(below / (40.0 * 40), 0.5, 0.03, "share below a quarter");
    frame_free(&frame);
}
END_TEST

/* Orientation and bins. */

/* The displayed pixel (x, y) in the file's columns and rows: what EXIF 2.32 says of tag 274, "the
 * 0th row is at the visual ... and the 0th column at the visual ...". */
static void stored_place(int *column, int *row, int orientation, int x, int y)
{
    static const char row_side[] = " TTBBLRRL", column_side[] = " LRRLTTBB";
    int last_x = (orientation > 4 ? sample.height : sample.width) - 1;
    int last_y = (orientation > 4 ? sample.width : sample.height) - 1;
    const char sides[2] = {row_side[orientation], column_side[orientation]};
    int place[2];
    for (int i = 0; i < 2; i++) {
        place[i] = sides[i] == 'T'   ? y
                   : sides[i] == 'B' ? last_y - y
                   : sides[i] == 'L' ? x
                                     : last_x - x;
    }
    *row = place[0];
    *column = place[1];
}

/* The mean of the bin's pixels, one by one. */
static double expected_cell(int orientation, int bin, int i, int j)
{
    double sum = 0;
    for (int k = 0; k < bin * bin; k++) {
        int column, row;
        stored_place(&column, &row, orientation, i * bin + k % bin, j * bin + k / bin);
        sum += mean_at(column, row);
    }
    return sum / (bin * bin);
}

static void check_turned(const struct frame *frame, int orientation, int bin)
{
    int width = orientation > 4 ? sample.height : sample.width;
    int height = orientation > 4 ? sample.width : sample.height;
    ck_assert_int_eq(frame->width, width);
    ck_assert_int_eq(frame->height, height);
    ck_assert_int_eq(frame->luminance.bin, bin);
    ck_assert_int_eq(frame->luminance.width, width / bin);
    ck_assert_int_eq(frame->luminance.height, height / bin);
    for (int j = 0; j < height / bin; j++) {
        for (int i = 0; i < width / bin; i++) {
            assert_near(plane_at(frame, i, j), expected_cell(orientation, bin, i, j), 0.01,
                        "value");
        }
    }
    for (int i = 0; i < width * height; i++) {
        int column, row;
        stored_place(&column, &row, orientation, i % width, i / width);
        for (int c = 0; c < 3; c++) {
            ck_assert_int_eq(frame->picture.rgb[3 * i + c],
                             sample.value[(row * sample.width + column) * 3 + c]);
        }
    }
}

/* All eight, on a picture that no bin divides and that needs more than one block of rows. */
START_TEST(test_orientations)
{
    int orientation = _i % 8 + 1, bin = _i / 8 + 1;
    struct exif_block exif;
    exif_make(&exif, orientation, NULL, false);
    const struct png_kind kind = {PNG_COLOR_TYPE_RGB, 8, false, &exif, false};
    picture_fill(&sample, 47, 53, 3, 8);
    const char *path = png_make("a.png", &sample, &kind, 0, 0);
    struct frame_options options = {.want_picture = true,
                                    .max_plane_pixels = (47 / bin) * (53 / bin)};
    struct frame frame;
    read_good(&frame, path, &options);
    check_turned(&frame, orientation, bin);
    frame_free(&frame);
}
END_TEST

/* Turned, then turned by the inverse: the first picture again. */
START_TEST(test_orientation_inverses)
{
    static const int inverse[] = {0, 1, 2, 3, 4, 5, 8, 7, 6};
    int orientation = _i + 1;
    struct exif_block exif;
    struct frame frame;
    exif_make(&exif, orientation, NULL, true);
    const struct png_kind kind = {PNG_COLOR_TYPE_GRAY, 8, false, &exif, false};
    picture_fill(&sample, 37, 41, 1, 8);
    static struct sample_picture first;
    first = sample;
    read_good(&frame, png_make("a.png", &sample, &kind, 0, 0), &plain);
    sample.width = frame.width;
    sample.height = frame.height;
    for (int i = 0; i < 37 * 41; i++) {
        sample.value[i] = (unsigned)frame.luminance.value[i];
    }
    frame_free(&frame);
    exif_make(&exif, inverse[orientation], NULL, true);
    read_good(&frame, png_make("b.png", &sample, &kind, 0, 0), &plain);
    ck_assert_int_eq(frame.width, 37);
    for (int i = 0; i < 37 * 41; i++) {
        assert_near((double)frame.luminance.value[i], first.value[i], 0, "value");
    }
    frame_free(&frame);
}
END_TEST

START_TEST(test_smallest_bin)
{
    static const struct {
        long most;
        int bin;
    } samples[] = {{0, 1}, {2000, 1}, {1600, 1}, {1599, 2}, {400, 2}, {399, 3}, {100, 4}, {1, 21}};
    static const struct png_kind kind = {PNG_COLOR_TYPE_GRAY, 8, false, NULL, false};
    picture_fill(&sample, 40, 40, 1, 8);
    const char *path = png_make("a.png", &sample, &kind, 0, 0);
    for (size_t i = 0; i < sizeof samples / sizeof *samples; i++) {
        struct frame_options options = {.max_plane_pixels = samples[i].most};
        struct frame frame;
        read_good(&frame, path, &options);
        ck_assert_int_eq(frame.luminance.bin, samples[i].bin);
        ck_assert(samples[i].most == 0 ||
                  frame.luminance.width * frame.luminance.height <= samples[i].most);
        ck_assert_int_eq(frame.width, 40);
        frame_free(&frame);
    }
}
END_TEST

/* JPEG. */

START_TEST(test_jpeg_kinds)
{
    struct frame frame;
    const struct jpeg_kind kind = {_i / 2 == 1, NULL};
    int channels = _i % 2 ? 3 : 1;
    picture_slopes(&sample, 51, 37, channels);
    read_good(&frame, jpeg_make("a.jpg", &sample, &kind), &with_picture);
    ck_assert_str_eq(frame.format, "JPEG");
    assert_near((double)frame.luminance.full, 255, 0, "full");
    for (int y = 0; y < 37; y++) {
        for (int x = 0; x < 51; x++) {
            /* Quality 100 rounds each coefficient; colour conversion once more. */
            assert_near(plane_at(&frame, x, y), mean_at(x, y), 2, "value");
            int blue = channels == 3 ? 60 : 0;
            assert_near(frame.picture.rgb[3 * (51 * y + x) + 2], 20 + 2 * x + y + blue, 3, "blue");
        }
    }
    frame_free(&frame);
}
END_TEST

START_TEST(test_jpeg_exif)
{
    static const struct exif_tag tags[] = {{0x920a, EXIF_RATIONAL, 85, NULL},
                                           {0x9003, EXIF_ASCII, 0, "2026:03:01 00:30:05"},
                                           {0, 0, 0, NULL}};
    struct exif_block exif;
    struct frame frame;
    exif_make(&exif, 6, tags, true);
    const struct jpeg_kind kind = {false, &exif};
    picture_slopes(&sample, 51, 37, 3);
    read_good(&frame, jpeg_make("a.jpg", &sample, &kind), &plain);
    ck_assert_int_eq(frame.width, 37);
    ck_assert_int_eq(frame.height, 51);
    assert_near(frame.facts.focal_mm.value, 85, 1e-9, "mm");
    ck_assert_str_eq(frame.facts.start_local, "2026-03-01T00:30:05");
    assert_near(plane_at(&frame, 36, 0), mean_at(0, 0), 2, "the file's first pixel");
    assert_near(plane_at(&frame, 0, 50), mean_at(50, 36), 2, "the file's last pixel");
    frame_free(&frame);
}
END_TEST

/* FITS. */

enum { FITS_WIDTH = 13, FITS_HEIGHT = 9, FITS_PIXELS = FITS_WIDTH * FITS_HEIGHT };

static double fits_value(int i)
{
    return (i * 37) % 101;
}

static void fill_values(double *value, int count, double offset, double scale)
{
    for (int i = 0; i < count; i++) {
        value[i] = offset + scale * fits_value(i);
    }
}

/* The file's first row is the display's last. */
static double fits_at(const struct frame *frame, int x, int row)
{
    int y = frame->rows == ROWS_BOTTOM_UP ? frame->height - 1 - row : row;
    return plane_at(frame, x, y);
}

START_TEST(test_fits_kinds)
{
    static const struct {
        int bitpix, compression;
        double offset, scale, full;
    } kinds[] = {
        {BYTE_IMG, 0, 0, 2, 255},
        {SBYTE_IMG, 0, -50, 1, 127},
        {SHORT_IMG, 0, -50, 300, 32767},
        {USHORT_IMG, 0, 0, 600, 65535},
        {LONG_IMG, 0, -1e6, 100000, 2147483647},
        {ULONG_IMG, 0, 0, 4e7, 4294967295},
        {LONGLONG_IMG, 0, 0, 1e6, 9223372036854775807.0},
        {FLOAT_IMG, 0, -0.5, 0.01, 0},
        {DOUBLE_IMG, 0, -0.5, 0.01, 0},
        {BYTE_IMG, GZIP_1, 0, 2, 255},
        {SHORT_IMG, RICE_1, -50, 300, 32767},
        {USHORT_IMG, RICE_1, 0, 600, 65535},
        {USHORT_IMG, GZIP_2, 0, 600, 65535},
        {LONG_IMG, RICE_1, -1e6, 100000, 2147483647},
        {FLOAT_IMG, GZIP_1, -0.5, 0.01, 0},
    };
    double value[FITS_PIXELS];
    struct frame frame;
    const struct fits_kind kind = {kinds[_i].bitpix, kinds[_i].compression, 1, false};
    fill_values(value, FITS_PIXELS, kinds[_i].offset, kinds[_i].scale);
    fitsfile *file = fits_make("a.fits", FITS_WIDTH, FITS_HEIGHT, &kind, value);
    read_good(&frame, fits_done(file, "a.fits"), &with_picture);
    ck_assert_str_eq(frame.format, "FITS");
    ck_assert_int_eq(frame.rows, ROWS_BOTTOM_UP);
    ck_assert_int_eq(frame.width, FITS_WIDTH);
    ck_assert_int_eq(frame.height, FITS_HEIGHT);
    assert_near((double)frame.luminance.full / fmax(kinds[_i].full, 1), kinds[_i].full > 0 ? 1 : 0,
                1e-7, "full");
    for (int i = 0; i < FITS_PIXELS; i++) {
        /* A float holds 24 bits. */
        assert_near(fits_at(&frame, i % FITS_WIDTH, i / FITS_WIDTH), value[i],
                    fabs(value[i]) * 1e-7, "value");
    }
    ck_assert_ptr_nonnull(frame.picture.rgb);
    frame_free(&frame);
}
END_TEST

START_TEST(test_fits_row_order)
{
    double value[FITS_PIXELS];
    struct frame frame;
    int status = 0;
    const struct fits_kind kind = {SHORT_IMG, 0, 1, false};
    fill_values(value, FITS_PIXELS, 0, 1);
    fitsfile *file = fits_make("a.fits", FITS_WIDTH, FITS_HEIGHT, &kind, value);
    fits_write_key(file, TSTRING, "ROWORDER", _i ? "TOP-DOWN" : "BOTTOM-UP", NULL, &status);
    ck_assert_int_eq(status, 0);
    read_good(&frame, fits_done(file, "a.fits"), &plain);
    ck_assert_int_eq(frame.rows, _i ? ROWS_TOP_DOWN : ROWS_BOTTOM_UP);
    assert_near(plane_at(&frame, 2, 0), value[(_i ? 0 : FITS_HEIGHT - 1) * FITS_WIDTH + 2], 0,
                "value");
    frame_free(&frame);
}
END_TEST

START_TEST(test_fits_colour)
{
    double value[3 * FITS_PIXELS];
    struct frame frame;
    const struct fits_kind kind = {SHORT_IMG, _i ? RICE_1 : 0, 3, _i == 1};
    fill_values(value, 3 * FITS_PIXELS, 0, 100);
    fitsfile *file = fits_make("a.fits", FITS_WIDTH, FITS_HEIGHT, &kind, value);
    read_good(&frame, fits_done(file, "a.fits"), &with_picture);
    for (int i = 0; i < FITS_PIXELS; i++) {
        double mean = (value[i] + value[i + FITS_PIXELS] + value[i + 2 * FITS_PIXELS]) / 3;
        assert_near(fits_at(&frame, i % FITS_WIDTH, i / FITS_WIDTH), mean, 0.001, "value");
    }
    frame_free(&frame);
}
END_TEST

/* NaN and infinity in floats, BLANK in integers: no data. In the picture they are black. */
START_TEST(test_fits_blank)
{
    double value[FITS_PIXELS];
    struct frame frame;
    int status = 0, blank = 77;
    const struct fits_kind kind = {_i ? FLOAT_IMG : SHORT_IMG, 0, 1, false};
    fill_values(value, FITS_PIXELS, 1000, 1);
    value[5] = _i ? (double)NAN : blank;
    value[6] = _i ? (double)INFINITY : blank;
    fitsfile *file = fits_make("a.fits", FITS_WIDTH, FITS_HEIGHT, &kind, value);
    if (_i == 0) {
        fits_write_key(file, TINT, "BLANK", &blank, NULL, &status);
    }
    ck_assert_int_eq(status, 0);
    read_good(&frame, fits_done(file, "a.fits"), &with_picture);
    for (int i = 0; i < FITS_PIXELS; i++) {
        double got = fits_at(&frame, i % FITS_WIDTH, i / FITS_WIDTH);
        if (i == 5 || i == 6) {
            ck_assert(isnan(got));
        } else {
            assert_near(got, value[i], 0, "value");
        }
    }
    ck_assert_int_eq(frame.picture.rgb[3 * ((FITS_HEIGHT - 1) * FITS_WIDTH + 5)], 0);
    frame_free(&frame);
}
END_TEST

START_TEST(test_fits_facts)
{
    double value[FITS_PIXELS] = {0}, focal = 135, pitch = 3.76, exposure = 2.5, zero = 0;
    struct frame frame;
    int status = 0;
    const struct fits_kind kind = {SHORT_IMG, _i ? RICE_1 : 0, 1, _i == 1};
    fitsfile *file = fits_make("a.fits", FITS_WIDTH, FITS_HEIGHT, &kind, value);
    fits_write_key(file, TSTRING, "DATE-OBS", "2026-03-14T21:04:05.25", NULL, &status);
    fits_write_key(file, TDOUBLE, "EXPTIME", &exposure, NULL, &status);
    fits_write_key(file, TDOUBLE, "FOCALLEN", &focal, NULL, &status);
    fits_write_key(file, TDOUBLE, "XPIXSZ", &pitch, NULL, &status);
    fits_write_key(file, TDOUBLE, "YPIXSZ", &pitch, NULL, &status);
    fits_write_key(file, TDOUBLE, "ISOSPEED", &zero, NULL, &status);
    ck_assert_int_eq(status, 0);
    read_good(&frame, fits_done(file, "a.fits"), &plain);
    assert_near(frame.facts.focal_mm.value, 135, 0, "mm");
    assert_near(frame.facts.pixel_um.value, 3.76, 1e-12, "um");
    assert_near(frame.facts.exposure_s.value, 2.5, 0, "s");
    ck_assert_int_eq(frame.facts.focal_mm.origin, FACT_FITS);
    ck_assert_int_eq(frame.facts.iso.origin, FACT_UNKNOWN);
    ck_assert_str_eq(frame.facts.start_utc, "2026-03-14T21:04:05.25Z");
    ck_assert_str_eq(frame.facts.start_local, "");
    frame_free(&frame);
}
END_TEST

/* Another time scale than UTC, and pixels that aren't square, are no facts. */
START_TEST(test_fits_doubtful_facts)
{
    double value[FITS_PIXELS] = {0}, across = 3.76, down = 7.52;
    struct frame frame;
    int status = 0;
    const struct fits_kind kind = {SHORT_IMG, 0, 1, false};
    fitsfile *file = fits_make("a.fits", FITS_WIDTH, FITS_HEIGHT, &kind, value);
    fits_write_key(file, TSTRING, "DATE-OBS", "2026-03-14T21:04:05.25", NULL, &status);
    fits_write_key(file, TSTRING, "TIMESYS", "TAI", NULL, &status);
    fits_write_key(file, TDOUBLE, "XPIXSZ", &across, NULL, &status);
    fits_write_key(file, TDOUBLE, "YPIXSZ", &down, NULL, &status);
    ck_assert_int_eq(status, 0);
    read_good(&frame, fits_done(file, "a.fits"), &plain);
    ck_assert_int_eq(frame.facts.pixel_um.origin, FACT_UNKNOWN);
    ck_assert_str_eq(frame.facts.start_utc, "");
    frame_free(&frame);
}
END_TEST

START_TEST(test_fits_mosaic)
{
    double value[FITS_PIXELS];
    struct frame frame;
    int status = 0;
    const struct fits_kind kind = {SHORT_IMG, 0, 1, false};
    fill_values(value, FITS_PIXELS, 0, 1);
    fitsfile *file = fits_make("a.fits", FITS_WIDTH, FITS_HEIGHT, &kind, value);
    fits_write_key(file, TSTRING, "BAYERPAT", "RGGB", NULL, &status);
    read_good(&frame, fits_done(file, "a.fits"), &plain);
    ck_assert_int_eq(frame.luminance.bin, 2);
    ck_assert_int_eq(frame.luminance.width, FITS_WIDTH / 2);
    frame_free(&frame);
}
END_TEST

/* Every pixel's value is that of its filter, so that each colour must come out alike everywhere. */
START_TEST(test_fits_mosaic_offsets)
{
    static const double of_filter[2][2] = {{200, 100}, {100, 20}}; /* RGGB */
    const struct frame_options shown = {.want_picture = true, .keep_levels = true};
    const struct fits_kind kind = {BYTE_IMG, 0, 1, false};
    int columns = _i % 2, rows = _i / 2 % 2, status = 0;
    double value[FITS_PIXELS];
    struct frame frame;
    for (int i = 0; i < FITS_PIXELS; i++) {
        value[i] = of_filter[(i / FITS_WIDTH + rows) % 2][(i % FITS_WIDTH + columns) % 2];
    }
    fitsfile *file = fits_make("a.fits", FITS_WIDTH, FITS_HEIGHT, &kind, value);
    fits_write_key(file, TSTRING, "BAYERPAT", "RGGB", NULL, &status);
    fits_write_key(file, TINT, "XBAYROFF", &columns, NULL, &status);
    fits_write_key(file, TINT, "YBAYROFF", &rows, NULL, &status);
    if (_i >= 4) {
        fits_write_key(file, TSTRING, "ROWORDER", "TOP-DOWN", NULL, &status);
    }
    ck_assert_int_eq(status, 0);
    read_good(&frame, fits_done(file, "a.fits"), &shown);
    for (int i = 0; i < FITS_PIXELS; i++) {
        static const unsigned char colours[] = {200, 100, 20};
        ck_assert_mem_eq(frame.picture.rgb + 3 * i, colours, 3);
    }
    frame_free(&frame);
}
END_TEST

/* A name that the library would take apart is a name like any other. */
START_TEST(test_fits_literal_names)
{
    static const char *const names[] = {"a[1:2,3:4].fits", "mem:x.fits", " blank.fits",
                                        "~tilde.fits",     "a.fits+1",   "a.fits(b)"};
    double value[FITS_PIXELS] = {0};
    const struct fits_kind kind = {SHORT_IMG, 0, 1, false};
    fits_done(fits_make("plain.fits", FITS_WIDTH, FITS_HEIGHT, &kind, value), "plain.fits");
    ck_assert_int_eq(rename(scratch_path("plain.fits"), scratch_path(names[_i])), 0);
    struct frame frame;
    read_good(&frame, scratch_path(names[_i]), &plain);
    frame_free(&frame);
    int here = open(".", O_RDONLY);
    ck_assert_int_eq(chdir(scratch_folder), 0);
    read_good(&frame, names[_i], &plain);
    frame_free(&frame);
    ck_assert_int_eq(fchdir(here), 0);
    close(here);
}
END_TEST

START_TEST(test_fits_refused)
{
    double value[4 * FITS_PIXELS] = {0};
    const struct fits_kind cube = {SHORT_IMG, 0, 4, false},
                           hard = {SHORT_IMG, HCOMPRESS_1, 1, false};
    static const char *const empty[] = {"SIMPLE  =                    T",
                                        "BITPIX  =                    8",
                                        "NAXIS   =                    0", "END", NULL};
    static const char *const line[] = {"SIMPLE  =                    T",
                                       "BITPIX  =                    8",
                                       "NAXIS   =                    1",
                                       "NAXIS1  =                  100",
                                       "END",
                                       NULL};
    static const char *const no_bitpix[] = {"SIMPLE  =                    T",
                                            "NAXIS   =                    2", "END", NULL};
    static const char *const no_end[] = {"SIMPLE  =                    T",
                                         "BITPIX  =                    8", NULL};
    fitsfile *file = fits_make("a.fits", FITS_WIDTH, FITS_HEIGHT, &cube, value);
    check_refused(fits_done(file, "a.fits"), "a FITS cube; expected one plane, or three");
    file = fits_make("a.fits", FITS_WIDTH, FITS_HEIGHT, &hard, value);
    check_refused(fits_done(file, "a.fits"), "\"HCOMPRESS_1\"; expected RICE_1, GZIP_1 or GZIP_2");
    check_refused(fits_by_hand("a.fits", empty, 0), "no image in this FITS file");
    check_refused(fits_by_hand("a.fits", line, 2880), "no image in this FITS file");
    check_refused(fits_by_hand("a.fits", no_bitpix, 2880), "header 1: expected BITPIX 8, 16,");
    check_refused(fits_by_hand("a.fits", no_end, 0),
                  "header 1: expected an END card; the file ends early");
}
END_TEST

/* What no picture is. */

START_TEST(test_strangers)
{
    static const struct {
        const char *name, *bytes;
        size_t size;
        const char *reason;
    } samples[] = {
        {"a.jpg", "hello, this is text\n", 20,
         "not a picture format known here: camera raw, TIFF, PNG, JPEG, FITS"},
        {"a.png", "x", 1, "not a picture format known here: camera raw, TIFF, PNG"},
        {"a.fits", "SIMPLE", 6, "not a picture format known here"},
        {"a.tif", "II*\0\x08\0\0\0", 8, "cannot be read as a TIFF picture"},
        {"a.tif", "MM\0*\0\0\0\x08", 8, "cannot be read as a TIFF picture"},
        {"a.raw",
         "\0\0\0\x18"
         "ftypcrx \0\0\0\1",
         16, "the file ends early, while reading the headers"},
        {"a.heic",
         "\0\0\0\x18"
         "ftypheic\0\0\0\1",
         16, "is a HEIF picture or a film"},
        {"a.gif", "GIF89a\1\0\1\0", 10, "is a GIF picture; this version reads camera raw, TIFF, PNG, JPEG, FITS"},
        {"a.webp", "RIFF\x20\0\0\0WEBPVP8 ", 16, "is a WebP picture"},
        {"a.pdf", "%PDF-1.4\n", 9, "is a PDF document"},
        {"a.jpg", "", 0, "the file is empty"},
        {"a.gz", "\x1f\x8b\x08\0\0\0\0\0\0\x03\x03\0\0\0\0\0\0\0\0\0", 20,
         "FITS header 1: expected an END card"},
        {"a.gz", "\x1f\x8b\x08", 3, "the gzip file ends early"},
    };
    const char *path = scratch_write(samples[_i].name, samples[_i].bytes, samples[_i].size);
    check_refused(path, samples[_i].reason);
}
END_TEST

START_TEST(test_no_file)
{
    check_refused(scratch_path("missing.jpg"), "No such file");
    check_refused(scratch_folder, "is a folder, expected a file");
}
END_TEST

/* The content decides. */
START_TEST(test_wrong_suffix)
{
    static const struct png_kind kind = {PNG_COLOR_TYPE_GRAY, 8, false, NULL, false};
    struct frame frame;
    picture_fill(&sample, 9, 9, 1, 8);
    read_good(&frame, png_make("a.jpg", &sample, &kind, 0, 0), &plain);
    ck_assert_str_eq(frame.format, "PNG");
    frame_free(&frame);
}
END_TEST

/* Headers that claim more than there is. */

START_TEST(test_png_claims)
{
    struct png_kind kind = {PNG_COLOR_TYPE_RGB, 16, false, NULL, true};
    check_refused(png_make("a.png", NULL, &kind, 50000, 8000),
                  "the header states 50000 x 8000 pixels, but the file has only");
    check_refused(png_make("a.png", NULL, &kind, 60001, 10), "at most 60000 a side");
    check_refused(png_make("a.png", NULL, &kind, 20001, 20000), "400 megapixels");
    kind.interlaced = true;
    check_refused(png_make("a.png", NULL, &kind, 60000, 6000), "but the file has only");
}
END_TEST

static void jpeg_claim(int width, int height, const char *reason)
{
    size_t size;
    unsigned char *bytes = scratch_read(scratch_path("good.jpg"), &size);
    for (size_t i = 0; i + 9 < size; i++) {
        if (bytes[i] == 0xff && bytes[i + 1] == 0xc0) {
            bytes[i + 5] = (unsigned char)(height >> 8);
            bytes[i + 6] = (unsigned char)height;
            bytes[i + 7] = (unsigned char)(width >> 8);
            bytes[i + 8] = (unsigned char)width;
        }
    }
    check_refused(scratch_write("claim.jpg", bytes, size), reason);
    free(bytes);
}

START_TEST(test_jpeg_claims)
{
    static const struct jpeg_kind kind = {false, NULL};
    picture_slopes(&sample, 40, 30, 3);
    jpeg_make("good.jpg", &sample, &kind);
    jpeg_claim(50000, 8000, "the header states 50000 x 8000 pixels, but the file has only");
    jpeg_claim(65000, 10, "at most 60000 a side");
    jpeg_claim(40000, 40000, "400 megapixels");
    jpeg_claim(0, 30, "cannot be read as a JPEG picture");
    jpeg_claim(40, 60, "after row");
    picture_slopes(&sample, 40, 30, 4);
    check_refused(jpeg_make("cmyk.jpg", &sample, &kind), "printing colours (CMYK)");
}
END_TEST

static void fits_claim(const char *width, const char *height, const char *reason)
{
    char card[2][81];
    snprintf(card[0], sizeof card[0], "NAXIS1  = %20s", width);
    snprintf(card[1], sizeof card[1], "NAXIS2  = %20s", height);
    const char *const cards[] = {"SIMPLE  =                    T",
                                 "BITPIX  =                  -64",
                                 "NAXIS   =                    2",
                                 card[0],
                                 card[1],
                                 "END",
                                 NULL};
    check_refused(fits_by_hand("a.fits", cards, 2880), reason);
}

START_TEST(test_fits_claims)
{
    fits_claim("50000", "8000", "states 50000 x 8000 pixels, but the file has only 5760 bytes");
    fits_claim("60001", "10", "at most 60000 a side");
    fits_claim("2000000000", "2000000000", "the size of the data in range");
    fits_claim("2000000", "2000000", "at most 60000 a side");
    fits_claim("-5", "8", "a whole number, not negative, for each axis (NAXISn)");
    fits_claim("5.5", "8", "a whole number, not negative, for each axis (NAXISn)");
    fits_claim("0", "8", "no image in this FITS file");
    fits_claim("100", "100", "but the file has only 5760 bytes");
    fits_claim("20", "19", "the file ends early");
}
END_TEST

/* Puts another value into a card of the tiled file; the first card of that name counts. */
static void tile_claim(const char *key, const char *value, const char *reason)
{
    size_t size;
    unsigned char *bytes = scratch_read(scratch_path("tiled.fits"), &size);
    size_t place = 2880; /* after the first header, which is empty */
    while (place < size && memcmp(bytes + place, key, strlen(key)) != 0) {
        place += 80;
    }
    ck_assert_msg(place < size, "no %s", key);
    char card[81];
    snprintf(card, sizeof card, "%-8s= %20s%50s", key, value, "");
    memcpy(bytes + place, card, 80);
    check_refused(scratch_write("claim.fits", bytes, size), reason);
    free(bytes);
}

START_TEST(test_fits_tile_claims)
{
    static const struct {
        const char *key, *value, *reason;
    } samples[] = {
        {"ZTILE1", "0", "header 2: expected ZNAXISn and ZTILEn above 0"},
        {"ZTILE2", "-1", "header 2: expected ZNAXISn and ZTILEn above 0"},
        {"ZTILE1", "60000", "tiles within the image"},
        {"ZNAXIS1", "0", "header 2: expected ZNAXISn and ZTILEn above 0"},
        {"ZNAXIS2", "10", "a table with one row for each tile"},
        {"ZTILE2", "3", "a table with one row for each tile"},
        {"ZNAXIS", "4", "ZNAXIS from 1 to 3"},
        {"ZBITPIX", "17", "ZBITPIX 8, 16, 32, 64, -32 or -64"},
        {"ZCMPTYPE", "'PLIO_1  '", "\"PLIO_1\"; expected RICE_1, GZIP_1 or GZIP_2"},
        {"ZVAL1", "0", "BLOCKSIZE from 1 to 1024"},
        {"ZVAL2", "3", "BYTEPIX 1, 2 or 4"},
        {"BITPIX", "9", "header 2: expected BITPIX 8, 16, 32, 64, -32 or -64"},
        {"NAXIS", "12", "NAXIS from 0 to 9"},
        {"PCOUNT", "-1", "the size of the data in range"},
        {"TFIELDS", "1000000", "the size of the data in range"},
        {"NAXIS2", "1", "a table with one row for each tile"},
    };
    static const struct fits_kind kind = {SHORT_IMG, RICE_1, 1, false};
    double value[FITS_PIXELS];
    fill_values(value, FITS_PIXELS, 0, 200);
    fits_done(fits_make("tiled.fits", FITS_WIDTH, FITS_HEIGHT, &kind, value), "tiled.fits");
    tile_claim(samples[_i].key, samples[_i].value, samples[_i].reason);
}
END_TEST

/* Coded bytes of nothing but zeros: a run that never ends. */
START_TEST(test_fits_endless_run)
{
    static const struct fits_kind kind = {SHORT_IMG, RICE_1, 1, false};
    double value[FITS_PIXELS];
    size_t size;
    fill_values(value, FITS_PIXELS, 0, 200);
    fitsfile *file = fits_make("tiled.fits", FITS_WIDTH, FITS_HEIGHT, &kind, value);
    unsigned char *bytes = scratch_read(fits_done(file, "tiled.fits"), &size);
    size_t heap = size - 2880 + (size_t)FITS_HEIGHT * 8; /* behind the table's descriptors */
    memset(bytes + heap + 3, 0, size - heap - 3);
    bytes[heap + 2] = 0x20; /* the first block: one bit a pixel is split off */
    check_refused(scratch_write("a.fits", bytes, size),
                  "FITS tile 1 of 9 is damaged or ends early");
    free(bytes);
}
END_TEST

/* A bit string written as text; spaces don't count. Returns the number of whole bytes. */
static size_t pack_bits(unsigned char *bytes, const char *text)
{
    size_t count = 0;
    memset(bytes, 0, 64);
    for (const char *p = text; *p; p++) {
        if (*p != ' ') {
            bytes[count / 8] |= (unsigned char)((*p - '0') << (7 - count % 8));
            count++;
        }
    }
    return (count + 7) / 8;
}

/* Streams after FITS 4.0, section 10.4.1: first pixel, then for each block the split plus one and
 * the codes. Whole they pass; without their last byte, or with a pixel more, they don't. */
START_TEST(test_rice_streams)
{
    static const struct {
        int pixel_bytes, block;
        long pixels;
        const char *bits;
    } samples[] = {
        {1, 4, 4, "00000111 000"},                               /* all the same */
        {1, 4, 4, "00000111 011 110 0111 000101 100"},           /* two bits split off */
        {1, 2, 4, "00000111 111 11110000 00001111 000"},         /* plain differences */
        {2, 2, 2, "0000000000000111 0001 00000000000000001 01"}, /* a long run */
        {2, 1, 1, "0000000000000111 0110 00101010"},
        {4, 2, 2, "00000000000000000000000000000111 00010 10 00011"},
    };
    unsigned char bytes[64];
    for (size_t i = 0; i < sizeof samples / sizeof *samples; i++) {
        size_t size = pack_bits(bytes, samples[i].bits);
        int wide = samples[i].pixel_bytes, block = samples[i].block;
        long pixels = samples[i].pixels;
        ck_assert_msg(rice_check(bytes, size, pixels, wide, block), "%s", samples[i].bits);
        ck_assert_msg(!rice_check(bytes, size - 1, pixels, wide, block), "%s", samples[i].bits);
        ck_assert_msg(!rice_check(bytes, size, pixels + 2 * block, wide, block), "%s",
                      samples[i].bits);
    }
    ck_assert(!rice_check(bytes, 0, 1, 2, 32));
}
END_TEST

START_TEST(test_gzip_streams)
{
    unsigned char plain_bytes[1000], packed[2000], copy[2000];
    uLongf size = sizeof packed;
    struct random r = {5};
    for (size_t i = 0; i < sizeof plain_bytes; i++) {
        plain_bytes[i] = (unsigned char)(random_bits(&r) % 16);
    }
    ck_assert_int_eq(compress(packed, &size, plain_bytes, sizeof plain_bytes), Z_OK);
    ck_assert(gzip_check(packed, size, sizeof plain_bytes));
    ck_assert_msg(!gzip_check(packed, size, sizeof plain_bytes - 1), "more than there is room for");
    for (uLongf cut = 0; cut < size; cut++) {
        ck_assert_msg(!gzip_check(packed, cut, sizeof plain_bytes), "cut at %lu", cut);
        memcpy(copy, packed, size);
        copy[cut] ^= 0x40;
        bool padded = cut == size - 5; /* the codes end within this byte; the checksum follows */
        ck_assert_msg(padded || !gzip_check(copy, size, sizeof plain_bytes), "changed at %lu", cut);
    }
}
END_TEST

/* A shape stated twice: the two readers of the header might take different ones. */
START_TEST(test_fits_twice)
{
    static const char *const cards[] = {"SIMPLE  =                    T",
                                        "BITPIX  =                    8",
                                        "NAXIS   =                    2",
                                        "NAXIS1  =                   10",
                                        "NAXIS2  =                   10",
                                        "NAXIS1  =                   20",
                                        "END",
                                        NULL};
    check_refused(fits_by_hand("a.fits", cards, 2880), "each keyword of the image's shape once");
}
END_TEST

/* Damage. */

enum { DAMAGED_KINDS = 9 };

/* One small file of each kind; returns its bytes. */
static unsigned char *make_kind(int number, size_t *size)
{
    static const struct png_kind png = {PNG_COLOR_TYPE_RGB, 8, false, NULL, false};
    static const struct png_kind interlaced = {PNG_COLOR_TYPE_GRAY_ALPHA, 16, true, NULL, false};
    static const struct fits_kind fits = {USHORT_IMG, 0, 3, false};
    static const struct fits_kind tiled = {SHORT_IMG, RICE_1, 1, false};
    static const struct fits_kind zipped = {FLOAT_IMG, GZIP_1, 1, false};
    struct exif_block exif;
    double value[3 * FITS_PIXELS];
    const char *path = NULL;
    exif_make(&exif, 6, NULL, false);
    fill_values(value, 3 * FITS_PIXELS, 0, 200);
    picture_fill(&sample, 19, 13, number == 1 ? 2 : 3, number == 1 ? 16 : 8);
    const struct jpeg_kind jpeg = {number == 3, number == 2 ? &exif : NULL};
    switch (number) {
    case 0:
        path = png_make("a", &sample, &png, 0, 0);
        break;
    case 1:
        path = png_make("a", &sample, &interlaced, 0, 0);
        break;
    case 2:
    case 3:
        path = jpeg_make("a", &sample, &jpeg);
        break;
    case 4:
        path = fits_done(fits_make("a", FITS_WIDTH, FITS_HEIGHT, &fits, value), "a");
        break;
    case 5:
        path = fits_done(fits_make("a", FITS_WIDTH, FITS_HEIGHT, &tiled, value), "a");
        break;
    case 6:
        path = fits_done(fits_make("a", FITS_WIDTH, FITS_HEIGHT, &zipped, value), "a");
        break;
    default:
        path = fits_done(fits_make("a.gz", FITS_WIDTH, FITS_HEIGHT, &fits, value), "a.gz");
        break;
    }
    return scratch_read(path, size);
}

/* How much of the file matters: FITS ends in padding. */
static size_t needed_size(int number, size_t size)
{
    return number == 4 ? 2880 + 3 * FITS_PIXELS * 2 : number == 5 || number == 6 ? 0 : size;
}

/* Cut at any place: refused, with the sentence that fits the place. */
START_TEST(test_truncated)
{
    size_t size;
    unsigned char *bytes = make_kind(_i, &size);
    size_t needed = needed_size(_i, size);
    size_t step = size > 3000 ? 37 : 1;
    for (size_t cut = 0; cut < size; cut += step) {
        const char *path = scratch_write("cut", bytes, cut);
        struct frame frame;
        struct error err = {0};
        int code = frame_read(&frame, path, &plain, &err);
        ck_assert_msg(code == ERROR_INPUT || (code == 0 && cut >= needed),
                      "cut at %zu of %zu: code %d", cut, size, code);
        frame_free(&frame);
    }
    free(bytes);
}
END_TEST

/* Changed at any place: a frame or a sentence, but no harm. */
START_TEST(test_flipped)
{
    size_t size;
    struct random r = {(uint64_t)_i};
    unsigned char *bytes = make_kind(_i, &size);
    for (int i = 0; i < 300; i++) {
        size_t place = random_bits(&r) % size;
        unsigned char old = bytes[place];
        bytes[place] ^= (unsigned char)(1U << random_bits(&r) % 8);
        const char *path = scratch_write("flipped", bytes, size);
        bytes[place] = old;
        struct frame frame;
        struct error err = {0};
        int code = frame_read(&frame, path, &with_picture, &err);
        ck_assert_int_eq(code, err.code);
        ck_assert(code == 0 || strstr(err.text, path) == err.text);
        frame_free(&frame);
    }
    free(bytes);
}
END_TEST

/* PNG and JPEG notice damage to their pixels (JPEG: most of it). */
START_TEST(test_damaged_pixels)
{
    size_t size;
    unsigned char *bytes = make_kind(0, &size);
    bytes[size / 2] ^= 0x10;
    check_refused(scratch_write("a.png", bytes, size), "cannot be read as a PNG picture");
    free(bytes);
    bytes = make_kind(2, &size);
    memset(bytes + size / 2 + size / 4, 0xff, 8);
    check_refused(scratch_write("a.jpg", bytes, size), "the JPEG data are damaged, after row");
    free(bytes);
}
END_TEST

/* Threads. */

enum { READERS = 24 };

struct reading {
    char path[READERS][512];
    double sum[READERS];
};

static void read_one(int item, void *context)
{
    struct reading *reading = context;
    struct frame frame;
    struct error err = {0};
    reading->sum[item] = -1;
    if (frame_read(&frame, reading->path[item], &plain, &err) == 0) {
        double sum = 0;
        for (int i = 0; i < frame.luminance.width * frame.luminance.height; i++) {
            sum += (double)frame.luminance.value[i];
        }
        reading->sum[item] = sum;
    }
    frame_free(&frame);
}

START_TEST(test_threads)
{
    static struct reading reading;
    static const struct fits_kind kinds[] = {{SHORT_IMG, 0, 1, false},
                                             {SHORT_IMG, RICE_1, 1, false}};
    double value[FITS_PIXELS], want = 0;
    fill_values(value, FITS_PIXELS, 0, 1);
    for (int i = 0; i < FITS_PIXELS; i++) {
        want += value[i];
    }
    for (int i = 0; i < READERS; i++) {
        char name[32];
        snprintf(name, sizeof name, "%d.fits", i % 6); /* some are read by several at once */
        fitsfile *file = fits_make(name, FITS_WIDTH, FITS_HEIGHT, &kinds[i % 2], value);
        snprintf(reading.path[i], sizeof reading.path[i], "%s", fits_done(file, name));
    }
    parallel_each(READERS, 4, read_one, &reading);
    for (int i = 0; i < READERS; i++) {
        assert_near(reading.sum[i], want, 1e-3, "sum");
    }
}
END_TEST

/* The hint. */

static struct frame known(double focal, double pitch, double equivalent, int width, int height)
{
    struct frame frame = {.width = width, .height = height};
    enum fact_origin origin = FACT_EXIF;
    frame.facts.focal_mm = (struct fact){focal, focal > 0 ? origin : FACT_UNKNOWN, NULL};
    frame.facts.pixel_um = (struct fact){pitch, pitch > 0 ? origin : FACT_UNKNOWN, NULL};
    frame.facts.focal_35mm = (struct fact){equivalent, equivalent > 0 ? origin : FACT_UNKNOWN, NULL};
    return frame;
}

static bool find_hint(struct scale_hint *hint, const struct frame *frame)
{
    return scale_hint_find(hint, &frame->facts, frame->width, frame->height);
}

START_TEST(test_scale_hint)
{
    struct scale_hint hint;
    struct frame frame = known(250, 3.7, 0, 6000, 4000);
    ck_assert(find_hint(&hint, &frame));
    assert_near(hint.arcsec_px, 206.264806 * 3.7 / 250, 1e-6, "arcsec/px"); /* 3.05, the 500 rule's case */
    ck_assert(hint.tolerance >= 0.05 && hint.tolerance <= 0.2);

    frame = known(0, 0, 50, 6000, 4000); /* 36 mm over 6000 px behind 50 mm */
    ck_assert(find_hint(&hint, &frame));
    assert_near(hint.arcsec_px, 206264.806 * 36 / 6000 / 50, 1e-6, "arcsec/px");
    ck_assert(hint.tolerance > 0.1 && hint.tolerance < 0.2);

    frame = known(0, 0, 24, 3072, 4080); /* upright, 4:3: 34.6 mm over the longer side */
    ck_assert(find_hint(&hint, &frame));
    assert_near(hint.arcsec_px, 206264.806 * 34.61 / 4080 / 24, 0.3, "arcsec/px");

    frame = known(0, 0, 50, 4000, 4000);
    ck_assert_msg(!find_hint(&hint, &frame), "no camera's shape");
    frame = known(0, 0, 50, 3000, 2000);
    frame.facts.sensor_width = 6000;
    frame.facts.sensor_height = 4000;
    ck_assert_msg(!find_hint(&hint, &frame), "smaller than when taken");
    frame = known(50, 0, 0, 6000, 4000);
    ck_assert_msg(!find_hint(&hint, &frame), "no pitch");
    frame = known(0, 3.7, 0, 6000, 4000);
    ck_assert_msg(!find_hint(&hint, &frame), "no focal length");
}
END_TEST

START_TEST(test_free_empty)
{
    struct frame frame = {0};
    frame_free(&frame);
    frame_free(&frame);
}
END_TEST

static TCase *add_case(Suite *suite, const char *name)
{
    TCase *c = tcase_create(name);
    tcase_add_checked_fixture(c, scratch_make, scratch_remove);
    tcase_set_timeout(c, 60); /* under a sanitizer, on a busy machine */
    suite_add_tcase(suite, c);
    return c;
}

Suite *frame_suite(void)
{
    Suite *suite = suite_create("frame");
    TCase *png = add_case(suite, "png");
    tcase_add_loop_test(png, test_png_kinds, 0, 12);
    tcase_add_test(png, test_png_palette);
    tcase_add_test(png, test_png_picture);
    tcase_add_test(png, test_png_16_bit_bright);
    tcase_add_test(png, test_png_16_bit_dark);
    tcase_add_test(png, test_png_claims);
    TCase *turns = add_case(suite, "turns");
    tcase_add_loop_test(turns, test_orientations, 0, 24);
    tcase_add_loop_test(turns, test_orientation_inverses, 0, 8);
    tcase_add_test(turns, test_smallest_bin);
    TCase *jpeg = add_case(suite, "jpeg");
    tcase_add_loop_test(jpeg, test_jpeg_kinds, 0, 4);
    tcase_add_test(jpeg, test_jpeg_exif);
    tcase_add_test(jpeg, test_jpeg_claims);
    TCase *fits = add_case(suite, "fits");
    tcase_add_loop_test(fits, test_fits_kinds, 0, 15);
    tcase_add_loop_test(fits, test_fits_row_order, 0, 2);
    tcase_add_loop_test(fits, test_fits_colour, 0, 2);
    tcase_add_loop_test(fits, test_fits_blank, 0, 2);
    tcase_add_loop_test(fits, test_fits_facts, 0, 2);
    tcase_add_test(fits, test_fits_doubtful_facts);
    tcase_add_test(fits, test_fits_mosaic);
    tcase_add_loop_test(fits, test_fits_mosaic_offsets, 0, 8);
    tcase_add_loop_test(fits, test_fits_literal_names, 0, 6);
    tcase_add_test(fits, test_fits_refused);
    tcase_add_test(fits, test_fits_claims);
    tcase_add_loop_test(fits, test_fits_tile_claims, 0, 16);
    tcase_add_test(fits, test_fits_twice);
    tcase_add_test(fits, test_fits_endless_run);
    tcase_add_test(fits, test_rice_streams);
    tcase_add_test(fits, test_gzip_streams);
    TCase *bad = add_case(suite, "bad");
    tcase_add_loop_test(bad, test_strangers, 0, 13);
    tcase_add_test(bad, test_no_file);
    tcase_add_test(bad, test_wrong_suffix);
    tcase_add_loop_test(bad, test_truncated, 0, 8);
    tcase_add_loop_test(bad, test_flipped, 0, 8);
    tcase_add_test(bad, test_damaged_pixels);
    TCase *other = add_case(suite, "other");
    tcase_add_test(other, test_threads);
    tcase_add_test(other, test_scale_hint);
    tcase_add_test(other, test_free_empty);
    return suite;
}
