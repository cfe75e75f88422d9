#include "sky/zone_file.h"

#include "base/file.h"
#include "base/options.h"

#include <ctype.h>
#include <dirent.h>
#include <limits.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <strings.h>
#include <unistd.h>

enum { HEADER_SIZE = 44, KIND_SIZE = 6, PATH_SIZE = 4096, FOLDERS_DEEP = 3, MOST_ENTRIES = 5000 };

/* What a header counts, in its order. */
struct counts {
    uint32_t in_utc, in_standard, leaps, changes, kinds, letters;
};

struct source {
    const unsigned char *bytes;
    size_t size;
    const char *name;
    struct error *err;
};

static int refuse(const struct source *source, const char *what)
{
    return error_set(source->err, ERROR_INPUT, "%s: not a time zone: %s", source->name, what);
}

static uint32_t read_u32(const unsigned char *p)
{
    return (uint32_t)p[0] << 24 | (uint32_t)p[1] << 16 | (uint32_t)p[2] << 8 | p[3];
}

static long long read_signed(const unsigned char *p, size_t width)
{
    uint64_t value = width == 8 ? (uint64_t)read_u32(p) << 32 | read_u32(p + 4) : read_u32(p);
    return width == 8 ? (long long)(int64_t)value : (long long)(int32_t)(uint32_t)value;
}

/* Bytes of a block behind its header; times are width bytes long. No sum can overflow: each count
 * has 32 bits. */
static uint64_t block_size(const struct counts *n, size_t width)
{
    return (uint64_t)n->changes * (width + 1) + (uint64_t)n->kinds * KIND_SIZE + n->letters +
           (uint64_t)n->leaps * (width + 4) + n->in_standard + n->in_utc;
}

static int read_header(struct counts *n, const struct source *source, size_t at)
{
    const unsigned char *p = source->bytes + at;
    if (source->size - at < HEADER_SIZE || memcmp(p, "TZif", 4) != 0) {
        return refuse(source, "expected TZif and 40 bytes more of a header");
    }
    *n = (struct counts){read_u32(p + 20), read_u32(p + 24), read_u32(p + 28),
                         read_u32(p + 32), read_u32(p + 36), read_u32(p + 40)};
    return 0;
}

static int read_changes(struct zone *zone, const struct counts *n, const unsigned char *p,
                        size_t width, const struct source *source)
{
    for (uint32_t i = 0; i < n->changes; i++) {
        zone->at[i] = read_signed(p + i * width, width);
        zone->becomes[i] = p[n->changes * width + i];
        if (zone->becomes[i] >= n->kinds || (i > 0 && zone->at[i] <= zone->at[i - 1])) {
            return refuse(source, "expected changes in order, to kinds that it has");
        }
    }
    zone->changes = (int)n->changes;
    return 0;
}

static int read_kinds(struct zone *zone, const struct counts *n, const unsigned char *p,
                      const struct source *source)
{
    const char *letters = (const char *)p + n->kinds * KIND_SIZE;
    for (uint32_t i = 0; i < n->kinds; i++, p += KIND_SIZE) {
        struct zone_kind *kind = &zone->kind[i];
        long long ahead_s = read_signed(p, 4);
        const char *word = letters + p[5];
        const char *stop = p[5] < n->letters ? memchr(word, '\0', n->letters - p[5]) : NULL;
        if (ahead_s < -93599 || ahead_s > 93599 || p[4] > 1) {
            return refuse(source, "expected offsets of less than 26 hours");
        }
        if (!stop || !zone_rule_is_word(word, (size_t)(stop - word))) {
            return refuse(source, "expected 3 to 11 letters for what its clocks show");
        }
        kind->ahead_s = (int)ahead_s;
        kind->summer = p[4];
        memcpy(kind->word, word, (size_t)(stop - word) + 1);
    }
    zone->kinds = (int)n->kinds;
    return 0;
}

static int read_block(struct zone *zone, const struct counts *n, const unsigned char *p,
                      size_t width, const struct source *source)
{
    if (n->leaps) {
        return refuse(source, "it counts leap seconds, which clocks do not");
    }
    if (n->kinds < 1 || n->kinds > ZONE_KINDS || n->changes > ZONE_CHANGES) {
        return refuse(source, "expected 1 to 32 kinds of time and at most 400 changes");
    }
    int code = read_changes(zone, n, p, width, source);
    return code ? code : read_kinds(zone, n, p + n->changes * (width + 1), source);
}

/* The rule between two newlines; none is fine. */
static int read_footer(struct zone *zone, const struct source *source, size_t at)
{
    const char *text = (const char *)source->bytes + at + 1;
    const char *stop = source->size - at >= 2 && text[-1] == '\n'
                           ? memchr(text, '\n', source->size - at - 1)
                           : NULL;
    if (!stop) {
        return refuse(source, "expected a line with its rule at the end");
    }
    if (stop > text && !zone_rule_read(&zone->rule, text, (size_t)(stop - text))) {
        return refuse(source, "expected a rule like CET-1CEST,M3.5.0,M10.5.0/3 at the end");
    }
    return 0;
}

