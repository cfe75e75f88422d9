#include "objects/objects.h"

#include "base/catalogue_table.h"
#include "base/units.h"
#include "base/utf8.h"
#include "objects/object_rows.h"
#include "objects/object_store.h"

#include <math.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { TEXT_BLOCK = 1 << 17, LONGEST_TEXT = 2000 };

static const char *const type_words[OBJECT_TYPES] = {
    [OBJECT_STAR] = "star",
    [OBJECT_DOUBLE_STAR] = "double star",
    [OBJECT_ASTERISM] = "asterism",
    [OBJECT_STAR_CLOUD] = "star cloud",
    [OBJECT_OPEN_CLUSTER] = "open cluster",
    [OBJECT_GLOBULAR_CLUSTER] = "globular cluster",
    [OBJECT_EMISSION_NEBULA] = "emission nebula",
    [OBJECT_REFLECTION_NEBULA] = "reflection nebula",
    [OBJECT_BRIGHT_NEBULA] = "bright nebula",
    [OBJECT_STAR_FORMING_REGION] = "star forming region",
    [OBJECT_PLANETARY_NEBULA] = "planetary nebula",
    [OBJECT_SUPERNOVA_REMNANT] = "supernova remnant",
    [OBJECT_DARK_NEBULA] = "dark nebula",
    [OBJECT_GALAXY] = "galaxy",
    [OBJECT_GALAXY_GROUP] = "galaxy group",
    [OBJECT_GALAXY_CLUSTER] = "galaxy cluster",
    [OBJECT_PLANET] = "planet",
    [OBJECT_MOON] = "moon",
};

const char *object_type_word(enum object_type type)
{
    return (unsigned)type < OBJECT_TYPES ? type_words[type] : "object";
}

/* Room for size bytes that stays where it is; NULL when memory is short. */
static char *store_room(struct object_store *store, size_t size)
{
    struct text_block *block = store->texts;
    if (!block || block->size - block->used < size) {
        block = malloc(sizeof *block + TEXT_BLOCK);
        if (!block) {
            return NULL;
        }
        *block = (struct text_block){store->texts, 0, TEXT_BLOCK};
        store->texts = block;
    }
    char *room = block->text + block->used;
    block->used += size;
    return room;
}

/* A name goes to terminals, pages and drawings: what would speak to these, whoever wrote the table,
 * becomes "?". */
static void clean_text(char *text)
{
    char clean[LONGEST_TEXT + 1];
    const char *odd = text;
    while (*odd >= ' ' && *odd <= '~') {
        odd++;
    }
    if (*odd) {
        utf8_shown(clean, sizeof clean, text);
        strcpy(text, clean);
    }
}

static const char *store_text(struct object_store *store, const char *text, size_t length)
{
    if (length == 0) {
        return "";
    }
    char *copy = store_room(store, length + 1);
    if (copy) {
        memcpy(copy, text, length);
        copy[length] = '\0';
        clean_text(copy);
    }
    return copy;
}

static const char *store_cell(struct object_store *store, const struct catalogue_table *file,
                              int column)
{
    int place = file->column[column];
    if (place >= file->table.row_cells) {
        return "";
    }
    const struct table_cell *cell = &file->table.row[place];
    size_t length = cell->length < LONGEST_TEXT ? cell->length : LONGEST_TEXT;
    return store_text(store, cell->start, length);
}

/* A new object at the end, all zeros; NULL when memory is short. */
static struct object *add_object(struct objects *objects, int *capacity)
{
    if (objects->count == *capacity) {
        int larger = *capacity ? 2 * *capacity : 16384;
        struct object *grown = realloc(objects->object, sizeof *grown * (size_t)larger);
        if (!grown) {
            return NULL;
        }
        objects->object = grown;
        *capacity = larger;
    }
    struct object *object = &objects->object[objects->count++];
    memset(object, 0, sizeof *object);
    return object;
}

static int read_type(enum object_type *type, const struct catalogue_table *file, int column,
                     struct error *err)
{
    char word[40];
    table_text(&file->table, file->column[column], word, sizeof word);
    for (int i = 0; i < OBJECT_PLANET; i++) {
        if (strcmp(word, type_words[i]) == 0) {
            *type = (enum object_type)i;
            return 0;
        }
    }
    return catalogue_table_expected(file, "a type of object, such as galaxy or open cluster", err);
}

enum { ID, RA, DEC, TYPE, MAGNITUDE, MAJOR, MINOR, ANGLE, OTHER_NAMES, COMMON_NAME, USUAL_NAME };

static int read_object(struct object *object, struct object_store *store,
                       const struct catalogue_table *file, struct error *err)
{
    object->id = store_cell(store, file, ID);
    object->other_names = store_cell(store, file, OTHER_NAMES);
    object->common_names = store_cell(store, file, COMMON_NAME);
    object->usual_name = store_cell(store, file, USUAL_NAME);
    if (!object->id || !object->other_names || !object->common_names || !object->usual_name) {
        return error_memory(err);
    }
    if (!*object->id) {
        return catalogue_table_expected(file, "a designation in the column id", err);
    }
    object->magnitude = catalogue_table_number(file, MAGNITUDE);
    object->magnitude_error = NAN;
    object->major_arcmin = catalogue_table_number(file, MAJOR);
    object->minor_arcmin = catalogue_table_number(file, MINOR);
    object->angle_deg = catalogue_table_number(file, ANGLE);
    int code = read_type(&object->type, file, TYPE, err);
    return code ? code
                : catalogue_table_place(&object->ra_deg, &object->dec_deg, file, RA, DEC, err);
}

