#include "match/detections.h"

#include "base/units.h"

#include <math.h>
#include <stdlib.h>

enum { CROWD_NEIGHBOURS = 8 };

static int grid_part(double value, double size)
{
    int part = (int)((value / size + 0.5) * DETECTIONS_GRID);
    return part < 0 ? 0 : part >= DETECTIONS_GRID ? DETECTIONS_GRID - 1 : part;
}

static int grid_cell(const struct detections *list, double x, double y)
{
    return grid_part(y, list->height) * DETECTIONS_GRID + grid_part(x, list->width);
}

static void fill_grid(struct detections *list)
{
    int next[DETECTIONS_GRID * DETECTIONS_GRID + 1] = {0};
    const int cells = DETECTIONS_GRID * DETECTIONS_GRID;
    for (int i = 0; i < list->count; i++) {
        next[grid_cell(list, list->d[i].x, list->d[i].y) + 1]++;
    }
    for (int c = 0; c < cells; c++) {
        next[c + 1] += next[c];
    }
    for (int c = 0; c <= cells; c++) {
        list->cell_start[c] = next[c];
    }
    for (int i = 0; i < list->count; i++) {
        list->by_cell[next[grid_cell(list, list->d[i].x, list->d[i].y)]++] = (short)i;
    }
}

/* Square of the distance to the CROWD_NEIGHBOURS-th nearest detection in this and the adjacent grid
 * cells; infinite if there are fewer. */
static double reach_of_neighbours(const struct detections *list, int which)
{
    const struct detection *d = &list->d[which];
    double nearest[CROWD_NEIGHBOURS];
    int found = 0;
    int column = grid_part(d->x, list->width), row = grid_part(d->y, list->height);
    int left = column > 0 ? column - 1 : 0, top = row > 0 ? row - 1 : 0;
    int right = column < DETECTIONS_GRID - 1 ? column + 1 : column;
    int bottom = row < DETECTIONS_GRID - 1 ? row + 1 : row;
    for (int r = top; r <= bottom; r++) {
        int end = list->cell_start[r * DETECTIONS_GRID + right + 1];
        for (int i = list->cell_start[r * DETECTIONS_GRID + left]; i < end; i++) {
            const struct detection *other = &list->d[list->by_cell[i]];
            double dx = other->x - d->x, dy = other->y - d->y, square = dx * dx + dy * dy;
            if (other == d || (found == CROWD_NEIGHBOURS && square >= nearest[found - 1])) {
                continue;
            }
            int place = found < CROWD_NEIGHBOURS ? found++ : found - 1;
            for (; place > 0 && nearest[place - 1] > square; place--) {
                nearest[place] = nearest[place - 1];
            }
            nearest[place] = square;
        }
    }
    return found == CROWD_NEIGHBOURS ? nearest[found - 1] : INFINITY;
}

/* Street lamps stand in rows and twigs in bushes: the density that counts is the local one. By
 * luck even scatter makes it look a third denser often; what is real in a sky hardly suffers. */
static void measure_crowds(struct detections *list)
{
    double average = list->count / (list->width * list->height);
    for (int i = 0; i < list->count; i++) {
        double local = CROWD_NEIGHBOURS / (PI * reach_of_neighbours(list, i));
        list->d[i].crowd = fmax(1, local / (1.3 * average));
    }
}

double detections_position_error(const struct star_list *list)
{
    double sum = 0;
    int used = list->count < 200 ? list->count : 200;
    for (int i = 0; i < used; i++) {
        sum += list->star[i].size * sqrt(fmax(1, list->star[i].elongation));
    }
    return used ? fmin(3, 0.35 + 0.15 * sum / used) : 0.5;
}

void detections_make(struct detections *out, const struct star_list *list)
{
    out->count = list->count < DETECTIONS_LIMIT ? list->count : DETECTIONS_LIMIT;
    out->mirrored = false;
    out->width = list->width;
    out->height = list->height;
    out->half_diagonal = 0.5 * hypot(list->width, list->height);
    out->sigma = detections_position_error(list);
    for (int i = 0; i < out->count; i++) {
        out->d[i].x = list->star[i].x - 0.5 * (list->width - 1);
        out->d[i].y = list->star[i].y - 0.5 * (list->height - 1);
        out->d[i].rank = i;
    }
    fill_grid(out);
    measure_crowds(out);
}

void detections_mirror(struct detections *out, const struct detections *direct)
{
    *out = *direct;
    out->mirrored = !direct->mirrored;
    for (int i = 0; i < out->count; i++) {
        out->d[i].x = -direct->d[i].x;
    }
    fill_grid(out);
}

double detections_rank_magnitude(double rank)
{
    return log(rank + 0.5) / DETECTIONS_COUNTS_SLOPE;
}

double detections_magnitude_rank(double magnitude)
{
    return exp(DETECTIONS_COUNTS_SLOPE * magnitude) - 0.5;
}

void detections_near(const struct detections *list, double x, double y, double reach,
                     void (*visit)(const struct detection *d, void *context), void *context)
{
    int left = grid_part(x - reach, list->width), right = grid_part(x + reach, list->width);
    int top = grid_part(y - reach, list->height), bottom = grid_part(y + reach, list->height);
    for (int row = top; row <= bottom; row++) {
        int first = list->cell_start[row * DETECTIONS_GRID + left];
        int end = list->cell_start[row * DETECTIONS_GRID + right + 1];
        for (int i = first; i < end; i++) {
            visit(&list->d[list->by_cell[i]], context);
        }
    }
}
