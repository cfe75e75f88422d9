#include "plan/approach.h"

#include "sky/sun_moon.h"
#include "sky/vector.h"
#include "tripod/advice.h"

#include <math.h>
#include <string.h>

static const double start_mag = 2.5, way_mag = 3.5, least_altitude_deg = 12, far_deg = 15;

/* A star near the zenith is none to start from, unless the target is so high: by this much more. */
static const double above_target_deg = 8;

/* What is nearer to a star than this is that star. */
static const double same_deg = 0.05;

/* A magnitude brighter is worth so many degrees of way. */
static const double degrees_per_mag = 2;

/* The risen edge of the Sun harms as well. */
static const double sun_up_deg = -1;

struct sight {
    double azimuth_deg, altitude_deg;
};

struct scene {
    const struct objects *objects;
    const struct skyline *skyline; /* NULL: none */
    struct horizon horizon;
    struct sight target, sun;
};

static double sight_angle(const struct sight *a, const struct sight *b)
{
    return radec_angle_deg(a->azimuth_deg, a->altitude_deg, b->azimuth_deg, b->altitude_deg);
}

/* How near a straight move comes to the Sun; 180 if that is down. */
static double sun_distance(const struct scene *scene, const struct sight *from,
                           const struct sight *to)
{
    enum { STEPS = 60 };
    double nearest = 180, pan = angle_wrap_180(to->azimuth_deg - from->azimuth_deg);
    for (int i = 0; scene->sun.altitude_deg > sun_up_deg && i <= STEPS; i++) {
        double part = (double)i / STEPS;
        struct sight at = {from->azimuth_deg + part * pan,
                           from->altitude_deg + part * (to->altitude_deg - from->altitude_deg)};
        nearest = fmin(nearest, sight_angle(&at, &scene->sun));
    }
    return nearest;
}

/* False if it is too low, or behind the skyline. */
static bool see_star(struct sight *sight, const struct scene *scene, const struct object *star)
{
    horizon_find(&sight->azimuth_deg, &sight->altitude_deg, &scene->horizon, star->ra_deg,
                 star->dec_deg);
    return sight->altitude_deg >= least_altitude_deg &&
           !(scene->skyline &&
             skyline_hides(scene->skyline, sight->azimuth_deg, sight->altitude_deg));
}

static void add_stop(struct approach *approach, const struct object *star,
                     const struct sight *sight)
{
    struct approach_stop *stop = &approach->stop[approach->stops];
    *stop = (struct approach_stop){star, sight->azimuth_deg, sight->altitude_deg, 0, 0};
    if (approach->stops > 0) {
        stop->pan_deg = angle_wrap_180(stop->azimuth_deg - stop[-1].azimuth_deg);
        stop->tilt_deg = stop->altitude_deg - stop[-1].altitude_deg;
    }
    approach->stops++;
}

/* The star to start from; NULL if there is none, *by_sun if only the Sun is in the way. */
static const struct object *choose_start(struct sight *chosen, bool *by_sun,
                                         const struct scene *scene)
{
    const struct object *best = NULL;
    double least = INFINITY;
    double highest_deg = fmax(ADVICE_HIGH_DEG, scene->target.altitude_deg + above_target_deg);
    *by_sun = false;
    for (int i = scene->objects->deep_sky; i < scene->objects->count; i++) {
        const struct object *star = &scene->objects->object[i];
        struct sight sight;
        if (!(star->magnitude <= start_mag) || !see_star(&sight, scene, star) ||
            sight.altitude_deg > highest_deg) {
            continue;
        }
        double cost = sight_angle(&sight, &scene->target) + degrees_per_mag * star->magnitude;
        if (cost >= least) {
            continue;
        }
        if (sun_distance(scene, &sight, &scene->target) < APPROACH_SUN_DEG) {
            *by_sun = true;
            continue;
        }
        least = cost;
        best = star;
        *chosen = sight;
    }
    return best;
}

/* The star that comes nearest to a point that lies a part of the way from one sight to another;
 * NULL if none lies within a quarter of the way of it. */
