#include "rig/body_table.h"

#include "base/catalogue_table.h"
#include "base/text.h"
#include "image/scale_hint.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

enum { MAKER, MODEL, CROP_FACTOR };

static const char *const columns[] = {
    [MAKER] = "maker", [MODEL] = "model", [CROP_FACTOR] = "crop_factor", NULL};

static int read_body(struct known_body *body, const struct catalogue_table *from, struct error *err)
{
    const double smallest = 0.2, largest = 30;
    table_text(&from->table, from->column[MAKER], body->maker, sizeof body->maker);
    table_text(&from->table, from->column[MODEL], body->model, sizeof body->model);
    body->crop_factor = catalogue_table_number(from, CROP_FACTOR);
    if (!body->maker[0] || !body->model[0]) {
        return catalogue_table_expected(from, "a maker and a model", err);
    }
    if (!(body->crop_factor >= smallest && body->crop_factor <= largest)) {
        return catalogue_table_expected(from, "a crop factor of 0.2 to 30", err);
    }
    return 0;
}

static int read_bodies(struct body_table *table, struct catalogue_table *from, struct error *err)
{
    int room = 0, code = 0;
    while (!code && table_next(&from->table)) {
        if (table->bodies == room) {
            room = room ? 2 * room : 1024;
            struct known_body *more = realloc(table->body, (size_t)room * sizeof *more);
            if (!more) {
                return error_memory(err);
            }
            table->body = more;
        }
        code = read_body(&table->body[table->bodies++], from, err);
    }
    return code;
}

int body_table_load(struct body_table *table, const char *folder, struct error *err)
{
    struct catalogue_table from = {0};
    memset(table, 0, sizeof *table);
    int code = catalogue_table_open(&from, folder, "bodies.tsv", columns, err);
    if (!code) {
        code = read_bodies(table, &from, err);
    }
    catalogue_table_close(&from);
    if (code) {
        body_table_free(table);
    }
    return code;
}

void body_table_free(struct body_table *table)
{
    free(table->body);
    memset(table, 0, sizeof *table);
}

static bool same_first_word(const char *a, const char *b)
{
    size_t length = strcspn(a, " ");
    return length == strcspn(b, " ") && strncasecmp(a, b, length) == 0;
}

/* Readers of raw files shorten "EXAMPLE CORPORATION" to "Example", and a maker's name that the
 * model repeats is written once; but the model always comes last. */
static bool is_body(const struct known_body *body, const char *camera)
{
    size_t all = strlen(camera), length = strlen(body->model);
    if (length > all || strcasecmp(camera + all - length, body->model) != 0) {
        return false;
    }
    return length == all ||
           (camera[all - length - 1] == ' ' && same_first_word(camera, body->maker));
}

const struct known_body *body_table_find(const struct body_table *table, const char *camera)
{
    const struct known_body *best = NULL;
    for (int i = 0; i < table->bodies; i++) {
        const struct known_body *body = &table->body[i];
        if (is_body(body, camera) && (!best || strlen(body->model) > strlen(best->model))) {
            best = body;
        }
    }
    return best;
}

static bool has_part(const char *whole, const char *part)
{
    size_t length = strlen(part);
    for (; length && strlen(whole) >= length; whole++) {
        if (strncasecmp(whole, part, length) == 0) {
            return true;
        }
    }
    return false;
}

int body_table_look_up(const struct known_body **body, const struct body_table *table,
                       const char *name, struct error *err)
{
    char list[BODY_TABLE_HINTS * 50] = "";
    const struct known_body *like = NULL;
    int found = 0;
    *body = body_table_find(table, name);
    for (int i = 0; !*body && i < table->bodies; i++) {
        if (has_part(table->body[i].model, name)) {
            like = &table->body[i];
            if (found++ < BODY_TABLE_HINTS) {
                text_append(list, sizeof list, "%s%s", found > 1 ? ", " : "", like->model);
            }
        }
    }
    if (!*body && found == 1) {
        *body = like;
    }
    return *body   ? 0
           : found ? error_set(err, ERROR_USAGE, "several cameras are called \"%.40s\": %s%s", name,
                               list, found > BODY_TABLE_HINTS ? ", and more" : "")
                   : error_set(err, ERROR_USAGE,
                               "no camera of the table is called \"%.40s\": give the model as the "
                               "camera writes it into its files",
                               name);
}

static bool has_sensor_shape(double width, double height)
{
    double shape = fmax(width, height) / fmin(width, height);
    return fabs(shape / (3.0 / 2) - 1) < 0.015 || fabs(shape / (4.0 / 3) - 1) < 0.015;
}

void body_table_note_pitch(struct frame_facts *facts, const struct body_table *table, int width,
                           int height)
{
    double scale = scale_since_taken(facts, width, height);
    const struct known_body *body =
        facts->pixel_um.origin == FACT_UNKNOWN && !isnan(scale) && has_sensor_shape(width, height)
            ? body_table_find(table, facts->camera)
            : NULL;
    if (body) {
        double diagonal_um = 1000 * hypot(36, 24) / body->crop_factor;
        facts->pixel_um =
            (struct fact){diagonal_um / hypot(width, height), FACT_BODY,
                          scale == 1 ? "size of this camera's sensor"
                                     : "size of this camera's sensor, picture resized"};
    }
}
