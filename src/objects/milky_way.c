#include "objects/milky_way.h"

#include "base/units.h"
#include "objects/name_key.h"
#include "sky/vector.h"

#include <erfa.h>
#include <math.h>
#include <string.h>

static const double length_deg = 30, breadth_deg = 14;

/* Galactic longitudes. */
static const struct {
    const char *id, *key;
    double longitude_deg;
} parts[MILKY_WAY_PARTS] = {
    {"Milky Way (centre)", "milkywayinsagittarius", 0},
    {"Milky Way in Scutum", "milkywayinscutum", 25},
    {"Milky Way in Cygnus", "milkywayincygnus", 78},
    {"Milky Way in Cassiopeia", "milkywayincassiopeia", 122},
    {"Milky Way in Auriga", "milkywayinauriga", 172},
    {"Milky Way in Monoceros", "milkywayinmonoceros", 215},
    {"Milky Way in Vela", "milkywayinvela", 268},
    {"Milky Way in Crux", "milkywayincrux", 301},
};

static void galactic_direction(double *ra_deg, double *dec_deg, double longitude_deg)
{
    double ra, dec;
    eraG2icrs(longitude_deg * RAD_PER_DEG, 0, &ra, &dec);
    *ra_deg = ra * DEG_PER_RAD;
    *dec_deg = dec * DEG_PER_RAD;
}

void milky_way_part(struct object *object, int i)
{
    double ra, dec, ahead_ra, ahead_dec;
    galactic_direction(&ra, &dec, parts[i].longitude_deg);
    galactic_direction(&ahead_ra, &ahead_dec, parts[i].longitude_deg + 1);
    double angle = radec_position_angle_deg(ra, dec, ahead_ra, ahead_dec);
    *object = (struct object){.id = parts[i].id,
                              .other_names = "",
                              .common_names = "",
                              .usual_name = "",
                              .type = OBJECT_STAR_CLOUD,
                              .ra_deg = ra,
                              .dec_deg = dec,
                              .magnitude = (double)NAN,
                              .magnitude_error = (double)NAN,
                              .major_arcmin = 60 * length_deg,
                              .minor_arcmin = 60 * breadth_deg,
                              .angle_deg = fmod(angle + 360, 180)};
}

bool milky_way_find(struct object *object, const char *name)
{
    static const char *const centre[] = {"milkyway",     "milkywaycentre", "milkywaycenter",
                                         "milkywaycore", "galacticcentre", "galacticcenter"};
    char key[NAME_KEY_SIZE], own[NAME_KEY_SIZE];
    int found = -1;
    name_key(key, name, NULL);
    for (size_t i = 0; i < sizeof centre / sizeof *centre; i++) {
        found = strcmp(key, centre[i]) == 0 ? 0 : found;
    }
    for (int i = 0; i < MILKY_WAY_PARTS; i++) {
        name_key(own, parts[i].id, NULL);
        found = strcmp(key, own) == 0 || strcmp(key, parts[i].key) == 0 ? i : found;
    }
    if (found >= 0) {
        milky_way_part(object, found);
    }
    return found >= 0;
}
