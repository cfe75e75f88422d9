#include "base/large.h"
#include "base/parallel.h"
#include "stack/stack_parts.h"

#include <math.h>
#include <stdatomic.h>
#include <stdlib.h>

/* Cells of the mesh on which the sky's level is found; of larger planes not all pixels are looked
 * at, but so many. */
enum { MESH_MOST = 64, MESH_LEAST = 16, MESH_PARTS = 20, LOOKS = 600000, TINT_LOOKS = 150000 };
/* The outline so many times as large is kept out of the sky's level. */
static const double left_out_times = 1.3;

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
    float *own; /* a plane that was made for it */
    struct node *node;
    int columns, rows; /* of nodes */
    bool tinted;
    float light, tint_scale, weight, noise;
    atomic_bool failed, touched;
};

/* ---- the planes ---- */

/* Means of step x step pixels, where the sheet is coarser than the plane. */
static float *shrink(const struct plane *plane, int step)
{
    int width = plane->width / step, height = plane->height / step;
    float *out = large_alloc((size_t)width * (size_t)height * sizeof *out);
    for (int y = 0; out && y < height; y++) {
        for (int x = 0; x < width; x++) {
            const float *from =
                plane->value + (size_t)y * (size_t)step * (size_t)plane->width + (size_t)(x * step);
            float sum = 0;
            for (int k = 0; k < step * step; k++) {
                sum += from[(size_t)(k / step) * (size_t)plane->width + (size_t)(k % step)];
            }
            out[(size_t)y * (size_t)width + (size_t)x] = sum / (float)(step * step);
        }
    }
    return out;
}

