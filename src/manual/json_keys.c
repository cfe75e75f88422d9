#include "manual/json_keys.h"

#include "base/schema_print.h"
#include "base/text.h"
#include "manual/roff.h"

#include <string.h>

enum { TEXT_SIZE = 1000, PATH_SIZE = 200 };

/* An object that keys are in, and what is around it. */
struct object {
    const char *path; /* the keys around it, each with its point */
    const struct schema *schema;
};

static void write_rows(FILE *out, const struct object *object, const struct schema *schema);

static void write_row(FILE *out, const struct object *object, const struct schema_row *row)
{
    char text[TEXT_SIZE] = "", type[TEXT_SIZE], path[PATH_SIZE];
    schema_write_type(type, sizeof type, row);
    text_append(text, sizeof text, "%s (%s", row->text, type);
    text_append(text, sizeof text, "%s%s)", row->unit ? ", " : "", row->unit ? row->unit : "");
    fprintf(out, ".It Ic %s%s\n", object->path, row->key);
    roff_write_text(out, text);
    if (row->of) {
        const struct object inner = {path, row->of};
        snprintf(path, sizeof path, "%s%s%s.", object->path, row->key,
                 row->kind == SCHEMA_OBJECTS ? "[]" : "");
        write_rows(out, &inner, row->of);
    }
}

/* Of the object or a table that it includes; what has a name of its own is told by that. */
static void write_rows(FILE *out, const struct object *object, const struct schema *schema)
{
    for (const struct schema_row *row = schema->row; row->key || row->of; row++) {
        bool named = row->kind == SCHEMA_INCLUDE && row->of->name;
        if (named && strcmp(row->of->name, object->schema->name) != 0) {
            fprintf(out, ".It further keys\nAll others of\n.Ic %s .\n", row->of->name);
        } else if (row->kind == SCHEMA_INCLUDE) {
            write_rows(out, object, row->of);
        } else if (schema_counts(object->schema, row)) {
            write_row(out, object, row);
        }
    }
}

bool json_keys_write(FILE *out, const struct schema *const *tables, const char *name)
{
    while (*tables && strcmp((*tables)->name, name) != 0) {
        tables++;
    }
    if (!*tables) {
        return false;
    }
    const struct object whole = {"", *tables};
    roff_write_text(out, (*tables)->text);
    fputs(".Bl -tag -width Ds\n", out);
    write_rows(out, &whole, *tables);
    fputs(".El\n", out);
    return true;
}
