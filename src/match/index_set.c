#include "match/index_set.h"

#include "base/path.h"

#include <dirent.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

static const char ending[] = ".alidx";

/* Stars that a field should have: patterns of fewer are often not whole in it. */
static const double enough_stars = 25;
static const double sky_square_degrees = 41252.961249419;

static int add_file(struct index_set *set, const char *name, struct error *err)
{
    if (set->parts == INDEX_SET_MOST) {
        return error_set(err, ERROR_INPUT, "%s: more than %d indexes", name, (int)INDEX_SET_MOST);
    }
    struct index_set_part *part = &set->part[set->parts];
    part->name = strdup(name);
    int code = part->name ? index_open(&part->file, name, err) : error_memory(err);
    if (code) {
        free(part->name);
        *part = (struct index_set_part){0};
        return code;
    }
    set->parts++;
    return 0;
}

static int is_index(const struct dirent *entry)
{
    size_t length = strlen(entry->d_name), tail = sizeof ending - 1;
    return entry->d_name[0] != '.' && length > tail &&
           strcmp(entry->d_name + length - tail, ending) == 0;
}

static int add_folder(struct index_set *set, const char *folder, struct error *err)
{
    struct dirent **entry = NULL;
    int count = scandir(folder, &entry, is_index, alphasort), code = 0;
    if (count <= 0) {
        free(entry);
        return error_set(err, ERROR_INPUT, "%s: no index there, no file that ends in %s", folder,
                         ending);
    }
    for (int i = 0; i < count; i++) {
        char *name = code ? NULL : path_join(folder, entry[i]->d_name);
        code = code ? code : name ? add_file(set, name, err) : error_memory(err);
        free(name);
        free(entry[i]);
    }
    free(entry);
    return code;
}

static void drop_parts(struct index_set *set, int from)
{
    while (set->parts > from) {
        struct index_set_part *part = &set->part[--set->parts];
        index_close(&part->file);
        free(part->name);
        *part = (struct index_set_part){0};
    }
}

int index_set_add(struct index_set *set, const char *name, struct error *err)
{
    struct stat info;
    const int before = set->parts;
    bool folder = stat(name, &info) == 0 && S_ISDIR(info.st_mode);
    char *kept = set->givens < INDEX_SET_MOST ? strdup(name) : NULL;
    int code = kept ? 0 : error_memory(err);
    code = code ? code : folder ? add_folder(set, name, err) : add_file(set, name, err);
    if (code) {
        drop_parts(set, before);
        free(kept);
        return code;
    }
    set->given[set->givens++] = kept;
    return 0;
}

void index_set_close(struct index_set *set)
{
    drop_parts(set, 0);
    while (set->givens > 0) {
        free(set->given[--set->givens]);
    }
}

const char *index_set_changed(const struct index_set *set)
{
    for (int i = 0; i < set->parts; i++) {
        if (file_map_changed(&set->part[i].file.map)) {
            return set->part[i].name;
        }
    }
    return NULL;
}

int index_set_renew(struct index_set *set, struct error *err)
{
    struct index_set fresh = {0};
    int code = 0;
    for (int i = 0; i < set->givens && !code; i++) {
        code = index_set_add(&fresh, set->given[i], err);
    }
    if (code) {
        index_set_close(&fresh);
        return code;
    }
    index_set_close(set);
    *set = fresh;
    return 0;
}

static double cells_of(const struct index *index, int level)
{
    return (double)(index->level[level + 1] - index->level[level]);
}

/* The deepest level whose cells have some eight stars each: it is met wherever there are any. */
double index_set_density(const struct index *index)
{
    int level = 0;
    while (level + 1 < index->levels && 8 * cells_of(index, level + 1) <= index->stars) {
        level++;
    }
    double share = cells_of(index, level) / (double)(12L << (2 * level));
    return index->stars / (sky_square_degrees * share);
}

static bool comes_before(double a, double b, double square_degrees)
{
    bool a_enough = square_degrees <= 0 || a * square_degrees >= enough_stars;
    bool b_enough = square_degrees <= 0 || b * square_degrees >= enough_stars;
    return a_enough != b_enough ? a_enough : a_enough ? a < b : a > b;
}

void index_set_order(const struct index *order[INDEX_SET_MOST], const struct index_set *set,
                     double square_degrees)
{
    double density[INDEX_SET_MOST];
    for (int i = 0; i < set->parts; i++) {
        double here = index_set_density(&set->part[i].file.index);
        int place = i;
        for (; place > 0 && comes_before(here, density[place - 1], square_degrees); place--) {
            density[place] = density[place - 1];
            order[place] = order[place - 1];
        }
        density[place] = here;
        order[place] = &set->part[i].file.index;
    }
}
