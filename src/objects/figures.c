#include "objects/figures.h"

#include "base/catalogue_table.h"
#include "sky/vector.h"

#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

enum { CONSTELLATION, LINE, RA, DEC };

/* The points of one line share constellation and number. */
struct figure_reader {
    struct catalogue_table file;
    struct figures *figures;
    int capacity; /* of both lists */
    char number[16];
};

static bool make_room(struct figure_reader *reader)
{
    struct figures *figures = reader->figures;
    if (figures->points < reader->capacity) {
        return true;
    }
    int larger = reader->capacity ? 2 * reader->capacity : 1024;
    double(*point)[3] = realloc(figures->point, sizeof *point * (size_t)larger);
    figures->point = point ? point : figures->point;
    struct figure_line *line = realloc(figures->line, sizeof *line * (size_t)larger);
    figures->line = line ? line : figures->line;
    reader->capacity = point && line ? larger : reader->capacity;
    return point && line;
}

static int read_point(struct figure_reader *reader, struct error *err)
{
    struct figures *figures = reader->figures;
    struct figure_line *last = figures->lines ? &figures->line[figures->lines - 1] : NULL;
    char constellation[8], number[16];
    double ra, dec;
    table_text(&reader->file.table, reader->file.column[CONSTELLATION], constellation,
               sizeof constellation);
    table_text(&reader->file.table, reader->file.column[LINE], number, sizeof number);
    if (strlen(constellation) != 3) {
        return catalogue_table_expected(&reader->file, "an abbreviation of three letters", err);
    }
    if (!last || strcmp(last->constellation, constellation) != 0 ||
        strcmp(reader->number, number) != 0) {
        last = &figures->line[figures->lines++];
        *last = (struct figure_line){.first = figures->points};
        memcpy(last->constellation, constellation, sizeof last->constellation);
        memcpy(reader->number, number, sizeof reader->number);
    }
    int code = catalogue_table_place(&ra, &dec, &reader->file, RA, DEC, err);
    if (!code) {
        vector_from_radec(figures->point[figures->points++], ra, dec);
        last->count++;
    }
    return code;
}

int figures_load(struct figures *figures, const char *folder, struct error *err)
{
    static const char *const columns[] = {"constellation", "line", "ra_deg", "dec_deg", NULL};
    struct figure_reader reader = {.figures = figures};
    memset(figures, 0, sizeof *figures);
    int code = catalogue_table_open(&reader.file, folder, "constellation-lines.tsv", columns, err);
    if (code) {
        return code;
    }
    while (!code && table_next(&reader.file.table)) {
        code = make_room(&reader) ? read_point(&reader, err) : error_memory(err);
    }
    catalogue_table_close(&reader.file);
    if (code) {
        figures_free(figures);
    }
    return code;
}

void figures_free(struct figures *figures)
{
    free(figures->point);
    free(figures->line);
    memset(figures, 0, sizeof *figures);
}