static const struct object *choose_between(struct sight *chosen, const struct scene *scene,
                                           const struct sight *from, double part)
{
    double pan = angle_wrap_180(scene->target.azimuth_deg - from->azimuth_deg);
    struct sight ideal = {from->azimuth_deg + part * pan,
                          from->altitude_deg +
                              part * (scene->target.altitude_deg - from->altitude_deg)};
    double nearest = sight_angle(from, &scene->target) / 4;
    const struct object *best = NULL;
    for (int i = scene->objects->deep_sky; i < scene->objects->count; i++) {
        const struct object *star = &scene->objects->object[i];
        struct sight sight;
        if (!(star->magnitude <= way_mag) || !see_star(&sight, scene, star)) {
            continue;
        }
        double distance = sight_angle(&sight, &ideal);
        bool safe = sun_distance(scene, from, &sight) >= APPROACH_SUN_DEG &&
                    sun_distance(scene, &sight, &scene->target) >= APPROACH_SUN_DEG;
        if (distance < nearest && safe) {
            nearest = distance;
            best = star;
            *chosen = sight;
        }
    }
    return best;
}

static void add_way(struct approach *approach, const struct scene *scene, const struct sight *start)
{
    struct sight sight = *start, last;
    int legs = approach->distance_deg > 2 * far_deg ? 3 : approach->distance_deg > far_deg ? 2 : 1;
    for (int i = 1; i < legs; i++) {
        /* Parts of what is left: half of it, or a third and then a half. */
        const struct object *star = choose_between(&last, scene, &sight, 1.0 / (legs - i + 1));
        if (star && star != approach->stop[approach->stops - 1].star) {
            add_stop(approach, star, &last);
            sight = last;
        }
    }
}

static double sweep_sun_distance(const struct approach *approach, const struct scene *scene)
{
    double nearest = 180;
    for (int i = 1; i < approach->stops; i++) {
        const struct approach_stop *a = &approach->stop[i - 1], *b = &approach->stop[i];
        struct sight from = {a->azimuth_deg, a->altitude_deg};
        struct sight to = {b->azimuth_deg, b->altitude_deg};
        nearest = fmin(nearest, sun_distance(scene, &from, &to));
    }
    return nearest;
}

struct place approach_place(const struct place *place)
{
    const double usual_c = 10;
    struct place with = *place;
    if (!(with.pressure_hpa > 0)) {
        with.pressure_hpa = horizon_usual_pressure(with.height_m);
        with.temperature_c = usual_c;
    }
    return with;
}

bool approach_find(struct approach *approach, const struct objects *objects,
                   const struct place *place, const struct skyline *skyline, struct utc utc,
                   double ra_deg, double dec_deg)
{
    struct place seen_from = approach_place(place);
    struct scene scene = {.objects = objects, .skyline = skyline};
    struct sun_moon_position sun;
    struct sight start = {0, 0};
    memset(approach, 0, sizeof *approach);
    if (!sun_moon_from_place(&sun, THE_SUN, place, utc) ||
        !horizon_make(&scene.horizon, &seen_from, utc)) {
        return false;
    }
    horizon_find(&scene.target.azimuth_deg, &scene.target.altitude_deg, &scene.horizon, ra_deg,
                 dec_deg);
    scene.sun = (struct sight){sun.azimuth_deg, sun.altitude_deg};
    approach->sun_altitude_deg = sun.altitude_deg;
    approach->sun_nearest_deg = 180;
    const struct object *star = choose_start(&start, &approach->sun_too_near, &scene);
    if (!star || scene.target.altitude_deg < 0) {
        return true;
    }
    approach->found = true;
    approach->sun_too_near = false;
    approach->distance_deg = sight_angle(&start, &scene.target);
    add_stop(approach, star, &start);
    if (approach->distance_deg > same_deg) {
        add_way(approach, &scene, &start);
        add_stop(approach, NULL, &scene.target);
    }
    approach->sun_nearest_deg = sweep_sun_distance(approach, &scene);
    return true;
}
