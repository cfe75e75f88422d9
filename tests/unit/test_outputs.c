#include "base/file_identity.h"
#include "base/outputs.h"
#include "night/file_kind.h"
#include "scratch.h"

#include <sys/stat.h>

Suite *outputs_suite(void);

static bool is_same(const char *a, const char *b)
{
    struct file_identity first, second;
    ck_assert(file_identity_find(&first, a) && file_identity_find(&second, b));
    bool same = file_identity_same(&first, &second);
    file_identity_free(&first);
    file_identity_free(&second);
    return same;
}

START_TEST(test_identity_of_files)
{
    scratch_write("a", "x", 1);
    scratch_write("b", "x", 1);
    ck_assert_int_eq(link(scratch_path("a"), scratch_path("hard")), 0);
    ck_assert_int_eq(symlink("a", scratch_path("soft")), 0);
    ck_assert_int_eq(symlink("soft", scratch_path("softer")), 0);
    ck_assert(is_same(scratch_path("a"), scratch_path("./a")));
    ck_assert(is_same(scratch_path("a"), scratch_path("hard")));
    ck_assert(is_same(scratch_path("a"), scratch_path("soft")));
    ck_assert(is_same(scratch_path("hard"), scratch_path("softer")));
    ck_assert(!is_same(scratch_path("a"), scratch_path("b")));
}
END_TEST

START_TEST(test_identity_of_what_is_not_there)
{
    ck_assert_int_eq(mkdir(scratch_path("deep"), 0700), 0);
    ck_assert_int_eq(symlink("deep", scratch_path("way")), 0);
    ck_assert_int_eq(symlink("deep/new", scratch_path("to-new")), 0);
    ck_assert_int_eq(symlink("to-new", scratch_path("farther")), 0);
    ck_assert_int_eq(symlink("loop", scratch_path("loop")), 0);
    ck_assert(is_same(scratch_path("deep/new"), scratch_path("way/../deep/./new")));
    ck_assert(is_same(scratch_path("deep/new"), scratch_path("way/new")));
    ck_assert(is_same(scratch_path("deep/new"), scratch_path("to-new")));
    ck_assert(is_same(scratch_path("deep/new"), scratch_path("farther")));
    ck_assert(!is_same(scratch_path("deep/new"), scratch_path("new")));
    ck_assert(!is_same(scratch_path("deep/new"), scratch_path("deep/newer")));
    ck_assert(!is_same(scratch_path("loop"), scratch_path("new")));
    ck_assert(!is_same(scratch_path("none/new"), scratch_path("none/new"))); /* cannot come to be */
    ck_assert_int_eq(chdir(scratch_folder), 0);
    ck_assert(is_same("new", scratch_path("new")));
    ck_assert(is_same("new", "./new"));
}
END_TEST

/* Checks one output, "--out", against one input; the sentence is left in err. */
static int check(const char *input, const char *output, unsigned may_replace, bool replace,
                 struct error *err)
{
    struct outputs outputs = {.replace = replace};
    *err = (struct error){0};
    ck_assert_int_eq(outputs_add_input(&outputs, input, "the input", err), 0);
    ck_assert_int_eq(
        outputs_add(&outputs, &(struct output){output, "--out", .may_replace = may_replace}, err),
        0);
    int code = outputs_check(&outputs, file_kind_look, err);
    outputs_free(&outputs);
    return code;
}

START_TEST(test_input_is_kept)
{
    struct error err;
    scratch_write("in", "x", 1);
    ck_assert_int_eq(symlink("in", scratch_path("soft")), 0);
    ck_assert_int_eq(check(scratch_path("in"), scratch_path("in"), ~0U, true, &err), ERROR_USAGE);
    ck_assert_msg(strstr(err.text, "in: --out would overwrite the input") != NULL, "%s", err.text);
    ck_assert_int_eq(check(scratch_path("in"), scratch_path("soft"), ~0U, true, &err), ERROR_USAGE);
    ck_assert_msg(strstr(err.text, "soft: --out would overwrite the input, ") != NULL, "%s",
                  err.text);
    ck_assert_int_eq(check(scratch_path("in"), scratch_path("new"), 0, false, &err), 0);
    ck_assert_int_eq(check(scratch_path("in"), scratch_path("none/new"), 0, false, &err),
                     ERROR_OUTPUT);
    ck_assert_int_eq(scratch_count(), 2);
}
END_TEST