int zone_file_parse(struct zone *zone, const unsigned char *bytes, size_t size, const char *name,
                    struct error *err)
{
    const struct source source = {bytes, size, name, err};
    struct counts n;
    size_t at = HEADER_SIZE, width = 4;
    memset(zone, 0, sizeof *zone);
    int code = read_header(&n, &source, 0);
    if (!code && block_size(&n, width) > size - at) {
        code = refuse(&source, "it ends too early");
    }
    bool old = !code && bytes[4] == '\0';
    if (!code && !old) {
        at += (size_t)block_size(&n, width);
        width = 8;
        code = read_header(&n, &source, at);
        at += HEADER_SIZE;
        if (!code && block_size(&n, width) > size - at) {
            code = refuse(&source, "it ends too early");
        }
    }
    code = code ? code : read_block(zone, &n, bytes + at, width, &source);
    if (!code && !old) {
        code = read_footer(zone, &source, at + (size_t)block_size(&n, width));
    }
    if (code) {
        memset(zone, 0, sizeof *zone);
    }
    return code;
}

/* "Europe/Berlin", "Etc/GMT+1": no way out of the folder. */
static bool is_name(const char *name)
{
    for (const char *p = name; *p; p++) {
        bool inside = p > name && p[1] && *p == '/' && p[-1] != '/';
        if (!isalnum((unsigned char)*p) && !strchr("+-_", *p) && !inside) {
            return false;
        }
    }
    return *name && strlen(name) < ZONE_NAME_SIZE;
}

/* The name in a folder that comes nearest to what was typed. */
struct nearest {
    const char *typed;
    char name[ZONE_NAME_SIZE];
    int distance, seen;
};

static void look_at(struct nearest *nearest, const char *name)
{
    const char *typed = nearest->typed, *slash = strrchr(name, '/');
    const char *town = slash ? slash + 1 : name;
    bool same = strcasecmp(name, typed) == 0 || strcasecmp(town, typed) == 0;
    bool whole = options_is_near(typed, name);
    if (!same && !whole && !(slash && options_is_near(typed, town))) {
        return;
    }
    int distance = same ? 0 : whole ? options_distance(typed, name) : options_distance(typed, town);
    if (distance < nearest->distance ||
        (distance == nearest->distance && strcmp(name, nearest->name) < 0)) {
        nearest->distance = distance;
        snprintf(nearest->name, sizeof nearest->name, "%s", name);
    }
}

/* Goes through the folder and those in it; prefix: of names, "Europe/". */
static void look_through(struct nearest *nearest, const char *folder, const char *prefix, int deep)
{
    DIR *dir = opendir(folder);
    struct dirent *entry;
    while (dir && nearest->seen < MOST_ENTRIES && (entry = readdir(dir))) {
        char path[PATH_SIZE], name[ZONE_NAME_SIZE], inner[ZONE_NAME_SIZE + 1];
        int path_length = snprintf(path, sizeof path, "%s/%s", folder, entry->d_name);
        int length = snprintf(name, sizeof name, "%s%s", prefix, entry->d_name);
        nearest->seen++;
        /* Zones begin with a capital; posix/ and right/ hold all of them again. */
        if (!isupper((unsigned char)entry->d_name[0]) || path_length >= (int)sizeof path ||
            length >= (int)sizeof name || !is_name(name)) {
            continue;
        }
        struct stat info;
        if (stat(path, &info) == 0 && S_ISDIR(info.st_mode)) {
            snprintf(inner, sizeof inner, "%s/", name);
            if (deep < FOLDERS_DEEP) {
                look_through(nearest, path, inner, deep + 1);
            }
        } else {
            look_at(nearest, name);
        }
    }
    if (dir) {
        closedir(dir);
    }
}

static int tell_unknown(const char *folder, const char *name, struct error *err)
{
    struct nearest nearest = {.typed = name, .distance = INT_MAX};
    look_through(&nearest, folder, "", 1);
    if (!nearest.seen) {
        return error_set(err, ERROR_INPUT,
                         "%s: no time zones are there: install the package tzdata, or give an "
                         "offset like +01:00",
                         folder);
    }
    if (nearest.name[0]) {
        return error_set(err, ERROR_USAGE, "\"%s\" is no time zone; did you mean %s?", name,
                         nearest.name);
    }
    return error_set(err, ERROR_USAGE,
                     "\"%s\" is no time zone; expected a name like Europe/Berlin, or an offset "
                     "like +01:00",
                     name);
}

int zone_file_read(struct zone *zone, const char *folder, const char *name, struct error *err)
{
    char path[PATH_SIZE];
    struct file_map map = {0};
    struct stat info;
    memset(zone, 0, sizeof *zone);
    if (!is_name(name) || snprintf(path, sizeof path, "%s/%s", folder, name) >= (int)sizeof path ||
        stat(path, &info) != 0 || S_ISDIR(info.st_mode)) {
        return tell_unknown(folder, name, err);
    }
    int code = file_map_open(&map, path, err);
    code = code ? code : zone_file_parse(zone, map.bytes, map.size, path, err);
    if (!code) {
        snprintf(zone->name, sizeof zone->name, "%s", name);
    }
    file_map_close(&map);
    return code;
}

int zone_file_read_any(struct zone *zone, const char *folder, const char *text, struct error *err)
{
    double minutes;
    if (strcasecmp(text, "Z") == 0 || strcasecmp(text, "UTC") == 0) {
        zone_fix(zone, 0);
        return 0;
    }
    if (time_read_offset(&minutes, text)) {
        zone_fix(zone, minutes);
        return 0;
    }
    return zone_file_read(zone, folder, text, err);
}
