#include "rig/rig_in_use.h"

#include "base/file.h"
#include "sky/zone_file.h"

#include <math.h>
#include <stdio.h>
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
    const struct zone *zone =
        body && rig->body_zone ? &rig->body_zone[body - rig->file->body] : NULL;
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
