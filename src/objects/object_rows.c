#include "objects/object_rows.h"

#include "base/catalogue_table.h"

#include <math.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

static bool is_called(const struct object *object, const struct table_cell *id)
{
    return strlen(object->id) == id->length && memcmp(object->id, id->start, id->length) == 0;
}

struct object *object_cursor_seek(struct object_cursor *cursor, const struct table_cell *id)
{
    const struct objects *objects = cursor->objects;
    for (int tried = 0; tried < objects->deep_sky; tried++) {
        int i = (cursor->at + tried) % objects->deep_sky;
        if (is_called(&objects->object[i], id)) {
            cursor->at = i;
            return &objects->object[i];
        }
    }
    return NULL;
}

bool object_rows_present(const char *folder, const char *file)
{
    char name[4200];
    snprintf(name, sizeof name, "%s/%s", folder, file);
    return access(name, F_OK) == 0;
}

enum { ID, V_MAG, V_ERROR, MAJOR, MINOR, ANGLE };

static int take_row(struct object *object, const struct catalogue_table *file, struct error *err)
{
    double major = catalogue_table_number(file, MAJOR), minor = catalogue_table_number(file, MINOR);
    double magnitude = catalogue_table_number(file, V_MAG),
           angle = catalogue_table_number(file, ANGLE);
    if (!(isnan(major) && isnan(minor)) && !(minor > 0 && minor <= major)) {
        return catalogue_table_expected(file, "minor_arcmin above 0 and up to major_arcmin", err);
    }
    if (!isnan(magnitude)) {
        object->magnitude = magnitude;
        object->magnitude_error = catalogue_table_number(file, V_ERROR);
    }
    if (!isnan(major)) {
        object->major_arcmin = major;
        object->minor_arcmin = minor;
    }
    if (!isnan(angle)) {
        object->angle_deg = angle;
    }
    return 0;
}

int object_rows_load_ngc(struct objects *objects, const char *folder, struct error *err)
{
    static const char *const columns[] = {"id",           "v_mag",     "v_error", "major_arcmin",
                                          "minor_arcmin", "angle_deg", NULL};
    struct catalogue_table file;
    struct object_cursor cursor = {.objects = objects};
    if (!object_rows_present(folder, "ngc.tsv")) {
        return 0;
    }
    int code = catalogue_table_open(&file, folder, "ngc.tsv", columns, err);
    if (code) {
        return code;
    }
    while (!code && table_next(&file.table)) {
        struct object *object = object_cursor_seek(&cursor, &file.table.row[file.column[ID]]);
        code = object ? take_row(object, &file, err) : 0;
    }
    catalogue_table_close(&file);
    return code;
}
