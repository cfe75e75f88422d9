#include "objects/outline.h"

#include "base/catalogue_table.h"
#include "base/units.h"
#include "objects/object_rows.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { ID, LEVEL, EXTENT, AREA, POINTS };

static const double longest_arcsec = 200000; /* on the plane: 44 degrees from the object */

/* Reads the numbers of a cell, or with NULL counts them; -1 if something else is among them. */
static int read_numbers(struct outline_point *point, const struct table_cell *cell)
{
    const char *at = cell->start, *end = at + cell->length;
    int numbers = 0;
    while (at < end) {
        char *after;
        double value = strtod(at, &after);
        if (after == at || after > end || !(fabs(value) < longest_arcsec)) {
            return -1;
        }
        float plane = (float)(value / 3600 * RAD_PER_DEG);
        if (point) {
            *(numbers % 2 ? &point[numbers / 2].eta : &point[numbers / 2].xi) = plane;
        }
        numbers++;
        for (at = after; at < end && *at == ' '; at++) {
        }
    }
    return numbers;
}

static const struct table_cell *cell_of(const struct catalogue_table *file, int column)
{
    static const struct table_cell none = {"", 0};
    int place = file->column[column];
    return place < file->table.row_cells ? &file->table.row[place] : &none;
}

static int read_line(struct outline_line **line, const struct catalogue_table *file,
                     struct error *err)
{
    const struct table_cell *cell = cell_of(file, POINTS);
    double level = catalogue_table_number(file, LEVEL);
    int numbers = read_numbers(NULL, cell);
    if (!(level >= 0 && level <= 3) || floor(level) != level) {
        return catalogue_table_expected(file, "a level from 0 to 3", err);
    }
    if (numbers < 6 || numbers % 2 || (level == 0 && numbers > 2 * OUTLINE_HULL_MOST)) {
        return catalogue_table_expected(
            file, "three or more points, each of two numbers, at most 128 of a hull", err);
    }
    *line = calloc(1, sizeof **line + sizeof(struct outline_point) * (size_t)(numbers / 2));
    if (!*line) {
        return error_memory(err);
    }
    (*line)->level = (int)level;
    (*line)->extent = catalogue_table_number(file, EXTENT) > 0;
    (*line)->count = numbers / 2;
    read_numbers((*line)->point, cell);
    return 0;
}

static double line_reach(const struct outline_line *line)
{
    double most = 0;
    for (int i = 0; i < line->count; i++) {
        most = fmax(most, hypot(line->point[i].xi, line->point[i].eta));
    }
    return atan(most) * DEG_PER_RAD;
}

/* The outline that the hull of an object begins. */
static int begin_outline(struct outline **all, struct object *object, struct outline_line *hull,
                         const struct catalogue_table *file, struct error *err)
{
    struct outline *outline = calloc(1, sizeof *outline);
    double area = catalogue_table_number(file, AREA);
    if (!outline) {
        return error_memory(err);
    }
    *outline = (struct outline){.next = *all, .area_arcmin2 = area > 0 ? area : 0};
    outline->turn_deg = isfinite(object->angle_deg) ? object->angle_deg : 0;
    outline->reach_deg = line_reach(hull);
    outline->hull = hull;
    object->outline = *all = outline;
    return 0;
}

static void add_line(struct outline *outline, struct outline_line *line)
{
    struct outline_line **end = &outline->lines;
    while (*end) {
        end = &(*end)->next;
    }
    *end = line;
    outline->reach_deg = fmax(outline->reach_deg, line_reach(line));
    outline->brightest = line->level > outline->brightest ? line->level : outline->brightest;
}

/* An object's hull comes first, its lines follow. */
static int take_row(struct outline **all, struct object_cursor *cursor,
                    const struct catalogue_table *file, struct error *err)
{
    struct object *object = object_cursor_seek(cursor, cell_of(file, ID));
    struct outline_line *line = NULL;
    int code = read_line(&line, file, err);
    if (code || !object) {
        free(line);
        return code;
    }
    if (line->level == 0 && !object->outline) {
        code = begin_outline(all, object, line, file, err);
    } else if (line->level > 0 && *all && object->outline == *all) {
        add_line(*all, line);
        return 0;
    } else {
        code = catalogue_table_expected(file, "one hull before the lines of an object", err);
    }
    if (code) {
        free(line);
    }
    return code;
}

int outlines_load(struct outline **all, struct objects *objects, const char *folder,
                  struct error *err)
{
    static const char *const columns[] = {"id", "level", "extent", "area_arcmin2", "points", NULL};
    struct catalogue_table file;
    struct object_cursor cursor = {.objects = objects};
    if (!object_rows_present(folder, "outlines.tsv")) {
        return 0;
    }
    int code = catalogue_table_open(&file, folder, "outlines.tsv", columns, err);
    if (code) {
        return code;
    }
    while (!code && table_next(&file.table)) {
        code = take_row(all, &cursor, &file, err);
    }
    catalogue_table_close(&file);
    return code;
}

void outlines_free(struct outline *all)
{
    while (all) {
        struct outline *next = all->next;
        while (all->lines) {
            struct outline_line *line = all->lines;
            all->lines = line->next;
            free(line);
        }
        free(all->hull);
        free(all);
        all = next;
    }
}

static bool line_contains(const struct outline_line *line, double xi, double eta)
{
    bool inside = false;
    for (int i = 0; i < line->count; i++) {
        const struct outline_point *a = &line->point[i], *b = &line->point[(i + 1) % line->count];
        double share = (eta - a->eta) / (b->eta - a->eta);
        inside ^= (a->eta > eta) != (b->eta > eta) && xi < a->xi + share * (b->xi - a->xi);
    }
    return inside;
}

bool outline_contains(const struct outline *outline, double xi, double eta)
{
    bool inside = false;
    for (const struct outline_line *line = outline->lines; line; line = line->next) {
        inside ^= line->extent && line_contains(line, xi, eta);
    }
    return inside;
}
