#include "jobs/plan_gear.h"

#include "base/text.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

static double first_known(double a, double b, double c)
{
    return a > 0 ? a : b > 0 ? b : c;
}

static double choose_distortion(const struct plan_gear *gear, const struct rig *rig)
{
    double percent = isfinite(gear->distortion_percent) ? gear->distortion_percent
                     : rig->lens                        ? rig->lens->distortion_percent
                                                        : 0;
    return isfinite(percent) ? percent / 100 : 0;
}

struct plan_lesson plan_gear_lesson(const struct plan_gear *gear, const struct rig *rig)
{
    bool counts = !isfinite(gear->distortion_percent) && rig->lens && rig->file;
    return counts ? (struct plan_lesson){rig->file, rig->lens} : (struct plan_lesson){0};
}

static void choose_lens(struct plan_camera *camera, const struct plan_gear *gear,
                        const struct rig *rig)
{
    const struct plan_lesson learned = plan_gear_lesson(gear, rig);
    camera->distortion = choose_distortion(gear, rig);
    if (learned.lens) {
        rig_lens_profile(&camera->lens, learned.file, learned.lens, camera->focal_mm);
    }
}

/* "70-300" or "250". */
static bool read_range(double *first, double *second, const char *text)
{
    char head[32];
    const char *sign = strchr(text, '-');
    if (!sign || sign == text) {
        *second = 0;
        return text_read_double(first, text);
    }
    if ((size_t)(sign - text) >= sizeof head) {
        return false;
    }
    snprintf(head, sizeof head, "%.*s", (int)(sign - text), text);
    return text_read_double(first, head) && text_read_double(second, sign + 1);
}

static bool is_within(double value, double low, double high)
{
    return value >= low && value <= high;
}

bool plan_gear_read_focal(struct plan_gear *gear, const char *text)
{
    const double least = 1, most = 20000;
    double first, second;
    if (!read_range(&first, &second, text) || !is_within(first, least, most) ||
        (second != 0 && !(second > first && second <= most))) {
        return false;
    }
    gear->focal_mm = second > 0 ? second : first;
    gear->shortest_mm = first;
    return true;
}

bool plan_gear_read_aperture(struct plan_gear *gear, const char *text)
{
    const double least = 0.5, most = 128;
    double first, second;
    if (!read_range(&first, &second, text) || !is_within(first, least, most) ||
        (second != 0 && !is_within(second, least, most))) {
        return false;
    }
    gear->f_number = first;
    gear->f_longest = second > 0 ? second : first;
    return true;
}

/* The lens as it is said, else as the settings file has it. */
static struct lens_range find_range(const struct plan_gear *gear, const struct rig_lens *lens)
{
    const double usual_f = 4;
    struct lens_range range = {.longest_mm =
                                   first_known(gear->focal_mm, lens ? lens->longest_mm : 0, 0)};
    range.shortest_mm =
        gear->focal_mm > 0 ? first_known(gear->shortest_mm, gear->focal_mm, 0) : lens->shortest_mm;
    range.f_shortest = first_known(gear->f_number, lens ? lens->f_number : 0, usual_f);
    range.f_longest = gear->f_number > 0
                          ? first_known(gear->f_longest, gear->f_number, 0)
                          : first_known(lens ? lens->f_longest : 0, range.f_shortest, 0);
    return range;
}

/* At one focal length: of a lens that is a zoom, what it opens to there. */
static double find_aperture(const struct plan_gear *gear, const struct rig_lens *lens,
                            const struct lens_range *range)
{
    if (gear->focal_mm > 0 && !(gear->f_number > 0) && lens && lens->f_number > 0) {
        const struct lens_range own = {lens->shortest_mm, lens->longest_mm, lens->f_number,
                                       lens->f_longest};
        return lens_aperture(&own, range->longest_mm);
    }
    return range->f_longest;
}

void plan_gear_write(char *words, size_t size, const struct plan_camera *camera,
                     const struct lens_range *zoom, bool of_zoom, const struct plan_gear *gear,
                     const struct rig *rig)
{
    const struct rig_body *body = rig->body;
    char sensor[80], lens[80];
    if (gear->sensor_width_mm > 0) {
        snprintf(sensor, sizeof sensor, "%g x %g mm", camera->width_mm, camera->height_mm);
    } else {
        snprintf(sensor, sizeof sensor, "%s", body ? body->entry.name : "crop sensor");
    }
    bool guessed = body && !(body->pixel_um > 0) && !(gear->pixel_um > 0);
    if (of_zoom && zoom->longest_mm > 0) {
        snprintf(lens, sizeof lens, "%g-%g mm f/%g", zoom->shortest_mm, zoom->longest_mm,
                 zoom->f_shortest);
        if (zoom->f_longest != zoom->f_shortest) {
            text_append(lens, sizeof lens, "-%g", zoom->f_longest);
        }
    } else {
        snprintf(lens, sizeof lens, "%g mm f/%g", camera->focal_mm, camera->f_number);
    }
    snprintf(words, size, "%s%s, %s", sensor, guessed ? " with pixels taken for 3.7 um" : "", lens);
}

int plan_gear_choose(struct plan_camera *camera, struct lens_range *zoom, char *words, size_t size,
                     const struct plan_gear *gear, const struct rig *rig, struct error *err)
{
    const struct rig_body *body = rig->body;
    if (!rig->lens && gear->focal_mm <= 0) {
        return error_remedied(err, error_set(err, ERROR_USAGE, "a plan needs a lens"), REMEDY_LENS);
    }
    const struct lens_range range = find_range(gear, rig->lens);
    *camera = (struct plan_camera){
        .focal_mm = range.longest_mm,
        .f_number = find_aperture(gear, rig->lens, &range),
        .pixel_um = first_known(gear->pixel_um, body ? body->pixel_um : 0, 3.7),
        .width_mm = first_known(gear->sensor_width_mm, body ? body->sensor_width : 0, 22.2),
        .height_mm = first_known(gear->sensor_height_mm, body ? body->sensor_height : 0, 14.8),
        .read_noise = first_known(0, body ? body->read_noise : 0, SIGNAL_READ_NOISE),
        .efficiency = first_known(0, body ? body->efficiency : 0, SIGNAL_EFFICIENCY),
    };
    *zoom = range.shortest_mm < range.longest_mm ? range : (struct lens_range){0};
    choose_lens(camera, gear, rig);
    plan_gear_write(words, size, camera, zoom, true, gear, rig);
    return 0;
}
