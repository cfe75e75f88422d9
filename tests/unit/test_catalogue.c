/* Reading star catalogues: names, units, bad rows, motions; text and FITS. */
#include "base/random.h"
#include "catalogue.h"
#include "near.h"
#include "order_stars.h"
#include "sky/vector.h"
#include "star_row.h"

#include <fitsio.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

Suite *catalogue_suite(void);

/* Directions are two numbers rounded to 2^-31: half a step of 2.7e-8 degrees in each, which may
 * stretch to 2.6 where the octahedron is nearest to the centre: 4.9e-8 = 2.6 sqrt(2) 1.33e-8. */
static const double rounding_deg = 4.9e-8;

static struct catalogue catalogue;
static struct catalogue_report report;
static struct error problem;
static char file_name[64];

static void set_up(void)
{
    memset(&catalogue, 0, sizeof catalogue);
    memset(&report, 0, sizeof report);
    memset(&problem, 0, sizeof problem);
    strcpy(file_name, "/tmp/alidade-catalogue-XXXXXX");
    int file = mkstemp(file_name);
    ck_assert_int_ge(file, 0);
    close(file);
}

static void tear_down(void)
{
    catalogue_free(&catalogue);
    unlink(file_name);
}

static void put_bytes(const char *bytes, size_t size)
{
    FILE *out = fopen(file_name, "wb");
    ck_assert_ptr_nonnull(out);
    ck_assert_uint_eq(fwrite(bytes, 1, size, out), size);
    fclose(out);
}

static int read_with(const struct catalogue_columns *columns)
{
    return catalogue_read(&catalogue, &report, file_name, columns, NULL, NULL, &problem);
}

static int read_bytes(const char *bytes, size_t size)
{
    put_bytes(bytes, size);
    return read_with(&(struct catalogue_columns){0});
}

static int read_text(const char *text)
{
    return read_bytes(text, strlen(text));
}

static int read_text_with(const char *text, const struct catalogue_columns *columns)
{
    put_bytes(text, strlen(text));
    return read_with(columns);
}

static void star_place(double *ra, double *dec, long i)
{
    double v[3];
    order_star_vector(v, &catalogue.star[i]);
    vector_to_radec(ra, dec, v);
}

static void expect_place(long i, double ra_deg, double dec_deg)
{
    double ra, dec;
    ck_assert_int_lt(i, catalogue.count);
    star_place(&ra, &dec, i);
    assert_near(radec_angle_deg(ra, dec, ra_deg, dec_deg), 0, rounding_deg, "deg");
}

static void expect_read(int code)
{
    ck_assert_msg(code == 0, "refused: %s", problem.text);
}

static void expect_refused(int code, const char *part)
{
    ck_assert_int_eq(code, ERROR_INPUT);
    ck_assert_int_eq(problem.code, ERROR_INPUT);
    ck_assert_msg(strstr(problem.text, part) != NULL, "\"%s\" does not say \"%s\"", problem.text,
                  part);
    ck_assert_msg(strncmp(problem.text, file_name, strlen(file_name)) == 0,
                  "\"%s\" does not begin with the file's name", problem.text);
    ck_assert_int_eq(catalogue.count, 0);
}

START_TEST(stars_are_kept_to_two_ten_thousandths_of_an_arcsecond)
{
    struct random r = {.state = 1};
    for (int i = 0; i < 1000; i++) {
        double v[3], ra, dec;
        random_direction(&r, v);
        vector_to_radec(&ra, &dec, v);
        ck_assert(catalogue_add(&catalogue, ra, dec, -1.4567, i % 2 ? NAN : 0.6543, (uint32_t)i));
        expect_place(i, ra, dec);
    }
    ck_assert(catalogue_add(&catalogue, 360, 90, 30, -1, UINT32_MAX));
    expect_place(1000, 0, 90);
    ck_assert_int_eq(catalogue.star[0].mag, -1457);
    ck_assert_int_eq(catalogue.star[0].colour, 654);
    ck_assert_int_eq(catalogue.star[1].colour, CATALOGUE_NO_COLOUR);
    ck_assert_int_eq(catalogue.star[1000].mag, 30000);
    ck_assert_uint_eq(catalogue.star[1000].id, UINT32_MAX);
    ck_assert_uint_eq(sizeof catalogue.star[0], 24);
}
END_TEST

START_TEST(free_takes_empty_and_freed_ones)
{
    catalogue_free(&catalogue);
    ck_assert(catalogue_add(&catalogue, 1, 2, 3, 4, 5));
    catalogue_free(&catalogue);
    catalogue_free(&catalogue);
    ck_assert_ptr_null(catalogue.star);
    ck_assert_int_eq(catalogue.count, 0);
}
END_TEST

START_TEST(a_plain_table_is_read)
{
    expect_read(read_text("hip,ra_deg,dec_deg,v_mag,b_v\n"
                          "11767,37.9529,89.2641,1.97,0.636\n"
                          "71683,219.8996,-60.8353,-0.01,\n"));
    ck_assert_int_eq(catalogue.count, 2);
    expect_place(0, 37.9529, 89.2641);
    expect_place(1, 219.8996, -60.8353);
    ck_assert_int_eq(catalogue.star[0].mag, 1970);
    ck_assert_int_eq(catalogue.star[1].mag, -10);
    ck_assert_int_eq(catalogue.star[0].colour, 636);
    ck_assert_int_eq(catalogue.star[1].colour, CATALOGUE_NO_COLOUR);
    ck_assert_uint_eq(catalogue.star[0].id, 11767);
    assert_near(catalogue.epoch_year, 2000, 0, "year");
    ck_assert_int_eq(report.rows, 2);
    ck_assert_int_eq(report.used, 2);
    ck_assert_int_eq(report.bad, 0);
    ck_assert_int_eq(report.warnings, 0);
}
END_TEST

