#include "base/large.h"
#include "base/parallel.h"
#include "base/wider.h"
#include "stack/stack_parts.h"

#include <math.h>
#include <stdatomic.h>
#include <stdlib.h>

/* Cells of the mesh on which the sky's level is found; of larger planes not all pixels are looked
 * at, but so many. */
enum { MESH_MOST = 64, MESH_LEAST = 16, MESH_PARTS = 20, LOOKS = 600000, TINT_LOOKS = 150000 };
/* The outline so many times as large is kept out of the sky's level. */
static const double left_out_times = 1.3;

/* A sky that is off its surface by more than so many times what the evenest is costs a frame
 * weight: by its noise and so many times that together. */
static const double uneven_times = 2, uneven_cost = 50;

enum { LUMINANCE, RED, BLUE, SHEETS };
/* Where a corner of the grid of STACK_BAND pixels lies in the frame, and the sheets' sky there. */
enum { NODE_X, NODE_Y, NODE_SKY, NODE_NUMBERS = NODE_SKY + SHEETS };
struct node {
    float at[NODE_NUMBERS];
};

/* Of so many cells every other row is enough to know the noise by. */
enum { MANY_CELLS = 4000 };

/* A frame on its way to the sheet. */
struct laying {
    struct stack *stack;
    const struct stack_frame *frame;
    struct stack_sheet sheet[SHEETS];
    struct sky_surface sky[SHEETS];
    struct node *node;
    int columns, rows; /* of nodes */
    bool tinted;
    float light, tint_scale, weight, noise;
    atomic_bool failed, touched;
};

/* ---- the planes ---- */

/* Means of 2 x 2 pixels. */
static PLAIN void mean_of_pairs_plain(float *restrict out, const float *restrict above,
                                      const float *restrict below, int width)
{
    for (int x = 0; x < width; x++) {
        out[x] = (above[2 * x] + above[2 * x + 1] + below[2 * x] + below[2 * x + 1]) / 4;
    }
}

WIDER(mean_of_pairs,
      (float *restrict out, const float *restrict above, const float *restrict below, int width),
      (out, above, below, width))

static void shrink_row(float *out, const float *from, size_t stride, int width, int step)
{
    for (int x = 0; x < width; x++) {
        float sum = 0;
        for (int k = 0; k < step * step; k++) {
            sum += from[(size_t)(k / step) * stride + (size_t)(x * step + k % step)];
        }
        out[x] = sum / (float)(step * step);
    }
}

/* Means of step x step pixels, where the sheet is coarser than the plane. */
static void shrink(float *out, const struct plane *plane, int step)
{
    size_t stride = (size_t)plane->width;
    int width = plane->width / step, height = plane->height / step;
    for (int y = 0; y < height; y++) {
        const float *from = plane->value + (size_t)y * (size_t)step * stride;
        float *to = out + (size_t)y * (size_t)width;
        if (step == 2) { /* of most frames */
            mean_of_pairs(to, from, from + stride, width);
        } else {
            shrink_row(to, from, stride, width, step);
        }
    }
}

/* The room for that stays with the stack, since the next frame needs as much. */
static int make_spare(struct stack *stack, size_t values, struct error *err)
{
    if (stack->spare_values < values) {
        free(stack->spare);
        stack->spare = large_alloc(values * sizeof *stack->spare);
        stack->spare_values = stack->spare ? values : 0;
    }
    return stack->spare ? 0 : error_memory(err);
}

static int take_plane(struct laying *l, struct error *err)
{
    const struct plane *plane = l->frame->plane;
    double ratio = l->stack->place.scale_arcsec / (wcs_scale_arcsec(l->frame->wcs) * plane->bin);
    int step = (int)fmax(1, floor(ratio + 0.3));
    step = step < plane->width / 8 && step < plane->height / 8 ? step : 1;
    int width = plane->width / step, height = plane->height / step;
    int code = step > 1 ? make_spare(l->stack, (size_t)width * (size_t)height, err) : 0;
    if (!code && step > 1) {
        shrink(l->stack->spare, plane, step);
    }
    l->sheet[LUMINANCE] = (struct stack_sheet){step > 1 ? l->stack->spare : plane->value, width,
                                               height, plane->bin * step, &l->sky[LUMINANCE]};
    return code;
}

