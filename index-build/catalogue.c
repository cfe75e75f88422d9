#include "catalogue.h"

#include "fits_shape.h"
#include "read_stars.h"
#include "sky/vector.h"

#include <limits.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

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
    for (int i = 0; i < 3; i++) {
        star.v[i] = (int32_t)lrint(v[i] * INT32_MAX);
    }
    return catalogue_append(catalogue, &star, 1);
}

void catalogue_free(struct catalogue *catalogue)
{
    free(catalogue->star);
    memset(catalogue, 0, sizeof *catalogue);
}

static bool begins(const struct file_map *map, const char *bytes, size_t length)
{
    return map->size >= length && memcmp(map->bytes, bytes, length) == 0;
}

/* The XML form of a table is common enough to be told apart from a broken text file. */
static bool is_xml(const struct file_map *map)
{
    return begins(map, "<?xml", 5) || begins(map, "<VOTABLE", 8) || begins(map, "\xef\xbb\xbf<", 4);
}

static int read_mapped(struct catalogue *catalogue, struct row_tally *tally,
                       struct star_columns *columns, const struct file_map *map,
                       const struct read_task *task, struct error *err)
{
    if (begins(map, "SIMPLE  =", 9)) {
        int code = fits_shape_check(map->bytes, map->size, task->name, err);
        return code ? code : read_fits_table_stars(catalogue, tally, columns, task, err);
    }
    if (begins(map, "\x1f\x8b", 2)) {
        return error_set(err, ERROR_INPUT, "%s: is compressed; unpack it first (gunzip)",
                         task->name);
    }
    if (is_xml(map)) {
        return error_set(err, ERROR_INPUT,
                         "%s: is XML; expected a FITS table, or text with a header row and cells "
                         "parted by comma, tab, semicolon or bar",
                         task->name);
    }
    return read_text_stars(catalogue, tally, columns, map, task, err);
}

/* The epoch that the positions will have once read. */
static double epoch_of(const struct catalogue_columns *wanted)
{
    return wanted->to_epoch > 0     ? wanted->to_epoch
           : wanted->from_epoch > 0 ? wanted->from_epoch
                                    : 2000;
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

int catalogue_read(struct catalogue *catalogue, struct catalogue_report *report, const char *name,
                   const struct catalogue_columns *columns, catalogue_progress progress,
                   void *context, struct error *err)
{
    long before = catalogue->count;
    struct file_map map = {0};
    struct star_columns found = {0};
    struct row_tally tally = {0};
    const struct read_task task = {name, columns, progress, context};

    double epoch = epoch_of(columns);
    if (before > 0 && catalogue->epoch_year != epoch) {
        return error_set(err, ERROR_INPUT, "%s: is for %.8g, the stars read before it for %.8g",
                         name, epoch, catalogue->epoch_year);
    }
    int code = file_map_open(&map, name, err);
    if (!code) {
        code = read_mapped(catalogue, &tally, &found, &map, &task, err);
    }
    if (!code) {
        row_tally_warn(&tally, &found);
        code = check_usable(&tally.report, name, err);
    }
    file_map_close(&map);
    *report = tally.report;
    if (code) {
        catalogue->count = before;
        return code;
    }
    catalogue->epoch_year = epoch;
    return 0;
}