static int load_deep_sky(struct objects *objects, int *capacity, const char *folder,
                         struct error *err)
{
    static const char *const columns[] = {
        "id",           "ra_deg",    "dec_deg",     "type",        "magnitude",  "major_arcmin",
        "minor_arcmin", "angle_deg", "other_names", "common_name", "usual_name", NULL};
    struct catalogue_table file;
    int code = catalogue_table_open(&file, folder, "objects.tsv", columns, err);
    if (code) {
        return code;
    }
    while (!code && table_next(&file.table)) {
        struct object *object = add_object(objects, capacity);
        code = object ? read_object(object, objects->store, &file, err) : error_memory(err);
    }
    catalogue_table_close(&file);
    objects->deep_sky = objects->count;
    return code;
}

enum { HIP, STAR_RA, STAR_DEC, V_MAG, NAME, BAYER, FLAMSTEED, VARIABLE, GLIESE, HD, CONSTELLATION };

/* The designations of a star, the first of them meant for its id. */
struct designations {
    char text[300];
    size_t length;
};

/* Adds before + cell + after, unless the cell is empty. */
static void add_designation(struct designations *all, const struct catalogue_table *file,
                            int column, const char *before, const char *after)
{
    char word[80];
    table_text(&file->table, file->column[column], word, sizeof word);
    if (!*word) {
        return;
    }
    size_t room = sizeof all->text - all->length;
    int length = snprintf(all->text + all->length, room, "%s%s%s%s", all->length ? ";" : "", before,
                          word, after);
    if (length > 0 && (size_t)length < room) {
        all->length += (size_t)length;
    } else {
        all->text[all->length] = '\0';
    }
}

static void read_designations(struct designations *all, const struct catalogue_table *file)
{
    char constellation[8], after[10];
    table_text(&file->table, file->column[CONSTELLATION], constellation, sizeof constellation);
    snprintf(after, sizeof after, " %s", constellation);
    all->length = 0;
    all->text[0] = '\0';
    add_designation(all, file, NAME, "", "");
    if (*constellation) {
        add_designation(all, file, BAYER, "", after);
        add_designation(all, file, FLAMSTEED, "", after);
        add_designation(all, file, VARIABLE, "", after);
    }
    add_designation(all, file, GLIESE, "", "");
    add_designation(all, file, HIP, "HIP ", "");
    add_designation(all, file, HD, "HD ", "");
}

static int read_star(struct object *star, struct object_store *store,
                     const struct catalogue_table *file, struct error *err)
{
    struct designations all;
    read_designations(&all, file);
    size_t first = strcspn(all.text, ";");
    star->id = store_text(store, all.text, first);
    star->other_names =
        first < all.length ? store_text(store, all.text + first + 1, all.length - first - 1) : "";
    if (!star->id || !star->other_names) {
        return error_memory(err);
    }
    if (!*star->id) {
        return catalogue_table_expected(file, "a star with a name or a number", err);
    }
    star->common_names = "";
    star->type = OBJECT_STAR;
    star->magnitude = catalogue_table_number(file, V_MAG);
    star->magnitude_error = 0;
    star->major_arcmin = star->minor_arcmin = star->angle_deg = NAN;
    return catalogue_table_place(&star->ra_deg, &star->dec_deg, file, STAR_RA, STAR_DEC, err);
}

static int load_stars(struct objects *objects, int *capacity, const char *folder, struct error *err)
{
    static const char *const columns[] = {"hip",    "ra_deg", "dec_deg",       "v_mag",
                                          "name",   "bayer",  "flamsteed",     "variable",
                                          "gliese", "hd",     "constellation", NULL};
    struct catalogue_table file;
    int code = catalogue_table_open(&file, folder, "star-names.tsv", columns, err);
    if (code) {
        return code;
    }
    while (!code && table_next(&file.table)) {
        struct object *star = add_object(objects, capacity);
        code = star ? read_star(star, objects->store, &file, err) : error_memory(err);
    }
    catalogue_table_close(&file);
    return code;
}

static int load_endings(struct object_store *store, const char *folder, struct error *err)
{
    struct constellations constellations = {.count = 0};
    int code = constellations_load(&constellations, folder, err);
    if (!code) {
        name_endings_make(&store->endings, &constellations);
    }
    return code;
}

int objects_load(struct objects *objects, const char *folder, struct error *err)
{
    memset(objects, 0, sizeof *objects);
    objects->store = calloc(1, sizeof *objects->store);
    if (!objects->store) {
        return error_memory(err);
    }
    snprintf(objects->store->folder, sizeof objects->store->folder, "%s", folder);
    int capacity = 0;
    int code = load_endings(objects->store, folder, err);
    if (!code) {
        code = load_deep_sky(objects, &capacity, folder, err);
    }
    if (!code) {
        code = object_rows_load_ngc(objects, folder, err);
    }
    if (!code) {
        code = outlines_load(&objects->store->outlines, objects, folder, err);
    }
    if (!code) {
        code = load_stars(objects, &capacity, folder, err);
    }
    if (code) {
        objects_free(objects);
    }
    return code;
}

void objects_free(struct objects *objects)
{
    while (objects->store && objects->store->texts) {
        struct text_block *block = objects->store->texts;
        objects->store->texts = block->next;
        free(block);
    }
    if (objects->store) {
        outlines_free(objects->store->outlines);
        free(atomic_load(&objects->store->keys));
    }
    free(objects->store);
    free(objects->object);
    memset(objects, 0, sizeof *objects);
}

double object_area_arcmin2(const struct object *object)
{
    if (object->outline && object->outline->area_arcmin2 > 0) {
        return object->outline->area_arcmin2;
    }
    return PI / 4 * object->major_arcmin * object->minor_arcmin;
}

void object_title(char *out, size_t size, const struct object *object)
{
    const char *name = *object->common_names ? object->common_names : object->id;
    snprintf(out, size, "%.*s", (int)strcspn(name, ";"), name);
}
