/* The forms that star catalogues come in: each read from a small table made up here. What astropy
 * reads from the same forms is for tests/outside/check_catalogue_forms.py. */
#include "catalogue.h"
#include "description.h"
#include "near.h"
#include "order_stars.h"
#include "sky/vector.h"
#include "star_columns.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>
#include <zlib.h>

Suite *catalogue_forms_suite(void);

/* Directions are two numbers rounded to 2^-31: half a step of 2.7e-8 degrees in each, which may
 * stretch to 2.6 where the octahedron is nearest to the centre: 4.9e-8 = 2.6 sqrt(2) 1.33e-8. */
static const double rounding_deg = 4.9e-8;

static struct catalogue catalogue;
static struct catalogue_report report;
static struct error problem;
static char folder[64], path[128];

static void set_up(void)
{
    memset(&catalogue, 0, sizeof catalogue);
    memset(&problem, 0, sizeof problem);
    strcpy(folder, "/tmp/alidade-forms-XXXXXX");
    ck_assert_ptr_nonnull(mkdtemp(folder));
    snprintf(path, sizeof path, "%s/stars.dat", folder);
}

static void remove_file(const char *name)
{
    char whole[160];
    snprintf(whole, sizeof whole, "%s/%s", folder, name);
    unlink(whole);
}

static void tear_down(void)
{
    catalogue_free(&catalogue);
    remove_file("stars.dat");
    remove_file("ReadMe");
    rmdir(folder);
}

static void put(const char *name, const char *text)
{
    char whole[160];
    snprintf(whole, sizeof whole, "%s/%s", folder, name);
    FILE *out = fopen(whole, "wb");
    ck_assert_ptr_nonnull(out);
    fputs(text, out);
    fclose(out);
}

static int read_as(const char *text, const struct catalogue_columns *columns)
{
    put("stars.dat", text);
    catalogue_free(&catalogue);
    memset(&problem, 0, sizeof problem);
    return catalogue_read(&catalogue, &report, path, columns, NULL, NULL, &problem);
}

static void expect_stars(const char *text, const struct catalogue_columns *columns, long count)
{
    static const struct catalogue_columns usual = {0};
    int code = read_as(text, columns ? columns : &usual);
    ck_assert_msg(code == 0, "refused: %s", problem.text);
    ck_assert_int_eq(catalogue.count, count);
}

static void expect_refusal(const char *text, const struct catalogue_columns *columns,
                           const char *part)
{
    static const struct catalogue_columns usual = {0};
    int code = read_as(text, columns ? columns : &usual);
    ck_assert_int_eq(code, ERROR_INPUT);
    ck_assert_msg(strstr(problem.text, part) != NULL, "\"%s\" does not say \"%s\"", problem.text,
                  part);
    ck_assert_int_eq(catalogue.count, 0);
}

static void expect_star(long i, uint64_t id, double ra_deg, double dec_deg, double mag)
{
    double v[3], ra, dec;
    order_star_vector(v, &catalogue.star[i]);
    vector_to_radec(&ra, &dec, v);
    ck_assert_uint_eq(catalogue.star[i].id, id);
    assert_near(ra, ra_deg, rounding_deg / cos(dec_deg / 57.3), "degrees");
    assert_near(dec, dec_deg, rounding_deg, "degrees");
    assert_near(catalogue.star[i].mag / 1000.0, mag, 0.0005, "mag");
}

/* Text. */

START_TEST(blanks_part_cells)
{
    expect_stars("hip  ra   dec  vmag\n 7  10.5  -20  4.25\n\t8\t11.5 -21   5\n", NULL, 2);
    expect_star(0, 7, 10.5, -20, 4.25);
    expect_star(1, 8, 11.5, -21, 5);
}
END_TEST

