#include "match/index_schema.h"

#include "base/schema_rows.h"

static const struct schema_row magnitude_rows[] = {
    {ROW_NUMBER("brightest", 3, "mag", "of the brightest star")},
    {ROW_NUMBER("faintest", 3, "mag", "of the faintest")},
    {0},
};
static const struct schema magnitude_schema = {.row = magnitude_rows};

static const struct schema_row density_rows[] = {
    {ROW_NUMBER("mean", 3, "1/deg2", "over the whole sky")},
    {ROW_NUMBER("emptiest", 3, "1/deg2", "in the emptiest of 768 equal parts of the sky")},
    {ROW_NUMBER("fullest", 3, "1/deg2", "in the fullest of them")},
    {0},
};
static const struct schema density_schema = {.row = density_rows};

static const struct schema_row width_rows[] = {
    {ROW_NUMBER("tenth", 4, "deg", "one quad in ten is narrower")},
    {ROW_NUMBER("median", 4, "deg", "half of them are narrower")},
    {ROW_NUMBER("nine_tenths", 4, "deg", "nine in ten are narrower")},
    {0},
};
static const struct schema width_schema = {.row = width_rows};

static const struct schema_row section_rows[] = {
    {ROW_TEXT("name", "of the section: four letters")},
    {ROW_INTEGER("offset", "where it begins in the file, bytes")},
    {ROW_INTEGER("bytes", "its length")},
    {0},
};
static const struct schema section_schema = {.row = section_rows};

static const struct schema_row rows[] = {
    {ROW_TEXT("file", "the index, as given")},
    {ROW_FORMAT},
    {ROW_INTEGER("version", "of the file's format")},
    {ROW_INTEGER("bytes", "length of the file")},
    {ROW_TEXT("catalogue", "name of the catalogue that it was made from")},
    {ROW_TEXT("source", "where the catalogue came from; may be empty")},
    {ROW_NUMBER("epoch_year", 3, NULL, "of the stars' places, Julian year")},
    {ROW_INTEGER("stars", "in the index")},
    {ROW_OBJECT("magnitude", magnitude_schema, "their range")},
    {ROW_INTEGER("quads", "in the index")},
    {ROW_INTEGER("neighbours", "brighter ones that each star makes quads with")},
    {ROW_INTEGER("levels", "of sky cells, each with cells half as wide as the one before")},
    {ROW_OBJECT("stars_per_sq_deg", density_schema, "how dense the stars are")},
    {ROW_OBJECT("quad_width_deg", width_schema,
                "from the farthest star of a quad to its opposite")},
    {ROW_OBJECTS("sections", section_schema, "what the file consists of, in its order")},
    {0},
};
const struct schema index_schema = {
    .name = "index", .text = "What alidade-index show says of an index.", .row = rows};