/* Header rows of many tastes; each names one star at (30, -10), magnitude 5. */
static const struct {
    const char *header, *row;
} usual[] = {
    {"ra,dec,mag", "30,-10,5"},
    {"RA\tDEC\tVMAG", "30\t-10\t5"},
    {"_RAJ2000;_DEJ2000;Vmag", "30;-10;5"},
    {"RAJ2000|DEJ2000|VTmag", "30|-10|5"},
    {"RA_ICRS,DE_ICRS,Gmag", "30,-10,5"},
    {"RAdeg,DEdeg,Hpmag", "30,-10,5"},
    {"alpha,delta,BTmag", "30,-10,5"},
    {"ALPHA_J2000,DELTA_J2000,MAG", "30,-10,5"},
    {"source_id,ra,dec,phot_g_mean_mag,bp_rp", "5,30,-10,5,1"},
    {"right ascension,declination,magnitude", "30,-10,5"},
    {"\"ra (deg)\",\"dec (deg)\",\"V\"", "\"30\",\"-10\",\"5\""},
    {"ra_hours,dec,mag", "2,-10,5"},
    {"RA [h],Dec [deg],mag", "2,-10,5"},
    {"rah,decd,mag", "2,-10,5"},
    {"ra_rad,dec_rad,mag", "0.52359877559829887,-0.17453292519943295,5"},
    {"ra,dec,mag", "02 00 00.0,-10 00 00,5"},
    {"ra,dec,mag", "02:00:00,-10:00:00,5"},
    {"ra,dec,mag", "2h00m00s,-10d00m00s,5"},
    {"ra_deg,dec,mag", "2:00,-10:00,5"},
    {"mag , ra , dec ", " 5 , 30 , -10 "},
    /* V is preferred to other bands, whatever their order. */
    {"gmag,btmag,ra,dec,vmag,mag", "1,2,30,-10,5,3"},
    /* A column of whole hours next to minutes is no right ascension. */
    {"RAh,RAm,RAs,_RA,DEd,DEm,_DE,Vmag", "2,0,0,30,-10,0,-10,5"},
};

START_TEST(usual_names_are_known)
{
    char text[300];
    snprintf(text, sizeof text, "%s\n%s\n", usual[_i].header, usual[_i].row);
    expect_read(read_text(text));
    ck_assert_int_eq(catalogue.count, 1);
    expect_place(0, 30, -10);
    ck_assert_int_eq(catalogue.star[0].mag, 5000);
}
END_TEST

START_TEST(units_may_stand_below_the_names)
{
    expect_read(read_text("#a comment\n"
                          "RAJ2000\tDEJ2000\tVmag\tpmRA\n"
                          "\"h:m:s\"\t\"d:m:s\"\tmag\tmas/yr\n"
                          "--------\t--------\t----\t---\n"
                          "02 00 00\t-10 00 00\t5\t-1\n"));
    ck_assert_int_eq(report.rows, 1);
    expect_place(0, 30, -10);
    tear_down();
    set_up();
    expect_read(read_text("ra;dec;mag\nrad;rad;\n0.5;0.25;5\n"));
    expect_place(0, 0.5 * 57.295779513082321, 0.25 * 57.295779513082321);
}
END_TEST

START_TEST(columns_are_named_by_the_caller)
{
    const struct catalogue_columns columns = {
        .ra = "X", .dec = "y", .mag = "bright", .colour = "tint", .id = "no"};
    expect_read(read_text_with("ra,dec,mag,x,y,bright,tint,no\n1,1,1,30,-10,5,0.5,77\n", &columns));
    expect_place(0, 30, -10);
    ck_assert_int_eq(catalogue.star[0].mag, 5000);
    ck_assert_int_eq(catalogue.star[0].colour, 500);
    ck_assert_uint_eq(catalogue.star[0].id, 77);
}
END_TEST

START_TEST(missing_columns_are_named_with_those_there)
{
    expect_refused(read_text("a,dec,c\n1,2,3\n"),
                   "no column looks like the right ascension (\"ra_deg\" would); name it with "
                   "--ra; there are: a, dec, c");
    expect_refused(read_text("ra,b,c\n1,2,3\n"), "--dec");
    expect_refused(read_text("ra,dec,c\n1,2,3\n"), "--mag");
    expect_refused(
        read_text_with("ra,dec,mag\n1,2,3\n", &(struct catalogue_columns){.mag = "vmag"}),
        "no column \"vmag\"; there are: ra, dec, mag");
    expect_refused(
        read_text_with("ra,dec,mag\n1,2,3\n", &(struct catalogue_columns){.to_epoch = 2024}),
        "cannot be moved to another epoch; name it with --pm-ra");
}
END_TEST

START_TEST(many_columns_are_listed_in_part)
{
    char text[4000] = "";
    for (int i = 0; i < 200; i++) {
        snprintf(text + strlen(text), 20, "column%d,", i);
    }
    strcat(text, "end\n1,2\n");
    expect_refused(read_text(text), "column0, column1, ");
    ck_assert_ptr_nonnull(strstr(problem.text, "..."));
}
END_TEST

START_TEST(hours_are_believed_only_when_told)
{
    const struct catalogue_columns hours = {.ra_in_hours = true};
    expect_read(read_text_with("ra,dec,mag\n2,-10,5\n", &hours));
    expect_place(0, 30, -10);
    tear_down();
    set_up();
    expect_refused(read_text_with("ra_deg,dec,mag\n2,-10,5\n", &hours), "--ra-hours is wrong");
    expect_read(read_text_with("ra_hours,dec,mag\n2,-10,5\n", &hours));
    expect_place(0, 30, -10);
}
END_TEST

/* 2000 stars evenly over the sky, right ascension times scale. */
static void put_even_sky(double scale, const char *ra_name)
{
    struct random r = {.state = 5};
    FILE *out = fopen(file_name, "w");
    fprintf(out, "%s,dec,mag\n", ra_name);
    for (int i = 0; i < 2000; i++) {
        double v[3], ra, dec;
        random_direction(&r, v);
        vector_to_radec(&ra, &dec, v);
        fprintf(out, "%.4f,%.4f,%.2f\n", ra * scale, dec, 5 + i / 1000.0);
    }
    fclose(out);
}

