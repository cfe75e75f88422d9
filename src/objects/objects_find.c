#include "base/text.h"
#include "objects/name_walk.h"
#include "objects/names_abroad.h"
#include "objects/object_store.h"
#include "objects/objects.h"
#include "objects/wanderer.h"

#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>

/* Drops the number that tells stars of one Bayer letter apart: "alpha1cen" becomes "alphacen". A
 * key that begins with the number is a Flamsteed one. */
static bool cut_star_number(char *key)
{
    size_t letters = strcspn(key, "0123456789");
    size_t digits = strspn(key + letters, "0123456789");
    if (letters == 0 || digits == 0 || strlen(key + letters + digits) != 3) {
        return false;
    }
    memmove(key + letters, key + letters + digits, 4);
    return true;
}

/* How freely a name is read: "alpha cen" for α1 Cen, "rosette" for a name that ends on "nebula",
 * "andromeda nebula" for one that ends on "galaxy". */
enum reading {
    READ_EXACTLY,
    READ_STAR_UNNUMBERED,
    READ_WITHOUT_KIND,
    READ_WITH_OTHER_KIND,
    READINGS
};

/* The key of a known name under a reading; false if the reading does not apply to it. */
static bool read_key(char key[NAME_KEY_SIZE], const struct name_walk *walk, enum reading reading)
{
    bool star = walk->object->type == OBJECT_STAR;
    if ((reading == READ_STAR_UNNUMBERED && (!star || walk->list == NAME_LIST_ID)) ||
        (reading >= READ_WITHOUT_KIND && star)) {
        return false;
    }
    memcpy(key, walk->key, NAME_KEY_SIZE);
    if (reading == READ_STAR_UNNUMBERED) {
        return cut_star_number(key);
    }
    if (reading >= READ_WITHOUT_KIND) {
        name_key_cut_kind(key);
    }
    return true;
}

/* Whether a is to be preferred to b, both of the name looked for. Exactly named: the first deep-sky
 * object, else the brightest star. Loosely: the largest. */
static bool is_better(const struct object *a, const struct object *b, enum reading reading)
{
    if (!b) {
        return true;
    }
    if (reading >= READ_WITHOUT_KIND) {
        return a->major_arcmin > b->major_arcmin || isnan(b->major_arcmin);
    }
    return a->type == OBJECT_STAR && b->type == OBJECT_STAR && a->magnitude < b->magnitude;
}

static const struct object *find_reading(const struct objects *objects, const char *wanted,
                                         enum reading reading)
{
    const struct object *found = NULL;
    struct name_walk walk;
    name_walk_begin(&walk, objects);
    while (name_walk_next(&walk)) {
        char key[NAME_KEY_SIZE];
        if (read_key(key, &walk, reading) && strcmp(key, wanted) == 0 &&
            is_better(walk.object, found, reading)) {
            found = walk.object;
        }
    }
    return found;
}

const struct object *objects_find(const struct objects *objects, const char *name)
{
    char wanted[NAME_KEY_SIZE];
    if (!objects->store) {
        return NULL;
    }
    name_key(wanted, name, &objects->store->endings);
    const struct object *found = NULL;
    /* "Saturn" is the planet, not what is named after it. */
    int readings = wanderer_find(name) ? READ_WITHOUT_KIND : READINGS;
    for (int reading = 0; *wanted && !found && reading < readings; reading++) {
        if (reading == READ_WITH_OTHER_KIND && !name_key_cut_kind(wanted)) {
            break;
        }
        found = find_reading(objects, wanted, (enum reading)reading);
    }
    return found;
}

/* What it is called in another language, or why it is not known. */
static const struct object *find_abroad(const struct objects *objects, const char *name,
                                        struct error *err)
{
    struct names_abroad names = {0};
    bool moves = wanderer_find(name) != WANDERER_NONE;
    if (objects->store && !moves && names_abroad_load(&names, objects->store->folder, err)) {
        return NULL;
    }
    const char *id = names_abroad_find(&names, name);
    const struct object *found = id ? objects_find(objects, id) : NULL;
    names_abroad_free(&names);
    if (!found) {
        objects_unknown(objects, name, err);
    }
    return found;
}

const struct object *objects_look_up(const struct objects *objects, const char *name,
                                     struct error *err)
{
    char key[NAME_KEY_SIZE];
    long hip;
    const struct object *named = objects_find(objects, name);
    if (named) {
        return named;
    }
    name_key(key, name, NULL);
    if (objects->store && numbered_star_key(&hip, key)) {
        struct object_store *store = objects->store;
        bool found;
        if (numbered_star_find(&store->numbered, &found, store->folder, hip, err)) {
            return NULL;
        }
        if (found) {
            return &store->numbered.object;
        }
    }
    return find_abroad(objects, name, err);
}

/* Length of the letters that open a designation: 1 of "m31", 3 of "ngc7000". */
static size_t sign_length(const char *key)
{
    return strcspn(key, "0123456789");
}

static bool is_designation(const char *key)
{
    return key[sign_length(key)] != '\0';
}

/* One slip in four letters, at least one. The distance counts half steps. */
static int hint_limit(const char *wanted)
{
    return 2 * (1 + (int)strlen(wanted) / 4) + 1;
}

enum { TOO_FAR = 1000 };

/* How far a known key is from the wanted one, or TOO_FAR. A number belongs to its catalogue, so
 * another sign counts more than another digit. */
static int key_distance(const char *wanted, const char *known)
{
    int limit = hint_limit(wanted);
    if (is_designation(wanted) != is_designation(known)) {
        return TOO_FAR;
    }
    int distance = 2 * name_key_distance(wanted, known, limit / 2);
    size_t sign = sign_length(wanted);
    bool same_sign = sign == sign_length(known) && strncmp(wanted, known, sign) == 0;
    distance += is_designation(wanted) && !same_sign;
    return distance > limit ? TOO_FAR : distance;
}

