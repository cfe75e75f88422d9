#include "match/quad.h"

#include "sky/vector.h"

#include <math.h>
#include <string.h>

static double square_distance(const double a[2], const double b[2])
{
    double dx = a[0] - b[0], dy = a[1] - b[1];
    return dx * dx + dy * dy;
}

static const int pairs[6][4] = {{0, 1, 2, 3}, {0, 2, 1, 3}, {0, 3, 1, 2},
                                {1, 2, 0, 3}, {1, 3, 0, 2}, {2, 3, 0, 1}};

/* Puts the indices of the farthest pair first; returns the square of its distance. */
static double farthest_pair_first(int order[4], double point[4][2])
{
    double longest = -1;
    for (int i = 0; i < 6; i++) {
        double d = square_distance(point[pairs[i][0]], point[pairs[i][1]]);
        if (d > longest) {
            longest = d;
            memcpy(order, pairs[i], sizeof pairs[i]);
        }
    }
    return longest;
}

static void swap_int(int *a, int *b)
{
    int t = *a;
    *a = *b;
    *b = t;
}

static void swap_double(double *a, double *b)
{
    double t = *a;
    *a = *b;
    *b = t;
}

/* Applies the two naming rules to a shape whose A and B are the farthest pair. */
static void make_canonical(double shape[4], int order[4])
{
    if (shape[0] + shape[2] > 1) {
        for (int i = 0; i < 4; i++) {
            shape[i] = (i % 2 ? 0 : 1) - shape[i];
        }
        swap_int(&order[0], &order[1]);
    }
    if (shape[0] > shape[2]) {
        swap_double(&shape[0], &shape[2]);
        swap_double(&shape[1], &shape[3]);
        swap_int(&order[2], &order[3]);
    }
}

bool quad_shape(double shape[4], int order[4], double *diameter, double point[4][2])
{
    int named[4];
    double square = farthest_pair_first(named, point);
    if (!(square > 0)) {
        return false;
    }
    const double *a = point[named[0]], *b = point[named[1]];
    double bx = b[0] - a[0], by = b[1] - a[1];
    for (int i = 0; i < 2; i++) {
        const double *p = point[named[2 + i]];
        double px = p[0] - a[0], py = p[1] - a[1];
        shape[2 * i] = (px * bx + py * by) / square;
        shape[2 * i + 1] = (py * bx - px * by) / square;
    }
    make_canonical(shape, named);
    memcpy(order, named, sizeof named);
    *diameter = sqrt(square);
    return true;
}

void quad_mirror(double shape[4], int order[4])
{
    shape[1] = -shape[1];
    shape[3] = -shape[3];
    make_canonical(shape, order);
}

/* Any two axes at right angles to c, such that e1 x e2 = c. */
static void plane_axes(double e1[3], double e2[3], const double c[3])
{
    double helper[3] = {fabs(c[0]) < 0.6, fabs(c[0]) >= 0.6, 0};
    vector_cross(e1, helper, c);
    vector_normalise(e1);
    vector_cross(e2, c, e1);
}

bool quad_sky_plane(double point[4][2], double direction[4][3])
{
    double c[3] = {0}, e1[3], e2[3];
    for (int i = 0; i < 4; i++) {
        for (int axis = 0; axis < 3; axis++) {
            c[axis] += direction[i][axis];
        }
    }
    if (!(vector_dot(c, c) > 0.1)) {
        return false;
    }
    vector_normalise(c);
    plane_axes(e1, e2, c);
    for (int i = 0; i < 4; i++) {
        double z = vector_dot(direction[i], c);
        if (z < 0.1736) {
            return false;
        }
        point[i][0] = vector_dot(direction[i], e1) / z;
        point[i][1] = vector_dot(direction[i], e2) / z;
    }
    return true;
}

/* Places on the plane that touches the sphere, as vectors: p with p c = 1. */
static bool put_on_plane(double p[4][3], double c[3], double direction[4][3])
{
    double square = 0;
    for (int axis = 0; axis < 3; axis++) {
        c[axis] = direction[0][axis] + direction[1][axis] + direction[2][axis] + direction[3][axis];
        square += c[axis] * c[axis];
    }
    double least = 0.1736 * sqrt(square);
    for (int i = 0; i < 4; i++) {
        double z = direction[i][0] * c[0] + direction[i][1] * c[1] + direction[i][2] * c[2];
        if (z < least) {
            return false;
        }
        const double farther = 1 / z;
        for (int axis = 0; axis < 3; axis++) {
            p[i][axis] = direction[i][axis] * farther;
        }
    }
    return square > 0.1;
}

bool quad_sky_shape(double shape[4], int order[4], double *diameter, double direction[4][3])
{
    double p[4][3], c[3], b[3], square = -1;
    int farthest = 0;
    if (!put_on_plane(p, c, direction)) {
        return false;
    }
    for (int i = 0; i < 6; i++) {
        const double *from = p[pairs[i][0]], *to = p[pairs[i][1]];
        double x = to[0] - from[0], y = to[1] - from[1], z = to[2] - from[2];
        double d = x * x + y * y + z * z;
        if (d > square) {
            square = d;
            farthest = i;
        }
    }
    if (!(square > 0)) {
        return false;
    }
    double length = sqrt(c[0] * c[0] + c[1] * c[1] + c[2] * c[2]);
    const double *a = p[pairs[farthest][0]];
    for (int axis = 0; axis < 3; axis++) {
        b[axis] = p[pairs[farthest][1]][axis] - a[axis];
    }
    /* Im is what p sticks out beside b: along c x b. */
    const double side[3] = {c[1] * b[2] - c[2] * b[1], c[2] * b[0] - c[0] * b[2],
                            c[0] * b[1] - c[1] * b[0]};
    double real = 1 / square, imaginary = real / length;
    for (int i = 0; i < 2; i++) {
        const double *q = p[pairs[farthest][2 + i]];
        const double d[3] = {q[0] - a[0], q[1] - a[1], q[2] - a[2]};
        shape[2 * i] = (d[0] * b[0] + d[1] * b[1] + d[2] * b[2]) * real;
        shape[2 * i + 1] = (d[0] * side[0] + d[1] * side[1] + d[2] * side[2]) * imaginary;
    }
    memcpy(order, pairs[farthest], sizeof pairs[farthest]);
    make_canonical(shape, order);
    *diameter = sqrt(square) * length;
    return true;
}
