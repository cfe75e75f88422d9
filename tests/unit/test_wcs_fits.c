#include "base/random.h"
#include "near.h"
#include "sky/vector.h"
#include "sky/wcs_fits.h"
#include "sky/wcs_inverse.h"

#include <fitsio.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

Suite *wcs_fits_suite(void);

static struct wcs sample(int kind)
{
    static const double place[4][2] = {{83.8, -5.4}, {0.001, 89.97}, {359.999, 12}, {200, -89.9}};
    const double *at = place[kind % 4];
    struct wcs wcs = {.ra_deg = at[0],
                      .dec_deg = at[1],
                      .x = 3011.25,
                      .y = 1890.5,
                      .cd = {{-0.0008, 0.0003}, {-0.00031, -0.00082}},
                      .width = 6000,
                      .height = 4000};
    if (kind & 4) {
        wcs.cd[0][0] = -wcs.cd[0][0];
        wcs.cd[1][0] = -wcs.cd[1][0];
    }
    double corner = 3606, k = (kind & 16 ? -0.06 : 0.03) / (corner * corner);
    wcs.order = kind & 8 ? 3 : 0;
    wcs.a[3][0] = wcs.a[1][2] = wcs.b[2][1] = wcs.b[0][3] = k;
    wcs.a[2][0] = 3e-7;
    wcs.b[1][1] = -2e-7;
    wcs.b[2][0] = 1e-7;
    wcs.a[0][2] = -1e-7;
    return wcs;
}

START_TEST(test_agrees_with_wcslib)
{
    struct random random = {3};
    for (int kind = 0; kind < 32; kind++) {
        struct wcs wcs = sample(kind);
        double arcsec_px = wcs_scale_arcsec(&wcs);
        for (int i = 0; i < 6; i++) {
            double x = random_between(&random, -0.5, 5999.5);
            double y = random_between(&random, -0.5, 3999.5), ra, dec, ours_ra, ours_dec;
            struct error err = {0};
            ck_assert_msg(!wcs_fits_radec(&ra, &dec, &wcs, x, y, &err), "%s", err.text);
            wcs_radec(&ours_ra, &ours_dec, &wcs, x, y);
            double off = radec_angle_deg(ra, dec, ours_ra, ours_dec) * 3600 / arcsec_px;
            assert_near(off, 0, 1e-6, "px");
        }
    }
}
END_TEST

START_TEST(test_refused_by_wcslib)
{
    struct wcs wcs = sample(0);
    struct error err = {0};
    double ra = -7, dec = -7;
    wcs.cd[0][0] = wcs.cd[0][1] = wcs.cd[1][0] = wcs.cd[1][1] = 0;
    ck_assert_int_eq(wcs_fits_radec(&ra, &dec, &wcs, 0, 0, &err), ERROR_INPUT);
    ck_assert_msg(strncmp(err.text, "WCSLIB: ", 8) == 0, "%s", err.text);
    assert_near(ra, -7, 0, "deg");
}
END_TEST

static double card_number(const char *cards, int count, const char *key)
{
    char start[16];
    snprintf(start, sizeof start, "%-8s= ", key);
    for (int i = 0; i < count; i++) {
        if (strncmp(cards + 80 * i, start, 10) == 0) {
            return strtod(cards + 80 * i + 10, NULL);
        }
    }
    return NAN;
}

START_TEST(test_cards)
{
    struct wcs wcs = sample(8);
    char *cards = NULL;
    int count = 0;
    struct error err = {0};
    ck_assert(!wcs_fits_cards(&cards, &count, &wcs, false, &err));
    ck_assert_int_eq((int)strlen(cards), 80 * count);
    ck_assert(strstr(cards, "CTYPE1  = 'RA---TAN-SIP'"));
    ck_assert(strstr(cards, "CTYPE2  = 'DEC--TAN-SIP'"));
    ck_assert(!strstr(cards, "NAXIS") && !strstr(cards, "SIMPLE") && !strstr(cards, "ROWORDER"));
    /* SIP: u is counted from CRPIX, so that turning the rows flips odd powers of v. */
    assert_near(card_number(cards, count, "CRPIX1"), 3012.25, 1e-9, "px");
    assert_near(card_number(cards, count, "CRPIX2"), 4000 - 1890.5, 1e-9, "px");
    assert_near(card_number(cards, count, "CD1_2"), -0.0003, 1e-18, "deg/px");
    assert_near(card_number(cards, count, "A_2_0"), 3e-7, 1e-20, "1/px");
    assert_near(card_number(cards, count, "B_2_0"), -1e-7, 1e-20, "1/px");
    assert_near(card_number(cards, count, "B_1_1"), -2e-7, 1e-20, "1/px");
    assert_near(card_number(cards, count, "IMAGEH"), 4000, 0, "px");
    ck_assert(card_number(cards, count, "AP_ORDER") >= 4);
    free(cards);

    ck_assert(!wcs_fits_cards(&cards, &count, &wcs, true, &err));
    ck_assert(strstr(cards, "ROWORDER= 'TOP-DOWN'"));
    assert_near(card_number(cards, count, "CRPIX2"), 1891.5, 1e-9, "px");
    assert_near(card_number(cards, count, "CD1_2"), 0.0003, 1e-18, "deg/px");
    assert_near(card_number(cards, count, "B_2_0"), 1e-7, 1e-20, "1/px");
    free(cards);

    wcs.order = 0;
    ck_assert(!wcs_fits_cards(&cards, &count, &wcs, false, &err));
    ck_assert(!strstr(cards, "SIP") && !strstr(cards, "A_ORDER"));
    free(cards);
}
END_TEST