START_TEST(what_may_be_hours_is_refused)
{
    put_even_sky(1 / 15.0, "ra");
    expect_refused(read_with(&(struct catalogue_columns){0}),
                   "say it with --ra ra:h or --ra ra:deg");
    expect_read(read_with(&(struct catalogue_columns){.ra = "ra:h"}));
    expect_read(read_with(&(struct catalogue_columns){.ra = "ra:deg"}));
    expect_read(read_with(&(struct catalogue_columns){.ra_in_hours = true}));
    ck_assert_int_eq(report.warnings, 0);
    put_even_sky(1 / 15.0, "ra_deg"); /* odd, but told */
    expect_read(read_with(&(struct catalogue_columns){0}));
    ck_assert_int_eq(report.warnings, 0);
    put_even_sky(1, "ra");
    expect_read(read_with(&(struct catalogue_columns){0}));
    ck_assert_int_eq(report.warnings, 0);
}
END_TEST

static const struct {
    const char *row, *reason;
} bad[] = {
    {"400,5,6,7", "right ascension 400 is outside 0..360"},
    {"-1,5,6,7", "right ascension -1 is outside 0..360"},
    {"1,95,6,7", "declination 95 is outside -90..90"},
    {"1,-90.001,6,7", "declination -90.001 is outside -90..90"},
    {"1,5,31,7", "magnitude 31 is outside -30..30"},
    {"1,5,,7", "no magnitude"},
    {"1,5,\"\",7", "no magnitude"},
    {"1,5,--,7", "no magnitude"},
    {"1,5,NaN,7", "no magnitude"},
    {"nan,5,6,7", "no right ascension"},
    {"1,null,6,7", "no declination"},
    {"1,5,inf,7", "magnitude \"inf\" is not a number"},
    {"1,5,1e999,7", "magnitude \"1e999\" is not a number"},
    {"1,5,6x,7", "magnitude \"6x\" is not a number"},
    {"1,5,6 7,7", "magnitude \"6 7\" is not a number"},
    {"one,5,6,7", "right ascension \"one\" is not a number"},
    {"12:34:99,5,6,7", "right ascension \"12:34:99\" is not a number"},
    {"25:00:00,5,6,7", "right ascension \"25:00:00\" is not a number"},
    {"1,91:00:00,6,7", "declination \"91:00:00\" is not a number"},
    {"1,5", "expected 4 cells, found 2"},
    {"1,5,6", "expected 4 cells, found 3"},
    {"1,5,6,7,8", "expected 4 cells, found 5"},
    {"1", "expected 4 cells, found 1"},
    {"1,5,\"6,7", "magnitude \"\"6\" is not a number"},
    {"1,5,6,\x01", "binary data"},
    {"\x02\x7f\x03", "binary data"},
    {"1,5,\xff\xfe,7", "magnitude \"??\" is not a number"},
    {"1,5,abcdefghijklmnopqrstuvwxyzabcdefghijklmnopqrstuvwxyz,7",
     "magnitude \"abcdefghijklmnopqrstuvwx...\" is not a number"},
};

START_TEST(a_bad_row_is_told_with_its_line)
{
    char text[300];
    snprintf(text, sizeof text, "ra,dec,mag,x\n1,2,3,4\n# note\n\n%s\n5,6,7,8\n", bad[_i].row);
    expect_read(read_text(text));
    ck_assert_int_eq(report.rows, 3);
    ck_assert_int_eq(report.used, 2);
    ck_assert_int_eq(report.bad, 1);
    ck_assert_int_eq(report.samples, 1);
    ck_assert_int_eq(report.sample[0].line, 5);
    ck_assert_str_eq(report.sample[0].reason, bad[_i].reason);
    ck_assert(report.rows_are_lines);
    ck_assert_int_eq(catalogue.count, 2);
    expect_place(0, 1, 2);
    expect_place(1, 5, 6);
}
END_TEST

START_TEST(bounds_are_within)
{
    expect_read(read_text("ra,dec,mag\n0,-90,-30\n360,90,30\n"));
    ck_assert_int_eq(report.used, 2);
    expect_read(read_text("ra_hours,dec,mag\n24,0,1\n24.01,0,1\n"));
    ck_assert_int_eq(report.used, 1);
    ck_assert_str_eq(report.sample[0].reason, "right ascension 24.01 is outside 0..24");
}
END_TEST

START_TEST(a_nul_byte_spoils_its_row_only)
{
    static const char text[] = "ra,dec,mag\n1,2,3\n1,\0,3\n5,6,7\n";
    expect_read(read_bytes(text, sizeof text - 1));
    ck_assert_int_eq(report.used, 2);
    ck_assert_str_eq(report.sample[0].reason, "binary data");
    ck_assert_int_eq(report.sample[0].line, 3);
}
END_TEST

START_TEST(text_of_other_systems_is_read)
{
    expect_read(read_text("\xef\xbb\xbfra,dec,mag\r\n1,2,3\r\n5,6,7"));
    ck_assert_int_eq(report.used, 2);
    expect_place(1, 5, 6);
}
END_TEST

START_TEST(ten_bad_rows_are_kept_and_all_counted)
{
    FILE *out = fopen(file_name, "w");
    fprintf(out, "ra,dec,mag\n");
    for (int i = 0; i < 100; i++) {
        fprintf(out, i % 4 == 0 ? "100,95,3\n" : "100,2,%d\n", i % 9);
    }
    fclose(out);
    expect_read(read_with(&(struct catalogue_columns){0}));
    ck_assert_int_eq(report.bad, 25);
    ck_assert_int_eq(report.used, 75);
    ck_assert_int_eq(report.samples, 10);
    for (int i = 0; i < 10; i++) {
        ck_assert_int_eq(report.sample[i].line, 2 + 4 * i);
    }
}
END_TEST

