#include "stack/sky_surface.h"

#include "base/least_squares.h"
#include "base/median.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Shares of the mesh that count, from which on the surface has an order. */
static const struct {
    double share;
    int order;
} orders[] = {{0.6, 4}, {0.35, 2}, {0.15, 1}};

static const double clip = 3;
enum { ROUNDS = 4, LEAST_NODES = 3 * SKY_SURFACE_TERMS };

static int fill_row(double row[SKY_SURFACE_TERMS], const struct sky_surface *s, double x, double y)
{
    double u = (x - s->middle[0]) / s->half, v = (y - s->middle[1]) / s->half;
    double up[SKY_SURFACE_ORDER + 1] = {1}, vp[SKY_SURFACE_ORDER + 1] = {1};
    int n = 0;
    for (int i = 1; i <= s->order; i++) {
        up[i] = up[i - 1] * u;
        vp[i] = vp[i - 1] * v;
    }
    for (int sum = 0; sum <= s->order; sum++) {
        for (int q = 0; q <= sum; q++) {
            row[n++] = up[sum - q] * vp[q];
        }
    }
    return n;
}

double sky_surface_level(const struct sky_surface *surface, double x, double y)
{
    double row[SKY_SURFACE_TERMS], level = 0;
    if (!(surface->half > 0)) {
        return 0;
    }
    int n = fill_row(row, surface, x, y);
    for (int i = 0; i < n; i++) {
        level += row[i] * surface->term[i];
    }
    return level;
}

/* Cells at the right and lower edges may be cut. */
void sky_surface_node(double *x, double *y, const struct background *mesh, int width, int height,
                      int node)
{
    int column = node % mesh->columns, row = node / mesh->columns;
    *x = (column * mesh->cell + fmin((column + 1) * mesh->cell, width)) / 2 - 0.5;
    *y = (row * mesh->cell + fmin((row + 1) * mesh->cell, height)) / 2 - 0.5;
}

/* A mesh and the size of its plane. */
struct meshed {
    const struct background *mesh;
    int width, height;
};

/* What a node's level is off by, for nodes that count. */
static double node_rest(const struct sky_surface *s, const struct meshed *m, int node)
{
    double x, y;
    sky_surface_node(&x, &y, m->mesh, m->width, m->height, node);
    return (double)m->mesh->level[node] - sky_surface_level(s, x, y);
}

static bool solve(struct sky_surface *s, const struct meshed *m, const bool *used)
{
    struct least_squares ls;
    double row[SKY_SURFACE_TERMS];
    least_squares_start(&ls, fill_row(row, s, 0, 0));
    for (int i = 0; i < m->mesh->columns * m->mesh->rows; i++) {
        if (used[i]) {
            double x, y;
            sky_surface_node(&x, &y, m->mesh, m->width, m->height, i);
            fill_row(row, s, x, y);
            least_squares_add(&ls, row, (double)m->mesh->level[i], 1);
        }
    }
    return least_squares_solve(s->term, NULL, &ls);
}

/* Leaves out the nodes that are farther off than usual; spare: one a node. */
static void clip_nodes(bool *used, double *spare, const struct sky_surface *s,
                       const struct meshed *m, const bool *left_out)
{
    int n = 0, nodes = m->mesh->columns * m->mesh->rows;
    for (int i = 0; i < nodes; i++) {
        if (used[i]) {
            spare[n++] = fabs(node_rest(s, m, i));
        }
    }
    double most = clip * 1.4826 * median_of(spare, n);
    for (int i = 0; i < nodes; i++) {
        used[i] = !(left_out && left_out[i]) && fabs(node_rest(s, m, i)) <= most;
    }
}

static int choose_order(const struct background *mesh, const bool *used)
{
    int n = 0, nodes = mesh->columns * mesh->rows;
    for (int i = 0; i < nodes; i++) {
        n += used[i];
    }
    for (size_t i = 0; i < sizeof orders / sizeof *orders; i++) {
        int order = orders[i].order;
        if (n >= orders[i].share * nodes && n >= LEAST_NODES * order / SKY_SURFACE_ORDER) {
            return order;
        }
    }
    return 0;
}

int sky_surface_fit(struct sky_surface *surface, const struct background *mesh, int width,
                    int height, const bool *left_out, struct error *err)
{
    const struct meshed meshed = {mesh, width, height};
    size_t nodes = (size_t)mesh->columns * (size_t)mesh->rows;
    bool *used = malloc(nodes * sizeof *used);
    double *spare = malloc(nodes * sizeof *spare);
    int code = used && spare ? 0 : error_memory(err);
    *surface = (struct sky_surface){.middle = {width / 2.0, height / 2.0},
                                    .half = fmax(width, height) / 2.0};
    for (size_t i = 0; !code && i < nodes; i++) {
        used[i] = !(left_out && left_out[i]);
    }
    if (!code) {
        surface->order = choose_order(mesh, used);
    }
    for (int round = 0; !code && round < ROUNDS; round++) {
        if (!solve(surface, &meshed, used)) { /* nothing is left to fit to: the usual level */
            surface->order = 0;
            memset(surface->term, 0, sizeof surface->term);
            surface->term[0] = mesh->typical_level;
            break;
        }
        clip_nodes(used, spare, surface, &meshed, left_out);
    }
    free(used);
    free(spare);
    return code;
}
