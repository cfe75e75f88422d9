#include "catalogue.h"

#include "base/file.h"
#include "fits_shape.h"
#include "read_stars.h"
#include "match/index.h"
#include "sky/vector.h"

#include <limits.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static bool make_room(struct catalogue *catalogue, long more)
{
    if (more > LONG_MAX - catalogue->count) {
        return false;
    }
    long need = catalogue->count + more;
    if (need <= catalogue->capacity) {
        return true;
    }
    /* Growing by a quarter: with 25 million stars, the room to spare counts. */
    long capacity = catalogue->capacity + catalogue->capacity / 4 + 1024;
    capacity = capacity < need ? need : capacity;
    if ((size_t)capacity > SIZE_MAX / sizeof *catalogue->star) {
        return false;
    }
    void *star = realloc(catalogue->star, (size_t)capacity * sizeof *catalogue->star);
    if (!star) {
        return false;
    }
    catalogue->star = star;
    catalogue->capacity = capacity;
    return true;
}

bool catalogue_append(struct catalogue *catalogue, const struct catalogue_star *star, long count)
{
    if (!make_room(catalogue, count)) {
        return false;
    }
    if (count > 0) {
        memcpy(catalogue->star + catalogue->count, star, (size_t)count * sizeof *star);
        catalogue->count += count;
    }
    return true;
}

bool catalogue_add(struct catalogue *catalogue, double ra_deg, double dec_deg, double mag,
                   double b_v, uint64_t id)
{
    double v[3];
    vector_from_radec(v, ra_deg, dec_deg);
    struct catalogue_star star = {
        .mag = (int16_t)lrint(mag * 1000),
        .colour = fabs(b_v) <= 30 ? (int16_t)lrint(b_v * 1000) : (int16_t)CATALOGUE_NO_COLOUR,
        .id = id,
    };
    index_set_place(star.place, v);
    return catalogue_append(catalogue, &star, 1);
}

void catalogue_free(struct catalogue *catalogue)
{
    free(catalogue->star);
    memset(catalogue, 0, sizeof *catalogue);
}

static bool begins(const struct input *input, const char *bytes)
{
    size_t length = strlen(bytes);
    return input->head_size >= length && memcmp(input->head, bytes, length) == 0;
}

/* A document of XML, whose first mark may stand behind a byte order mark and blanks. */
static bool is_xml(const struct input *input)
{
    static const char *const wide[] = {"\xff\xfe<", "\xfe\xff"};
    size_t at = begins(input, "\xef\xbb\xbf") ? 3 : 0;
    while (at < input->head_size && strchr(" \t\r\n", input->head[at]) && input->head[at]) {
        at++;
    }
    return (at < input->head_size && input->head[at] == '<') || begins(input, wide[0]) ||
           (begins(input, wide[1]) && input->head_size > 3 && input->head[3] == '<');
}

static int read_mapped_fits(struct catalogue *catalogue, struct row_tally *tally,
                            struct star_columns *columns, const char *path,
                            const struct read_task *task, struct error *err)
{
    struct file_map map = {0};
    int code = file_map_open(&map, path, err);
    code = code ? code : fits_shape_check(map.bytes, map.size, task->name, err);
    file_map_close(&map);
    return code ? code : read_fits_table_stars(catalogue, tally, columns, path, task, err);
}

static int read_fits(struct catalogue *catalogue, struct row_tally *tally,
                     struct star_columns *columns, struct input *input,
                     const struct read_task *task, struct error *err)
{
    char path[32];
    int unpacked = -1;
    if (!input->packed) {
        return read_mapped_fits(catalogue, tally, columns, task->name, task, err);
    }
    int code = input_unpack(input, &unpacked, path, err);
    if (!code) {
        code = read_mapped_fits(catalogue, tally, columns, path, task, err);
        close(unpacked);
    }
    return code;
}

static int read_input(struct catalogue *catalogue, struct row_tally *tally,
                      struct star_columns *columns, struct input *input,
                      const struct read_task *task, struct error *err)
{
    const struct catalogue_columns *wanted = task->wanted;
    bool fits = begins(input, "SIMPLE  ="), text = !fits && !is_xml(input);
    if (!text && (wanted->columns || wanted->describe)) {
        return error_set(err, ERROR_INPUT, "%s: names its columns itself; %s is for text",
                         task->name, wanted->columns ? "--columns" : "--describe");
    }
    if (text && wanted->table) {
        return error_set(err, ERROR_INPUT,
                         "%s: is text, which holds one table; --table is for others", task->name);
    }
    if (fits) {
        return read_fits(catalogue, tally, columns, input, task, err);
    }
    return !text ? read_votable_stars(catalogue, tally, columns, input, task, err)
                 : read_text_stars(catalogue, tally, columns, input, task, err);
}

static int check_usable(const struct catalogue_report *report, const char *name, struct error *err)
{
    if (report->used > 0) {
        return 0;
    }
    if (report->bad > 0) {
        return error_set(err, ERROR_INPUT, "%s: none of %ld rows is usable; %s %ld: %s", name,
                         report->rows, report->rows_are_lines ? "line" : "row",
                         report->sample[0].line, report->sample[0].reason);
    }
    if (report->left_out > 0) {
        return error_set(err, ERROR_INPUT, "%s: all %ld stars are beyond the magnitudes wanted",
                         name, report->left_out);
    }
    return error_set(err, ERROR_INPUT, "%s: the table has no rows", name);
}

/* The year that the stars just read are for, which must be that of those before. */
static int settle_epoch(struct catalogue *catalogue, long before, const struct row_tally *tally,
                        const struct star_columns *columns, const char *name, struct error *err)
{
    double epoch = columns->to_epoch > 0 ? columns->to_epoch : tally->epoch_least;
    if (before > 0 && fabs(catalogue->epoch_year - epoch) > 0.01) {
        return error_set(err, ERROR_INPUT,
                         "%s: is for %.8g, the stars read before it for %.8g; bring both to one "
                         "year with --epoch",
                         name, epoch, catalogue->epoch_year);
    }
    catalogue->epoch_year = epoch;
    return 0;
}

int catalogue_read(struct catalogue *catalogue, struct catalogue_report *report, const char *name,
                   const struct catalogue_columns *columns, catalogue_progress progress,
                   void *context, struct error *err)
{
    long before = catalogue->count;
    struct input input = {0};
    struct star_columns found = {0};
    struct row_tally tally = {0};
    const struct read_task task = {name, columns, progress, context};

    int code = input_open(&input, name, err);
    if (!code) {
        code = read_input(catalogue, &tally, &found, &input, &task, err);
    }
    if (!code) {
        row_tally_warn(&tally, &found);
        code = check_usable(&tally.report, name, err);
    }
    code = code ? code : row_tally_check(&tally, &found, name, err);
    code = code ? code : settle_epoch(catalogue, before, &tally, &found, name, err);
    input_close(&input);
    *report = tally.report;
    if (code) {
        catalogue->count = before;
    }
    return code;
}