START_TEST(test_two_outputs)
{
    struct outputs outputs = {0};
    struct error err = {0};
    const struct output one = {scratch_path("new"), .option = "--one"};
    const struct output two = {scratch_path("./new"), .option = "--two"};
    const struct output not_wanted = {0};
    ck_assert_int_eq(outputs_add(&outputs, &one, &err), 0);
    ck_assert_int_eq(outputs_add(&outputs, &not_wanted, &err), 0);
    ck_assert_int_eq(outputs_check(&outputs, file_kind_look, &err), 0);
    ck_assert_int_eq(outputs_add(&outputs, &two, &err), 0);
    ck_assert_int_eq(outputs_check(&outputs, file_kind_look, &err), ERROR_USAGE);
    ck_assert_msg(strstr(err.text, "--one and --two would write the same file") != NULL, "%s",
                  err.text);
    outputs_free(&outputs);
    outputs_free(&outputs);
    ck_assert_int_eq(scratch_count(), 0);
}
END_TEST

/* Each kind by its first bytes: PNG 5.2, JPEG B.1.1, TIFF 6.0 section 2, FITS 4.4.1.1, GIF89a 17;
 * our own by what writes them. */
static const struct {
    const char *name, *bytes;
    size_t size;
    enum file_kind kind;
} samples[] = {
    {"png", "\x89PNG\r\n\x1a\n\0\0\0\rIHDR", 16, FILE_PICTURE},
    {"jpeg",
     "\xff\xd8\xff\xe1\0\x10"
     "Exif\0\0MM\0*",
     16, FILE_PICTURE},
    {"tiff", "II*\0\x08\0\0\0\0\0\0\0\0\0\0\0", 16, FILE_PICTURE},
    {"raf", "FUJIFILMCCD-RAW 0201", 20, FILE_PICTURE},
    {"gif", "GIF89a\1\0\1\0", 10, FILE_PICTURE},
    {"heif",
     "\0\0\0\x18"
     "ftypheic",
     12, FILE_PICTURE},
    {"cut-fits", "SIMPLE  =                    T", 30, FILE_FITS},
    {"packed", "\x1f\x8b\x08\0\0\0\0\0", 8, FILE_FITS},
    {"log", "{\"frame\": \"a.jpg\"}\n", 19, FILE_LOG},
    {"rig", "; mine\n\n# too\n [Body Otter]\npixels = 6000x4000\n", 48, FILE_SETTINGS},
    {"rig-bom", "[defaults]\n", 11, FILE_SETTINGS},
    {"index", "ALIDX\r\n\x1a\1\2\3\4", 12, FILE_INDEX},
    {"ini", "[bodyguard]\nname = x\n", 21, FILE_OTHER},
    {"json", "{\"series\": []}\n", 15, FILE_OTHER},
    {"csv", "frame,verdict\r\n", 15, FILE_OTHER},
    {"pdf", "%PDF-1.5\n", 9, FILE_OTHER},
    {"svg", "<?xml version=\"1.0\"?><svg/>", 27, FILE_OTHER},
    {"empty", "", 0, FILE_OTHER},
};

START_TEST(test_kinds)
{
    const char *path = scratch_write(samples[_i].name, samples[_i].bytes, samples[_i].size);
    struct error err;
    enum file_kind kind = file_kind_look(path);
    ck_assert_msg(kind == samples[_i].kind, "%s is %d", path, (int)kind);
    int wanted = kind == FILE_OTHER ? 0 : ERROR_OUTPUT;
    ck_assert_int_eq(check("", path, 0, false, &err), wanted);
    ck_assert_int_eq(check("", path, FILE_KIND_BIT(kind), false, &err), 0);
    ck_assert_int_eq(check("", path, 0, true, &err), 0);
    ck_assert_int_eq(file_kind_look(scratch_path("missing")), FILE_OTHER);
    ck_assert_int_eq(scratch_count(), 1);
}
END_TEST