/* Red and blue less the luminance, which takes the place of green. */
static void take_tints(struct laying *l)
{
    struct colours *colours = l->frame->colours;
    size_t n = colours ? (size_t)colours->width * (size_t)colours->height : 0;
    if (!colours || !colours->value[0]) {
        return;
    }
    float *red = colours->value[0], *green = colours->value[1], *blue = colours->value[2];
    for (int s = RED; s <= BLUE; s++) {
        l->sheet[s] = (struct stack_sheet){s == RED ? red : blue, colours->width, colours->height,
                                           colours->bin, &l->sky[s]};
    }
    for (size_t i = 0; i < n; i++) {
        green[i] = (red[i] + 2 * green[i] + blue[i]) / 4;
        red[i] -= green[i];
        blue[i] -= green[i];
    }
    l->tinted = true;
}

/* A line that is left out, in pixels of a sheet. */
struct crossing {
    float from[2], along[2], length2;
};

static struct crossing crossing_of(const struct streak *streak, double bin)
{
    struct crossing c = {
        .from = {(float)((streak->x0 + 0.5) / bin - 0.5), (float)((streak->y0 + 0.5) / bin - 0.5)},
        .along = {(float)((streak->x1 - streak->x0) / bin),
                  (float)((streak->y1 - streak->y0) / bin)}};
    c.length2 = fmaxf(c.along[0] * c.along[0] + c.along[1] * c.along[1], 1e-6F);
    return c;
}

/* Square of how far a place is from it. */
static inline float square_from(const struct crossing *c, float x, float y)
{
    float u = x - c->from[0], v = y - c->from[1];
    float part = (u * c->along[0] + v * c->along[1]) / c->length2;
    part = part < 0 ? 0 : part > 1 ? 1 : part;
    u -= part * c->along[0];
    v -= part * c->along[1];
    return u * u + v * v;
}

/* Whether a node of the mesh may have its level from a line, or from a neighbour that has. */
static bool is_crossed(const struct laying *l, const struct stack_sheet *sheet, double cell,
                       double x, double y)
{
    const struct streak_list *crossed = l->frame->crossed;
    double reach = l->frame->crossed_px / sheet->bin + 2 * cell;
    for (int k = 0; crossed && k < crossed->count; k++) {
        const struct crossing c = crossing_of(&crossed->streak[k], sheet->bin);
        if ((double)square_from(&c, (float)x, (float)y) < reach * reach) {
            return true;
        }
    }
    return false;
}

/* Nodes of the mesh that the target, with its surroundings, covers, or a line. */
static bool *find_covered(const struct laying *l, const struct background *mesh,
                          const struct stack_sheet *sheet)
{
    bool *covered = calloc((size_t)mesh->columns * (size_t)mesh->rows, sizeof *covered);
    for (int i = 0; covered && i < mesh->columns * mesh->rows; i++) {
        double v[3], x, y;
        sky_surface_node(&x, &y, mesh, sheet->width, sheet->height, i);
        wcs_direction(v, l->frame->wcs, (x + 0.5) * sheet->bin - 0.5, (y + 0.5) * sheet->bin - 0.5);
        covered[i] = stack_target_contains(&l->stack->place.target, v, left_out_times) ||
                     is_crossed(l, sheet, mesh->cell, x, y);
    }
    return covered;
}

static int choose_mesh(const struct stack_sheet *sheet)
{
    int shorter = sheet->width < sheet->height ? sheet->width : sheet->height;
    int mesh = shorter / MESH_PARTS;
    return mesh > MESH_MOST ? MESH_MOST : mesh < MESH_LEAST ? MESH_LEAST : mesh;
}

