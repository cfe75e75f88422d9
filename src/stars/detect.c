#include "stars/measure.h"
#include "stars/profile.h"
#include "stars/stars.h"

#include <math.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

#include <sep.h>

#define PIXEL_STACK 1000000
#define SUB_OBJECTS 4000
#define MAX_STARS 4000
#define ISOPHOTE 3.0 /* noise of the smoothed plane */
#define DETECTION 4.2

/* Where a recipe differs. */
struct recipe {
    int mesh;
    double iso;
};

static const struct recipe recipes[DETECT_RECIPES] = {
    [DETECT_PLAIN] = {64, 3},
    [DETECT_FINE_MESH] = {20, 3},
    [DETECT_COARSE_MESH] = {128, 3},
};

/* A part of the frame, smoothed, in units of its own noise. */
struct view {
    int left, top, width, height;
    float *snr;
    sep_bkg *sky;
};

static void view_free(struct view *v)
{
    free(v->snr);
    sep_bkg_free(v->sky);
    memset(v, 0, sizeof *v);
}

static double clamp(double v, double low, double high)
{
    return v < low ? low : v > high ? high : v;
}

/* Interpolates mesh nodes linearly: the sky's and the noise's own scatter is far above what a
 * spline would add. */
static double node_value(const sep_bkg *b, const float *node, double x, double y)
{
    double u = clamp((x + 0.5) / b->bw - 0.5, 0, b->nx - 1),
           v = clamp((y + 0.5) / b->bh - 0.5, 0, b->ny - 1);
    int i = (int)u, j = (int)v;
    int i1 = i + 1 < b->nx ? i + 1 : i, j1 = j + 1 < b->ny ? j + 1 : j;
    double fu = u - i, fv = v - j;
    const float *r0 = node + (size_t)j * (size_t)b->nx, *r1 = node + (size_t)j1 * (size_t)b->nx;
    return (1 - fv) * ((1 - fu) * (double)r0[i] + fu * (double)r0[i1]) +
           fv * ((1 - fu) * (double)r1[i] + fu * (double)r1[i1]);
}

static void normalise(struct view *v)
{
    for (int y = 0; y < v->height; y++) {
        float *row = v->snr + (size_t)y * (size_t)v->width;
        for (int x = 0; x < v->width; x += 8) {
            float inverse = (float)(1 / fmax(node_value(v->sky, v->sky->sigma, x + 3.5, y), 1e-9));
            int end = x + 8 < v->width ? x + 8 : v->width;
            for (int i = x; i < end; i++) {
                row[i] = isnan(row[i]) ? 0 : row[i] * inverse;
            }
        }
    }
}

static int view_make(struct view *v, const struct plane *plane, const struct profile *p, int mesh,
                     struct error *err)
{
    v->snr = malloc((size_t)v->width * (size_t)v->height * sizeof *v->snr);
    if (!v->snr || profile_smooth(v->snr, plane, v->left, v->top, v->width, v->height, p, err)) {
        return error_memory(err);
    }
    sep_image image = {.data = v->snr, .dtype = SEP_TFLOAT, .w = v->width, .h = v->height};
    if (sep_background(&image, mesh, mesh, 3, 3, 0, &v->sky)) {
        return error_memory(err);
    }
    if (v->sky->globalrms > 0) {
        sep_bkg_subarray(v->sky, v->snr, SEP_TFLOAT);
        normalise(v);
    }
    return 0;
}

static int view_extract(sep_catalog **found, const struct view *v, double threshold)
{
    sep_image image = {.data = v->snr, .dtype = SEP_TFLOAT, .w = v->width, .h = v->height};
    sep_set_extract_pixstack(PIXEL_STACK);
    sep_set_sub_object_limit(SUB_OBJECTS);
    int status = 1;
    for (int attempt = 0; status && attempt < 12; attempt++) {
        status = sep_extract(&image, (float)threshold, SEP_THRESH_ABS, 1, NULL, 0, 0,
                             SEP_FILTER_CONV, 32, 0.005, 0, 1.0, found);
        threshold *= 1.5;
    }
    return status;
}

static int by_size(const void *left, const void *right)
{
    double a = *(const double *)left, b = *(const double *)right;
    return (a > b) - (a < b);
}

