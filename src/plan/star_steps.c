#include "plan/star_steps.h"

#include "base/units.h"
#include "sky/vector.h"

#include <math.h>
#include <string.h>

/* Seen in a short test frame. */
static const double faintest_mag = 6;

/* Two stars share a frame, with some room at its edges, if they are so much of it apart. */
static const double used_part = 0.8;

/* A step more costs as much as so many magnitudes of all stars on the way. */
static const double mag_per_step = 20;

static const double least_altitude_deg = 5;

enum { NODES = 600 };

struct node {
    const struct object *star; /* NULL: the target */
    double v[3];               /* on the axes of the horizon */
    double azimuth_deg, altitude_deg;
    double cost;
    int before;
    bool done;
};

struct net {
    struct node node[NODES];
    int nodes;
    struct step_frame frame;
};

void frame_move_find(struct frame_move *move, const struct approach_stop *from,
                     const struct approach_stop *to, const struct step_frame *frame)
{
    double along = cos(from->altitude_deg * RAD_PER_DEG);
    *move = (struct frame_move){to->pan_deg * along / frame->across_deg,
                                to->tilt_deg / frame->along_deg};
}

static void set_node(struct node *node, const struct object *star, double azimuth_deg,
                     double altitude_deg)
{
    *node = (struct node){.star = star,
                          .azimuth_deg = azimuth_deg,
                          .altitude_deg = altitude_deg,
                          .cost = INFINITY,
                          .before = -1};
    horizon_vector(node->v, azimuth_deg, altitude_deg);
}

/* Where one is in a level camera's frame with the other in the middle; false behind it. */
static bool see(struct frame_move *at, const struct node *middle, const struct node *other,
                const struct step_frame *frame)
{
    double azimuth = middle->azimuth_deg * RAD_PER_DEG, up[3];
    const double right[3] = {cos(azimuth), -sin(azimuth), 0}; /* east, north, up */
    horizon_vector(up, middle->azimuth_deg, middle->altitude_deg + 90);
    double depth = vector_dot(other->v, middle->v);
    if (depth < 0.3) {
        return false;
    }
    at->right_widths =
        vector_dot(other->v, right) / depth / (2 * tan(frame->across_deg / 2 * RAD_PER_DEG));
    at->up_heights =
        vector_dot(other->v, up) / depth / (2 * tan(frame->along_deg / 2 * RAD_PER_DEG));
    return true;
}

static bool is_step(struct frame_move *at, const struct net *net, int from, int to)
{
    return see(at, &net->node[from], &net->node[to], &net->frame) &&
           fabs(at->right_widths) <= used_part && fabs(at->up_heights) <= used_part;
}

/* The stars between the start, which is the first node, and the target, the second. */
static void add_stars(struct net *net, const struct objects *objects, const struct horizon *horizon,
                      const struct skyline *skyline)
{
    const struct node *start = &net->node[0], *target = &net->node[1];
    double way = vector_angle_deg(start->v, target->v);
    double spare = 2 * fmax(net->frame.across_deg, net->frame.along_deg);
    for (int i = objects->deep_sky; i < objects->count && net->nodes < NODES; i++) {
        const struct object *star = &objects->object[i];
        double v[3], azimuth, altitude;
        if (star == start->star || !(star->magnitude <= faintest_mag)) {
            continue;
        }
        vector_from_radec(v, star->ra_deg, star->dec_deg);
        horizon_see(v, horizon, v, 0);
        horizon_angles(&azimuth, &altitude, v);
        bool hidden =
            altitude < least_altitude_deg || (skyline && skyline_hides(skyline, azimuth, altitude));
        if (!hidden &&
            vector_angle_deg(v, start->v) + vector_angle_deg(v, target->v) < way + spare) {
            set_node(&net->node[net->nodes++], star, azimuth, altitude);
        }
    }
}

/* The cheapest node that is not done; -1: none can be reached. */
static int next_node(const struct net *net)
{
    int best = -1;
    for (int i = 0; i < net->nodes; i++) {
        const struct node *node = &net->node[i];
        if (!node->done && isfinite(node->cost) &&
            (best < 0 || node->cost < net->node[best].cost)) {
            best = i;
        }
    }
    return best;
}

/* Dijkstra 1959: shortest ways from the first node. */
static void find_ways(struct net *net)
{
    net->node[0].cost = 0;
    for (int at = next_node(net); at >= 0 && at != 1; at = next_node(net)) {
        net->node[at].done = true;
        for (int i = 1; i < net->nodes; i++) {
            struct node *node = &net->node[i];
            struct frame_move ignored;
            double mag = node->star ? node->star->magnitude + 2 : 0; /* none below zero */
            double cost = net->node[at].cost + mag_per_step + mag;
            if (!node->done && cost < node->cost && is_step(&ignored, net, at, i)) {
                node->cost = cost;
                node->before = at;
            }
        }
    }
}

static void read_way(struct star_steps *steps, const struct net *net)
{
    int length = 0;
    for (int at = 1; at > 0; at = net->node[at].before) {
        length++;
    }
    if (!isfinite(net->node[1].cost) || length > STAR_STEPS) {
        return;
    }
    steps->steps = length;
    for (int at = 1, i = length - 1; i >= 0; at = net->node[at].before, i--) {
        steps->step[i].star = net->node[at].star;
        is_step(&steps->step[i].from_before, net, net->node[at].before, at);
    }
}

void star_steps_find(struct star_steps *steps, const struct approach *approach,
                     const struct objects *objects, const struct place *place,
                     const struct skyline *skyline, struct utc utc, const struct step_frame *frame)
{
    const struct place air = approach_place(place);
    struct horizon horizon;
    struct net net = {.nodes = 2, .frame = *frame};
    memset(steps, 0, sizeof *steps);
    if (!approach->found || approach->stops < 2 || !horizon_make(&horizon, &air, utc)) {
        return;
    }
    const struct approach_stop *last = &approach->stop[approach->stops - 1];
    set_node(&net.node[0], approach->stop[0].star, approach->stop[0].azimuth_deg,
             approach->stop[0].altitude_deg);
    set_node(&net.node[1], NULL, last->azimuth_deg, last->altitude_deg);
    add_stars(&net, objects, &horizon, skyline);
    find_ways(&net);
    read_way(steps, &net);
}