static int find_sky(struct laying *l, int s, double *noise, struct error *err)
{
    const struct stack_sheet *sheet = &l->sheet[s];
    struct background mesh = {0};
    double looks = s == LUMINANCE ? LOOKS : TINT_LOOKS;
    int step = (int)fmax(1, round(sqrt((double)sheet->width * sheet->height / looks)));
    int code = background_measure(&mesh, NULL, sheet->value, sheet->width, sheet->height,
                                  choose_mesh(sheet), step, l->frame->threads, err);
    if (code) {
        return code;
    }
    bool *covered = find_covered(l, &mesh, sheet);
    code = covered ? sky_surface_fit(&l->sky[s], &mesh, sheet->width, sheet->height, covered, err)
                   : error_memory(err);
    *noise = mesh.typical_noise;
    if (s == LUMINANCE) {
        l->stack->sky_looks = (double)sheet->width * sheet->height / ((double)step * step);
    }
    free(covered);
    background_free(&mesh);
    return code;
}

/* ---- the grid ---- */

static void fill_node(struct node *node, const struct laying *l, int i, int j)
{
    double v[3], x = NAN, y = NAN;
    wcs_direction(v, &l->stack->wcs, i * STACK_BAND, j * STACK_BAND);
    if (!wcs_pixel(&x, &y, l->frame->wcs, v)) {
        x = y = NAN;
    }
    node->at[NODE_X] = (float)x;
    node->at[NODE_Y] = (float)y;
    for (int s = 0; s < (l->tinted ? SHEETS : 1); s++) {
        double bin = l->sheet[s].bin;
        node->at[NODE_SKY + s] =
            (float)sky_surface_level(&l->sky[s], (x + 0.5) / bin - 0.5, (y + 0.5) / bin - 0.5);
    }
}

static int fill_nodes(struct laying *l, struct error *err)
{
    l->columns = l->stack->place.width / STACK_BAND + 2;
    l->rows = l->stack->place.height / STACK_BAND + 2;
    l->node = malloc((size_t)l->columns * (size_t)l->rows * sizeof *l->node);
    if (!l->node) {
        return error_memory(err);
    }
    for (int j = 0; j < l->rows; j++) {
        for (int i = 0; i < l->columns; i++) {
            fill_node(&l->node[(size_t)j * (size_t)l->columns + (size_t)i], l, i, j);
        }
    }
    return 0;
}

/* Pixels that are worked out at once; none of the lines below has nodes within such a piece. */
enum { PIECE = 16 };

/* Pixels of a row of the sheet: from x = first on, step apart. */
struct line {
    float first, step, y;
    int count;
};

/* A number of the nodes times a factor and with an addend. */
struct wanted {
    float *out; /* with room for PIECE more than the line has */
    int number;
    float factor, addend;
};

static inline void fill_piece(float *out, float begin, float slope)
{
    for (int k = 0; k < PIECE; k++) {
        out[k] = begin + slope * (float)k;
    }
}

/* What is wanted of the nodes for a line. */
static void between_nodes(const struct wanted *wanted, int numbers, const struct laying *l,
                          const struct line *line)
{
    float y = line->y / STACK_BAND, step = line->step / STACK_BAND;
    int j = (int)y;
    float down = y - (float)j;
    for (int i = 0; i < line->count; i += PIECE) {
        float u = line->first / STACK_BAND + step * (float)i;
        int column = (int)u;
        float across = u - (float)column;
        const struct node *a = l->node + (size_t)j * (size_t)l->columns + (size_t)column;
        const struct node *b = a + l->columns;
        for (int k = 0; k < numbers; k++) {
            int n = wanted[k].number;
            float left = a[0].at[n] + down * (b[0].at[n] - a[0].at[n]);
            float right = a[1].at[n] + down * (b[1].at[n] - a[1].at[n]), slope = right - left;
            fill_piece(wanted[k].out + i,
                       (left + across * slope) * wanted[k].factor + wanted[k].addend,
                       slope * step * wanted[k].factor);
        }
    }
}