static double median(double *value, int n)
{
    qsort(value, (size_t)n, sizeof *value, by_size);
    return n ? value[n / 2] : 0;
}

static int by_flux(const void *left, const void *right)
{
    const struct source *a = left, *b = right;
    return (a->flux < b->flux) - (a->flux > b->flux);
}

static double ring_level(const struct view *v, const sep_catalog *f, int i, const struct profile *p)
{
    double rx = (f->xmax[i] - f->xmin[i]) / 2.0 + 1 + 2 * sqrt(p->xx),
           ry = (f->ymax[i] - f->ymin[i]) / 2.0 + 1 + 2 * sqrt(p->yy);
    double cx = (f->xmax[i] + f->xmin[i]) / 2.0, cy = (f->ymax[i] + f->ymin[i]) / 2.0;
    double s[24];
    int n = 0;
    for (int k = 0; k < 24; k++) {
        int x = (int)lround(cx + rx * cos(k * 0.2617993878)),
            y = (int)lround(cy + ry * sin(k * 0.2617993878));
        if (x >= 0 && y >= 0 && x < v->width && y < v->height) {
            s[n++] = (double)v->snr[(size_t)y * (size_t)v->width + (size_t)x];
        }
    }
    return median(s, n);
}

static int collect(struct source **out, int *count, const struct view *v, const sep_catalog *f,
                   const struct plane *plane, const struct profile *p, struct error *err)
{
    struct source *s = calloc((size_t)f->nobj + 1, sizeof *s);
    *out = s;
    *count = 0;
    if (!s) {
        return error_memory(err);
    }
    int n = 0;
    double beside_least = 2 *
                          (profile_value(p, 1, 0) + profile_value(p, 0, 1) +
                           profile_value(p, 1, 1) + profile_value(p, 1, -1)) /
                          profile_value(p, 0, 0);
    for (int i = 0; i < f->nobj; i++) {
        if ((double)f->peak[i] < DETECTION) {
            continue;
        }
        memset(&s[n], 0, sizeof s[n]);
        double ring = ring_level(v, f, i, p);
        s[n].pixel = f->pix[i];
        s[n].pixels = f->npix[i];
        s[n].peak_x = f->xpeak[i];
        s[n].peak_y = f->ypeak[i];
        s[n].merged = f->flag[i] & SEP_OBJ_MERGED;
        s[n].noise = node_value(v->sky, v->sky->sigma, s[n].peak_x, s[n].peak_y);
        s[n].sky = (double)sep_bkg_pix(v->sky, s[n].peak_x, s[n].peak_y);
        if (ring > 0) {
            s[n].sky += ring * s[n].noise;
        } else
            ring = 0;
        s[n].peak_snr = (double)f->peak[i] - ring;
        if (s[n].peak_snr < DETECTION) {
            continue;
        }
        measure_source(&s[n], plane, p);
        s[n].flux = s[n].sum;
        if (s[n].beside < 0.35 * beside_least) {
            continue;
        }
        n++;
    }
    *count = n;
    return 0;
}

static void judge(struct source *s, int n)
{
    double *r = malloc((size_t)n * 2 * sizeof *r + 8), *area = r + n;
    if (!r) {
        return;
    }
    int m = 0;
    for (int i = 0; i < n; i++) {
        if (s[i].peak_snr > 20 && !s[i].clipped && !s[i].merged && s[i].profile_flux > 0) {
            r[m++] = s[i].sum / s[i].profile_flux;
        }
    }
    double ratio = m > 5 ? median(r, m) : 1;
    m = 0;
    for (int i = 0; i < n; i++) {
        struct source *t = &s[i];
        double tp = ISOPHOTE / t->peak_snr;
        t->flux = fmax(ratio * t->profile_flux, t->sum * fmin(1 / (1 - tp), 1.5));
        if (t->peak_snr > 8) {
            area[m++] = t->flux / t->peak;
        }
    }
    double typical = median(area, m);
    m = 0;
    for (int i = 0; i < n; i++) {
        double a = s[i].flux / s[i].peak / typical;
        if (a < 2) {
            r[m++] = s[i].peak;
        }
    }
    median(r, m);
    double top = m ? r[m - 1 - m / 500] : 0;
    for (int i = 0; i < n; i++) {
        struct source *t = &s[i];
        double wide = t->flux / t->peak / typical;
        double h = t->peak / top;
        bool soft = wide > 2.5 + 10 * fmax(h - 0.3, 0) && !(h > 0.8) && t->clipped < 2;
        t->dropped = !(t->flux > 0) || soft;
    }
    free(r);
}