START_TEST(names_may_stand_in_a_comment_or_below_words)
{
    expect_stars("# words\n# hip ra dec vmag\n7 10 -20 4\n", NULL, 1);
    expect_star(0, 7, 10, -20, 4);
    expect_stars("Results of a query\nin equatorial coordinates\n|hip|ra|dec|vmag|\n"
                 "|7|10|-20|4|\n",
                 NULL, 1);
    expect_star(0, 7, 10, -20, 4);
    expect_stars(" hip | ra | dec | vmag\n-----+----+-----+-----\n 7 | 10 | -20 | 4\n", NULL, 1);
    expect_star(0, 7, 10, -20, 4);
}
END_TEST

START_TEST(units_may_stand_in_comments)
{
    expect_stars("# %ECSV 1.0\n# datatype:\n# - {name: ra, unit: hourangle, datatype: float64}\n"
                 "# - {name: dec, unit: rad, datatype: float64}\n"
                 "# - {name: mag, unit: mmag, datatype: int32}\nra,dec,mag\n2,1,4250\n",
                 NULL, 1);
    expect_star(0, 0, 30, 57.29577951308232, 4.25);
}
END_TEST

START_TEST(columns_are_given_where_no_row_names_them)
{
    expect_stars("7,2,10,9,4.5\n8,3,20,9,5\n",
                 &(struct catalogue_columns){.columns = "hip,ra:h,dec,-,mag"}, 2);
    expect_star(0, 7, 30, 10, 4.5);
    /* Names of others are passed over, and so are cells behind the last that is named. */
    expect_stars("a b c d\n10 20 5 x\n11 21 6 y\n",
                 &(struct catalogue_columns){.columns = "ra,dec,mag"}, 2);
    expect_star(0, 0, 10, 20, 5);
    expect_refusal("1,2\n", &(struct catalogue_columns){.columns = "ra,dec,mag"},
                   "line 1: expected 3 cells as --columns says, found 2");
}
END_TEST

START_TEST(angles_in_three_columns_are_joined)
{
    expect_stars("HIP,RAh,RAm,RAs,DE-,DEd,DEm,DEs,Vmag\n7,12,30,36,-,0,30,36,5\n"
                 "8,12,30,36,+,10,0,0,5\n",
                 NULL, 2);
    expect_star(0, 7, 187.65, -0.51, 5);
    expect_star(1, 8, 187.65, 10, 5);
    expect_stars("HIP,RAh,RAm,DEd,DEm,Vmag\n7,12,30,-00,30,5\n", NULL, 1);
    expect_star(0, 7, 187.5, -0.5, 5);
}
END_TEST

START_TEST(units_may_begin_with_a_number)
{
    expect_stars("1,36000000,0,4500,20000,0\n",
                 &(struct catalogue_columns){
                     .columns = "hip,ra:mas,dec:mas,mag:0.001mag,pmra:0.1mas/yr,pmdec:0.1mas/yr",
                     .from_epoch = 2000,
                     .to_epoch = 2100},
                 1);
    expect_star(0, 1, 10 + 200 / 3600.0, 0, 4.5); /* 2 arcsec a year for 100 years */
}
END_TEST

START_TEST(an_old_equinox_is_refused)
{
    expect_refusal("RAB1950,DEB1950,mag\n1,2,3\n", NULL, "no column looks like");
    expect_refusal("RAB1950,DEB1950,mag\n1,2,3\n",
                   &(struct catalogue_columns){.ra = "RAB1950", .dec = "DEB1950"},
                   "column RAB1950 is for the equinox B1950, expected J2000 or ICRS");
}
END_TEST

START_TEST(equal_magnitudes_are_refused)
{
    char text[400] = "ra,dec,mag\n";
    for (int i = 0; i < 12; i++) {
        snprintf(text + strlen(text), 30, "%d,%d,5\n", 30 * i, i);
    }
    expect_refusal(text, NULL, "all stars have magnitude 5");
}
END_TEST

