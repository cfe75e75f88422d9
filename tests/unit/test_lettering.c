/* Text in letters: any script, the room that is promised, the same bytes on any number of threads.
 * What a script needs is common practice, no source. */
#include "base/parallel.h"
#include "draw/canvas.h"
#include "draw/pen.h"
#include "near.h"

#include <cairo-pdf.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

Suite *lettering_suite(void);

static struct canvas sheet;

static void open_sheet(void)
{
    ck_assert_int_eq(canvas_open(&sheet, 900, 200, theme_of(THEME_NIGHT), NULL), 0);
}

static void close_sheet(void)
{
    canvas_free(&sheet);
}

static struct lettering_extents measure_line(const char *text, double size, bool strong)
{
    struct lettering_extents extents;
    const struct lettering_line line = {text, size, strong, 0};
    lettering_measure(&extents, &sheet.lettering, &line);
    return extents;
}

static struct lettering_extents measure(const char *text)
{
    return measure_line(text, 40, false);
}

static void assert_same_room(const char *one, const char *two)
{
    struct lettering_extents a = measure(one), b = measure(two);
    ck_assert_int_eq(a.missing, b.missing);
    assert_near(a.width, b.width, 0, two);
    assert_near(a.ascent, b.ascent, 0, two);
    assert_near(a.descent, b.descent, 0, two);
    assert_near(a.ink_x, b.ink_x, 0, two);
    assert_near(a.ink_y, b.ink_y, 0, two);
    assert_near(a.ink_width, b.ink_width, 0, two);
    assert_near(a.ink_height, b.ink_height, 0, two);
}

/* The letters that the tree's own font must have. */
START_TEST(latin_and_greek_letters_have_their_accents)
{
    static const char *const bare[] = {"E", "n", "C", "S", "α", "ω", "Ω"};
    static const char *const accented[] = {"É", "ñ", "Č", "Ş", "ἄ", "ᾧ", "Ὧ"};
    for (int strong = 0; strong < 2; strong++) {
        for (int i = 0; i < 7; i++) {
            struct lettering_extents plain = measure_line(bare[i], 40, strong);
            struct lettering_extents more = measure_line(accented[i], 40, strong);
            ck_assert_int_eq(plain.missing + more.missing, 0);
            ck_assert_msg(more.ink_height > plain.ink_height + 2, "%s is as high as %s",
                          accented[i], bare[i]);
        }
    }
    ck_assert_int_eq(measure("Ñandú, Łódź, Ærø, Şanlıurfa, ἄρκτος ὁ Ὠρίων").missing, 0);
}
END_TEST

/* Unicode Standard, section 3.7: the two are canonically equivalent. */
START_TEST(a_letter_and_its_combining_accent_are_the_composed_letter)
{
    static const char *const pairs[][2] = {{"é", "e\u0301"},
                                           {"Ñandú", "N\u0303andu\u0301"},
                                           {"ö", "o\u0308"},
                                           {"ά", "α\u0301"},
                                           {"Å", "A\u030a"}};
    for (int i = 0; i < 5; i++) {
        assert_same_room(pairs[i][1], pairs[i][0]);
    }
}
END_TEST

/* Arabic letters are joined, which makes their middle forms narrower, and begin at the right. */
START_TEST(arabic_letters_join)
{
    static const char word[] = "سديم", *const letters[] = {"س", "د", "ي", "م"};
    double apart = 0;
    if (measure(word).missing) {
        return; /* no font for it here */
    }
    for (int i = 0; i < 4; i++) {
        apart += measure(letters[i]).width;
    }
    ck_assert_msg(measure(word).width < 0.9 * apart, "%.1f px of %.1f", measure(word).width, apart);
}
END_TEST

/* An ideograph fills a square as wide as the type is large. */
START_TEST(ideographs_are_found_in_other_fonts)
{
    struct lettering_extents extents = measure("星雲");
    if (extents.missing) {
        return; /* no font for it here */
    }
    assert_near(extents.width, 80, 8, "px");
    ck_assert_double_gt(extents.ink_width, 60);
}
END_TEST

/* Whether there are fonts for them or not. */
START_TEST(odd_letters_are_drawn)
{
    static const char *const odd[] = {"🌌 ✨ night",
                                      "👩\u200d🚀\ufe0f",
                                      "नीहारिका ดาว 星雲",
                                      "\u202eabc\u2066",
                                      "\u0301\u0301\u0301",
                                      "\U0010ffff\ue000\ufdd0",
                                      "",
                                      "   "};
    struct error err = {0};
    for (int i = 0; i < 8; i++) {
        const struct pen_text text = {odd[i], STYLE_TEXT, i % 2, i % 3};
        double wide, high;
        pen_measure(&sheet, &text, &wide, &high);
        ck_assert(isfinite(wide) && wide >= 0 && isfinite(high) && high > 0);
        pen_write(&sheet, &text, 5, 5, INK_STAR);
        ck_assert_msg(canvas_check(&sheet, odd[i], &err) == 0, "%s", err.text);
    }
}
END_TEST

