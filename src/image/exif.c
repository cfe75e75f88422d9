#include "image/exif.h"

#include "image/exif_tags.h"
#include "image/maker_iso.h"

#include <libexif/exif-data.h>
#include <libexif/exif-log.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

static void add_entry(ExifEntry *entry, void *context)
{
    struct exif_tags *tags = context;
    enum exif_directory directory;
    switch (exif_entry_get_ifd(entry)) {
    case EXIF_IFD_0:
        directory = EXIF_FIRST;
        break;
    case EXIF_IFD_EXIF:
        directory = EXIF_CAMERA;
        break;
    case EXIF_IFD_GPS:
        directory = EXIF_GPS;
        break;
    default:
        return;
    }
    ExifByteOrder order = exif_data_get_byte_order(entry->parent->parent);
    if (entry->data) {
        exif_tags_add(tags, directory, entry->tag, entry->format, entry->components, entry->data,
                      entry->size, order == EXIF_BYTE_ORDER_MOTOROLA);
    }
}

static void add_directory(ExifContent *content, void *context)
{
    exif_content_foreach_entry(content, add_entry, context);
}

static void note_shortage(ExifLog *log, ExifLogCode code, const char *domain, const char *format,
                          va_list arguments, void *context)
{
    bool *short_of_memory = context;
    (void)log, (void)domain, (void)format, (void)arguments;
    *short_of_memory = *short_of_memory || code == EXIF_LOG_CODE_NO_MEMORY;
}

/* False if memory is short, of which the library tells its log alone. */
static bool load(ExifData *data, ExifLog *log, const unsigned char *block, size_t size)
{
    bool short_of_memory = !data || !log;
    if (!short_of_memory) {
        exif_log_set_func(log, note_shortage, &short_of_memory);
        exif_data_log(data, log);
        /* Mending is for those who write; here it would invent entries that nobody stated. */
        exif_data_unset_option(data, EXIF_DATA_OPTION_FOLLOW_SPECIFICATION);
        exif_data_load_data(data, block, (unsigned)size);
        exif_log_set_func(log, NULL, NULL);
    }
    return !short_of_memory;
}

int exif_read(struct frame_facts *facts, const unsigned char *block, size_t size, int width,
              int height)
{
    struct exif_tags tags = {0};
    if (size > 1 << 24) {
        return 1;
    }
    ExifData *data = exif_data_new();
    ExifLog *log = exif_log_new();
    bool loaded = load(data, log, block, size);
    if (loaded) {
        exif_data_foreach_content(data, add_directory, &tags);
        tags.number[EXIF_MAKER_ISO] = maker_iso_find(data, tags.text[EXIF_MAKE]);
        exif_tags_facts(facts, &tags, width, height);
    }
    exif_data_unref(data);
    exif_log_unref(log);
    return loaded ? exif_tags_orientation(&tags) : 0;
}
