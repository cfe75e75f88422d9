#include "rig/rig_in_use.h"

#include "base/file.h"
#include "sky/zone_file.h"

#include <math.h>
#include <stdio.h>
#include <strings.h>
#include <sys/stat.h>

bool rig_in_use_is_empty(const char *name)
{
    struct stat info;
    return stat(name, &info) == 0 && S_ISREG(info.st_mode) && info.st_size == 0;
}

static int read_file(struct rig_file *file, const char *name, struct error *err)
{
    struct file_map map = {0};
    if (rig_in_use_is_empty(name)) {
        return rig_parse(file, "", 0, name, err);
    }
    int code = file_map_open(&map, name, err);
    if (!code) {
        code = rig_parse(file, (const char *)map.bytes, map.size, name, err);
    }
    file_map_close(&map);
    return code;
}

int rig_in_use_read(struct rig_in_use *use, const char *name, const struct rig_choice *choice,
                    struct error *err)
{
    int code = read_file(&use->file, name, err);
    if (!code) {
        code = rig_choose(&use->rig, &use->file, choice, err);
        if (code) {
            error_prefix(err, name);
        }
    }
    return code;
}

static bool lacks_sensor(const struct rig_body *body)
{
    return isnan(body->sensor_width) && body->model[0];
}

bool rig_in_use_asks_cameras(const struct rig_in_use *use)
{
    bool asks = use->file.defaults.camera[0] != '\0';
    for (int i = 0; i < use->file.bodies; i++) {
        asks = asks || lacks_sensor(&use->file.body[i]);
    }
    return asks;
}

/* Four thirds and its halves and the small sensors of compact cameras and telephones are 4:3; those
 * of one inch, and all larger ones, 3:2. */
static double usual_shape(double crop_factor)
{
    const double four_thirds_low = 1.9, four_thirds_high = 2.3, compact = 3.2;
    bool wide =
        crop_factor < four_thirds_low || (crop_factor > four_thirds_high && crop_factor < compact);
    return wide ? 3.0 / 2 : 4.0 / 3;
}

static void take_sensor(struct rig_body *body, const struct known_body *known)
{
    double diagonal_mm = hypot(36, 24) / known->crop_factor;
    double shape =
        body->width_px > 0 ? body->width_px / body->height_px : usual_shape(known->crop_factor);
    body->sensor_height = diagonal_mm / hypot(shape, 1);
    body->sensor_width = shape * body->sensor_height;
}

static int know_body(struct rig_body *body, const struct body_table *table, const char *name,
                     struct error *err)
{
    struct error why = {0};
    const struct known_body *known;
    int code = body_table_look_up(&known, table, body->model, &why);
    if (code) {
        return error_set(err, ERROR_INPUT,
                         "%s: line %ld: the body \"%s\" needs two of pixels, pixel (their pitch) "
                         "and sensor (its size): %s",
                         name, body->entry.line, body->entry.name, why.text);
    }
    take_sensor(body, known);
    return rig_body_complete(body, name, err);
}

static int know_camera(struct rig_in_use *use, const struct body_table *table, const char *camera,
                       struct error *err)
{
    const struct known_body *known;
    struct rig_body *body = &use->typed_body;
    int code = body_table_look_up(&known, table, camera, err);
    if (!code) {
        *body = (struct rig_body){.width_px = NAN,
                                  .height_px = NAN,
                                  .pixel_um = NAN,
                                  .read_noise = NAN,
                                  .efficiency = NAN};
        snprintf(body->entry.name, sizeof body->entry.name, "%.39s", known->model);
        snprintf(body->model, sizeof body->model, "%s", known->model);
        take_sensor(body, known);
        use->rig.body = body;
    }
    return code;
}

