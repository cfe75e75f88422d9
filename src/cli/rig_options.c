#include "cli/rig_options.h"

#include "base/file.h"
#include "base/text.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

enum { PATH_SIZE = 4096 };

static const char *variable(const char *name)
{
    const char *value = getenv(name);
    return value && *value ? value : NULL;
}

int rig_file_name(char *out, size_t size, const char *option, struct error *err)
{
    const char *given = option ? option : variable("ALIDADE_RIG");
    const char *config = variable("XDG_CONFIG_HOME"), *home = variable("HOME");
    int length = 0;
    out[0] = '\0';
    if (given) {
        length = snprintf(out, size, "%s", given);
    } else if (config) {
        length = snprintf(out, size, "%s/alidade/rig.ini", config);
    } else if (home) {
        length = snprintf(out, size, "%s/.config/alidade/rig.ini", home);
    }
    if (length <= 0 || (size_t)length >= size) {
        return error_set(err, ERROR_USAGE,
                         "no telling where the settings file is: give it with --rig");
    }
    return 0;
}

bool rig_file_is_empty(const char *name)
{
    struct stat info;
    return stat(name, &info) == 0 && S_ISREG(info.st_mode) && info.st_size == 0;
}

static int read_file(struct rig_file *file, const char *name, struct error *err)
{
    struct file_map map = {0};
    if (rig_file_is_empty(name)) {
        return rig_parse(file, "", 0, name, err);
    }
    int code = file_map_open(&map, name, err);
    if (!code) {
        code = rig_parse(file, (const char *)map.bytes, map.size, name, err);
    }
    file_map_close(&map);
    return code;
}

/* "50.1,10.2"; false if it is no pair of numbers, and so a name. */
static bool read_typed(struct rig_place *place, const char *text)
{
    char latitude[64];
    const char *comma = strchr(text, ',');
    double north, east;
    if (!comma || (size_t)(comma - text) >= sizeof latitude) {
        return false;
    }
    snprintf(latitude, sizeof latitude, "%.*s", (int)(comma - text), text);
    if (!text_read_double(&north, latitude) || !text_read_double(&east, comma + 1)) {
        return false;
    }
    *place = (struct rig_place){.latitude_deg = north,
                                .longitude_deg = east,
                                .utc_offset_min = NAN,
                                .sky_mag = NAN,
                                .bortle = NAN};
    return true;
}

static int check_typed(const struct rig_place *place, struct error *err)
{
    if (fabs(place->latitude_deg) > 90) {
        return error_set(err, ERROR_USAGE, "--place: expected a latitude of -90 to 90, not %g",
                         place->latitude_deg);
    }
    if (fabs(place->longitude_deg) > 180) {
        return error_set(err, ERROR_USAGE, "--place: expected a longitude of -180 to 180, not %g",
                         place->longitude_deg);
    }
    return 0;
}

static int read_and_choose(struct rig_in_use *use, const char *name,
                           const struct rig_choice *choice, struct error *err)
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

int rig_open(struct rig_in_use *use, const struct rig_settings *settings, struct error *err)
{
    char name[PATH_SIZE];
    memset(use, 0, sizeof *use);
    bool typed = settings->place && read_typed(&use->typed, settings->place);
    if (typed && check_typed(&use->typed, err)) {
        return ERROR_USAGE;
    }
    struct rig_choice choice = {settings->body, settings->lens, typed ? NULL : settings->place,
                                settings->head};
    bool named = settings->file || variable("ALIDADE_RIG");
    bool needed = (named && !settings->may_be_new) || choice.body || choice.lens || choice.place ||
                  choice.head;
    int code = rig_file_name(name, sizeof name, settings->file, needed ? err : NULL);
    if (!code && (needed || access(name, F_OK) == 0)) {
        code = read_and_choose(use, name, &choice, err);
    } else if (!needed) {
        code = 0;
    }
    if (typed) {
        use->rig.place = &use->typed;
    }
    return code;
}
