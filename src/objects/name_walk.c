#include "objects/name_walk.h"

#include "objects/object_store.h"

#include <stdlib.h>
#include <string.h>

static const char *text_of_list(const struct object *object, enum name_list list)
{
    return list == NAME_LIST_ID      ? object->id
           : list == NAME_LIST_OTHER ? object->other_names
                                     : object->common_names;
}

static void leave_list(struct name_walk *walk)
{
    walk->next.text = NULL;
    if (++walk->next.list == NAME_LISTS) {
        walk->next.list = NAME_LIST_ID;
        walk->next.number++;
    }
}

/* The next name, without its key. */
static bool next_name(struct name_walk *walk)
{
    size_t length = 0;
    while (length == 0 && walk->next.number < walk->next.objects->count) {
        walk->object = &walk->next.objects->object[walk->next.number];
        walk->list = walk->next.list;
        const char *text =
            walk->next.text ? walk->next.text : text_of_list(walk->object, walk->list);
        length = strcspn(text, ";");
        size_t kept = length < sizeof walk->name ? length : sizeof walk->name - 1;
        memcpy(walk->name, text, kept);
        walk->name[kept] = '\0';
        walk->next.text = text + length + 1;
        if (text[length] == '\0') {
            leave_list(walk);
        }
    }
    return length > 0;
}

/* Keys one behind the other, as they are made. */
struct growing_keys {
    char *text;
    size_t used, room;
};

static bool add_key(struct growing_keys *keys, const char *key)
{
    size_t size = strlen(key) + 1;
    if (keys->room - keys->used < size) {
        size_t larger = 2 * keys->room + (1 << 14);
        char *grown = realloc(keys->text, larger);
        if (!grown) {
            return false;
        }
        keys->text = grown;
        keys->room = larger;
    }
    memcpy(keys->text + keys->used, key, size);
    keys->used += size;
    return true;
}

/* NULL when memory is short. */
static char *make_keys(const struct objects *objects)
{
    struct growing_keys keys = {0};
    struct name_walk walk = {.next = {.objects = objects}};
    bool room = add_key(&keys, "");
    keys.used = 0;
    while (room && next_name(&walk)) {
        name_key(walk.key, walk.name, &objects->store->endings);
        room = add_key(&keys, walk.key);
    }
    if (!room) {
        free(keys.text);
        return NULL;
    }
    return keys.text;
}

/* Two threads may come here at once: one of them makes them in vain. */
static const char *kept_keys(const struct objects *objects)
{
    char *keys = atomic_load(&objects->store->keys);
    if (!keys) {
        char *made = make_keys(objects);
        if (!made || atomic_compare_exchange_strong(&objects->store->keys, &keys, made)) {
            return made;
        }
        free(made);
    }
    return keys;
}

void name_walk_begin(struct name_walk *walk, const struct objects *objects)
{
    *walk = (struct name_walk){.next = {.objects = objects, .keys = kept_keys(objects)}};
}

bool name_walk_next(struct name_walk *walk)
{
    if (!next_name(walk)) {
        return false;
    }
    if (walk->next.keys) {
        size_t size = strlen(walk->next.keys) + 1;
        memcpy(walk->key, walk->next.keys, size);
        walk->next.keys += size;
    } else {
        name_key(walk->key, walk->name, &walk->next.objects->store->endings);
    }
    return true;
}
