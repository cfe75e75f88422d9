#include "image/exif.h"

#include "image/exif_tags.h"

#include <libexif/exif-data.h>

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

int exif_read(struct frame_facts *facts, const unsigned char *block, size_t size, int width,
              int height)
{
    struct exif_tags tags = {0};
    ExifData *data = size <= 1 << 24 ? exif_data_new() : NULL;
    if (!data) {
        return 1;
    }
    /* Mending is for those who write; here it would invent entries that nobody stated. */
    exif_data_unset_option(data, EXIF_DATA_OPTION_FOLLOW_SPECIFICATION);
    exif_data_load_data(data, block, (unsigned)size);
    exif_data_foreach_content(data, add_directory, &tags);
    exif_data_unref(data);
    exif_tags_facts(facts, &tags, width, height);
    return exif_tags_orientation(&tags);
}