/* ---- bands of the sheet ---- */

/* Rooms for one row. */
struct row_work {
    float *x, *y, *sky, *value, *share;
    float *fits; /* STACK_BAND rows: what became of the luminance */
};

static bool row_work_make(struct row_work *w, int width)
{
    size_t n = (size_t)width + PIECE;
    w->x = malloc((5 + STACK_BAND) * n * sizeof *w->x);
    w->y = w->x ? w->x + n : NULL;
    w->sky = w->x ? w->y + n : NULL;
    w->value = w->x ? w->sky + n : NULL;
    w->share = w->x ? w->value + n : NULL;
    w->fits = w->x ? w->share + n : NULL;
    return w->x != NULL;
}

/* Values of a sheet above its sky, in the first frame's scale. */
static void warp(struct row_work *w, const struct laying *l, int s, const struct line *line)
{
    const struct stack_sheet *sheet = &l->sheet[s];
    float factor = (float)(1 / sheet->bin), addend = 0.5F * factor - 0.5F;
    float scale = 1 / l->light * (s == LUMINANCE ? 1 : l->tint_scale);
    const struct wanted wanted[] = {{w->x, NODE_X, factor, addend},
                                    {w->y, NODE_Y, factor, addend},
                                    {w->sky, NODE_SKY + s, 1, 0}};
    between_nodes(wanted, 3, l, line);
    stack_warp_row(w->value, sheet, w->x, w->y, line->count, s != LUMINANCE);
    for (int i = 0; i < line->count; i++) {
        w->value[i] = (w->value[i] - w->sky[i]) * scale;
    }
}

/* Of a row the values that fitted and are below most, else 0, and 1 for each of them. */
static PLAIN void pick_counted_plain(float *restrict part, float *restrict count,
                                     const float *restrict value, const float *restrict fits,
                                     const float *restrict mean, float most, int width)
{
    for (int x = 0; x < width; x++) {
        uint32_t counted = mask_if(fits[x] == STACK_FITS) & mask_if(mean[x] < most);
        part[x] = choose(counted, value[x], 0);
        count[x] = choose(counted, 1, 0);
    }
}

WIDER(pick_counted,
      (float *restrict part, float *restrict count, const float *restrict value,
       const float *restrict fits, const float *restrict mean, float most, int width),
      (part, count, value, fits, mean, most, width))

/* In lanes, which are added side by side. */
static float sum_cell(const float *value)
{
    enum { LANES = 4 };
    float lane[LANES] = {0};
    for (int x = 0; x < STACK_CELL; x += LANES) {
        for (int k = 0; k < LANES; k++) {
            lane[k] += value[x + k];
        }
    }
    return (lane[0] + lane[1]) + (lane[2] + lane[3]);
}

/* Adds a row's values to its cells. Stars are left out of what tells the noise: they differ from
 * frame to frame by more. */
static void add_to_cells(struct laying *l, struct row_work *w, const float *fits, int y)
{
    struct stack *stack = l->stack;
    int turn = stack->frames % 2, row = y / STACK_CELL;
    const float *mean = stack_row(stack, y).mean;
    float most = l->noise * (1 + 3 / sqrtf((float)stack->weight + l->weight));
    float *part = w->x, *count = w->y; /* whose places are not needed any more */
    pick_counted(part, count, w->value, fits, mean, most, stack->place.width);
    for (int i = 0; row < stack->cell_rows && i < stack->cell_columns; i++) {
        struct stack_cell *cell =
            &stack->cell[(size_t)row * (size_t)stack->cell_columns + (size_t)i];
        cell->sum[turn] += (double)(l->weight * sum_cell(part + (size_t)i * STACK_CELL));
        cell->weight[turn] += (double)(l->weight * sum_cell(count + (size_t)i * STACK_CELL));
    }
}

