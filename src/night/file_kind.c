#include "night/file_kind.h"

#include "base/file.h"
#include "image/fits_copy.h"
#include "image/frame.h"
#include "image/own_mark.h"
#include "match/index_layout.h"
#include "rig/rig.h"

#include <string.h>
#include <unistd.h>

enum { HEAD_BYTES = 4096 };

static bool begins_with(const struct file_map *map, const char *text, size_t length)
{
    return map->size >= length && memcmp(map->bytes, text, length) == 0;
}

static enum file_kind kind_of_text(const struct file_map *map)
{
    static const char line[] = "{\"frame\":";
    size_t head = map->size < HEAD_BYTES ? map->size : HEAD_BYTES;
    if (begins_with(map, line, sizeof line - 1)) {
        return FILE_LOG;
    }
    return rig_recognise((const char *)map->bytes, head) ? FILE_SETTINGS : FILE_OTHER;
}

/* Whether it is a stack that this project wrote, by a card of its header. */
static bool is_own_fits(const struct file_map *map)
{
    enum { CARD = 80 };
    size_t head = map->size < HEAD_BYTES ? map->size : HEAD_BYTES;
    for (size_t at = 0; at + CARD <= head; at += CARD) {
        if (memcmp(map->bytes + at, OWN_MARK_CARD, sizeof OWN_MARK_CARD - 1) == 0) {
            return true;
        }
    }
    return false;
}

static enum file_kind kind_of(const struct file_map *map, const char *name)
{
    if (own_mark_found(name)) {
        return FILE_DRAWING;
    }
    if (begins_with(map, LAYOUT_MAGIC, 8)) {
        return FILE_INDEX;
    }
    const char *format = frame_format_of(map->bytes, map->size, name);
    if (!format) {
        return kind_of_text(map);
    }
    if (begins_with(map, "SIMPLE", 6) && is_own_fits(map)) {
        return FILE_DRAWING;
    }
    bool header_alone = begins_with(map, "SIMPLE", 6) && !fits_copy_has_data(map->bytes, map->size);
    return strcmp(format, "FITS") != 0 ? FILE_PICTURE : header_alone ? FILE_OTHER : FILE_FITS;
}

enum file_kind file_kind_look(const char *name)
{
    struct file_map map = {0};
    if (access(name, F_OK) == 0 && access(name, R_OK) != 0) {
        return FILE_SEALED;
    }
    if (file_map_open(&map, name, NULL) != 0) {
        return FILE_OTHER; /* empty, or no file at all */
    }
    enum file_kind kind = kind_of(&map, name);
    file_map_close(&map);
    return kind;
}