START_TEST(test_inverse)
{
    const double share[] = {-0.06, -0.02, 0.001, 0.03, 0.06};
    for (int i = 0; i < 5; i++) {
        struct wcs wcs = sample(8);
        double k = share[i] / (3606.0 * 3606.0);
        wcs.a[3][0] = wcs.a[1][2] = wcs.b[2][1] = wcs.b[0][3] = k;
        struct wcs_inverse inverse;
        ck_assert(wcs_inverse_fit(&inverse, &wcs));
        /* Corners and edges are the worst; the bound is what the headers promise. */
        ck_assert_msg(inverse.worst_px < 0.01, "%g: order %d, %g px", share[i], inverse.order,
                      inverse.worst_px);
        double v[3], x = 5900.3, y = 77.7, found_x, found_y;
        wcs_direction(v, &wcs, x, y);
        struct wcs straight = wcs;
        straight.order = 0;
        ck_assert(wcs_pixel(&found_x, &found_y, &straight, v));
        double u = found_x - wcs.x, w = found_y - wcs.y, sum_u = u, sum_v = w;
        for (int p = 0; p <= inverse.order; p++) {
            for (int q = 0; p + q <= inverse.order; q++) {
                sum_u += inverse.ap[p][q] * pow(u, p) * pow(w, q);
                sum_v += inverse.bp[p][q] * pow(u, p) * pow(w, q);
            }
        }
        assert_near(wcs.x + sum_u, x, 0.01, "px");
        assert_near(wcs.y + sum_v, y, 0.01, "px");
    }
}
END_TEST

START_TEST(test_no_inverse)
{
    /* u' = u - u^3 / (3 * 1500^2) folds inside the picture: no polynomial undoes that. */
    struct wcs wcs = sample(8);
    wcs.a[3][0] = wcs.a[1][2] = wcs.b[2][1] = wcs.b[0][3] = -1 / (3 * 1500.0 * 1500.0);
    struct wcs_inverse inverse;
    ck_assert(!wcs_inverse_fit(&inverse, &wcs));
    char *cards = NULL;
    int count;
    struct error err = {0};
    ck_assert(!wcs_fits_cards(&cards, &count, &wcs, false, &err));
    ck_assert(strstr(cards, "A_ORDER") && !strstr(cards, "AP_ORDER"));
    free(cards);
}
END_TEST

START_TEST(test_file)
{
    char name[] = "/tmp/alidade-wcs-XXXXXX", value[FLEN_VALUE];
    int descriptor = mkstemp(name), status = 0, axes = -1;
    ck_assert(descriptor >= 0);
    close(descriptor);
    struct wcs wcs = sample(8);
    struct error err = {0};
    ck_assert_msg(!wcs_fits_write(&wcs, &(struct file_target){.name = name}, false, &err), "%s",
                  err.text);
    FILE *file = fopen(name, "rb");
    ck_assert(file && !fseek(file, 0, SEEK_END));
    ck_assert_int_eq(ftell(file) % 2880, 0);
    fclose(file);
    struct file_bytes bytes = {0};
    const struct file_target memory = {"the header", &bytes};
    ck_assert(!wcs_fits_write(&wcs, &memory, false, &err));
    file = fopen(name, "rb");
    unsigned char *same = malloc(bytes.size + 1);
    ck_assert_uint_eq(fread(same, 1, bytes.size + 1, file), bytes.size);
    ck_assert_mem_eq(same, bytes.bytes, bytes.size);
    fclose(file);
    free(same);
    file_bytes_free(&bytes);
    fitsfile *fits = NULL;
    fits_open_file(&fits, name, READONLY, &status);
    fits_get_img_dim(fits, &axes, &status);
    fits_read_key(fits, TSTRING, "RADESYS", value, NULL, &status);
    fits_close_file(fits, &status);
    ck_assert_int_eq(status, 0);
    ck_assert_int_eq(axes, 0);
    ck_assert_str_eq(value, "ICRS");
    unlink(name);
}
END_TEST

START_TEST(test_file_that_cannot_be_written)
{
    struct wcs wcs = sample(0);
    struct error err = {0};
    ck_assert_int_eq(wcs_fits_write(&wcs,
                                    &(struct file_target){.name = "/nonexistent/folder/a.wcs"},
                                    false, &err),
                     ERROR_OUTPUT);
    ck_assert(strstr(err.text, "/nonexistent/folder/a.wcs"));
}
END_TEST

Suite *wcs_fits_suite(void)
{
    Suite *suite = suite_create("wcs_fits");
    TCase *tests = tcase_create("wcs_fits");
    tcase_add_test(tests, test_agrees_with_wcslib);
    tcase_add_test(tests, test_refused_by_wcslib);
    tcase_add_test(tests, test_cards);
    tcase_add_test(tests, test_inverse);
    tcase_add_test(tests, test_no_inverse);
    tcase_add_test(tests, test_file);
    tcase_add_test(tests, test_file_that_cannot_be_written);
    suite_add_tcase(suite, tests);
    return suite;
}
