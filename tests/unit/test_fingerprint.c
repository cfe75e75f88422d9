/* What a file is known by. */
#include "base/fingerprint.h"
#include "scratch.h"

#include <errno.h>
#include <stdbool.h>
#include <sys/stat.h>

Suite *fingerprint_suite(void);

/* From memory of the authors' own table of test values (draft-eastlake-fnv). */
START_TEST(test_published_values)
{
    ck_assert_uint_eq(fingerprint_feed(FINGERPRINT_START, "", 0), UINT64_C(0xcbf29ce484222325));
    ck_assert_uint_eq(fingerprint_feed(FINGERPRINT_START, "a", 1), UINT64_C(0xaf63dc4c8601ec8c));
    ck_assert_uint_eq(fingerprint_feed(FINGERPRINT_START, "foobar", 6),
                      UINT64_C(0x85944171f73967e8));
    uint64_t piece = fingerprint_feed(FINGERPRINT_START, "foo", 3);
    ck_assert_uint_eq(fingerprint_feed(piece, "bar", 3), UINT64_C(0x85944171f73967e8));
}
END_TEST

static uint64_t digest_of(const char *name)
{
    uint64_t digest = 0;
    long long bytes = 0;
    struct error err = {0};
    struct stat info;
    int code = fingerprint_read(&digest, &bytes, name, &err);
    ck_assert_msg(code == 0, "%s", err.text);
    ck_assert_int_eq(stat(name, &info), 0);
    ck_assert_int_eq(bytes, info.st_size);
    ck_assert_uint_ne(digest, 0);
    return digest;
}

/* A short file counts whole: whichever byte is another, so is the digest. */
START_TEST(test_short_file)
{
    enum { LENGTH = 300 };
    char text[LENGTH];
    memset(text, 'x', sizeof text);
    uint64_t digest = digest_of(scratch_write("a", text, sizeof text));
    ck_assert_uint_eq(digest, fingerprint_feed(FINGERPRINT_START, text, sizeof text));
    ck_assert_uint_eq(digest, digest_of(scratch_write("b", text, sizeof text)));
    ck_assert_uint_ne(digest, digest_of(scratch_write("c", text, sizeof text - 1)));
    for (int i = 0; i < LENGTH; i++) {
        text[i] = 'y';
        ck_assert_uint_ne(digest, digest_of(scratch_write("d", text, sizeof text)));
        text[i] = 'x';
    }
}
END_TEST

/* Of a long file the first and last byte and those of three blocks between count; no more is read.
 */
START_TEST(test_long_file)
{
    const size_t size = (size_t)40 * FINGERPRINT_BLOCK + 123;
    const size_t last = size - FINGERPRINT_BLOCK;
    const struct {
        size_t at;
        bool counts;
    } places[] = {
        {0, true},
        {FINGERPRINT_BLOCK - 1, true},
        {FINGERPRINT_BLOCK, false},
        {last / 4, true},
        {last / 4 * 2, true},
        {last / 4 * 3, true},
        {last, true},
        {last - 1, false},
        {size - 1, true},
    };
    unsigned char *bytes = calloc(1, size);
    ck_assert_ptr_nonnull(bytes);
    uint64_t digest = digest_of(scratch_write("a", bytes, size));
    for (size_t i = 0; i < sizeof places / sizeof places[0]; i++) {
        bytes[places[i].at] ^= 1;
        bool other = digest_of(scratch_write("b", bytes, size)) != digest;
        ck_assert_msg(other == places[i].counts, "place %zu", places[i].at);
        bytes[places[i].at] ^= 1;
    }
    free(bytes);
}
END_TEST

/* From just short of all blocks to just beyond them: the head and the tail always count. */
START_TEST(test_edges)
{
    const size_t most = (size_t)FINGERPRINT_BLOCKS * FINGERPRINT_BLOCK;
    unsigned char *bytes = calloc(1, most + 2);
    ck_assert_ptr_nonnull(bytes);
    for (size_t size = most - 1; size <= most + 1; size++) {
        uint64_t digest = digest_of(scratch_write("a", bytes, size));
        for (size_t at = 0; at < size; at += size - 1) {
            bytes[at] = 1;
            ck_assert_uint_ne(digest, digest_of(scratch_write("b", bytes, size)));
            bytes[at] = 0;
        }
    }
    free(bytes);
}
END_TEST

START_TEST(test_refused)
{
    uint64_t digest = 7;
    long long bytes = 7;
    struct error err = {0};
    ck_assert_int_eq(fingerprint_read(&digest, &bytes, scratch_path("none"), &err), ERROR_INPUT);
    ck_assert_int_eq(err.cause, CAUSE_VANISHED);
    const char *empty = scratch_write("empty", "", 0);
    ck_assert_int_eq(fingerprint_read(&digest, &bytes, empty, &err), ERROR_INPUT);
    ck_assert_int_eq(err.cause, CAUSE_SHORT);
    ck_assert_int_eq(fingerprint_read(&digest, &bytes, scratch_folder, &err), ERROR_INPUT);
    ck_assert_int_eq(err.cause, CAUSE_CONTENT);
    const char *locked = scratch_write("locked", "x", 1);
    ck_assert_int_eq(chmod(locked, 0), 0);
    if (access(locked, R_OK) != 0) { /* root may read all */
        ck_assert_int_eq(fingerprint_read(&digest, &bytes, locked, &err), ERROR_INPUT);
        ck_assert_int_eq(err.cause, CAUSE_PERMISSION);
    }
    ck_assert_uint_eq(digest, 7);
    ck_assert_int_eq(bytes, 7);
}
END_TEST

START_TEST(test_causes)
{
    struct error err = {0};
    for (int cause = 0; cause < ERROR_CAUSES; cause++) {
        const char *key = error_cause_key((enum error_cause)cause);
        ck_assert_int_eq(error_cause_read(key), cause);
    }
    ck_assert_int_eq(error_cause_read("no such"), CAUSE_CONTENT);
    ck_assert_int_eq(error_cause_read(NULL), CAUSE_CONTENT);
    ck_assert_int_eq(error_cause_of(EIO), CAUSE_DEVICE);
    ck_assert_int_eq(error_cause_of(EACCES), CAUSE_PERMISSION);
    ck_assert_int_eq(error_cause_of(ENOENT), CAUSE_VANISHED);
    ck_assert_int_eq(error_cause_of(EINVAL), CAUSE_CONTENT);
    error_because(&err, error_set(&err, ERROR_INPUT, "a"), CAUSE_DEVICE);
    ck_assert_int_eq(err.cause, CAUSE_DEVICE);
    error_set(&err, ERROR_INPUT, "b");
    ck_assert_int_eq(err.cause, CAUSE_CONTENT);
    error_memory(&err);
    ck_assert_int_eq(err.cause, CAUSE_MEMORY);
}
END_TEST

Suite *fingerprint_suite(void)
{
    Suite *suite = suite_create("fingerprint");
    TCase *c = scratch_case(suite, "fingerprint");
    tcase_add_test(c, test_published_values);
    tcase_add_test(c, test_short_file);
    tcase_add_test(c, test_long_file);
    tcase_add_test(c, test_edges);
    tcase_add_test(c, test_refused);
    tcase_add_test(c, test_causes);
    return suite;
}