START_TEST(what_is_no_table_is_refused)
{
    expect_refused(read_text("ra,dec,mag\n"), "the table has no rows");
    expect_refused(read_text("ra,dec,mag\n1,95,3\n1,2,\n"),
                   "none of 2 rows is usable; line 2: declination 95 is outside -90..90");
    expect_refused(read_text("1.5,2,3\n4,5,6\n"),
                   "line 1: expected the names of the columns, found numbers");
    expect_refused(read_text("hello\n"), "expected a header row");
    expect_refused(read_text("\n\n"), "found no line");
    expect_refused(read_bytes("\x89PNG\r\n\x1a\n\0\0,", 11), "expected a header row");
    expect_refused(read_bytes("\x7f"
                              "ELF\x02\x01\n",
                              7),
                   "found binary data");
    expect_refused(read_bytes("\x1f\x8b\x08\0", 4), "cut short");
    expect_refused(read_text("<?xml version=\"1.0\"?>\n<VOTABLE/>\n"), "holds no table with rows");
    expect_refused(read_text(""), "empty");
    strcpy(file_name, "/nowhere/at.all");
    expect_refused(read_with(&(struct catalogue_columns){0}), "cannot be opened");
    strcpy(file_name, "/tmp");
    expect_refused(read_with(&(struct catalogue_columns){0}), "folder");
}
END_TEST

START_TEST(a_line_of_megabytes_is_one_bad_row)
{
    size_t size = 5000000;
    char *text = malloc(size);
    ck_assert_ptr_nonnull(text);
    memset(text, '"', size);
    memcpy(text, "ra,dec,mag\n1,2,3\n", 17);
    for (size_t i = 20; i < size / 2; i += 2) {
        text[i] = ',';
    }
    memcpy(text + size - 7, "\n5,6,7\n", 7);
    put_bytes(text, size);
    free(text);
    expect_read(read_with(&(struct catalogue_columns){.threads = 3}));
    ck_assert_int_eq(report.used, 2);
    ck_assert_int_eq(report.bad, 1);
    ck_assert_int_eq(report.sample[0].line, 3);
    expect_place(1, 5, 6);
}
END_TEST

/* Several megabytes, so that pieces are cut, with a bad row now and then. */
START_TEST(threads_change_nothing)
{
    struct random r = {.state = 3};
    FILE *out = fopen(file_name, "w");
    fprintf(out, "id,ra,dec,mag\n");
    for (int i = 0; i < 150000; i++) {
        double dec = random_between(&r, -90, 90.02);
        fprintf(out, "%d,%.9f,%.9f,%.4f\n%s", i, random_between(&r, 0, 360), dec,
                random_between(&r, 0, 15), i % 1000 == 0 ? "# a comment\n" : "");
    }
    fclose(out);
    expect_read(read_with(&(struct catalogue_columns){.threads = 1}));
    ck_assert_int_eq(report.samples, 10);
    struct catalogue first = catalogue;
    struct catalogue_report first_report = report;
    memset(&catalogue, 0, sizeof catalogue);
    expect_read(read_with(&(struct catalogue_columns){.threads = 7}));
    ck_assert_int_eq(catalogue.count, first.count);
    ck_assert_int_eq(memcmp(catalogue.star, first.star, (size_t)first.count * sizeof first.star[0]),
                     0);
    ck_assert_int_eq(report.rows, 150000);
    ck_assert_int_eq(report.bad, first_report.bad);
    for (int i = 0; i < 10; i++) {
        ck_assert_int_eq(report.sample[i].line, first_report.sample[i].line);
    }
    /* The id of a row tells which line it was: comments come after rows 0, 1000, ... */
    uint64_t id = catalogue.star[catalogue.count - 1].id;
    ck_assert_uint_eq(id, 149999);
    catalogue_free(&first);
}
END_TEST

static double shares[200];
static int share_count;

static void note_share(double share, void *context)
{
    ck_assert_ptr_eq(context, &share_count);
    if (share_count < 200) {
        shares[share_count++] = share;
    }
}

START_TEST(progress_rises_to_one)
{
    put_even_sky(1, "ra");
    share_count = 0;
    const struct catalogue_columns columns = {0};
    expect_read(catalogue_read(&catalogue, &report, file_name, &columns, note_share, &share_count,
                               &problem));
    ck_assert_int_ge(share_count, 1);
    for (int i = 1; i < share_count; i++) {
        ck_assert(shares[i] >= shares[i - 1]);
    }
    assert_near(shares[share_count - 1], 1, 0, "share");
}
END_TEST

START_TEST(magnitude_limits_leave_out)
{
    const char *text = "ra,dec,mag\n1,2,3\n1,2,4\n1,2,5\n1,2,6\n1,99,4\n";
    const struct catalogue_columns columns = {
        .has_faintest = true, .faintest = 5, .has_brightest = true, .brightest = 4};
    expect_read(read_text_with(text, &columns));
    ck_assert_int_eq(report.used, 2);
    ck_assert_int_eq(report.left_out, 2);
    ck_assert_int_eq(report.bad, 1);
    ck_assert_int_eq(report.rows, 5);
    tear_down();
    set_up();
    expect_refused(
        read_text_with(text, &(struct catalogue_columns){.has_faintest = true, .faintest = 1}),
        "none of 5 rows is usable");
    expect_refused(read_text_with("ra,dec,mag\n1,2,3\n",
                                  &(struct catalogue_columns){.has_faintest = true, .faintest = 1}),
                   "all 1 stars are beyond the magnitudes wanted");
}
END_TEST