/* A header of 36 cards, and data behind it or not. */
START_TEST(test_fits_header_alone)
{
    char fits[2 * 2880];
    memset(fits, ' ', sizeof fits);
    memcpy(fits, "SIMPLE  =                    T", 30);
    memcpy(fits + 80, "BITPIX  =                    8", 30);
    memcpy(fits + 160, "NAXIS   =                    0", 30);
    memcpy(fits + 240, "END", 3);
    ck_assert_int_eq(file_kind_look(scratch_write("header", fits, 2880)), FILE_OTHER);
    ck_assert_int_eq(file_kind_look(scratch_write("more", fits, sizeof fits)), FILE_FITS);
    memset(fits + 240, ' ', 3);
    ck_assert_int_eq(file_kind_look(scratch_write("endless", fits, sizeof fits)), FILE_FITS);
}
END_TEST

static const char marked_png[] = "\x89PNG\r\n\x1a\n"
                                 "\0\0\0\4IHDRxxxxcccc"
                                 "\0\0\0\x10tEXtSoftware\0Alidadecccc"
                                 "\0\0\0\1IDATxcccc";
static const char marked_jpeg[] = "\xff\xd8\xff\xe0\0\4xx\xff\xfe\0\x09"
                                  "Alidade\xff\xda\0\4xx";

/* The file with some of its bytes changed, so that one thing about the mark is wrong. */
static enum file_kind kind_with(const char *bytes, size_t size, const char *from, const char *to)
{
    char changed[200];
    size_t length = strlen(from);
    memcpy(changed, bytes, size);
    for (size_t i = 0; i + length <= size; i++) {
        if (memcmp(changed + i, from, length) == 0) {
            memcpy(changed + i, to, length);
        }
    }
    return file_kind_look(scratch_write("drawing", changed, size));
}

START_TEST(test_own_drawings)
{
    size_t png = sizeof marked_png - 1, jpeg = sizeof marked_jpeg - 1;
    ck_assert_int_eq(kind_with(marked_png, png, "IHDR", "IHDR"), FILE_DRAWING);
    ck_assert_int_eq(kind_with(marked_png, png, "Alidade", "Another"), FILE_PICTURE);
    ck_assert_int_eq(kind_with(marked_png, png, "Software", "Softbody"), FILE_PICTURE);
    ck_assert_int_eq(kind_with(marked_png, png, "IHDR", "eXIf"), FILE_PICTURE);
    ck_assert_int_eq(file_kind_look(scratch_write("cut", marked_png, png - 13)), FILE_PICTURE);
    ck_assert_int_eq(kind_with(marked_jpeg, jpeg, "xx", "xx"), FILE_DRAWING);
    ck_assert_int_eq(kind_with(marked_jpeg, jpeg, "Alidade", "Another"), FILE_PICTURE);
    ck_assert_int_eq(kind_with(marked_jpeg, jpeg, "\xff\xe0", "\xff\xe1"), FILE_PICTURE);
    ck_assert_int_eq(file_kind_look(scratch_write("cut", marked_jpeg, jpeg - 6)), FILE_PICTURE);
}
END_TEST

Suite *outputs_suite(void)
{
    Suite *suite = suite_create("outputs");
    TCase *c = scratch_case(suite, "outputs");
    tcase_add_test(c, test_identity_of_files);
    tcase_add_test(c, test_identity_of_what_is_not_there);
    tcase_add_test(c, test_input_is_kept);
    tcase_add_test(c, test_two_outputs);
    tcase_add_loop_test(c, test_kinds, 0, (int)(sizeof samples / sizeof *samples));
    tcase_add_test(c, test_fits_header_alone);
    tcase_add_test(c, test_own_drawings);
    return suite;
}
