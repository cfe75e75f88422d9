/* Makes 50 frames all over the sky, writes their headers into a folder, and tables of where the
 * drawing puts labels of the grid and objects: for check_drawing.py.
 * Usage: draw_samples FOLDER CATALOGS */
#include "base/random.h"
#include "draw/grid.h"
#include "frames.h"
#include "objects/field.h"
#include "sky/wcs_fits.h"

#include <stdio.h>
#include <stdlib.h>

enum { FIELDS = 50, OBJECTS = 40 };

/* 3 to 60 degrees wide, upright or lying, any turn and hand, bent lenses; four near the poles. */
static struct wcs random_frame(int number)
{
    struct random random = {(uint64_t)number + 1};
    bool portrait = number % 5 == 1;
    int width = portrait ? 1000 : 1500, height = portrait ? 1500 : 1000;
    double ra = random_between(&random, 0, 360), sine = random_between(&random, -1, 1);
    double dec = number % 13 == 2 ? 89.5 : number % 13 == 7 ? -88 : asin(sine) * DEG_PER_RAD;
    double field = 3 * pow(20, (double)number / (FIELDS - 1));
    double scale = 2 * tan(field / 2 * RAD_PER_DEG) * ARCSEC_PER_RAD / width;
    struct wcs wcs =
        frame_at(ra, dec, random_between(&random, 0, 360), number % 4 == 3, width, height, scale);
    if (number % 3 == 0) {
        frame_bend(&wcs, random_between(&random, -0.03, 0.03));
    }
    return wcs;
}

static int write_grid(FILE *table, int number, const struct wcs *wcs)
{
    struct canvas canvas;
    struct grid_steps steps;
    static struct grid_label label[GRID_MOST_CROSSINGS];
    if (canvas_open(&canvas, wcs->width, wcs->height, theme_of(THEME_NIGHT), NULL)) {
        return 1;
    }
    grid_choose_steps(&steps, wcs);
    int count = grid_place_labels(label, &canvas, wcs, &steps, NULL, NULL, 0);
    for (int i = 0; i < count; i++) {
        fprintf(table, "%d\t%s\t%.6f\t%.6f\n", number, label[i].text, label[i].at.x, label[i].at.y);
    }
    canvas_free(&canvas);
    return 0;
}

/* Evenly out of all that lie in the picture. */
static int write_objects(FILE *table, int number, const struct wcs *wcs, const struct atlas *atlas)
{
    struct field field = {0};
    struct error err = {0};
    if (field_list(&field, wcs, &atlas->objects, &err)) {
        return 1;
    }
    int all = field.objects + field.stars, written = 0;
    for (int i = 0; i < all && written < OBJECTS; i++) {
        int k = (int)((long)i * 7919 % all); /* a prime: each comes once */
        const struct field_object *found =
            k < field.objects ? &field.object[k] : &field.star[k - field.objects];
        if (wcs_inside(wcs, found->x, found->y)) {
            fprintf(table, "%d\t%s\t%.6f\t%.6f\t%.6f\t%.6f\n", number, found->object->id,
                    found->object->ra_deg, found->object->dec_deg, found->x, found->y);
            written++;
        }
    }
    field_free(&field);
    return 0;
}

static int write_field(FILE *grid, FILE *objects, const char *folder, int number,
                       const struct atlas *atlas)
{
    struct wcs wcs = random_frame(number);
    struct error err = {0};
    char name[1000];
    snprintf(name, sizeof name, "%s/%d.wcs", folder, number);
    if (wcs_fits_write(&wcs, &(struct file_target){.name = name}, true, &err)) {
        fprintf(stderr, "%s\n", err.text);
        return 1;
    }
    return write_grid(grid, number, &wcs) || write_objects(objects, number, &wcs, atlas);
}

int main(int argc, char **argv)
{
    struct atlas atlas;
    struct error err = {0};
    char name[1000];
    if (argc != 3 || atlas_load(&atlas, argv[2], &err)) {
        fprintf(stderr, "usage: draw_samples FOLDER CATALOGS %s\n", err.text);
        return 2;
    }
    snprintf(name, sizeof name, "%s/grid.tsv", argv[1]);
    FILE *grid = fopen(name, "w");
    snprintf(name, sizeof name, "%s/objects.tsv", argv[1]);
    FILE *objects = fopen(name, "w");
    int code = !grid || !objects;
    for (int i = 0; !code && i < FIELDS; i++) {
        code = write_field(grid, objects, argv[1], i, &atlas);
    }
    code = (grid && fclose(grid)) || (objects && fclose(objects)) || code;
    atlas_free(&atlas);
    return code;
}