START_TEST(numbers_of_64_bits_are_kept_and_others_told)
{
    expect_read(read_text("id,ra,dec,mag\n"
                          "4294967296,1,2,3\n"
                          "5853498713190525697,1,2,3\n"
                          "18446744073709551615,1,2,3\n"
                          "25.0,1,2,3\n"
                          "18446744073709551616,1,2,3\n"
                          "1-2-3,1,2,3\n"
                          "1.5,1,2,3\n"
                          ",1,2,3\n"));
    ck_assert_int_eq(catalogue.count, 8);
    ck_assert_uint_eq(catalogue.star[0].id, 4294967296U);
    ck_assert_uint_eq(catalogue.star[1].id, 5853498713190525697U);
    ck_assert_uint_eq(catalogue.star[2].id, UINT64_MAX);
    ck_assert_uint_eq(catalogue.star[3].id, 25);
    for (int i = 4; i < 8; i++) {
        ck_assert_uint_eq(catalogue.star[i].id, 0);
    }
    ck_assert_int_eq(report.warnings, 1);
    ck_assert_ptr_nonnull(strstr(report.warning[0], "3 stars go without their number"));
}
END_TEST

START_TEST(files_add_up_and_a_failure_keeps_what_was_there)
{
    expect_read(read_text("ra,dec,mag\n1,2,3\n"));
    expect_read(read_text("ra,dec,mag\n4,5,6\n7,8,9\n"));
    ck_assert_int_eq(catalogue.count, 3);
    expect_place(2, 7, 8);
    ck_assert_int_eq(read_text("ra,dec,mag\n4,99,6\n"), ERROR_INPUT);
    ck_assert_int_eq(catalogue.count, 3);
    ck_assert_int_eq(
        read_text_with("ra,dec,mag\n1,2,3\n", &(struct catalogue_columns){.from_epoch = 2016}),
        ERROR_INPUT);
    ck_assert_ptr_nonnull(strstr(problem.text, "is for 2016, the stars read before it for 2000"));
    ck_assert_int_eq(catalogue.count, 3);
}
END_TEST

static const char moving[] = "hip,ra,dec,vmag,pmra,pmdec\n"
                             "87937,269.452082,4.693391,9.54,-798.58,10328.12\n"
                             "11767,37.954561,89.264109,1.97,44.48,-11.85\n"
                             "1,10,20,5,,\n";

START_TEST(stars_move_to_the_epoch_wanted)
{
    expect_read(read_text_with(moving, &(struct catalogue_columns){.to_epoch = 2100}));
    ck_assert_int_eq(report.used, 3);
    assert_near(catalogue.epoch_year, 2100, 0, "year");
    double ra, dec;
    star_place(&ra, &dec, 0);
    /* The star goes straight on through space, so its arc is the arctangent of its motion, 9 mas
     * less. What its way east adds to the declination is 1 mas. */
    assert_near(dec, 4.693391 + atan(1032.812 / 206264.80625) * 57.29577951308232, 1e-6, "deg");
    assert_near(ra, 269.452082 - 79.858 / 3600 / cos(4.693391 / 57.29577951308232), 1e-4, "deg");
    /* The pole star is moved by what its motion says in length. */
    star_place(&ra, &dec, 1);
    assert_near(radec_angle_deg(ra, dec, 37.954561, 89.264109) * 3600,
                0.1 * sqrt(44.48 * 44.48 + 11.85 * 11.85), 2e-4, "arcsec");
    expect_place(2, 10, 20);
    ck_assert_int_eq(report.warnings, 1);
    ck_assert_ptr_nonnull(strstr(report.warning[0], "1 stars have no proper motion"));
}
END_TEST

START_TEST(motions_are_applied_from_the_epoch_given)
{
    const struct catalogue_columns columns = {.from_epoch = 2016, .to_epoch = 2016};
    expect_read(read_text_with(moving, &columns));
    expect_place(0, 269.452082, 4.693391);
    assert_near(catalogue.epoch_year, 2016, 0, "year");
    ck_assert_int_eq(report.warnings, 0);
    tear_down();
    set_up();
    expect_read(read_text_with(moving, &(struct catalogue_columns){.from_epoch = 1991.25}));
    expect_place(0, 269.452082, 4.693391);
    assert_near(catalogue.epoch_year, 1991.25, 0, "year");
}
END_TEST

START_TEST(an_epoch_in_the_table_is_followed)
{
    const char *text = "ra,dec,mag,ref_epoch\n1,2,3,2016\n";
    expect_read(read_text(text));
    ck_assert_int_eq(report.warnings, 0);
    assert_near(catalogue.epoch_year, 2016, 0, "year");
    catalogue_free(&catalogue);
    expect_read(read_text_with(text, &(struct catalogue_columns){.from_epoch = 2010}));
    assert_near(catalogue.epoch_year, 2010, 0, "year");
    catalogue_free(&catalogue);
    expect_refused(read_text("ra,dec,mag,ref_epoch\n1,2,3,2016\n1,2,3,1991.25\n"),
                   "the positions are for years from 1991.25 to 2016; bring them to one");
}
END_TEST

START_TEST(units_of_motion_are_followed)
{
    const struct catalogue_columns columns = {.to_epoch = 2100};
    expect_read(read_text_with("ra,dec,mag,pmra_mas_yr,pmdec_mas_yr\n10,60,5,300,-400\n"
                               "10,60,5,300,-400\n",
                               &columns));
    expect_read(
        read_text_with("ra,dec,mag,pmra_arcsec_yr,pmdec_arcsec_yr\n10,60,5,0.3,-0.4\n", &columns));
    /* Seconds of time are of the coordinate: 15 cos(60 deg) = 7.5 arcsec. */
    expect_read(read_text_with("ra,dec,mag,pmra,pmdec\ndeg,deg,mag,s/yr,arcsec/yr\n"
                               "10,60,5,0.04,-0.4\n",
                               &columns));
    double ra, dec;
    star_place(&ra, &dec, 0);
    assert_near(radec_angle_deg(ra, dec, 10, 60) * 3600, 50, 2e-4, "arcsec");
    for (int i = 1; i < 4; i++) {
        expect_place(i, ra, dec);
    }
    ck_assert_int_eq(
        read_text_with("ra,dec,mag,pmra,pmdec\ndeg,deg,mag,km/s,km/s\n1,2,3,4,5\n", &columns),
        ERROR_INPUT);
    ck_assert_ptr_nonnull(strstr(problem.text, "column pmra: unknown unit \"km/s\""));
}
END_TEST