/* Values of a row where something crossed the frame are none. */
static void leave_out_crossed(struct row_work *w, const struct laying *l, int width)
{
    const struct streak_list *crossed = l->frame->crossed;
    const double bin = l->sheet[LUMINANCE].bin;
    float reach = (float)(l->frame->crossed_px / bin);
    for (int k = 0; crossed && k < crossed->count; k++) {
        const struct crossing c = crossing_of(&crossed->streak[k], bin);
        for (int x = 0; x < width; x++) {
            bool near = square_from(&c, w->x[x], w->y[x]) < reach * reach;
            w->value[x] = near ? NAN : w->value[x];
        }
    }
}

static void take_row(struct laying *l, struct row_work *w, int y, int row)
{
    struct stack *stack = l->stack;
    int width = stack->place.width;
    const struct stack_row to = stack_row(stack, y);
    float *fits = w->fits + (size_t)row * (size_t)width;
    warp(w, l, LUMINANCE, &(struct line){0, 1, (float)y, width});
    leave_out_crossed(w, l, width);
    if (stack_row_take(&to, w->value, fits, width, l->weight, l->noise)) {
        if (y / STACK_CELL % 2 == 0 || stack->cell_columns * stack->cell_rows < MANY_CELLS) {
            add_to_cells(l, w, fits, y);
        }
        atomic_store(&l->touched, true);
    }
}

/* What a tint counts for beside what was before: nothing where the luminance of one of its four
 * pixels did not fit. */
static PLAIN void find_shares_plain(float *restrict share, const float *restrict above,
                                    const float *restrict below, const float *restrict before,
                                    float weight, int width)
{
    for (int x = 0; x < width; x++) {
        int fits = (above[2 * x] == STACK_FITS) & (above[2 * x + 1] == STACK_FITS) &
                   (below[2 * x] == STACK_FITS) & (below[2 * x + 1] == STACK_FITS);
        share[x] = (float)fits * (weight / (before[x] + weight));
    }
}

WIDER(find_shares,
      (float *restrict share, const float *restrict above, const float *restrict below,
       const float *restrict before, float weight, int width),
      (share, above, below, before, weight, width))

static void join_tints(float *restrict mean, const float *restrict value,
                       const float *restrict share, int width)
{
    for (int x = 0; x < width; x++) {
        float moved = mean[x] + (value[x] - mean[x]) * share[x];
        mean[x] = ((share[x] > 0) & (value[x] - value[x] == 0)) ? moved : mean[x];
    }
}

static void take_tint_row(struct laying *l, struct row_work *w, int y, int row)
{
    struct stack *stack = l->stack;
    const struct line line = {0.5F, 2, 2 * (float)y + 0.5F, stack->tint_width};
    size_t stride = (size_t)stack->place.width, at = (size_t)y * (size_t)line.count;
    float *above = w->fits + (size_t)(2 * row) * stride, *weight = stack->tint_weight + at;
    find_shares(w->share, above, above + stride, weight, l->weight, line.count);
    for (int s = RED; s <= BLUE; s++) {
        warp(w, l, s, &line);
        join_tints((s == RED ? stack->red : stack->blue) + at, w->value, w->share, line.count);
    }
    for (int x = 0; x < line.count; x++) {
        weight[x] += ((w->share[x] > 0) & (w->value[x] - w->value[x] == 0)) ? l->weight : 0;
    }
}

static void take_band(int band, void *context)
{
    struct laying *l = context;
    struct row_work w = {0};
    int first = band * STACK_BAND, height = l->stack->place.height;
    int rows = height - first < STACK_BAND ? height - first : STACK_BAND;
    if (row_work_make(&w, l->stack->place.width)) {
        for (int row = 0; row < rows; row++) {
            take_row(l, &w, first + row, row);
        }
        for (int row = 0; l->tinted && row < rows / 2; row++) {
            take_tint_row(l, &w, first / 2 + row, row);
        }
    } else {
        atomic_store(&l->failed, true);
    }
    free(w.x);
}

/* ---- the whole ---- */