START_TEST(packed_text_is_read)
{
    gzFile out = gzopen(path, "wb");
    gzputs(out, "hip,ra,dec,vmag\n7,10,-20,4\n");
    gzclose(out);
    int code = catalogue_read(&catalogue, &report, path, &(struct catalogue_columns){0}, NULL, NULL,
                              &problem);
    ck_assert_msg(code == 0, "%s", problem.text);
    expect_star(0, 7, 10, -20, 4);
}
END_TEST

/* Known catalogues. The rows are made up; the places of their columns are the catalogues' own. */

START_TEST(gaia_is_known_by_its_columns)
{
    const char *text = "source_id,ra,dec,phot_g_mean_mag,pmra,pmdec\n"
                       "4611686018427387905,10,0,4,3600000,0\n";
    expect_stars(text, NULL, 1);
    assert_near(catalogue.epoch_year, 2016, 0, "year");
    ck_assert_int_eq(report.warnings, 1);
    ck_assert_ptr_nonnull(strstr(report.warning[0], "those of Gaia DR3"));
    expect_stars("source_id,ra,dec,phot_g_mean_mag,radius_val\n1,10,0,4,1\n", NULL, 1);
    assert_near(catalogue.epoch_year, 2015.5, 0, "year");
    expect_stars(text, &(struct catalogue_columns){.from_epoch = 2010}, 1);
    assert_near(catalogue.epoch_year, 2010, 0, "year");
    ck_assert_int_eq(report.warnings, 0);
}
END_TEST

START_TEST(hours_of_hyg_are_hours)
{
    expect_stars("hip,proper,ra,dec,mag,rarad,decrad\n7,,2.5,10,4,0.65,0.17\n", NULL, 1);
    expect_star(0, 7, 37.5, 10, 4);
}
END_TEST

START_TEST(hipparcos_is_known_by_its_lines)
{
    char row[500];
    snprintf(row, sizeof row,
             "H|           7| |00 40 00.00|-20 00 00.0| 4.25| |H|010.00000000|-20.00000000| |"
             "  14.00|  100.00| -200.00");
    for (int i = 14; i < 78; i++) {
        strcat(row, i == 37 ? "| 0.500" : "| ");
    }
    strcat(row, "\n");
    expect_stars(row, NULL, 1);
    expect_star(0, 7, 10, -20, 4.25);
    ck_assert_int_eq(catalogue.star[0].colour, 500);
    assert_near(catalogue.epoch_year, 1991.25, 0, "year");
    /* Without the one place the other is taken: 00 40 00. */
    memcpy(strstr(row, "010.00000000|-20.00000000"), "            |            ", 25);
    expect_stars(row, NULL, 1);
    expect_star(0, 7, 10, -20, 4.25);
}
END_TEST

START_TEST(tycho_is_known_by_its_lines)
{
    char row[500];
    snprintf(row, sizeof row, "0001 00008 1| |  2.31750494|  2.23184345|  -16.3|   -9.0");
    for (int i = 6; i < 32; i++) {
        strcat(row, i == 17   ? "|12.146"
                    : i == 24 ? "|  2.31754222"
                    : i == 25 ? "|  2.23186444"
                              : "| ");
    }
    strcat(row, "\n");
    expect_stars(row, NULL, 1);
    expect_star(0, 1000081, 2.31750494, 2.23184345, 12.146); /* no VT: BT stands in */
    memcpy(strstr(row, "  2.31750494|  2.23184345"), "            |            ", 25);
    expect_stars(row, NULL, 1);
    expect_star(0, 1000081, 2.31754222, 2.23186444, 12.146);
}
END_TEST

START_TEST(ucac4_is_known_by_its_lines)
{
    expect_stars("#UCAC4    |    RA  (ICRS) Dec     +/- +/-  mas  EpRA    EpDE  | f.mag  a.mag\n"
                 "451-000001|359.0000000+00.5000000  15  16   22 2001.15 2001.45|13.301 13.273 "
                 "0.06 | 0  0|  8   8   2|   +10.1     -2.7  1.9  2.3|\n",
                 NULL, 1);
    expect_star(0, 451000001, 359, 0.5, 13.301);
}
END_TEST

