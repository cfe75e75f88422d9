/* Writes headers of many kinds into a folder, with samples.tsv that says where the library puts
 * pixels of each: for check_wcs.py. Usage: wcs_samples FOLDER */
#include "sky/wcs_fits.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

static const double degree = 0.017453292519943295769;

struct kind {
    const char *name;
    double ra, dec, scale_arcsec, up_angle, distortion;
    int mirrored, top_down;
    enum projection_kind projection;
    double turn;
};

static const struct kind kinds[] = {
    {"plain", 83.82, -5.39, 3.05, 17, 0, 0, 0, PROJECTION_TAN, 0},
    {"sip", 83.82, -5.39, 3.05, 17, -0.02, 0, 0, PROJECTION_TAN, 0},
    {"sip_strong", 210.8, 54.35, 15.3, 200, -0.06, 0, 0, PROJECTION_TAN, 0},
    {"sip_pincushion", 210.8, 54.35, 15.3, 200, 0.06, 0, 1, PROJECTION_TAN, 0},
    {"north_pole", 12.5, 89.9, 15.3, 300, 0.02, 0, 0, PROJECTION_TAN, 0},
    {"at_pole", 0, 90, 15.3, 45, 0, 0, 0, PROJECTION_TAN, 0},
    {"south_pole", 270, -89.5, 8, 90, -0.03, 0, 1, PROJECTION_TAN, 0},
    {"ra_wrap", 0.0005, 12, 6, 0, 0.01, 0, 0, PROJECTION_TAN, 0},
    {"ra_wrap_below", 359.9999, -40, 6, 181, 0, 0, 1, PROJECTION_TAN, 0},
    {"mirrored", 150, 30, 6, 75, 0, 1, 0, PROJECTION_TAN, 0},
    {"mirrored_sip", 150, 30, 6, 75, -0.04, 1, 1, PROJECTION_TAN, 0},
    {"very_wide", 266.4, -29, 80, 120, -0.05, 0, 0, PROJECTION_TAN, 0},
    {"equidistant", 40, 50, 110, 30, 0, 0, 0, PROJECTION_ARC, 0},
    {"equidistant_sip", 300, -20, 110, 250, -0.04, 0, 1, PROJECTION_ARC, 0},
    {"equisolid", 123, 89, 110, 20, 0, 1, 0, PROJECTION_ZEA, 0},
    {"equisolid_sip", 123, -35, 110, 20, 0.03, 0, 0, PROJECTION_ZEA, 0},
    {"stereographic", 0.01, 10, 120, 100, 0, 0, 0, PROJECTION_STG, 0},
    {"stereographic_sip", 200, 70, 120, 190, 0.03, 1, 0, PROJECTION_STG, 0},
    {"orthographic", 80, -60, 60, 320, 0, 0, 1, PROJECTION_SIN, 0},
    {"orthographic_sip", 80, 0, 55, 320, -0.03, 0, 0, PROJECTION_SIN, 0},
    {"cylindrical", 250, 40, 160, 0, 0, 0, 0, PROJECTION_CYP, 33},
    {"cylindrical_down", 250, -40, 160, 0, 0, 1, 0, PROJECTION_CYP, 200},
    {"equirectangular", 15, 3, 150, 0, 0, 0, 0, PROJECTION_CAR, -70},
    {"equirectangular_pole", 15, 88, 150, 0, 0, 0, 1, PROJECTION_CAR, 120},
};

static void make(struct wcs *wcs, const struct kind *kind)
{
    double scale = kind->scale_arcsec / 3600, hand = kind->mirrored ? -1 : 1;
    double c = cos(kind->up_angle * degree), s = sin(kind->up_angle * degree);
    *wcs = (struct wcs){.ra_deg = kind->ra,
                        .dec_deg = kind->dec,
                        .x = 2700.25,
                        .y = 1802.5,
                        .projection = kind->projection,
                        .turn_deg = kind->turn,
                        .width = 5202,
                        .height = 3465};
    wcs->cd[0][0] = -hand * scale * c;
    wcs->cd[1][0] = hand * scale * s;
    wcs->cd[0][1] = -scale * s;
    wcs->cd[1][1] = -scale * c;
    if (kind->distortion != 0) {
        double corner = hypot(wcs->width, wcs->height) / 2;
        wcs->order = 3;
        wcs->a[3][0] = wcs->b[0][3] = kind->distortion / (corner * corner);
        wcs->a[1][2] = wcs->b[2][1] = wcs->a[3][0];
        wcs->a[2][0] = 0.002 / corner; /* a lens a little out of centre */
        wcs->b[1][1] = -0.003 / corner;
        wcs->b[2][0] = 0.001 / corner;
    }
}

static int write_samples(FILE *table, const char *folder, const struct kind *kind)
{
    struct wcs wcs;
    struct error err = {0};
    char name[1000];
    snprintf(name, sizeof name, "%s/%s.wcs", folder, kind->name);
    make(&wcs, kind);
    if (wcs_fits_write(&wcs, &(struct file_target){.name = name}, kind->top_down, &err)) {
        fprintf(stderr, "%s\n", err.text);
        return err.code;
    }
    const double share[] = {0, 0.31, 0.5, 1};
    for (int i = 0; i < 16; i++) {
        double x = share[i % 4] * wcs.width - 0.5, y = share[i / 4] * wcs.height - 0.5, ra, dec;
        wcs_radec(&ra, &dec, &wcs, x, y);
        fprintf(table, "%s\t%d\t%d\t%.17g\t%.17g\t%.17g\t%.17g\n", kind->name, kind->top_down,
                wcs.height, x, y, ra, dec);
    }
    return 0;
}

int main(int argc, char **argv)
{
    char name[1000];
    if (argc != 2) {
        fprintf(stderr, "usage: wcs_samples FOLDER\n");
        return 2;
    }
    snprintf(name, sizeof name, "%s/samples.tsv", argv[1]);
    FILE *table = fopen(name, "w");
    if (!table) {
        fprintf(stderr, "%s: cannot be written\n", name);
        return 4;
    }
    fprintf(table, "name\ttop_down\theight\tx\ty\tra_deg\tdec_deg\n");
    int result = 0;
    for (size_t i = 0; i < sizeof kinds / sizeof *kinds && !result; i++) {
        result = write_samples(table, argv[1], &kinds[i]);
    }
    if (fclose(table) && !result) {
        result = 4;
    }
    return result;
}
