#include "objects/numbered_star.h"

#include "base/catalogue_table.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

bool numbered_star_key(long *hip, const char *key)
{
    size_t digits = strncmp(key, "hip", 3) == 0 ? strspn(key + 3, "0123456789") : 0;
    if (digits < 1 || digits > 9 || key[3 + digits] != '\0') {
        return false;
    }
    *hip = strtol(key + 3, NULL, 10);
    return true;
}

enum { HIP, RA, DEC, V_MAG };

int numbered_star_find(struct numbered_star *star, bool *found, const char *folder, long hip,
                       struct error *err)
{
    static const char *const columns[] = {"hip", "ra_deg", "dec_deg", "v_mag", NULL};
    struct catalogue_table file;
    *found = false;
    int code = catalogue_table_open(&file, folder, "stars.tsv", columns, err);
    if (code) {
        return code;
    }
    while (!*found && table_next(&file.table)) {
        *found = catalogue_table_number(&file, HIP) == (double)hip;
    }
    if (*found) {
        struct object *object = &star->object;
        snprintf(star->id, sizeof star->id, "HIP %ld", hip);
        *object = (struct object){.id = star->id,
                                  .other_names = "",
                                  .common_names = "",
                                  .type = OBJECT_STAR,
                                  .magnitude = catalogue_table_number(&file, V_MAG),
                                  .major_arcmin = NAN,
                                  .minor_arcmin = NAN,
                                  .angle_deg = NAN};
        code = catalogue_table_place(&object->ra_deg, &object->dec_deg, &file, RA, DEC, err);
    }
    catalogue_table_close(&file);
    return code;
}
