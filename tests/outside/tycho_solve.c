/* Solves the six cube faces of a Tycho-2 sky map, then crops of them, and prints what came out.
 *
 * A face is a gnomonic view 90 degrees wide and high. Which face is which, and that none is
 * mirrored, was found by solving them: the table face_axes below; a solved face is measured against
 * it. A crop keeps the projection of its face, so its optical axis is off its middle or even
 * outside it: the pictures are as if a view camera had taken them with its front shifted.
 *
 * The stars of these faces are hardly wider than a pixel and stand among the traces of a strong
 * JPEG compression. To tell failures of the detector from those of the matcher, each picture can
 * also be solved with a list made by nothing but local maxima of the smoothed plane.
 *
 * usage: tycho_solve INDEX FOLDER [CROPS [SEED [maxima]]]
 * Output, a header and one line for each try, tab-separated. Exit code 0 unless something could not
 * be read. */
#include "base/random.h"
#include "base/stopwatch.h"
#include "base/units.h"
#include "image/frame.h"
#include "match/index.h"
#include "match/solve.h"
#include "sky/vector.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { FACES = 6, DEFAULT_CROPS = 40, MAXIMA = 400 };

static const char *const face_name[FACES] = {"px", "mx", "py", "my", "pz", "mz"};

/* ICRS directions of picture-right, picture-down and the middle of each face. */
static const double face_axes[FACES][3][3] = {
    {{0, 0, -1}, {0, 1, 0}, {1, 0, 0}}, {{0, 0, 1}, {0, 1, 0}, {-1, 0, 0}},
    {{1, 0, 0}, {0, 0, -1}, {0, 1, 0}}, {{1, 0, 0}, {0, 0, 1}, {0, -1, 0}},
    {{1, 0, 0}, {0, 1, 0}, {0, 0, 1}},  {{-1, 0, 0}, {0, 1, 0}, {0, 0, -1}},
};

struct result {
    struct solution solution;
    struct star_list list;
    double ms;
};

/* Directions of picture-right, picture-down and the middle of a picture. */
static void picture_axes(double axis[3][3], const struct wcs *wcs)
{
    double x = 0.5 * (wcs->width - 1), y = 0.5 * (wcs->height - 1), along[2][3];
    wcs_direction(axis[2], wcs, x, y);
    for (int i = 0; i < 2; i++) {
        wcs_direction(along[i], wcs, x + (i == 0), y + (i == 1));
        double dot = vector_dot(along[i], axis[2]);
        for (int k = 0; k < 3; k++) {
            axis[i][k] = along[i][k] - dot * axis[2][k];
        }
        vector_normalise(axis[i]);
    }
}

static int compare_flux(const void *left, const void *right)
{
    const struct star *a = left, *b = right;
    return (b->flux > a->flux) - (b->flux < a->flux);
}

static float smoothed(const struct plane *plane, int x, int y)
{
    static const double weight[3] = {0.5, 0.229, 0.021};
    double sum = 0;
    for (int j = -2; j <= 2; j++) {
        for (int i = -2; i <= 2; i++) {
            sum += weight[abs(i)] * weight[abs(j)] *
                   plane->value[(size_t)(y + j) * (size_t)plane->width + (size_t)(x + i)];
        }
    }
    return (float)sum;
}

static bool is_maximum(const float *value, int stride)
{
    for (int j = -1; j <= 1; j++) {
        for (int i = -1; i <= 1; i++) {
            float other = value[j * stride + i];
            /* Of equal neighbours the first counts. */
            if (other > *value || (other == *value && j * 3 + i < 0)) {
                return false;
            }
        }
    }
    return true;
}

/* The MAXIMA highest local maxima, placed by the centre of their 3 x 3 pixels. */
static int list_maxima(struct star_list *list, const struct plane *plane, struct error *err)
{
    int width = plane->width, height = plane->height;
    float *smooth = calloc((size_t)width * (size_t)height, sizeof *smooth);
    list->star = malloc((size_t)width * (size_t)height / 4 * sizeof *list->star);
    if (!smooth || !list->star) {
        free(smooth);
        return error_memory(err);
    }
    for (int y = 2; y < height - 2; y++) {
        for (int x = 2; x < width - 2; x++) {
            smooth[y * width + x] = smoothed(plane, x, y);
        }
    }
    for (int y = 3; y < height - 3; y++) {
        for (int x = 3; x < width - 3; x++) {
            const float *s = &smooth[y * width + x];
            if (*s < 3 || !is_maximum(s, width)) {
                continue;
            }
            double sum = 0, sum_x = 0, sum_y = 0;
            for (int k = 0; k < 9; k++) {
                double v = plane->value[(y + k / 3 - 1) * width + x + k % 3 - 1];
                sum += v;
                sum_x += v * (k % 3 - 1);
                sum_y += v * (k / 3 - 1);
            }
            list->star[list->count++] = (struct star){.x = x + sum_x / sum,
                                                      .y = y + sum_y / sum,
                                                      .flux = *s,
                                                      .peak = *s,
                                                      .size = 0.7,
                                                      .elongation = 1,
                                                      .snr = *s};
        }
    }
    free(smooth);
    qsort(list->star, (size_t)list->count, sizeof *list->star, compare_flux);
    list->count = list->count < MAXIMA ? list->count : MAXIMA;
    list->width = width;
    list->height = height;
    return 0;
}

