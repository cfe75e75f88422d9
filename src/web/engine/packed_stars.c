#include "web/engine/packed_stars.h"

#include "base/file.h"

#include <math.h>
#include <string.h>

/* The library's own, by the name that the linker gives it. */
int __real_catalogue_read(struct catalogue *catalogue, struct catalogue_report *report,
                          const char *name, const struct catalogue_columns *columns,
                          catalogue_progress progress, void *context, struct error *err);

static const char mark[8] = "STARS 1\n";
enum { HEAD = 12, BYTES_EACH = 2 + 3 + 3 + 2 + 2, NO_COLOUR = -32768 };
static const double epoch_year = 2000; /* of catalogs/stars.tsv */

/* Numbers whose lowest bytes come first, of all stars, then their next ones. */
struct planes {
    const unsigned char *byte;
    long stars;
};

static long number_at(const struct planes *planes, int plane, int bytes, long star)
{
    long value = 0;
    for (int i = bytes - 1; i >= 0; i--) {
        value = value << 8 | planes->byte[(plane + i) * planes->stars + star];
    }
    return value;
}

/* Of numbers of both signs those below 0 are odd. */
static long unfold(long value)
{
    return value & 1 ? -(value + 1) / 2 : value / 2;
}

static bool add_stars(struct catalogue *catalogue, const struct planes *planes)
{
    bool good = true;
    long number = 0, ra = 0;
    for (long i = 0; i < planes->stars && good; i++) {
        number += number_at(planes, 0, 2, i);
        ra += unfold(number_at(planes, 2, 3, i));
        long dec = number_at(planes, 5, 3, i) - 900000, mag = number_at(planes, 8, 2, i) - 2000;
        long colour = (int16_t)number_at(planes, 10, 2, i);
        good = catalogue_add(catalogue, (double)ra / 10000, (double)dec / 10000, (double)mag / 100,
                             colour == NO_COLOUR ? NAN : (double)colour / 1000, (uint64_t)number);
    }
    return good;
}

static long count_of(const unsigned char *bytes)
{
    return bytes[8] | bytes[9] << 8 | bytes[10] << 16;
}

int __wrap_catalogue_read(struct catalogue *catalogue, struct catalogue_report *report,
                          const char *name, const struct catalogue_columns *columns,
                          catalogue_progress progress, void *context, struct error *err)
{
    struct file_map map;
    int code = file_map_open(&map, name, err);
    if (code) {
        return code;
    }
    const unsigned char *bytes = map.bytes;
    bool packed = map.size > HEAD && memcmp(bytes, mark, sizeof mark) == 0 &&
                  map.size == HEAD + (size_t)count_of(bytes) * BYTES_EACH;
    if (packed) {
        const struct planes planes = {bytes + HEAD, count_of(bytes)};
        code = add_stars(catalogue, &planes) ? 0 : error_memory(err);
        catalogue->epoch_year = epoch_year;
        *report = (struct catalogue_report){.rows = planes.stars, .used = planes.stars};
    }
    file_map_close(&map);
    return packed ? code
                  : __real_catalogue_read(catalogue, report, name, columns, progress, context, err);
}
