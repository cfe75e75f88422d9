#include "cli/rig_options.h"

#include "base/text.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
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
        return error_set(err, ERROR_USAGE, "cannot locate a settings file: name one with --rig");
    }
    return 0;
}

/* "50.1,10.2"; false if it is no pair of numbers, and so a name. */
static bool read_place(double *latitude_deg, double *longitude_deg, const char *text)
{
    char latitude[64];
    const char *comma = strchr(text, ',');
    if (!comma || (size_t)(comma - text) >= sizeof latitude) {
        return false;
    }
    snprintf(latitude, sizeof latitude, "%.*s", (int)(comma - text), text);
    return text_read_double(latitude_deg, latitude) && text_read_double(longitude_deg, comma + 1);
}

static int check_place(double latitude_deg, double longitude_deg, struct error *err)
{
    if (fabs(latitude_deg) > 90) {
        return error_set(err, ERROR_USAGE, "--place: expected a latitude of -90 to 90, not %g",
                         latitude_deg);
    }
    if (fabs(longitude_deg) > 180) {
        return error_set(err, ERROR_USAGE, "--place: expected a longitude of -180 to 180, not %g",
                         longitude_deg);
    }
    return 0;
}

static int open_zones(struct rig_in_use *use, const char *given, const char *name,
                      struct error *err)
{
    const char *folder = variable("TZDIR");
    struct error why = {0};
    int code =
        rig_in_use_read_zones(use, folder ? folder : "/usr/share/zoneinfo", given, name, &why);
    if (code) {
        error_set(err, code, "%s%s", given && !use->rig.file ? "--zone: " : "", why.text);
    }
    return code;
}

/* The settings file, where it is needed or there. A name that cannot be found out is an error only
 * where it is needed. */
static int read_file(struct rig_in_use *use, char name[PATH_SIZE],
                     const struct rig_settings *settings, const struct rig_choice *choice,
                     struct error *err)
{
    bool named = settings->file || variable("ALIDADE_RIG");
    bool chosen = choice->body || choice->lens || choice->place || choice->head;
    bool needed = chosen || (named && !settings->may_be_new);
    int code = rig_file_name(name, PATH_SIZE, settings->file, needed ? err : NULL);
    if (code) {
        return needed ? code : 0;
    }
    return needed || access(name, F_OK) == 0 ? rig_in_use_read(use, name, choice, err) : 0;
}

int rig_open(struct rig_in_use *use, const struct rig_settings *settings, struct error *err)
{
    char name[PATH_SIZE];
    double latitude_deg, longitude_deg;
    memset(use, 0, sizeof *use);
    if (settings->camera && settings->body) {
        return error_set(err, ERROR_USAGE,
                         "--camera and --body are two answers to one question: "
                         "keep one");
    }
    bool typed = settings->place && read_place(&latitude_deg, &longitude_deg, settings->place);
    if (typed && check_place(latitude_deg, longitude_deg, err)) {
        return ERROR_USAGE;
    }
    const struct rig_choice choice = {settings->body, settings->lens,
                                      typed ? NULL : settings->place, settings->head};
    int code = read_file(use, name, settings, &choice, err);
    if (typed) {
        rig_in_use_set_place(use, latitude_deg, longitude_deg);
    }
    return code ? code : open_zones(use, settings->zone, name, err);
}