static int solve_one(struct result *result, const struct frame *frame, const struct index *index,
                     bool maxima, struct error *err)
{
    const struct solve_options options = {0};
    struct solve_times times;
    int code = 0;
    *result = (struct result){0};
    if (maxima) {
        code = list_maxima(&result->list, &frame->luminance, err);
    }
    double start = stopwatch_ms();
    if (!code && maxima) {
        code = solve_stars(&result->solution, &result->list, index, &options, err);
    } else if (!code) {
        code = solve_frame(&result->solution, &result->list, &times, frame, index, &options, err);
    }
    result->ms = stopwatch_ms() - start;
    return code;
}

static void result_free(struct result *result)
{
    solution_free(&result->solution);
    star_list_free(&result->list);
}

struct crop {
    int left, top, width, height; /* px of the face */
    double width_deg;             /* through its middle */
    double axis_deg;              /* from its middle to the middle of the face */
};

/* Direction of a pixel in the axes of its face; the faces end at 45 degrees from their middle. */
static void face_direction(double v[3], int face_width, double x, double y)
{
    double half = 0.5 * face_width;
    v[0] = (x - half + 0.5) / half;
    v[1] = (y - half + 0.5) / half;
    v[2] = 1;
    vector_normalise(v);
}

static void crop_middle(double *x, double *y, const struct crop *crop)
{
    *x = crop->left + 0.5 * (crop->width - 1);
    *y = crop->top + 0.5 * (crop->height - 1);
}

/* A rectangle of 3:2 anywhere in the face that is 20 to 60 degrees wide. */
static struct crop choose_crop(struct random *random, int face_width)
{
    static const double middle[3] = {0, 0, 1};
    struct crop crop = {0};
    do {
        double x, y, v[3], left[3], right[3];
        crop.width = (int)(face_width * exp(random_between(random, log(0.17), log(0.6))));
        crop.height = crop.width * 2 / 3;
        crop.left = (int)random_between(random, 0, face_width - crop.width + 1);
        crop.top = (int)random_between(random, 0, face_width - crop.height + 1);
        crop_middle(&x, &y, &crop);
        face_direction(v, face_width, x, y);
        face_direction(left, face_width, crop.left - 0.5, y);
        face_direction(right, face_width, crop.left + crop.width - 0.5, y);
        crop.width_deg = vector_angle_deg(left, right);
        crop.axis_deg = vector_angle_deg(v, middle);
    } while (crop.width_deg < 20 || crop.width_deg > 60);
    return crop;
}

static int cut_crop(struct frame *out, const struct frame *face, const struct crop *crop,
                    struct error *err)
{
    const struct plane *from = &face->luminance;
    *out = (struct frame){.width = crop->width, .height = crop->height, .format = face->format};
    out->luminance =
        (struct plane){.width = crop->width, .height = crop->height, .bin = 1, .full = from->full};
    size_t row = (size_t)crop->width * sizeof *from->value;
    out->luminance.value = malloc(row * (size_t)crop->height);
    if (!out->luminance.value) {
        return error_memory(err);
    }
    for (int y = 0; y < crop->height; y++) {
        memcpy(out->luminance.value + (size_t)y * (size_t)crop->width,
               from->value + (size_t)(crop->top + y) * (size_t)from->width + crop->left, row);
    }
    return 0;
}

/* True direction, in ICRS, of a pixel of the crop. */
static void true_direction(double v[3], int face, const struct crop *crop, int face_width, double x,
                           double y)
{
    double in_face[3];
    face_direction(in_face, face_width, crop->left + x, crop->top + y);
    for (int k = 0; k < 3; k++) {
        v[k] = 0;
        for (int axis = 0; axis < 3; axis++) {
            v[k] += in_face[axis] * face_axes[face][axis][k];
        }
    }
}