/* Names of columns as the catalogues' own files and the services that keep them have them, from
 * memory; what is in the columns is of no matter. */
START_TEST(catalogues_are_known_by_their_columns)
{
    static const struct {
        const char *text;
        double epoch;
        uint64_t number;
        double ra, dec, mag;
    } known[] = {
        {"radeg,raerr(arcsec),decdeg,decerr(arcsec),number of Obs,Johnson V (V),Johnson V err,"
         "Johnson B (B),Johnson B err\n10.5,0.2,-20,0.3,4,11.25,0.02,12,0.02\n",
         2000, 0, 10.5, -20, 11.25},
        {"recno\tRAJ2000\tDEJ2000\tnobs\tmobs\tB-V\te_B-V\tVmag\te_Vmag\tBmag\tg'mag\n"
         "1\t10.5\t-20\t3\t4\t0.5\t0.02\t11.25\t0.02\t12\t11.5\n",
         2000, 0, 10.5, -20, 11.25},
        {"UCAC4\tRAJ2000\tDEJ2000\tf.mag\ta.mag\tpmRA\tpmDE\n"
         "473-000012\t10.5\t-20\t11.25\t11\t5\t-6\n",
         2000, 473000012, 10.5, -20, 11.25},
        {"TYC1\tTYC2\tTYC3\tpmRA\tpmDE\tBTmag\tVTmag\tHIP\tRA(ICRS)\tDE(ICRS)\n"
         "1\t8\t1\t3.5\t-4\t12\t11.25\t7\t10.5\t-20\n",
         1991.25, 7, 10.5, -20, 11.25},
        {"HIP\tRArad\tDErad\tPlx\tpmRA\tpmDE\tHpmag\tB-V\n"
         "7\t0.183259571\t-0.349065850\t5\t100\t20\t11.25\t0.4\n",
         1991.25, 7, 10.5, -20, 11.25},
        {"HR\tName\tHD\tRAJ2000\tDEJ2000\tVmag\tB-V\tpmRA\tpmDE\n"
         "7\tx\t3\t00 42 00.0\t-20 00 00\t11.25\t0.4\t+0.1\t-0.02\n",
         2000, 3, 10.5, -20, 11.25},
        {"Source\tRA_ICRS\tDE_ICRS\tGmag\tBP-RP\tpmRA\tpmDE\n"
         "4611686018427387905\t10.5\t-20\t11.25\t1\t5\t6\n",
         2016, 4611686018427387905, 10.5, -20, 11.25},
    };
    for (size_t i = 0; i < sizeof known / sizeof *known; i++) {
        expect_stars(known[i].text, NULL, 1);
        assert_near(catalogue.epoch_year, known[i].epoch, 0, "year");
        ck_assert(known[i].number == 0 || catalogue.star[0].id == known[i].number);
        expect_star(0, catalogue.star[0].id, known[i].ra, known[i].dec, known[i].mag);
    }
}
END_TEST

START_TEST(the_bright_star_table_is_known_by_its_lines)
{
    char row[200];
    memset(row, ' ', sizeof row);
    memcpy(row, "   7", 4);
    memcpy(row + 60, "000001.1+444022004000.0-203000114.44-16.88", 42);
    memcpy(row + 103, "4.25", 4);
    memcpy(row + 109, "+0.07", 5);
    row[160] = '\n';
    row[161] = '\0';
    expect_stars(row, NULL, 1);
    expect_star(0, 7, 10, -20.5, 4.25);
    ck_assert_int_eq(catalogue.star[0].colour, 70);
}
END_TEST

/* Descriptions. */

