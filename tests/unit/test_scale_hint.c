/* What a file's facts tell of its scale, and how far they are trusted. */
#include "image/frame.h"
#include "image/scale_hint.h"
#include "near.h"

#include <check.h>

Suite *scale_hint_suite(void);

static struct frame known(double focal, double pitch, double equivalent, int width, int height)
{
    struct frame frame = {.width = width, .height = height};
    enum fact_origin origin = FACT_EXIF;
    frame.facts.focal_mm = (struct fact){focal, focal > 0 ? origin : FACT_UNKNOWN, NULL};
    frame.facts.pixel_um = (struct fact){pitch, pitch > 0 ? origin : FACT_UNKNOWN, NULL};
    frame.facts.focal_35mm =
        (struct fact){equivalent, equivalent > 0 ? origin : FACT_UNKNOWN, NULL};
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
    assert_near(hint.arcsec_px, 206.264806 * 3.7 / 250, 1e-6,
                "arcsec/px"); /* 3.05, the 500 rule's case */
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

Suite *scale_hint_suite(void)
{
    Suite *suite = suite_create("scale_hint");
    TCase *c = tcase_create("all");
    tcase_add_test(c, test_scale_hint);
    suite_add_tcase(suite, c);
    return suite;
}