/* The name looked for, whole and without its kind. */
struct wanted {
    char whole[NAME_KEY_SIZE], cut[NAME_KEY_SIZE];
    bool has_kind;
};

static int hint_distance(const struct wanted *wanted, const char *key)
{
    char known[NAME_KEY_SIZE];
    memcpy(known, key, sizeof known);
    int whole = key_distance(wanted->whole, known);
    if (!name_key_cut_kind(known) && !wanted->has_kind) {
        return whole;
    }
    int cut = key_distance(wanted->cut, known);
    return cut < whole ? cut : whole;
}

struct ranked_hint {
    struct object_hint hint;
    int distance;
};

/* Keeps the nearest, in order; of equally near ones the earlier stays in front. */
static int insert_hint(struct ranked_hint *ranked, int count, const struct object *object,
                       const char *name, int distance)
{
    int same = 0;
    while (same < count && ranked[same].hint.object != object) {
        same++;
    }
    if (same < count && ranked[same].distance <= distance) {
        return count;
    }
    int place = same < count ? same : count < OBJECT_HINTS ? count++ : OBJECT_HINTS;
    while (place > 0 && ranked[place - 1].distance > distance) {
        if (place < OBJECT_HINTS) {
            ranked[place] = ranked[place - 1];
        }
        place--;
    }
    if (place < OBJECT_HINTS) {
        ranked[place].hint.object = object;
        snprintf(ranked[place].hint.name, sizeof ranked[place].hint.name, "%s", name);
        ranked[place].distance = distance;
    }
    return count;
}

/* Numbers of the long star lists would drown all else. */
static bool is_list_number(const char *name)
{
    return strncmp(name, "HIP ", 4) == 0 || strncmp(name, "HD ", 3) == 0;
}

int objects_hints(struct object_hint hints[OBJECT_HINTS], const struct objects *objects,
                  const char *name)
{
    struct ranked_hint ranked[OBJECT_HINTS];
    struct name_walk walk;
    struct wanted wanted;
    int count = 0;
    name_key(wanted.whole, name, objects->store ? &objects->store->endings : NULL);
    memcpy(wanted.cut, wanted.whole, sizeof wanted.cut);
    wanted.has_kind = name_key_cut_kind(wanted.cut);
    if (!objects->store || !*wanted.whole) {
        return 0;
    }
    name_walk_begin(&walk, objects);
    while (name_walk_next(&walk)) {
        int distance = is_list_number(walk.name) ? TOO_FAR : hint_distance(&wanted, walk.key);
        if (distance < TOO_FAR) {
            count = insert_hint(ranked, count, walk.object, walk.name, distance);
        }
    }
    for (int i = 0; i < count; i++) {
        hints[i] = ranked[i].hint;
    }
    return count;
}

/* What stands in no table because it wanders. The key is that of a name. */
static const char *why_no_target(const char *key)
{
    if (strncmp(key, "comet", 5) == 0) {
        return "comets are in no table, since they move among the stars: give RA,DEC of that night "
               "instead";
    }
    return NULL;
}

static int refuse_wanderer(const struct objects *objects, enum wanderer which, const char *key,
                           struct error *err)
{
    const struct object *namesake = find_reading(objects, key, READ_WITHOUT_KIND);
    char also[200] = "";
    if (namesake) {
        text_append(also, sizeof also, "; the %.*s is %s",
                    (int)strcspn(namesake->common_names, ";"), namesake->common_names,
                    namesake->id);
    }
    return error_set(err, ERROR_USAGE,
                     "%s%s moves among the stars, so it is in no table: name it alone, where the "
                     "time is known, or give RA,DEC of that night instead%s",
                     which == WANDERER_MOON ? "the " : "the planet ", wanderer_name(which), also);
}

/* Numbers that are near to a star's say nothing; what helps is to know which are in the tables. */
static const char *which_numbers(const char *key)
{
    long hip;
    if (numbered_star_key(&hip, key)) {
        return hip > NUMBERED_STAR_LAST ? "Hipparcos numbers end at 120416"
                                        : "the catalogue left that number out";
    }
    bool draper = strncmp(key, "hd", 2) == 0 && key[2] >= '0' && key[2] <= '9';
    return draper ? "HD numbers are known of stars that have a name or letter too; every Hipparcos "
                    "number is, as \"HIP 5\""
                  : NULL;
}

int objects_unknown(const struct objects *objects, const char *name, struct error *err)
{
    char key[NAME_KEY_SIZE];
    name_key(key, name, NULL);
    const char *why = why_no_target(key);
    if (why) {
        return error_set(err, ERROR_USAGE, "%s", why);
    }
    if (wanderer_is_sun(name)) {
        return error_set(err, ERROR_USAGE,
                         "the Sun is no target: never point a lens, a finder or an eye at it");
    }
    if (wanderer_find(name) && objects->store) {
        return refuse_wanderer(objects, wanderer_find(name), key, err);
    }
    const char *numbers = which_numbers(key);
    if (numbers) {
        return error_set(err, ERROR_USAGE, "no star is known as \"%.60s\": %s", name, numbers);
    }
    struct object_hint hints[OBJECT_HINTS];
    int count = objects_hints(hints, objects, name);
    char list[OBJECT_HINTS * 84] = "";
    for (int i = 0; i < count; i++) {
        text_append(list, sizeof list, "%s%s", i ? ", " : "", hints[i].name);
    }
    if (!count) {
        return error_set(err, ERROR_USAGE, "no object or star is known as \"%.80s\"", name);
    }
    return error_set(err, ERROR_USAGE, "no object or star is known as \"%.60s\"; near to it: %s",
                     name, list);
}