#define RULE "--------------------------------------------------\n"
static const char described[] =
    "Byte-by-byte Description of file: other.dat\n" RULE
    " Bytes Format Units Label Explanations\n" RULE "  1-  9 F9.5 deg RAdeg x\n" RULE
    "\nByte-per-byte Description of file: st[abc]rs.dat more*.dat\n" RULE
    " Bytes Format Units Label Explanations\n" RULE
    "  1-  3 I3     ---   HIP   Number, which goes on\n"
    "                           in 2 lines\n"
    "  5- 12 F8.4   deg   RAdeg Right ascension\n"
    " 14- 21 F8.4   deg   DEdeg *Declination\n"
    " 23- 27 F5.2   mag   Vmag  [-2/15]?=99.99 Magnitude\n" RULE;

START_TEST(the_description_beside_is_used)
{
    put("ReadMe", described);
    expect_stars("  7  10.5000 -20.0000  4.25\n"
                 "  8  11.5000 -20.0000 99.99\n"
                 "  9  12.5000 -20.0000\n"
                 " 10  13.5000 -20.0000  5.25 and more\n",
                 NULL, 2);
    expect_star(0, 7, 10.5, -20, 4.25);
    expect_star(1, 10, 13.5, -20, 5.25);
    ck_assert_str_eq(report.sample[0].reason, "no magnitude");
    ck_assert_str_eq(report.sample[1].reason, "no magnitude");
}
END_TEST

START_TEST(the_description_above_is_used)
{
    expect_stars("Title: words\n" RULE "Byte-by-byte Description of file: x.txt\n" RULE
                 " Bytes Format Units Label Explanations\n" RULE
                 "1-4 F4.1 deg ra x\n6-9 F4.1 deg dec x\n11-13 F3.1 mag mag x\n" RULE
                 "Note (1): 12-14 words\n" RULE "10.5 20.5 4.5\n11.5 21.5 5.5\n",
                 NULL, 2);
    expect_star(0, 0, 10.5, 20.5, 4.5);
}
END_TEST

START_TEST(a_description_is_chosen_by_name)
{
    struct column_list list = {.table = "x"};
    struct error err = {0};
    int code = description_read(&list, NULL, described, sizeof described - 1, "ReadMe",
                                "folder/stars.dat.gz", &err);
    ck_assert_msg(code == 0, "%s", err.text);
    ck_assert_int_eq(list.count, 4);
    ck_assert_str_eq(list.column[3].name, "Vmag");
    ck_assert_str_eq(list.column[3].null, "99.99");
    ck_assert_int_eq(list.column[3].first, 22);
    ck_assert_int_eq(list.column[3].last, 26);
    ck_assert_str_eq(list.column[0].unit, "");
    code = description_read(&list, NULL, described, sizeof described - 1, "ReadMe", "none", &err);
    ck_assert_int_eq(code, ERROR_INPUT);
    ck_assert_ptr_nonnull(strstr(err.text, "describes 2 files, but none of them is none"));
    column_list_free(&list);
}
END_TEST

/* VOTable. */

#define HEAD                                                                                       \
    "<VOTABLE><RESOURCE><COOSYS ID='c' system='ICRS' epoch='J2016.0'/><TABLE name='t'>"            \
    "<FIELD name='id' datatype='long'><VALUES null='-1'/></FIELD>"                                 \
    "<FIELD name='words' datatype='char' arraysize='*'/>"                                          \
    "<FIELD name='ra' datatype='double' unit='deg' ref='c'/>"                                      \
    "<FIELD name='dec' datatype='float' unit='deg'/>"                                              \
    "<FIELD name='mag' datatype='short' unit='mmag'/><DATA>"
#define TAIL "</DATA></TABLE></RESOURCE></VOTABLE>"

START_TEST(votable_cells_are_read)
{
    expect_stars(HEAD "<TABLEDATA><TR><TD>4611686018427387905</TD><TD>a&lt;b</TD><TD> 10.5 </TD>"
                      "<TD>-20</TD><TD>4250</TD></TR><TR><TD>-1</TD><TD/><TD>11</TD><TD>1e1</TD>"
                      "<TD>5250</TD></TR></TABLEDATA>" TAIL,
                 NULL, 2);
    expect_star(0, 4611686018427387905U, 10.5, -20, 4.25);
    expect_star(1, 0, 11, 10, 5.25);
    assert_near(catalogue.epoch_year, 2016, 0, "year");
}
END_TEST

