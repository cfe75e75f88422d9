#include "objects/constellations.h"

#include "base/catalogue_table.h"
#include "sky/vector.h"

#include <string.h>

enum { ABBREVIATION, NAME, GENITIVE, ENGLISH, LABEL_RA, LABEL_DEC };

static int read_row(struct constellation *item, const struct catalogue_table *file,
                    struct error *err)
{
    const struct table *table = &file->table;
    table_text(table, file->column[ABBREVIATION], item->abbreviation, sizeof item->abbreviation);
    table_text(table, file->column[NAME], item->name, sizeof item->name);
    table_text(table, file->column[GENITIVE], item->genitive, sizeof item->genitive);
    table_text(table, file->column[ENGLISH], item->english, sizeof item->english);
    if (strlen(item->abbreviation) != 3) {
        return catalogue_table_expected(file, "an abbreviation of three letters", err);
    }
    return catalogue_table_place(&item->label_ra_deg, &item->label_dec_deg, file, LABEL_RA,
                                 LABEL_DEC, err);
}

int constellations_load(struct constellations *constellations, const char *folder,
                        struct error *err)
{
    static const char *const columns[] = {"constellation", "name",          "genitive", "english",
                                          "label_ra_deg",  "label_dec_deg", NULL};
    struct catalogue_table file;
    constellations->count = 0;
    int code = catalogue_table_open(&file, folder, "constellations.tsv", columns, err);
    if (code) {
        return code;
    }
    while (!code && table_next(&file.table)) {
        if (constellations->count == CONSTELLATIONS_MAX) {
            code = catalogue_table_expected(&file, "at most 100 constellations", err);
            break;
        }
        code = read_row(&constellations->item[constellations->count], &file, err);
        constellations->count += !code;
    }
    catalogue_table_close(&file);
    return code;
}

const struct constellation *constellations_find(const struct constellations *constellations,
                                                const char *abbreviation, double ra_deg,
                                                double dec_deg)
{
    const struct constellation *found = NULL;
    double least = 0;
    for (int i = 0; i < constellations->count; i++) {
        const struct constellation *c = &constellations->item[i];
        double away = radec_angle_deg(ra_deg, dec_deg, c->label_ra_deg, c->label_dec_deg);
        if (strcmp(c->abbreviation, abbreviation) == 0 && (!found || away < least)) {
            found = c;
            least = away;
        }
    }
    return found;
}
