#include "objects/fame.h"

#include <math.h>
#include <stdbool.h>
#include <string.h>

/* What a designation is worth by itself. Those of catalogues that are missing here number things
 * that few people look for. */
struct fame {
    const char *prefix;
    double weight;
};

static const struct fame fames[] = {
    {"M ", 4},     {"C ", 2.5}, {"LMC", 4},      {"SMC", 4},    {"NGC ", 1}, {"IC ", 0.9},
    {"Sh2-", 0.4}, {"B ", 0.4}, {"Stock ", 0.4}, {"vdB ", 0.2}, {"Cr ", -1},
};

static const double caldwell_fame = 2.5, common_name_fame = 2;

static double designation_fame(const struct object *object)
{
    for (size_t i = 0; i < sizeof fames / sizeof *fames; i++) {
        if (strncmp(object->id, fames[i].prefix, strlen(fames[i].prefix)) == 0) {
            return fames[i].weight;
        }
    }
    return 0;
}

static int is_caldwell(const struct object *object)
{
    const char *names = object->other_names;
    return strncmp(names, "C ", 2) == 0 || strstr(names, ";C ") != NULL;
}

double fame_of_object(const struct object *object)
{
    double fame = designation_fame(object);
    fame = is_caldwell(object) ? fmax(fame, caldwell_fame) : fame;
    bool named = object->common_names[0] || object->type == OBJECT_GALAXY_GROUP;
    return fame + (named ? common_name_fame : 0);
}