/* Second moments of a Gaussian that fits the light about (x, y): window and result are made to
 * agree. Bernstein & Jarvis 2002, AJ 123, 583, section 3.1. */
static bool adapt(struct profile *q, const struct plane *plane, double sky, int px, int py)
{
    double x = px, y = py;
    struct profile w = {1.5, 0, 1.5};
    for (int step = 0; step < 12; step++) {
        double s0 = 0, sx = 0, sy = 0, xx = 0, xy = 0, yy = 0;
        int r = 9;
        if (px < r || py < r || px + r >= plane->width || py + r >= plane->height) {
            return false;
        }
        for (int j = py - r; j <= py + r; j++) {
            for (int i = px - r; i <= px + r; i++) {
                double v = (double)plane->value[(size_t)j * (size_t)plane->width + (size_t)i] - sky;
                double g = profile_value(&w, i - x, j - y) * v;
                s0 += g;
                sx += g * (i - x);
                sy += g * (j - y);
                xx += g * (i - x) * (i - x);
                xy += g * (i - x) * (j - y);
                yy += g * (j - y) * (j - y);
            }
        }
        if (!(s0 > 0)) {
            return false;
        }
        sx /= s0;
        sy /= s0;
        struct profile m = {2 * (xx / s0 - sx * sx), 2 * (xy / s0 - sx * sy),
                            2 * (yy / s0 - sy * sy)};
        x += 2 * sx;
        y += 2 * sy;
        if (!(hypot(x - px, y - py) < 4) || !(m.xx > 0.05) || !(m.yy > 0.05) ||
            !(m.xx * m.yy > m.xy * m.xy) || m.xx + m.yy > 60) {
            return false;
        }
        double change = fabs(m.xx - w.xx) + fabs(m.yy - w.yy) + fabs(m.xy - w.xy);
        w = m;
        w.xx = fmax(w.xx, 0.15);
        w.yy = fmax(w.yy, 0.15);
        if (w.xx * w.yy <= w.xy * w.xy * 1.02)
            return false;
        if (change < 0.01) {
            *q = m;
            return true;
        }
    }
    *q = w;
    return true;
}

static int thin_background(sep_bkg **out, const float *value, int width, int height, int step,
                           int mesh, struct error *err)
{
    int w = (width + step - 1) / step, h = (height + step - 1) / step;
    float *thin = malloc((size_t)w * (size_t)h * sizeof *thin);
    if (!thin) {
        return error_memory(err);
    }
    for (int y = 0; y < h; y++) {
        for (int x = 0; x < w; x++) {
            thin[(size_t)y * (size_t)w + (size_t)x] =
                value[(size_t)y * (size_t)step * (size_t)width + (size_t)(x * step)];
        }
    }
    sep_image image = {.data = thin, .dtype = SEP_TFLOAT, .w = w, .h = h};
    int bad = sep_background(&image, mesh / step, mesh / step, 3, 3, 0, out);
    free(thin);
    return bad ? error_memory(err) : 0;
}

struct spot {
    double over;
    int x, y;
    double sky;
};

static int by_over(const void *left, const void *right)
{
    const struct spot *a = left, *b = right;
    return (a->over < b->over) - (a->over > b->over);
}

