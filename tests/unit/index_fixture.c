#include "index_fixture.h"

#include "base/file.h"

#include <check.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

/* Made at most once, and left to the end of the program. */
static unsigned char *bytes;
static size_t bytes_size;
static struct index small;
static struct starfield sky;

void fixture_catalogue(struct catalogue *catalogue)
{
    struct error err = {0};
    struct catalogue_report report;
    const struct catalogue_columns columns = {.has_faintest = true, .faintest = 7};
    int code = catalogue_read(catalogue, &report, "catalogs/stars.tsv", &columns, NULL, NULL, &err);
    ck_assert_msg(code == 0, "%s", err.text);
}

int fixture_build(unsigned char **out, size_t *size, struct build_report *report,
                  struct catalogue *catalogue, const struct build_options *options,
                  struct error *err)
{
    struct file_bytes memory = {0};
    const struct file_target target = {"index", &memory};
    struct file_out file = {0};
    int code = file_out_open_to(&file, &target, err);
    code = code ? code : build_index(file.stream, report, catalogue, options, err);
    if (code) {
        file_out_abandon(&file);
        return code;
    }
    code = file_out_commit(&file, err);
    *out = (unsigned char *)memory.bytes;
    *size = memory.size;
    return code;
}

const unsigned char *fixture_bytes(size_t *size)
{
    fixture_make_index();
    *size = bytes_size;
    return bytes;
}

const struct index *fixture_index(void)
{
    fixture_make_index();
    return &small;
}

const struct starfield *fixture_sky(void)
{
    struct error err = {0};
    if (sky.count == 0) {
        ck_assert_msg(starfield_load(&sky, "catalogs/stars.tsv", 1, &err) == 0, "%s", err.text);
    }
    return &sky;
}

void fixture_make_index(void)
{
    struct error err = {0};
    struct catalogue catalogue = {0};
    struct build_report report;
    const struct build_options options = {
        .name = "bright stars", .source = "test", .faintest = NAN};
    if (bytes) {
        return;
    }
    fixture_catalogue(&catalogue);
    int code = fixture_build(&bytes, &bytes_size, &report, &catalogue, &options, &err);
    catalogue_free(&catalogue);
    ck_assert_msg(code == 0, "%s", err.text);
    code = index_decode(&small, bytes, bytes_size, &err);
    ck_assert_msg(code == 0, "%s", err.text);
}

void fixture_make_both(void)
{
    fixture_make_index();
    fixture_sky();
}

static struct index_file bundled;

void fixture_open_bundled(void)
{
    char name[512];
    const char *build = getenv("BUILD");
    struct error err = {0};
    snprintf(name, sizeof name, "%.400s/hipparcos.alidx", build ? build : "build");
    ck_assert_msg(index_open(&bundled, name, &err) == 0, "%s", err.text);
    fixture_sky();
}

void fixture_close_bundled(void)
{
    index_close(&bundled);
}

const struct index *fixture_bundled(void)
{
    return &bundled.index;
}
