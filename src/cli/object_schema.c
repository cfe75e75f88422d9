#include "cli/object_schema.h"

#include "base/schema_rows.h"
#include "cli/parts_schema.h"
#include "night/night_frame.h"
#include "objects/objects.h"

static const char *type_word(int type)
{
    return object_type_word((enum object_type)type);
}

static const struct schema_row facts_rows[] = {
    {ROW_TEXT("id", "designation, or a star's name")},
    {ROW_TEXTS("names", "English names, the usual one first")},
    {ROW_TEXTS("other_names", "further designations")},
    {ROW_WORD("type", OBJECT_TYPES, type_word, "what it is")},
    {ROW_TEXT("constellation", "three letters"), ROW_OR_NULL},
    {ROW_NUMBER("ra_deg", 5, "deg", "right ascension, ICRS")},
    {ROW_NUMBER("dec_deg", 5, "deg", "declination, ICRS")},
    {ROW_NUMBER("magnitude", 2, "mag", "visual where known"), ROW_SOMETIMES},
    {ROW_NUMBER("major_arcmin", 3, "arcmin", "its length"), ROW_SOMETIMES},
    {ROW_NUMBER("minor_arcmin", 3, "arcmin", "its breadth"), ROW_SOMETIMES},
    {ROW_NUMBER("angle_deg", 0, "deg", "of its length, east of north"), ROW_SOMETIMES},
    {0},
};
static const struct schema facts_schema = {.row = facts_rows};

static const struct schema_row frame_rows[] = {
    {ROW_TEXT("of", "lens and sensor")},
    {ROW_NUMBER("width_deg", 5, "deg", "of the field")},
    {ROW_NUMBER("height_deg", 5, "deg", "of the field")},
    {0},
};
static const struct schema frame_schema = {.row = frame_rows};

static const struct schema_row object_rows[] = {
    {ROW_FORMAT},
    {ROW_INCLUDE(facts_schema)},
    {ROW_OBJECT("frame", frame_schema, "a frame to hold it against, if one is known"),
     ROW_SOMETIMES},
    {0},
};
const struct schema object_schema = {
    .name = "object", .text = "What is known of an object.", .row = object_rows};

static const struct schema_row found_rows[] = {
    {ROW_INCLUDE(facts_schema)},
    {ROW_OBJECT("pixel", pixel_schema, "its centre")},
    {ROW_NUMBER("share", 3, NULL, "of its area that is in the frame")},
    {0},
};
static const struct schema found_schema = {.row = found_rows};

static const struct schema_row body_rows[] = {
    {ROW_TEXT("name", "Sun, Moon or planet")},
    {ROW_NUMBER("ra_deg", 5, "deg", "right ascension, ICRS")},
    {ROW_NUMBER("dec_deg", 5, "deg", "declination, ICRS")},
    {ROW_OBJECT("pixel", pixel_schema, "its centre")},
    {0},
};
static const struct schema body_schema = {.row = body_rows};

static const struct schema_row list_rows[] = {
    {ROW_INCLUDE(night_frame_head_schema)},
    {ROW_OBJECTS("objects", found_schema, "deep-sky objects, the most notable first"),
     ROW_SOMETIMES},
    {ROW_OBJECTS("stars", found_schema, "named stars, the brightest first"), ROW_SOMETIMES},
    {ROW_OBJECTS("bodies", body_schema, "of the solar system, if the time is known"),
     ROW_SOMETIMES},
    {0},
};
const struct schema object_list_schema = {
    .name = "objects", .text = "What is in a frame: object --in.", .row = list_rows};