static int make_tints(struct stack *stack, struct error *err)
{
    size_t n = (size_t)stack->tint_width * (size_t)stack->tint_height + 1;
    if (!stack->red) {
        stack->red = calloc(n, sizeof *stack->red);
        stack->blue = calloc(n, sizeof *stack->blue);
        stack->tint_weight = calloc(n, sizeof *stack->tint_weight);
    }
    return stack->red && stack->blue && stack->tint_weight ? 0 : error_memory(err);
}

/* Balanced colours are brighter than the plane; their differences are brought to its scale. */
static float find_tint_scale(const struct laying *l)
{
    const struct colours *c = l->frame->colours;
    const struct stack_sheet *sheet = &l->sheet[LUMINANCE];
    double grey = 0, plane = 0;
    enum { SAMPLES = 1024 };
    for (size_t i = 0; l->tinted && i < SAMPLES; i++) {
        size_t at = i * ((size_t)c->width * (size_t)c->height / SAMPLES);
        size_t there = i * ((size_t)sheet->width * (size_t)sheet->height / SAMPLES);
        double g = (double)c->value[1][at];
        double p = (double)sheet->value[there];
        if (isfinite(g) && isfinite(p)) {
            grey += g;
            plane += p;
        }
    }
    return grey > 0 && plane > 0 ? (float)fmin(fmax(plane / grey, 0.2), 2) : 1;
}

static int prepare(struct laying *l, double *noise, struct error *err)
{
    double unused;
    int code = take_plane(l, err);
    take_tints(l);
    code = code || !l->tinted ? code : make_tints(l->stack, err);
    for (int s = 0; !code && s < (l->tinted ? SHEETS : 1); s++) {
        code = find_sky(l, s, s == LUMINANCE ? noise : &unused, err);
    }
    return code ? code : fill_nodes(l, err);
}

/* By what a frame counts less for a sky that is uneven: noise of single pixels goes down as frames
 * and pixels are added up, what headlamps leave does not. 1: as even as others. */
static double share_of_even(struct stack *stack, double rest, double noise)
{
    double uneven = rest / noise;
    stack->evenest = stack->evenest > 0 ? fmin(stack->evenest, uneven) : uneven;
    double more = fmax(0, uneven - uneven_times * stack->evenest);
    return 1 / (1 + uneven_cost * uneven_cost * more * more);
}

static int lay(struct laying *l, struct error *err)
{
    int bands = (l->stack->place.height + STACK_BAND - 1) / STACK_BAND;
    parallel_each(bands, l->frame->threads, take_band, l);
    return atomic_load(&l->failed) ? error_memory(err) : 0;
}

static void note(struct laying *l)
{
    struct stack *stack = l->stack;
    stack->frames++;
    stack->weight += (double)l->weight;
    stack->exposure_s += l->frame->exposure_s;
    stack->pixel_arcsec = wcs_scale_arcsec(l->frame->wcs);
}

int stack_add(enum stack_outcome *outcome, struct stack *stack, const struct stack_frame *frame,
              struct error *err)
{
    struct laying l = {.stack = stack, .frame = frame};
    double noise = 0;
    atomic_init(&l.failed, false);
    atomic_init(&l.touched, false);
    int code = prepare(&l, &noise, err);
    *outcome = STACK_NOISELESS;
    if (!code && noise > 0) {
        l.light = frame->light > 0 ? (float)frame->light : 1;
        l.tint_scale = find_tint_scale(&l);
        l.noise = (float)noise / l.light;
        stack->noise = stack->noise > 0 ? stack->noise : (double)l.noise;
        double even = share_of_even(stack, l.sky[LUMINANCE].rest, noise);
        l.weight = (float)even * (float)(stack->noise * stack->noise) / (l.noise * l.noise);
        code = lay(&l, err);
        *outcome = atomic_load(&l.touched) ? STACK_ADDED : STACK_ELSEWHERE;
    }
    if (!code && *outcome == STACK_ADDED) {
        note(&l);
    }
    free(l.node);
    return code;
}