START_TEST(bytes_that_are_no_letters_show_as_replacement_characters)
{
    ck_assert_int_eq(measure("\ufffd").missing, 0);
    ck_assert_double_gt(measure("\ufffd").ink_width, 10);
    assert_same_room("a\xff\xfez", "a\ufffd\ufffdz");
    assert_same_room("\xc3", "\ufffd");
    assert_same_room("\xed\xa0\x80", "\ufffd\ufffd\ufffd"); /* half a surrogate pair */
    const struct pen_text text = {"\xff\xfe\x80", STYLE_TEXT, false, 4};
    struct error err = {0};
    pen_write(&sheet, &text, 5, 5, INK_STAR);
    ck_assert_int_eq(canvas_check(&sheet, "it", &err), 0);
}
END_TEST

START_TEST(a_line_is_not_broken)
{
    assert_same_room("one\ntwo\tthree\r\x1b\x7f.", "one two three   .");
    assert_same_room("one\u2028two\u2029three\xc2\x85.", "one two three .");
}
END_TEST

/* Kerning: a capital A reaches under a V. */
START_TEST(letters_are_kerned)
{
    double apart = measure("A").width + measure("V").width;
    ck_assert_double_lt(measure("AV").width, apart - 1);
}
END_TEST

START_TEST(room_is_in_proportion_to_the_size)
{
    static const char text[] = "Große Magellansche Wolke 123";
    struct lettering_extents one = measure_line(text, 100, true);
    static const double sizes[] = {7, 9.3, 16.5, 19.5, 200, 640};
    for (int i = 0; i < 6; i++) {
        struct lettering_extents other = measure_line(text, sizes[i], true);
        double part = sizes[i] / 100;
        assert_near(other.width / (part * one.width), 1, 0.001, "ratio");
        assert_near(other.ascent / (part * one.ascent), 1, 0.001, "ratio");
        assert_near(other.descent / (part * one.descent), 1, 0.001, "ratio");
    }
}
END_TEST

START_TEST(spacing_goes_between_letters)
{
    struct lettering_extents extents;
    const struct lettering_line line = {"ORION", 40, false, 10};
    lettering_measure(&extents, &sheet.lettering, &line);
    assert_near(extents.width, measure("ORION").width + 4 * 10, 10.01, "px"); /* or at an end */
    assert_near(extents.ink_width, measure("ORION").ink_width + 4 * 10, 1.5, "px, unkerned");
}
END_TEST

/* Columns and rows, in pixels, of all that is drawn: the first, and the first after. */
struct drawn {
    int left, top, right, bottom;
};

static struct drawn find_drawn(struct canvas *canvas)
{
    struct drawn drawn = {canvas->width, canvas->height, 0, 0};
    for (int y = 0; y < canvas->height; y++) {
        const uint32_t *row = canvas_row(canvas, y);
        for (int x = 0; x < canvas->width; x++) {
            if (row[x] >> 24 > 60) {
                drawn.left = x < drawn.left ? x : drawn.left;
                drawn.right = x >= drawn.right ? x + 1 : drawn.right;
                drawn.top = y < drawn.top ? y : drawn.top;
                drawn.bottom = y + 1;
            }
        }
    }
    return drawn;
}

/* Within a pixel: the edge of a letter is grey. */
START_TEST(what_is_measured_is_what_is_drawn)
{
    static const char *const texts[] = {"NGC 7000", "Ὠρίων gj", "سديم", "e\u0301f"};
    for (int i = 0; i < 4; i++) {
        for (int rim = 0; rim <= 3; rim += 3) {
            struct lettering_extents extents = measure(texts[i]);
            const struct lettering_line line = {texts[i], 40, false, 0};
            const struct lettering_ink ink = {{1, 1, 1, 1}, {0, 0, 0, 1}, rim};
            close_sheet();
            open_sheet();
            lettering_write(&sheet.lettering, &line, 100, 90, &ink);
            struct drawn drawn = find_drawn(&sheet);
            double left = 100.5 + extents.ink_x, top = 90.5 + extents.ink_y;
            assert_near(drawn.left, left - rim, 1.1, "px");
            assert_near(drawn.top, top - rim, 1.1, "px");
            assert_near(drawn.right, left + extents.ink_width + rim, 1.1, "px");
            assert_near(drawn.bottom, top + extents.ink_height + rim, 1.1, "px");
        }
    }
}
END_TEST

