#include "base/parallel.h"
#include "base/random.h"
#include "frame_reading.h"
#include "near.h"
#include "picture_maker.h"
#include "stamps.h"

#include <math.h>

Suite *frame_suite(void);

static struct sample_picture sample; /* too large for the stack of a thread */

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
    read_good(&frame, path, &plane_only);
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
    read_good(&frame, png_make("a.png", &sample, &kind, 0, 0), &plane_only);
    sample.width = frame.width;
    sample.height = frame.height;
    for (int i = 0; i < 37 * 41; i++) {
        sample.value[i] = (unsigned)frame.luminance.value[i];
    }
    frame_free(&frame);
    exif_make(&exif, inverse[orientation], NULL, true);
    read_good(&frame, png_make("b.png", &sample, &kind, 0, 0), &plane_only);
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
    read_good(&frame, jpeg_make("a.jpg", &sample, &kind), &plane_only);
    ck_assert_int_eq(frame.width, 37);
    ck_assert_int_eq(frame.height, 51);
    assert_near(frame.facts.focal_mm.value, 85, 1e-9, "mm");
    assert_stamp(frame.facts.start_local, "2026-03-01T00:30:05");
    assert_near(plane_at(&frame, 36, 0), mean_at(0, 0), 2, "the file's first pixel");
    assert_near(plane_at(&frame, 0, 50), mean_at(50, 36), 2, "the file's last pixel");
    frame_free(&frame);
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
        {"a.gif", "GIF89a\1\0\1\0", 10,
         "is a GIF picture; this version reads camera raw, TIFF, PNG, JPEG, FITS"},
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
    read_good(&frame, png_make("a.jpg", &sample, &kind, 0, 0), &plane_only);
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
    fits_fill(value, 3 * FITS_PIXELS, 0, 200);
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
        int code = frame_read(&frame, path, &plane_only, &err);
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
    if (frame_read(&frame, reading->path[item], &plane_only, &err) == 0) {
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
    fits_fill(value, FITS_PIXELS, 0, 1);
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

START_TEST(test_free_empty)
{
    struct frame frame = {0};
    frame_free(&frame);
    frame_free(&frame);
}
END_TEST

Suite *frame_suite(void)
{
    Suite *suite = suite_create("frame");
    TCase *png = scratch_case(suite, "png");
    tcase_add_loop_test(png, test_png_kinds, 0, 12);
    tcase_add_test(png, test_png_palette);
    tcase_add_test(png, test_png_picture);
    tcase_add_test(png, test_png_16_bit_bright);
    tcase_add_test(png, test_png_16_bit_dark);
    tcase_add_test(png, test_png_claims);
    TCase *turns = scratch_case(suite, "turns");
    tcase_add_loop_test(turns, test_orientations, 0, 24);
    tcase_add_loop_test(turns, test_orientation_inverses, 0, 8);
    tcase_add_test(turns, test_smallest_bin);
    TCase *jpeg = scratch_case(suite, "jpeg");
    tcase_add_loop_test(jpeg, test_jpeg_kinds, 0, 4);
    tcase_add_test(jpeg, test_jpeg_exif);
    tcase_add_test(jpeg, test_jpeg_claims);
    TCase *bad = scratch_case(suite, "bad");
    tcase_add_loop_test(bad, test_strangers, 0, 13);
    tcase_add_test(bad, test_no_file);
    tcase_add_test(bad, test_wrong_suffix);
    tcase_add_loop_test(bad, test_truncated, 0, 8);
    tcase_add_loop_test(bad, test_flipped, 0, 8);
    tcase_add_test(bad, test_damaged_pixels);
    TCase *other = scratch_case(suite, "other");
    tcase_add_test(other, test_threads);
    tcase_add_test(other, test_free_empty);
    return suite;
}
