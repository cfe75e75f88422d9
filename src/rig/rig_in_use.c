#include "rig/rig_in_use.h"

#include "base/file.h"

#include <math.h>
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

const struct rig_body *rig_in_use_body(const struct rig_in_use *use,
                                       const struct frame_facts *facts)
{
    const struct rig_body *body = rig_body_of_model(&use->file, facts->camera);
    return use->rig.body_named || !body ? use->rig.body : body;
}