START_TEST(wrapped_lines_keep_to_their_width)
{
    static const char text[] = "Look where you stand, weigh down the tripod, mind the rules. "
                               "Donaudampfschifffahrtsgesellschaftskapitänsmützen";
    const struct lettering_line line = {text, 16, false, 0};
    const struct lettering_ink ink = {.fill = {1, 1, 1, 1}};
    int lines = lettering_write_wrapped(&sheet.lettering, &line, 100, 20, 200, 20, &ink);
    int least = (int)ceil(measure_line(text, 16, false).width / 200);
    ck_assert_int_ge(lines, least);
    ck_assert_int_le(lines, least + 2);
    struct drawn drawn = find_drawn(&sheet);
    ck_assert_int_ge(drawn.left, 99);
    ck_assert_int_le(drawn.right, 302);
    assert_near(drawn.bottom, 20 + 20 * (lines - 1), 6, "px: the last line's descenders");
    const struct lettering_line nothing = {"", 16, false, 0};
    ck_assert_int_eq(lettering_write_wrapped(&sheet.lettering, &nothing, 100, 20, 200, 20, &ink),
                     1);
}
END_TEST

/* A page of points or a sheet of pixels: names stand in the same places. */
START_TEST(a_page_has_the_room_of_a_sheet)
{
    struct canvas page;
    cairo_surface_t *surface = cairo_pdf_surface_create(NULL, 300, 200);
    ck_assert_int_eq(canvas_open_on(&page, surface, 900, 200, theme_of(THEME_NIGHT), NULL), 0);
    canvas_scale(&page, 1 / 3.0);
    const struct pen_text text = {"Große Magellansche Wolke, Ὠρίων", STYLE_TEXT, true, 0};
    double wide, high, page_wide, page_high;
    pen_measure(&sheet, &text, &wide, &high);
    pen_measure(&page, &text, &page_wide, &page_high);
    assert_near(page_wide, wide, 0, "px");
    assert_near(page_high, high, 0, "px");
    canvas_free(&page);
}
END_TEST

enum { DRAWINGS = 24 };

static void hash_drawing(int item, void *context)
{
    uint64_t *hash = context;
    struct canvas canvas;
    if (canvas_open(&canvas, 400, 120, theme_of(THEME_NIGHT), NULL)) {
        return;
    }
    for (int i = 0; i < 12; i++) {
        static const char *const texts[] = {"NGC 7000", "Ὠρίων", "سديم", "星雲", "a\xffz", "🌌"};
        const struct pen_text text = {texts[i % 6], 30 + 5 * (item % 3), i % 2, i % 4};
        pen_write(&canvas, &text, 3 + 30 * i, 9 * i, INK_OBJECT);
    }
    hash[item] = 14695981039346656037U; /* FNV-1a */
    for (int y = 0; y < 120; y++) {
        const uint32_t *row = canvas_row(&canvas, y);
        for (int x = 0; x < 400; x++) {
            hash[item] = (hash[item] ^ row[x]) * 1099511628211U;
        }
    }
    canvas_free(&canvas);
}

START_TEST(drawings_are_the_same_on_any_number_of_threads)
{
    uint64_t alone[DRAWINGS] = {0}, together[DRAWINGS] = {0};
    parallel_each(DRAWINGS, 6, hash_drawing, together);
    parallel_each(DRAWINGS, 1, hash_drawing, alone);
    for (int i = 0; i < DRAWINGS; i++) {
        ck_assert_uint_ne(alone[i], 0);
        ck_assert_uint_eq(together[i], alone[i]);
        ck_assert_uint_eq(alone[i], alone[i % 3]);
    }
    ck_assert_uint_ne(alone[0], alone[1]);
}
END_TEST

Suite *lettering_suite(void)
{
    Suite *suite = suite_create("lettering");
    TCase *scripts = tcase_create("scripts"), *room = tcase_create("room");
    tcase_add_checked_fixture(scripts, open_sheet, close_sheet);
    tcase_add_test(scripts, latin_and_greek_letters_have_their_accents);
    tcase_add_test(scripts, a_letter_and_its_combining_accent_are_the_composed_letter);
    tcase_add_test(scripts, arabic_letters_join);
    tcase_add_test(scripts, ideographs_are_found_in_other_fonts);
    tcase_add_test(scripts, odd_letters_are_drawn);
    tcase_add_test(scripts, bytes_that_are_no_letters_show_as_replacement_characters);
    tcase_add_test(scripts, a_line_is_not_broken);
    tcase_add_test(scripts, letters_are_kerned);
    suite_add_tcase(suite, scripts);
    tcase_add_checked_fixture(room, open_sheet, close_sheet);
    tcase_add_test(room, room_is_in_proportion_to_the_size);
    tcase_add_test(room, spacing_goes_between_letters);
    tcase_add_test(room, what_is_measured_is_what_is_drawn);
    tcase_add_test(room, wrapped_lines_keep_to_their_width);
    tcase_add_test(room, a_page_has_the_room_of_a_sheet);
    tcase_add_test(room, drawings_are_the_same_on_any_number_of_threads);
    suite_add_tcase(suite, room);
    return suite;
}
