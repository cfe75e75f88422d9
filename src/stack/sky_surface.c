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

/* A mesh on its way to a surface. */
struct fitting {
    const struct background *mesh;
    const bool *left_out;
    int nodes, terms;
    double *row; /* terms of each node */
    bool *used;  /* nodes that the equations hold */
    double *spare;
    struct least_squares equations;
};

static int make_room(struct fitting *f, const bool *left_out, struct error *err)
{
    size_t n = (size_t)f->nodes;
    f->row = malloc(n * SKY_SURFACE_TERMS * sizeof *f->row);
    f->used = malloc(n * sizeof *f->used);
    f->spare = malloc(n * sizeof *f->spare);
    f->left_out = left_out;
    for (size_t i = 0; f->used && i < n; i++) {
        f->used[i] = !(left_out && left_out[i]);
    }
    return f->row && f->used && f->spare ? 0 : error_memory(err);
}

static void free_room(struct fitting *f)
{
    free(f->row);
    free(f->used);
    free(f->spare);
}

static void fill_equations(struct fitting *f, const struct sky_surface *s, int width, int height)
{
    double x, y;
    f->terms = fill_row(f->row, s, 0, 0);
    least_squares_start(&f->equations, f->terms);
    for (int i = 0; i < f->nodes; i++) {
        double *row = f->row + (size_t)i * SKY_SURFACE_TERMS;
        sky_surface_node(&x, &y, f->mesh, width, height, i);
        fill_row(row, s, x, y);
        if (f->used[i]) {
            least_squares_add(&f->equations, row, (double)f->mesh->level[i], 1);
        }
    }
}

/* What a node's level is off by. */
static double node_rest(const struct fitting *f, const struct sky_surface *s, int node)
{
    const double *row = f->row + (size_t)node * SKY_SURFACE_TERMS;
    double rest = (double)f->mesh->level[node];
    for (int i = 0; i < f->terms; i++) {
        rest -= row[i] * s->term[i];
    }
    return rest;
}

/* Takes the nodes out of the equations that are farther off than usual, and back in those that are
 * not any more. Returns whether there were such. */
static bool clip_nodes(struct fitting *f, const struct sky_surface *s)
{
    int n = 0, changed = 0;
    for (int i = 0; i < f->nodes; i++) {
        if (f->used[i]) {
            f->spare[n++] = fabs(node_rest(f, s, i));
        }
    }
    double most = clip * 1.4826 * median_of(f->spare, n);
    for (int i = 0; i < f->nodes; i++) {
        bool use = !(f->left_out && f->left_out[i]) && fabs(node_rest(f, s, i)) <= most;
        if (use != f->used[i]) {
            least_squares_add(&f->equations, f->row + (size_t)i * SKY_SURFACE_TERMS,
                              (double)f->mesh->level[i], use ? 1 : -1);
            f->used[i] = use;
            changed++;
        }
    }
    return changed > 0;
}

static double usual_rest(struct fitting *f, const struct sky_surface *s)
{
    int n = 0;
    for (int i = 0; i < f->nodes; i++) {
        if (!(f->left_out && f->left_out[i])) {
            f->spare[n++] = fabs(node_rest(f, s, i));
        }
    }
    return median_of(f->spare, n);
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

static void fit(struct sky_surface *surface, struct fitting *f, int width, int height)
{
    surface->order = choose_order(f->mesh, f->used);
    fill_equations(f, surface, width, height);
    for (int round = 0; round < ROUNDS; round++) {
        if (!least_squares_solve(surface->term, NULL, &f->equations)) {
            /* Nothing is left to fit to: the usual level. */
            surface->order = 0;
            memset(surface->term, 0, sizeof surface->term);
            surface->term[0] = f->mesh->typical_level;
            return;
        }
        if (!clip_nodes(f, surface)) {
            return;
        }
    }
}

int sky_surface_fit(struct sky_surface *surface, const struct background *mesh, int width,
                    int height, const bool *left_out, struct error *err)
{
    struct fitting f = {.mesh = mesh, .nodes = mesh->columns * mesh->rows};
    int code = make_room(&f, left_out, err);
    *surface = (struct sky_surface){.middle = {width / 2.0, height / 2.0},
                                    .half = fmax(width, height) / 2.0};
    if (!code) {
        fit(surface, &f, width, height);
        surface->rest = usual_rest(&f, surface);
    }
    free_room(&f);
    return code;
}