int rig_in_use_know_cameras(struct rig_in_use *use, const struct body_table *table,
                            const char *given, const char *name, struct error *err)
{
    const struct rig_defaults *defaults = &use->file.defaults;
    int code = 0;
    for (int i = 0; !code && i < use->file.bodies; i++) {
        if (lacks_sensor(&use->file.body[i])) {
            code = know_body(&use->file.body[i], table, name, err);
        }
    }
    if (!code && given) {
        code = know_camera(use, table, given, err);
        use->rig.body_named = true;
    } else if (!code && defaults->camera[0] && !use->rig.body_named) {
        struct error why = {0};
        code = know_camera(use, table, defaults->camera, &why);
        code = code ? error_set(err, ERROR_INPUT, "%s: line %ld: [defaults] camera: %s", name,
                                defaults->entry.line, why.text)
                    : 0;
    }
    return code;
}

/* The zone that an entry of the settings file tells. */
static int read_zone(struct zone *zone, const char *folder, const char *text,
                     const struct rig_entry *entry, const char *name, struct error *err)
{
    struct error why = {0};
    int code = text[0] ? zone_file_read_any(zone, folder, text, &why) : 0;
    return code ? error_set(err, ERROR_INPUT, "%s: zone of \"%s\" in line %ld: %s", name,
                            entry->name, entry->line, why.text)
                : 0;
}

int rig_in_use_read_zones(struct rig_in_use *use, const char *folder, const char *given,
                          const char *name, struct error *err)
{
    struct rig *rig = &use->rig;
    int code = given ? zone_file_read_any(&use->given_zone, folder, given, err) : 0;
    if (code) {
        return code;
    }
    if (rig->place && !isnan(rig->place->utc_offset_min)) {
        zone_fix(&use->place_zone, rig->place->utc_offset_min);
    } else if (rig->place) {
        code = read_zone(&use->place_zone, folder, rig->place->zone, &rig->place->entry, name, err);
    }
    for (int i = 0; !code && i < use->file.bodies; i++) {
        const struct rig_body *body = &use->file.body[i];
        code = read_zone(&use->body_zone[i], folder, body->zone, &body->entry, name, err);
    }
    rig->zone = given ? &use->given_zone : NULL;
    rig->place_zone = zone_is_known(&use->place_zone) ? &use->place_zone : NULL;
    rig->body_zone = use->body_zone;
    rig->file = &use->file;
    return code;
}

void rig_in_use_set_place(struct rig_in_use *use, double latitude_deg, double longitude_deg)
{
    use->typed = (struct rig_place){.latitude_deg = latitude_deg,
                                    .longitude_deg = longitude_deg,
                                    .utc_offset_min = NAN,
                                    .sky_mag = NAN,
                                    .bortle = NAN};
    use->rig.place = &use->typed;
    use->rig.place_named = true;
}

const struct zone *rig_clock(const struct rig *rig, const char *model)
{
    const struct rig_body *body =
        rig->file && !rig->body_named ? rig_body_of_model(rig->file, model) : NULL;
    body = body ? body : rig->body;
    bool of_file = body && rig->body_zone && body >= rig->file->body &&
                   body < rig->file->body + rig->file->bodies;
    const struct zone *zone = of_file ? &rig->body_zone[body - rig->file->body] : NULL;
    if (rig->zone) {
        return rig->zone;
    }
    return zone && zone_is_known(zone) ? zone : rig->place_zone;
}

const struct zone *rig_times_zone(const struct rig *rig)
{
    return rig->zone ? rig->zone : rig->place_zone;
}

const struct rig_body *rig_in_use_body(const struct rig_in_use *use,
                                       const struct frame_facts *facts)
{
    const struct rig_body *body = rig_body_of_model(&use->file, facts->camera);
    return use->rig.body_named || !body ? use->rig.body : body;
}

const struct rig_lens *rig_in_use_lens(const struct rig_in_use *use,
                                       const struct frame_facts *facts)
{
    const struct rig_lens *lens = rig_lens_of_model(&use->file, facts->lens);
    return use->rig.lens_named || !lens ? use->rig.lens : lens;
}

bool rig_in_use_name_lens(struct rig_in_use *use, const char *name)
{
    for (int i = 0; i < use->file.lenses; i++) {
        if (strcasecmp(use->file.lens[i].entry.name, name) == 0) {
            use->rig.lens = &use->file.lens[i];
            use->rig.lens_named = true;
            return true;
        }
    }
    return false;
}