START_TEST(a_motion_no_star_has_is_a_bad_row)
{
    const struct catalogue_columns columns = {.to_epoch = 2024};
    expect_read(
        read_text_with("ra,dec,mag,pmra,pmdec\n1,2,3,4,5\n1,2,3,99999,5\n1,2,3,4,x\n", &columns));
    ck_assert_int_eq(report.bad, 2);
    ck_assert_str_eq(report.sample[0].reason,
                     "proper motion in right ascension 99999 is beyond any star's");
    ck_assert_str_eq(report.sample[1].reason, "proper motion in declination \"x\" is not a number");
    /* When nothing is to be moved it does not matter. */
    catalogue_free(&catalogue);
    expect_read(read_text("ra,dec,mag,pmra,pmdec\n1,2,3,99999,x\n"));
}
END_TEST

/* There and back again along the same great circle, over the pole too. */
START_TEST(moving_back_returns)
{
    struct random r = {.state = 9};
    for (int i = 0; i < 2000; i++) {
        double ra = random_between(&r, 0, 360);
        double dec = i % 4 == 0 ? 90 - random_between(&r, 0, 0.001) : random_between(&r, -90, 90);
        double east = random_between(&r, -9000, 9000), north = random_between(&r, -9000, 9000);
        double v[3], w[3], start[3], end[3], ra2, dec2;
        star_row_move(v, ra, dec, east, north, 100);
        star_row_move(w, ra, dec, east, north, 0);
        vector_from_radec(start, ra, dec);
        assert_near(vector_angle_deg(w, start), 0, 1e-12, "deg");
        double length = sqrt(east * east + north * north) * 100 / 3.6e6; /* degrees, as a tangent */
        assert_near(tan(vector_angle_deg(v, start) / 57.295779513082321),
                    length / 57.295779513082321, 1e-13, "tangent");
        /* Where it has come to, the way back points at the start. */
        vector_to_radec(&ra2, &dec2, v);
        double back = radec_position_angle_deg(ra2, dec2, ra, dec) / 57.295779513082321;
        double size = length * 3.6e6 / 100;
        star_row_move(end, ra2, dec2, size * sin(back), size * cos(back), 100);
        assert_near(vector_angle_deg(end, start) * 3.6e6, 0, 1e-3, "mas");
    }
}
END_TEST

/* FITS */

static fitsfile *create_fits(int *status)
{
    char name[80];
    fitsfile *file = NULL;
    snprintf(name, sizeof name, "!%s", file_name);
    fits_create_file(&file, name, status);
    return file;
}

static void close_fits(fitsfile *file, int *status)
{
    fits_close_file(file, status);
    ck_assert_int_eq(*status, 0);
}

static void put_fits(int type)
{
    char *names[] = {"HIP", "RAdeg", "DEdeg", "Vmag", "B-V", "pmRA", "pmDE"};
    char *binary[] = {"1J", "1D", "1D", "1E", "1I", "1E", "1D"};
    char *ascii[] = {"I10", "F12.6", "F12.6", "F8.3", "I6", "F9.3", "F9.3"};
    char *units[] = {"", "deg", "deg", "mag", "mag", "arcsec/yr", "arcsec/yr"};
    int status = 0;
    fitsfile *file = create_fits(&status);
    fits_create_tbl(file, type, 0, 7, names, type == BINARY_TBL ? binary : ascii, units, "STARS",
                    &status);
    int null = -99;
    fits_write_key(file, TINT, "TNULL5", &null, NULL, &status);
    fits_set_hdustruc(file, &status);
    long hip[] = {7, 8, 9, 10};
    double ra[] = {30, 150.25, 400, 30}, dec[] = {-10, 45.5, 0, 10}, mag[] = {5, 6.5, 7, 8};
    double pm_ra[] = {0.3, 0, 0, 0}, pm_dec[] = {-0.4, 0, 0, 0};
    short colour[] = {1, -99, 1, 1};
    fits_write_col(file, TLONG, 1, 1, 1, 4, hip, &status);
    fits_write_col(file, TDOUBLE, 2, 1, 1, 4, ra, &status);
    fits_write_col(file, TDOUBLE, 3, 1, 1, 4, dec, &status);
    fits_write_col(file, TDOUBLE, 4, 1, 1, 4, mag, &status);
    fits_write_col(file, TSHORT, 5, 1, 1, 4, colour, &status);
    fits_write_col(file, TDOUBLE, 6, 1, 1, 4, pm_ra, &status);
    fits_write_col(file, TDOUBLE, 7, 1, 1, 4, pm_dec, &status);
    if (type == BINARY_TBL) {
        double none = NAN;
        fits_write_col(file, TDOUBLE, 4, 4, 1, 1, &none, &status);
    }
    close_fits(file, &status);
}

START_TEST(fits_tables_are_read)
{
    int type = _i == 0 ? BINARY_TBL : ASCII_TBL;
    put_fits(type);
    expect_read(read_with(&(struct catalogue_columns){0}));
    ck_assert_int_eq(report.rows, 4);
    ck_assert_int_eq(report.used, type == BINARY_TBL ? 2 : 3);
    ck_assert(!report.rows_are_lines);
    ck_assert_int_eq(report.sample[0].line, 3);
    ck_assert_str_eq(report.sample[0].reason, "right ascension 400 is outside 0..360");
    if (type == BINARY_TBL) {
        ck_assert_int_eq(report.sample[1].line, 4);
        ck_assert_str_eq(report.sample[1].reason, "no magnitude");
    }
    expect_place(0, 30, -10);
    expect_place(1, 150.25, 45.5);
    ck_assert_int_eq(catalogue.star[0].mag, 5000);
    ck_assert_int_eq(catalogue.star[0].colour, 1000);
    ck_assert_int_eq(catalogue.star[1].colour, CATALOGUE_NO_COLOUR);
    ck_assert_uint_eq(catalogue.star[1].id, 8);
}
END_TEST