static int take_plane(struct laying *l, struct error *err)
{
    const struct plane *plane = l->frame->plane;
    double ratio = l->stack->place.scale_arcsec / (wcs_scale_arcsec(l->frame->wcs) * plane->bin);
    int step = (int)fmax(1, floor(ratio + 0.3));
    step = step < plane->width / 8 && step < plane->height / 8 ? step : 1;
    l->own = step > 1 ? shrink(plane, step) : NULL;
    if (step > 1 && !l->own) {
        return error_memory(err);
    }
    l->sheet[LUMINANCE] =
        (struct stack_sheet){step > 1 ? l->own : plane->value, plane->width / step,
                             plane->height / step, plane->bin * step, &l->sky[LUMINANCE]};
    return 0;
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

/* Nodes of the mesh that the target, with its surroundings, covers. */
static bool *find_covered(const struct laying *l, const struct background *mesh,
                          const struct stack_sheet *sheet)
{
    bool *covered = calloc((size_t)mesh->columns * (size_t)mesh->rows, sizeof *covered);
    for (int i = 0; covered && i < mesh->columns * mesh->rows; i++) {
        double v[3], x, y;
        sky_surface_node(&x, &y, mesh, sheet->width, sheet->height, i);
        wcs_direction(v, l->frame->wcs, (x + 0.5) * sheet->bin - 0.5, (y + 0.5) * sheet->bin - 0.5);
        covered[i] = stack_target_contains(&l->stack->place.target, v, left_out_times);
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
    int step = (int)fmax(1, floor(sqrt((double)sheet->width * sheet->height / looks)));
    int code = background_measure(&mesh, NULL, sheet->value, sheet->width, sheet->height,
                                  choose_mesh(sheet), step, l->frame->threads, err);
    if (code) {
        return code;
    }
    bool *covered = find_covered(l, &mesh, sheet);
    code = covered ? sky_surface_fit(&l->sky[s], &mesh, sheet->width, sheet->height, covered, err)
                   : error_memory(err);
    *noise = mesh.typical_noise;
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

/* One number of the nodes for count pixels of the sheet, from x = first on, step apart, at y. */
static void between_nodes(float *out, const struct laying *l, int number, float first, float step,
                          float y, int count)
{
    int j = (int)(y / STACK_BAND);
    float down = y / STACK_BAND - (float)j;
    for (int i = 0; i < count;) {
        float u = (first + step * (float)i) / STACK_BAND;
        int column = (int)u, piece = (int)(STACK_BAND / step);
        int end = i + piece < count ? i + piece : count;
        const struct node *a = l->node + (size_t)j * (size_t)l->columns + (size_t)column;
        const struct node *b = a + l->columns;
        float left = a[0].at[number] + down * (b[0].at[number] - a[0].at[number]);
        float right = a[1].at[number] + down * (b[1].at[number] - a[1].at[number]);
        float slope = (right - left) * step / STACK_BAND;
        float begin = left + (u - (float)column) * (right - left);
        for (int k = 0; k < end - i; k++) {
            out[i + k] = begin + slope * (float)k;
        }
        i = end;
    }
}

/* ---- bands of the sheet ---- */

/* Rooms for one row. */
struct row_work {
    float *x, *y, *sky, *value;
    unsigned char *fits; /* STACK_BAND rows: whether the luminance fitted */
};

static bool row_work_make(struct row_work *w, int width)
{
    size_t n = (size_t)width;
    w->x = malloc(4 * n * sizeof *w->x);
    w->fits = calloc(n * STACK_BAND, 1);
    w->y = w->x + n;
    w->sky = w->y + n;
    w->value = w->sky + n;
    return w->x && w->fits;
}

/* Values of a sheet above its sky, in the first frame's scale. */
static void warp(struct row_work *w, const struct laying *l, int s, float first, float step,
                 float y, int count)
{
    const struct stack_sheet *sheet = &l->sheet[s];
    float bin = (float)sheet->bin;
    between_nodes(w->x, l, NODE_X, first, step, y, count);
    between_nodes(w->y, l, NODE_Y, first, step, y, count);
    between_nodes(w->sky, l, NODE_SKY + s, first, step, y, count);
    for (int i = 0; i < count; i++) {
        w->x[i] = (w->x[i] + 0.5F) / bin - 0.5F;
        w->y[i] = (w->y[i] + 0.5F) / bin - 0.5F;
    }
    if (s == LUMINANCE) {
        stack_warp_row(w->value, sheet, w->x, w->y, count);
    } else {
        stack_warp_row_linear(w->value, sheet, w->x, w->y, count);
    }
    float scale = 1 / l->light * (s == LUMINANCE ? 1 : l->tint_scale);
    for (int i = 0; i < count; i++) {
        w->value[i] = (w->value[i] - w->sky[i]) * scale;
    }
}

/* Adds a row's values to its cells. Stars are left out of what tells the noise: they differ from
 * frame to frame by more. */
static void add_to_cells(struct laying *l, const struct row_work *w, const unsigned char *fits,
                         int y)
{
    struct stack *stack = l->stack;
    int width = stack->place.width, turn = stack->frames % 2, row = y / STACK_CELL;
    const struct stack_pixel *pixel = stack->pixel + (size_t)y * (size_t)width;
    float most = l->noise * (1 + 3 / sqrtf((float)stack->weight + l->weight));
    for (int i = 0; row < stack->cell_rows && i < stack->cell_columns; i++) {
        struct stack_cell *cell =
            &stack->cell[(size_t)row * (size_t)stack->cell_columns + (size_t)i];
        float sum = 0, count = 0;
        for (int x = i * STACK_CELL; x < (i + 1) * STACK_CELL; x++) {
            float counts = fits[x] && pixel[x].mean < most;
            sum += counts > 0 ? w->value[x] : 0;
            count += counts;
        }
        cell->sum[turn] += (double)(l->weight * sum);
        cell->weight[turn] += (double)(l->weight * count);
    }
}

static void take_row(struct laying *l, struct row_work *w, int y, int row)
{
    struct stack *stack = l->stack;
    int width = stack->place.width;
    struct stack_pixel *pixel = stack->pixel + (size_t)y * (size_t)width;
    unsigned char *fits = w->fits + (size_t)row * (size_t)width;
    warp(w, l, LUMINANCE, 0, 1, (float)y, width);
    if (stack_pixels_take(pixel, w->value, fits, width, l->weight, l->noise)) {
        if (y / STACK_CELL % 2 == 0 || stack->cell_columns * stack->cell_rows < MANY_CELLS) {
            add_to_cells(l, w, fits, y);
        }
        atomic_store(&l->touched, true);
    }
}

/* A tint counts where the luminance of its four pixels fitted. */
static void take_tint_row(struct laying *l, struct row_work *w, int y, int row)
{
    struct stack *stack = l->stack;
    int width = stack->tint_width;
    size_t stride = (size_t)stack->place.width, at = (size_t)y * (size_t)width;
    for (int s = RED; s <= BLUE; s++) {
        float *mean = (s == RED ? stack->red : stack->blue) + at;
        warp(w, l, s, 0.5F, 2, 2 * (float)y + 0.5F, width);
        for (int x = 0; x < width; x++) {
            const unsigned char *fits = w->fits + (size_t)(2 * row) * stride + 2 * (size_t)x;
            float before = stack->tint_weight[at + (size_t)x], value = w->value[x];
            if (fits[0] && fits[1] && fits[stride] && fits[stride + 1] && value - value == 0) {
                mean[x] += (value - mean[x]) * l->weight / (before + l->weight);
                stack->tint_weight[at + (size_t)x] += s == BLUE ? l->weight : 0;
            }
        }
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
    free(w.fits);
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
        l.weight = (float)(stack->noise * stack->noise) / (l.noise * l.noise);
        code = lay(&l, err);
        *outcome = atomic_load(&l.touched) ? STACK_ADDED : STACK_ELSEWHERE;
    }
    if (!code && *outcome == STACK_ADDED) {
        note(&l);
    }
    free(l.own);
    free(l.node);
    return code;
}
