#include "draw/card.h"
#include "image/frame.h"
#include "near.h"
#include "scratch.h"

#include <math.h>

Suite *card_suite(void);

static struct objects objects;
static struct darkness night;
static struct plan_settings settings = {
    .camera = {250, 4, 3.7, 22.2, 14.8, SIGNAL_READ_NOISE, SIGNAL_EFFICIENCY},
    .least_altitude_deg = 30,
    .pause_s = 1,
    .total_s = 3600,
    .sky_mag = 19.2,
    .snr = 1,
};
static struct plan_item item;
static struct approach approach;
static struct plan_sheet sheet = {&settings, &night,     &item,      &approach, &objects, 60,
                                  NULL,      "A garden", "A camera", NULL,      NULL,     {0}};

static void make_sheet(const char *name)
{
    struct error err = {0};
    struct place place = {.latitude_deg = 50, .longitude_deg = 10};
    ck_assert_int_eq(objects_load(&objects, "catalogs", &err), 0);
    ck_assert(darkness_find(&night, &place, 2026, 1, 18, 60, DARKNESS_ASTRONOMICAL));
    ck_assert_int_eq(
        plan_target(&item, objects_find(&objects, name), &objects, &night, &settings, &err), 0);
    ck_assert(approach_find(&approach, &objects, &night.place, NULL, item.begin, item.fit.ra_deg,
                            item.fit.dec_deg));
}

static const char *write_card(const char *name, enum page_format format, bool red)
{
    struct error err = {0};
    const char *path = scratch_path(name);
    ck_assert_msg(
        card_write(&(struct file_target){.name = path}, format, red, &sheet, NULL, &err) == 0, "%s",
        err.text);
    return path;
}

static void read_picture(struct frame *frame, const char *path)
{
    struct error err = {0};
    struct frame_options how = {.want_picture = true};
    ck_assert_msg(frame_read(frame, path, &how, &err) == 0, "%s", err.text);
}

/* A screen in the dark must not blind: no green or blue to speak of, and little light in all; on
 * paper, ink is black. */
START_TEST(colours)
{
    make_sheet("M 42");
    for (int red = 0; red < 2; red++) {
        struct frame frame = {0};
        read_picture(&frame, write_card("card.png", PAGE_PNG, red));
        ck_assert_int_eq(frame.width, 1240);
        ck_assert_int_eq(frame.height, 1754);
        double most[3] = {0, 0, 0}, least = 255, sum = 0, ink = 0;
        for (int i = 0; i < frame.width * frame.height; i++) {
            const unsigned char *rgb = frame.picture.rgb + 3 * (long)i;
            for (int k = 0; k < 3; k++) {
                most[k] = fmax(most[k], rgb[k]);
                least = fmin(least, rgb[k]);
                sum += rgb[k];
            }
            ink += rgb[0] != frame.picture.rgb[0];
        }
        double pixels = (double)frame.width * frame.height;
        ck_assert(ink > 0.02 * pixels && ink < 0.3 * pixels);
        assert_near(least, 0, 0, "of 255");
        if (red) {
            ck_assert(most[0] > 150 && most[1] < 40 && most[2] < 30 && sum / 3 / pixels < 15);
        } else {
            ck_assert(most[1] == 255 && sum / 3 / pixels > 220);
        }
        frame_free(&frame);
    }
    objects_free(&objects);
}
END_TEST

START_TEST(pdf)
{
    size_t size;
    make_sheet("M 31");
    unsigned char *bytes = scratch_read(write_card("card.pdf", PAGE_PDF, false), &size);
    ck_assert_uint_gt(size, 5000);
    ck_assert(memcmp(bytes, "%PDF-", 5) == 0);
    free(bytes);
    objects_free(&objects);
}
END_TEST

START_TEST(the_same_in_memory)
{
    static const struct {
        const char *name;
        enum page_format format;
    } kinds[] = {{"card.pdf", PAGE_PDF}, {"card.png", PAGE_PNG}};
    make_sheet("M 31");
    for (int i = 0; i < 2; i++) {
        size_t size;
        struct file_bytes bytes = {0};
        const struct file_target target = {"the card", &bytes};
        unsigned char *file =
            scratch_read(write_card(kinds[i].name, kinds[i].format, false), &size);
        ck_assert_int_eq(card_write(&target, kinds[i].format, false, &sheet, NULL, NULL), 0);
        ck_assert_uint_eq(bytes.size, size);
        ck_assert_mem_eq(bytes.bytes, file, size);
        file_bytes_free(&bytes);
        free(file);
    }
    objects_free(&objects);
}
END_TEST

START_TEST(nowhere_to_write)
{
    struct error err = {0};
    make_sheet("M 42");
    ck_assert_int_eq(card_write(&(struct file_target){.name = scratch_path("no/card.pdf")},
                                PAGE_PDF, false, &sheet, NULL, &err),
                     ERROR_OUTPUT);
    ck_assert_int_eq(scratch_count(), 0);
    objects_free(&objects);
}
END_TEST

Suite *card_suite(void)
{
    Suite *suite = suite_create("card");
    TCase *tcase = tcase_create("card");
    tcase_add_checked_fixture(tcase, scratch_make, scratch_remove);
    tcase_set_timeout(tcase, 60);
    tcase_add_test(tcase, colours);
    tcase_add_test(tcase, pdf);
    tcase_add_test(tcase, the_same_in_memory);
    tcase_add_test(tcase, nowhere_to_write);
    suite_add_tcase(suite, tcase);
    return suite;
}