static int measure_profile(struct profile *p, const struct plane *plane, struct error *err)
{
    enum { most = 20000, use = 400 };
    *p = profile_usual();
    sep_bkg *b = NULL;
    int code = thin_background(&b, plane->value, plane->width, plane->height, 2, 64, err);
    struct spot *spot = malloc(most * sizeof *spot);
    if (code || !spot) {
        sep_bkg_free(b);
        free(spot);
        return error_memory(err);
    }
    int n = 0, w = plane->width;
    double full = plane->full > 0 ? 0.9 * (double)plane->full : INFINITY;
    for (int y = 10; y + 10 < plane->height; y++) {
        const float *row = plane->value + (size_t)y * (size_t)w;
        for (int cell = 0; cell * 64 < w; cell++) {
            double sky = node_value(b, b->back, cell * 32 + 16, y / 2),
                   noise = node_value(b, b->sigma, cell * 32 + 16, y / 2);
            float limit = (float)(sky + 8 * fmax(noise, 1e-9));
            int end = cell * 64 + 64 < w - 10 ? cell * 64 + 64 : w - 10;
            for (int x = cell * 64 > 10 ? cell * 64 : 10; x < end; x++) {
                float v = row[x];
                if (!(v > limit) || v < row[x - 1] || v <= row[x + 1] || v < row[x - w] ||
                    v <= row[x + w] || (double)v > full || n == most) {
                    continue;
                }
                float side = fmaxf(fmaxf(row[x - 1], row[x + 1]), fmaxf(row[x - w], row[x + w]));
                if ((double)side - sky < 0.2 * ((double)v - sky)) {
                    continue;
                }
                spot[n].over = ((double)v - sky) / noise;
                spot[n].x = x;
                spot[n].y = y;
                spot[n++].sky = sky;
            }
        }
    }
    qsort(spot, (size_t)n, sizeof *spot, by_over);
    double xx[use], xy[use], yy[use];
    int m = 0;
    for (int i = 0; i < n && i < 2 * use && m < use; i++) {
        struct profile q;
        if (adapt(&q, plane, spot[i].sky, spot[i].x, spot[i].y)) {
            xx[m] = q.xx;
            xy[m] = q.xy;
            yy[m++] = q.yy;
        }
    }
    if (m >= 5) {
        p->xx = median(xx, m);
        p->xy = median(xy, m);
        p->yy = median(yy, m);
        *p = profile_clamp(*p);
    }
    free(spot);
    sep_bkg_free(b);
    return 0;
}

static void fill(struct star *t, const struct source *s, double bin)
{
    struct profile p = {s->xx, s->xy, s->yy};
    double a, b;
    profile_widths(&p, &a, &b);
    b = fmax(b, 0.29);
    a = fmax(a, b);
    t->x = bin * s->x + (bin - 1) / 2;
    t->y = bin * s->y + (bin - 1) / 2;
    t->flux = s->flux;
    t->peak = s->peak;
    t->size = bin * b;
    t->elongation = a / b;
    t->angle_deg = atan2(2 * s->xy, s->xx - s->yy) / 2 * 180 / 3.14159265358979323846;
    t->snr = s->peak_snr;
    t->saturated = s->clipped > 0;
}

int stars_detect(struct star_list *list, const struct frame *frame,
                 const struct detect_options *options, struct error *err)
{
    const struct plane *plane = &frame->luminance;
    struct detect_options usual = {0};
    options = options ? options : &usual;
    memset(list, 0, sizeof *list);
    list->width = frame->width;
    list->height = frame->height;
    if (!plane->value || plane->width < 8 || plane->height < 8) {
        return 0;
    }
    int max_stars = options->max_stars > 0 ? options->max_stars : MAX_STARS;
    struct profile p;
    struct view v = {0};
    v.width = plane->width;
    v.height = plane->height;
    sep_catalog *f = NULL;
    struct source *s = NULL;
    int n = 0;
    int code = measure_profile(&p, plane, err);
    if (!code) {
        code = view_make(&v, plane, &p, recipes[options->recipe].mesh, err);
    }
    if (!code) {
        list->sky = (double)v.sky->global;
        list->sky_noise = (double)v.sky->globalrms;
        if (list->sky_noise > 0 && !view_extract(&f, &v, ISOPHOTE)) {
            list->raw_count = f->nobj;
            code = collect(&s, &n, &v, f, plane, &p, err);
            if (!code) {
                judge(s, n);
                qsort(s, (size_t)n, sizeof *s, by_flux);
                list->star = calloc((size_t)n + 1, sizeof *list->star);
                for (int i = 0; i < n && list->count < max_stars; i++) {
                    if (!s[i].dropped) {
                        fill(&list->star[list->count++], &s[i], plane->bin);
                    }
                }
            }
        }
    }
    free(s);
    sep_catalog_free(f);
    view_free(&v);
    if (code) {
        star_list_free(list);
    }
    return code;
}

void star_list_free(struct star_list *list)
{
    free(list->star);
    memset(list, 0, sizeof *list);
}