/* How far a solution is off in the crop's middle, and at most in its corners, degrees. */
static void judge(double *middle_off, double *corner_off, const struct wcs *wcs, int face,
                  const struct crop *crop, int face_width)
{
    *corner_off = 0;
    for (int i = 0; i < 5; i++) {
        double is[3], should[3];
        double x = i == 4 ? 0.5 * (crop->width - 1) : (i % 2) * (crop->width - 1);
        double y = i == 4 ? 0.5 * (crop->height - 1) : (i / 2) * (crop->height - 1);
        wcs_direction(is, wcs, x, y);
        true_direction(should, face, crop, face_width, x, y);
        *middle_off = vector_angle_deg(is, should);
        *corner_off = fmax(*corner_off, *middle_off);
    }
}

static void print_result(const char *kind, int number, int face, const struct crop *crop,
                         int face_width, bool maxima, const struct result *result)
{
    const struct solution *s = &result->solution;
    double middle_off = 180, corner_off = 180, axis[3][3] = {{0}};
    if (s->solved) {
        judge(&middle_off, &corner_off, &s->wcs, face, crop, face_width);
        picture_axes(axis, &s->wcs);
    }
    printf("%s\t%d\t%s\t%s\t%d\t%.2f\t%.2f\t%.4f\t%.4f\t%d\t%d\t%.1f\t%d\t%.0f", kind, number,
           face_name[face], maxima ? "maxima" : "own", s->solved, crop->width_deg, crop->axis_deg,
           middle_off, corner_off, result->list.count, s->matched, s->chance_log10, s->stage,
           result->ms);
    printf("\t%d\t%.6f\t%.6f\t%.6f\n", s->solved && wcs_mirrored(&s->wcs), axis[2][0], axis[2][1],
           axis[2][2]);
}

struct task {
    const struct index *index;
    const char *folder;
    int crops;
    struct random random;
    bool maxima; /* try those, too */
};

/* Solves one rectangle of a face. */
static int measure(const struct task *task, const char *kind, int number, int face,
                   const struct crop *crop, const struct frame *whole, struct error *err)
{
    struct frame frame;
    int code = cut_crop(&frame, whole, crop, err);
    for (int maxima = 0; maxima <= task->maxima && !code; maxima++) {
        struct result result;
        code = solve_one(&result, &frame, task->index, maxima, err);
        print_result(kind, number, face, crop, whole->width, maxima, &result);
        result_free(&result);
    }
    frame_free(&frame);
    return code;
}

static int measure_all(struct frame *face, struct task *task, struct error *err)
{
    int code = 0;
    printf("kind\tnumber\tface\tlist\tsolved\twidth_deg\taxis_deg\toff_deg\tcorner_off_deg\t"
           "stars\tmatched\tlog10_chance\tstage\tms\tmirrored\tx\ty\tz\n");
    for (int i = 0; i < FACES && !code; i++) {
        const struct frame_options options = {0};
        char name[4096];
        snprintf(name, sizeof name, "%s/tycho2t3_80_%s.jpg", task->folder, face_name[i]);
        code = frame_read(&face[i], name, &options, err);
        struct crop all = {0, 0, face[i].width, face[i].height, 90, 0};
        code = code ? code : measure(task, "face", i, i, &all, &face[i], err);
    }
    for (int i = 0; i < task->crops && !code; i++) {
        int which = (int)(random_uniform(&task->random) * FACES);
        struct crop crop = choose_crop(&task->random, face[which].width);
        code = measure(task, "crop", i, which, &crop, &face[which], err);
    }
    return code;
}

int main(int argc, char **argv)
{
    struct error err = {0};
    struct index_file file = {0};
    struct frame face[FACES] = {0};
    if (argc < 3) {
        fprintf(stderr, "usage: tycho_solve INDEX FOLDER [CROPS [SEED [maxima]]]\n");
        return ERROR_USAGE;
    }
    struct task task = {.index = &file.index, .folder = argv[2], .maxima = argc > 5};
    task.crops = argc > 3 ? atoi(argv[3]) : DEFAULT_CROPS;
    task.random.state = argc > 4 ? strtoull(argv[4], NULL, 10) : 1;
    int code = index_open(&file, argv[1], &err);
    code = code ? code : measure_all(face, &task, &err);
    for (int i = 0; i < FACES; i++) {
        frame_free(&face[i]);
    }
    index_close(&file);
    if (code) {
        fprintf(stderr, "%s\n", err.text);
    }
    return code;
}