/* Two rows: (2^62 + 1, "ab", 10.5, -20, 4250) and (-1, "", 11, 10, -1440). In the second form each
 * begins with its marks of missing cells, of which the second row has one, for its number. */
START_TEST(votable_bytes_are_read)
{
    expect_stars(HEAD "<BINARY><STREAM encoding='base64'>QAAAAAAAAAEAAAACYWJAJQAAAAAAAMGgAAAQ"
                      "mv//////////AAAAAEAm\nAAAAAAAAQSAAAPpg</STREAM></BINARY>" TAIL,
                 NULL, 2);
    expect_star(0, 4611686018427387905U, 10.5, -20, 4.25);
    expect_star(1, 0, 11, 10, -1.44);
    expect_stars(HEAD "<BINARY2><STREAM encoding='base64'>AEAAAAAAAAABAAAAAmFiQCUAAAAAAADBoAAA"
                      "EJqAAAAAAAAAAAcAAAAAQ\nCYAAAAAAABBIAAA+mA=</STREAM></BINARY2>" TAIL,
                 NULL, 2);
    expect_star(0, 4611686018427387905U, 10.5, -20, 4.25);
    expect_star(1, 0, 11, 10, -1.44);
}
END_TEST

START_TEST(votable_columns_are_found_by_their_role)
{
    expect_stars("<VOTABLE><RESOURCE><TABLE>"
                 "<FIELD name='a' ucd='pos.eq.ra' datatype='double' unit='deg'/>"
                 "<FIELD name='b' ucd='pos.eq.ra;meta.main' datatype='double' unit='h'/>"
                 "<FIELD name='c' ucd='pos.eq.dec;meta.main' datatype='double' unit='deg'/>"
                 "<FIELD name='e_f' ucd='stat.error;phot.mag;em.opt.V' datatype='double'/>"
                 "<FIELD name='f' ucd='phot.mag;em.opt.V' datatype='double'/>"
                 "<DATA><TABLEDATA><TR><TD>1</TD><TD>2</TD><TD>3</TD><TD>4</TD><TD>5</TD></TR>"
                 "</TABLEDATA></DATA></TABLE></RESOURCE></VOTABLE>",
                 NULL, 1);
    expect_star(0, 0, 30, 3, 5);
}
END_TEST

START_TEST(votable_of_the_old_equinox_is_refused)
{
    expect_refusal("<VOTABLE><RESOURCE><COOSYS ID='c' system='eq_FK4' equinox='B1950'/><TABLE>"
                   "<FIELD name='ra' ref='c'/><FIELD name='dec'/><FIELD name='mag'/><DATA>"
                   "<TABLEDATA/></DATA></TABLE></RESOURCE></VOTABLE>",
                   NULL, "column ra is for the equinox B1950");
}
END_TEST

START_TEST(what_a_service_says_is_told)
{
    expect_stars("<VOTABLE><RESOURCE><INFO name='QUERY_STATUS' value='OK'/><TABLE>"
                 "<FIELD name='ra' datatype='double' unit='deg'/>"
                 "<FIELD name='dec' datatype='double'/><FIELD name='mag' datatype='double'/>"
                 "<DATA><TABLEDATA><TR><TD>1</TD><TD>2</TD><TD>3</TD></TR></TABLEDATA></DATA>"
                 "</TABLE><INFO name='QUERY_STATUS' value='OVERFLOW'/></RESOURCE></VOTABLE>",
                 NULL, 1);
    ck_assert_int_eq(report.warnings, 1);
    ck_assert_ptr_nonnull(strstr(report.warning[0], "stars are missing"));
    expect_refusal("<VOTABLE><RESOURCE><INFO name='QUERY_STATUS' value='ERROR'>no</INFO>"
                   "</RESOURCE></VOTABLE>",
                   NULL, "the query failed");
}
END_TEST