START_TEST(fits_units_of_motion_are_followed)
{
    put_fits(BINARY_TBL);
    expect_read(read_with(&(struct catalogue_columns){.to_epoch = 2100}));
    double ra, dec;
    star_place(&ra, &dec, 0);
    assert_near(radec_angle_deg(ra, dec, 30, -10) * 3600, 50, 2e-4, "arcsec");
    expect_place(1, 150.25, 45.5);
}
END_TEST

START_TEST(fits_text_and_hours_are_read)
{
    char *names[] = {"RA", "DEC", "MAG"}, *formats[] = {"12A", "12A", "8A"};
    char *units[] = {"hms", "", ""};
    char *ra[] = {"02 00 00.00", "02:00:60"}, *dec[] = {"-10 00 00", "1"}, *mag[] = {"5.0", ""};
    int status = 0;
    fitsfile *file = create_fits(&status);
    fits_create_tbl(file, BINARY_TBL, 0, 3, names, formats, units, NULL, &status);
    fits_write_col(file, TSTRING, 1, 1, 1, 2, ra, &status);
    fits_write_col(file, TSTRING, 2, 1, 1, 2, dec, &status);
    fits_write_col(file, TSTRING, 3, 1, 1, 2, mag, &status);
    close_fits(file, &status);
    expect_read(read_with(&(struct catalogue_columns){0}));
    expect_place(0, 30, -10);
    ck_assert_int_eq(report.bad, 1);
    ck_assert_str_eq(report.sample[0].reason, "right ascension \"02:00:60\" is not a number");
}
END_TEST

/* The stars come in the second table; many rows, so that several blocks are read. */
START_TEST(the_table_with_the_columns_is_found)
{
    enum { ROWS = 20000 };
    char *other[] = {"A"}, *other_format[] = {"1J"};
    char *names[] = {"ra", "dec", "mag"}, *formats[] = {"1D", "1D", "1D"};
    char *units[] = {"hour", "deg", ""};
    int status = 0;
    fitsfile *file = create_fits(&status);
    fits_create_tbl(file, BINARY_TBL, 0, 1, other, other_format, NULL, NULL, &status);
    fits_create_tbl(file, BINARY_TBL, 0, 3, names, formats, units, NULL, &status);
    for (int i = 0; i < ROWS; i++) {
        double row[3] = {i * 24.0 / ROWS, i == 15000 ? 95 : i * 90.0 / ROWS, i * 15.0 / ROWS};
        for (int k = 0; k < 3; k++) {
            fits_write_col(file, TDOUBLE, k + 1, i + 1, 1, 1, &row[k], &status);
        }
    }
    close_fits(file, &status);
    expect_read(read_with(&(struct catalogue_columns){0}));
    ck_assert_int_eq(report.used, ROWS - 1);
    ck_assert_int_eq(report.sample[0].line, 15001);
    expect_place(1000, 1000 * 360.0 / ROWS, 1000 * 90.0 / ROWS);
    expect_place(ROWS - 2, (ROWS - 1) * 360.0 / ROWS, (ROWS - 1) * 90.0 / ROWS);
}
END_TEST

START_TEST(fits_files_without_a_usable_table_are_refused)
{
    int status = 0;
    long size[] = {2, 2};
    fitsfile *file = create_fits(&status);
    fits_create_img(file, SHORT_IMG, 2, size, &status);
    close_fits(file, &status);
    expect_refused(read_with(&(struct catalogue_columns){0}), "holds no table");

    char *names[] = {"ra", "dec", "mag"}, *formats[] = {"1D", "3D", "1D"};
    char *units[] = {"deg", "deg", ""};
    file = create_fits(&status);
    fits_create_tbl(file, BINARY_TBL, 1, 3, names, formats, units, NULL, &status);
    close_fits(file, &status);
    expect_refused(read_with(&(struct catalogue_columns){0}),
                   "column 2 (declination) is not one number a row");

    char *furlongs[] = {"furlong", "deg", ""}, *plain[] = {"1D", "1D", "1D"};
    file = create_fits(&status);
    fits_create_tbl(file, BINARY_TBL, 1, 3, names, plain, furlongs, NULL, &status);
    close_fits(file, &status);
    expect_refused(read_with(&(struct catalogue_columns){0}),
                   "column ra: unknown unit \"furlong\" of right ascension");

    char *odd[] = {"a", "b", "c"};
    file = create_fits(&status);
    fits_create_tbl(file, BINARY_TBL, 1, 3, odd, plain, NULL, NULL, &status);
    close_fits(file, &status);
    expect_refused(read_with(&(struct catalogue_columns){0}), "there are: a, b, c");
}
END_TEST

static const struct {
    const char *from, *to, *message;
} spoilt[] = {
    {"NAXIS1  =                   38", "NAXIS1  =                <  38",
     "header 2: expected NAXIS1 to be a whole number from 0 to 2147483647"},
    {"NAXIS2  =                    4", "NAXIS2  =                   -4", "NAXIS2"},
    {"PCOUNT  =                    0", "PCOUNT  =                 0x10", "PCOUNT"},
    {"GCOUNT  =                    1", "GCOUNT  =                    0", "GCOUNT"},
    {"TFIELDS =                    7", "TFIELDS =              7000000",
     "header 2: expected TFIELDS to be a whole number from 0 to 999"},
    {"TFIELDS =                    7", "TFEILDS =                    7",
     "header 2 lacks TFIELDS in its place"},
    {"NAXIS   =                    2", "NAXIS   = 99999999999999999999", "NAXIS"},
    {"NAXIS2  =                    4", "NAXIS2  =           4000000000", "NAXIS2"},
    {"NAXIS2  =                    4", "NAXIS2  =           1000000000", "cannot read"},
    {"NAXIS2  =                    4", "NAXIS2  =:                   4", "NAXIS2"},
    {"END     ", "ENDE    ", "header 1 has no END"},
};

