/* tests/unit/scratch.h: a folder of its own for a test's files, removed afterwards. */
#ifndef ALIDADE_TESTS_SCRATCH_H
#define ALIDADE_TESTS_SCRATCH_H

#include <check.h>
#include <dirent.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static char scratch_folder[256];

/* Setup and teardown of a test case: each test finds the folder empty. */
static inline void scratch_make(void)
{
    const char *base = getenv("TMPDIR");
    snprintf(scratch_folder, sizeof scratch_folder, "%.200s/alidade-test-XXXXXX",
             base ? base : "/tmp");
    ck_assert_ptr_nonnull(mkdtemp(scratch_folder));
}

/* Path of a file in the folder; good until the fourth call after this one. */
static inline const char *scratch_path(const char *name)
{
    static char path[4][512];
    static int next;
    next = (next + 1) % 4;
    snprintf(path[next], sizeof path[next], "%s/%.200s", scratch_folder, name);
    return path[next];
}

static inline int scratch_count(void)
{
    int count = 0;
    DIR *folder = opendir(scratch_folder);
    ck_assert_ptr_nonnull(folder);
    for (struct dirent *entry = readdir(folder); entry; entry = readdir(folder)) {
        count += strcmp(entry->d_name, ".") != 0 && strcmp(entry->d_name, "..") != 0;
    }
    closedir(folder);
    return count;
}

static inline void scratch_remove(void)
{
    DIR *folder = opendir(scratch_folder);
    ck_assert_ptr_nonnull(folder);
    for (struct dirent *entry = readdir(folder); entry; entry = readdir(folder)) {
        const char *path = scratch_path(entry->d_name);
        if (strcmp(entry->d_name, ".") != 0 && strcmp(entry->d_name, "..") != 0 &&
            unlink(path) != 0) {
            rmdir(path);
        }
    }
    closedir(folder);
    rmdir(scratch_folder);
}

static inline const char *scratch_write(const char *name, const void *bytes, size_t size)
{
    const char *path = scratch_path(name);
    FILE *file = fopen(path, "wb");
    ck_assert_ptr_nonnull(file);
    ck_assert_uint_eq(fwrite(bytes, 1, size, file), size);
    ck_assert_int_eq(fclose(file), 0);
    return path;
}

/* The whole file, to be freed. */
static inline unsigned char *scratch_read(const char *path, size_t *size)
{
    FILE *file = fopen(path, "rb");
    ck_assert_ptr_nonnull(file);
    fseek(file, 0, SEEK_END);
    *size = (size_t)ftell(file);
    rewind(file);
    unsigned char *bytes = malloc(*size + 1);
    ck_assert_ptr_nonnull(bytes);
    ck_assert_uint_eq(fread(bytes, 1, *size, file), *size);
    bytes[*size] = '\0';
    fclose(file);
    return bytes;
}

/* Adds a case to the suite whose tests each have the folder. */
static inline TCase *scratch_case(Suite *suite, const char *name)
{
    TCase *c = tcase_create(name);
    tcase_add_checked_fixture(c, scratch_make, scratch_remove);
    tcase_set_timeout(c, 60); /* under a sanitizer, on a busy machine */
    suite_add_tcase(suite, c);
    return c;
}

#endif