static const char *const damaged_votables[][2] = {
    {HEAD "<TABLEDATA><TR>", "cut short"},
    {HEAD "<TABLEDATA></TR>", "the XML is damaged (mismatched tag)"},
    {HEAD "<BINARY><STREAM encoding='base64'>QAAA</STREAM></BINARY>" TAIL, "end within a row"},
    {HEAD "<BINARY><STREAM encoding='base64'>#</STREAM></BINARY>" TAIL, "what is not base64"},
    {HEAD "<BINARY><STREAM encoding='base64'>QAAAAAAAAAH/////</STREAM></BINARY>" TAIL,
     "larger than 64 MB"},
    {HEAD "<BINARY><STREAM href='file:///etc/hostname'/></BINARY>" TAIL, "not followed"},
    {HEAD "<FITS><STREAM/></FITS>" TAIL, "are FITS within the document"},
    {"<html/>", "its root is <html>"},
    {"<!DOCTYPE VOTABLE [<!ENTITY a 'b'>]><VOTABLE/>", "declares entities"},
    {"<VOTABLE/>", "holds no table with rows"},
};

START_TEST(damaged_votables_are_refused)
{
    expect_refusal(damaged_votables[_i][0], NULL, damaged_votables[_i][1]);
}
END_TEST

static TCase *make_case(Suite *suite, const char *name)
{
    TCase *made = tcase_create(name);
    tcase_add_checked_fixture(made, set_up, tear_down);
    suite_add_tcase(suite, made);
    return made;
}

static void add_text_tests(Suite *suite)
{
    TCase *text = make_case(suite, "text");
    tcase_add_test(text, blanks_part_cells);
    tcase_add_test(text, names_may_stand_in_a_comment_or_below_words);
    tcase_add_test(text, units_may_stand_in_comments);
    tcase_add_test(text, columns_are_given_where_no_row_names_them);
    tcase_add_test(text, angles_in_three_columns_are_joined);
    tcase_add_test(text, units_may_begin_with_a_number);
    tcase_add_test(text, an_old_equinox_is_refused);
    tcase_add_test(text, equal_magnitudes_are_refused);
    tcase_add_test(text, packed_text_is_read);
}

static void add_known_tests(Suite *suite)
{
    TCase *known = make_case(suite, "known");
    tcase_add_test(known, gaia_is_known_by_its_columns);
    tcase_add_test(known, hours_of_hyg_are_hours);
    tcase_add_test(known, hipparcos_is_known_by_its_lines);
    tcase_add_test(known, tycho_is_known_by_its_lines);
    tcase_add_test(known, ucac4_is_known_by_its_lines);
    tcase_add_test(known, the_bright_star_table_is_known_by_its_lines);
    tcase_add_test(known, catalogues_are_known_by_their_columns);
}

Suite *catalogue_forms_suite(void)
{
    Suite *suite = suite_create("catalogue_forms");
    add_text_tests(suite);
    add_known_tests(suite);
    TCase *fixed = make_case(suite, "description");
    tcase_add_test(fixed, the_description_beside_is_used);
    tcase_add_test(fixed, the_description_above_is_used);
    tcase_add_test(fixed, a_description_is_chosen_by_name);
    TCase *votable = make_case(suite, "votable");
    tcase_add_test(votable, votable_cells_are_read);
    tcase_add_test(votable, votable_bytes_are_read);
    tcase_add_test(votable, votable_columns_are_found_by_their_role);
    tcase_add_test(votable, votable_of_the_old_equinox_is_refused);
    tcase_add_test(votable, what_a_service_says_is_told);
    tcase_add_loop_test(votable, damaged_votables_are_refused, 0,
                        (int)(sizeof damaged_votables / sizeof *damaged_votables));
    return suite;
}