/* Reads the file and leaves its size. */
static size_t load(char *bytes, size_t room)
{
    FILE *in = fopen(file_name, "rb");
    ck_assert_ptr_nonnull(in);
    size_t size = fread(bytes, 1, room, in);
    fclose(in);
    return size;
}

START_TEST(required_keywords_of_fits_are_demanded)
{
    char bytes[6 * 2880];
    put_fits(BINARY_TBL);
    size_t size = load(bytes, sizeof bytes), changed = 0;
    ck_assert_uint_lt(size, sizeof bytes);
    for (size_t i = 0; i < size; i += 80) {
        size_t length = strlen(spoilt[_i].from);
        if (memcmp(bytes + i, spoilt[_i].from, length) == 0) {
            memcpy(bytes + i, spoilt[_i].to, length);
            changed++;
        }
    }
    ck_assert_uint_ge(changed, 1);
    expect_refused(read_bytes(bytes, size), spoilt[_i].message);
}
END_TEST

START_TEST(a_fits_file_cut_short_is_refused)
{
    put_fits(BINARY_TBL);
    ck_assert_int_eq(truncate(file_name, 2880 + 2880 + 10), 0);
    expect_refused(read_with(&(struct catalogue_columns){0}), "cannot read rows 1 to 4 of 4");
    ck_assert_int_eq(truncate(file_name, 2880 + 100), 0);
    expect_refused(read_with(&(struct catalogue_columns){0}), "");
    ck_assert_int_eq(truncate(file_name, 100), 0);
    expect_refused(read_with(&(struct catalogue_columns){0}), "");
}
END_TEST

/* Spoils bytes all over the header and the table: any answer will do, but one there must be. */
START_TEST(damaged_fits_files_do_no_harm)
{
    put_fits(BINARY_TBL);
    char whole[3 * 2880];
    ck_assert_uint_eq(load(whole, sizeof whole), sizeof whole);
    struct random r = {.state = 11};
    int refused = 0;
    for (int i = 0; i < 3000; i++) {
        char damaged[sizeof whole];
        memcpy(damaged, whole, sizeof whole);
        for (int k = 0; k < 3; k++) {
            size_t at = 80 + (size_t)(random_uniform(&r) * (i % 2 ? 5600 : sizeof whole - 80));
            damaged[at] =
                (char)(i % 3 ? random_between(&r, '0', 'Z') : random_between(&r, -128, 128));
        }
        int code = read_bytes(damaged, sizeof damaged);
        refused += code != 0;
        ck_assert(code == 0 || (code == ERROR_INPUT && problem.text[0]));
        catalogue_free(&catalogue);
    }
    ck_assert_int_gt(refused, 100);
}
END_TEST

static TCase *make_case(Suite *suite, const char *name)
{
    TCase *test_case = tcase_create(name);
    tcase_add_checked_fixture(test_case, set_up, tear_down);
    tcase_set_timeout(test_case, 60);
    suite_add_tcase(suite, test_case);
    return test_case;
}

Suite *catalogue_suite(void)
{
    Suite *suite = suite_create("catalogue");
    TCase *stars = make_case(suite, "stars");
    tcase_add_test(stars, stars_are_kept_to_two_ten_thousandths_of_an_arcsecond);
    tcase_add_test(stars, free_takes_empty_and_freed_ones);
    TCase *columns = make_case(suite, "columns");
    tcase_add_test(columns, a_plain_table_is_read);
    tcase_add_loop_test(columns, usual_names_are_known, 0, sizeof usual / sizeof usual[0]);
    tcase_add_test(columns, units_may_stand_below_the_names);
    tcase_add_test(columns, columns_are_named_by_the_caller);
    tcase_add_test(columns, missing_columns_are_named_with_those_there);
    tcase_add_test(columns, many_columns_are_listed_in_part);
    tcase_add_test(columns, hours_are_believed_only_when_told);
    tcase_add_test(columns, what_may_be_hours_is_refused);
    TCase *rows = make_case(suite, "rows");
    tcase_add_loop_test(rows, a_bad_row_is_told_with_its_line, 0, sizeof bad / sizeof bad[0]);
    tcase_add_test(rows, bounds_are_within);
    tcase_add_test(rows, a_nul_byte_spoils_its_row_only);
    tcase_add_test(rows, text_of_other_systems_is_read);
    tcase_add_test(rows, ten_bad_rows_are_kept_and_all_counted);
    tcase_add_test(rows, what_is_no_table_is_refused);
    tcase_add_test(rows, a_line_of_megabytes_is_one_bad_row);
    tcase_add_test(rows, threads_change_nothing);
    tcase_add_test(rows, progress_rises_to_one);
    tcase_add_test(rows, magnitude_limits_leave_out);
    tcase_add_test(rows, numbers_of_64_bits_are_kept_and_others_told);
    tcase_add_test(rows, files_add_up_and_a_failure_keeps_what_was_there);
    TCase *motions = make_case(suite, "motions");
    tcase_add_test(motions, stars_move_to_the_epoch_wanted);
    tcase_add_test(motions, motions_are_applied_from_the_epoch_given);
    tcase_add_test(motions, an_epoch_in_the_table_is_followed);
    tcase_add_test(motions, units_of_motion_are_followed);
    tcase_add_test(motions, a_motion_no_star_has_is_a_bad_row);
    tcase_add_test(motions, moving_back_returns);
    TCase *fits = make_case(suite, "fits");
    tcase_add_loop_test(fits, fits_tables_are_read, 0, 2);
    tcase_add_test(fits, fits_units_of_motion_are_followed);
    tcase_add_test(fits, fits_text_and_hours_are_read);
    tcase_add_test(fits, the_table_with_the_columns_is_found);
    tcase_add_test(fits, fits_files_without_a_usable_table_are_refused);
    tcase_add_loop_test(fits, required_keywords_of_fits_are_demanded, 0,
                        sizeof spoilt / sizeof spoilt[0]);
    tcase_add_test(fits, a_fits_file_cut_short_is_refused);
    tcase_add_test(fits, damaged_fits_files_do_no_harm);
    return suite;
}
