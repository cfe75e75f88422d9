#include "sky/wcs_fits.h"

#include "base/file.h"
#include "base/fits_record.h"
#include "base/units.h"
#include "sky/wcs_inverse.h"

#include <fitsio.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <wcslib/wcs.h>
#include <wcslib/wcshdr.h>

/* In the axes of the file: rows counted from the bottom turn v, so terms of odd q change sign, and
 * all of b once more. */
static void to_file_axes(struct wcs *file, const struct wcs *wcs, bool top_down)
{
    *file = *wcs;
    file->x = wcs->x + 1;
    file->y = top_down ? wcs->y + 1 : wcs->height - wcs->y;
    if (top_down) {
        return;
    }
    file->cd[0][1] = -wcs->cd[0][1];
    file->cd[1][1] = -wcs->cd[1][1];
    for (int p = 0; p <= WCS_MAX_ORDER; p++) {
        for (int q = 0; q <= WCS_MAX_ORDER; q++) {
            double sign = q % 2 ? -1 : 1;
            file->a[p][q] = sign * wcs->a[p][q];
            file->b[p][q] = -sign * wcs->b[p][q];
        }
    }
}

static void put_number(fitsfile *fits, const char *key, double value, const char *comment,
                       int *status)
{
    fits_write_key_dbl(fits, key, value, -15, comment, status);
}

static void put_text(fitsfile *fits, const char *key, const char *value, const char *comment,
                     int *status)
{
    fits_write_key_str(fits, key, value, comment, status);
}

/* Where the celestial pole lies in the projection's own axes. Those that are round about their
 * middle have it above, and the matrix turns the picture; a cylinder has an axis of its own. */
static void put_pole(fitsfile *fits, const struct wcs *file, int *status)
{
    double longitude = 180, latitude = file->dec_deg;
    if (projection_is_cylinder(file->projection)) {
        double turn = file->turn_deg * RAD_PER_DEG, dec = file->dec_deg * RAD_PER_DEG;
        longitude = atan2(-cos(dec) * sin(turn), sin(dec)) * DEG_PER_RAD;
        latitude = asin(cos(dec) * cos(turn)) * DEG_PER_RAD;
    }
    put_number(fits, "LONPOLE", longitude, "[deg]", status);
    put_number(fits, "LATPOLE", latitude, "[deg]", status);
    if (file->projection == PROJECTION_CYP) {
        put_number(fits, "PV2_1", 0, "drawn from the middle of the sphere", status);
        put_number(fits, "PV2_2", 1, "onto a cylinder that touches it", status);
    }
}

static void put_kind(fitsfile *fits, const char *key, const char *axis, const struct wcs *file,
                     int *status)
{
    char kind[16];
    bool plain = file->projection == PROJECTION_TAN;
    snprintf(kind, sizeof kind, "%s%s%s", axis, projection_code(file->projection),
             file->order > 0 ? "-SIP" : "");
    put_text(fits, key, kind, plain ? "gnomonic projection" : projection_words(file->projection),
             status);
}

static void put_linear(fitsfile *fits, const struct wcs *file, int *status)
{
    fits_write_key_lng(fits, "WCSAXES", 2, "", status);
    put_kind(fits, "CTYPE1", "RA---", file, status);
    put_kind(fits, "CTYPE2", "DEC--", file, status);
    put_text(fits, "CUNIT1", "deg", "", status);
    put_text(fits, "CUNIT2", "deg", "", status);
    put_number(fits, "CRVAL1", file->ra_deg, "[deg] right ascension of the tangent point", status);
    put_number(fits, "CRVAL2", file->dec_deg, "[deg] declination of the tangent point", status);
    put_number(fits, "CRPIX1", file->x, "[pixel] the first one is 1", status);
    put_number(fits, "CRPIX2", file->y, "[pixel]", status);
    put_number(fits, "CD1_1", file->cd[0][0], "[deg/pixel]", status);
    put_number(fits, "CD1_2", file->cd[0][1], "[deg/pixel]", status);
    put_number(fits, "CD2_1", file->cd[1][0], "[deg/pixel]", status);
    put_number(fits, "CD2_2", file->cd[1][1], "[deg/pixel]", status);
    put_pole(fits, file, status);
    put_text(fits, "RADESYS", "ICRS", "", status);
    put_number(fits, "EQUINOX", 2000, "", status);
    fits_write_key_lng(fits, "IMAGEW", file->width, "[pixel] width of the picture", status);
    fits_write_key_lng(fits, "IMAGEH", file->height, "[pixel] height of the picture", status);
}

static void put_term(fitsfile *fits, const char *name, int p, int q, double value, int *status)
{
    char key[20];
    if (value != 0) {
        snprintf(key, sizeof key, "%s_%d_%d", name, p, q);
        put_number(fits, key, value, "", status);
    }
}

static void put_distortion(fitsfile *fits, const struct wcs *file, int *status)
{
    fits_write_key_lng(fits, "A_ORDER", file->order, "pixel to sky", status);
    fits_write_key_lng(fits, "B_ORDER", file->order, "", status);
    for (int p = 0; p <= file->order; p++) {
        for (int q = p < 2 ? 2 - p : 0; p + q <= file->order; q++) {
            put_term(fits, "A", p, q, file->a[p][q], status);
            put_term(fits, "B", p, q, file->b[p][q], status);
        }
    }
}

static void put_inverse(fitsfile *fits, const struct wcs_inverse *inverse, int *status)
{
    fits_write_key_lng(fits, "AP_ORDER", inverse->order, "sky to pixel", status);
    fits_write_key_lng(fits, "BP_ORDER", inverse->order, "", status);
    for (int p = 0; p <= inverse->order; p++) {
        for (int q = 0; p + q <= inverse->order; q++) {
            put_term(fits, "AP", p, q, inverse->ap[p][q], status);
            put_term(fits, "BP", p, q, inverse->bp[p][q], status);
        }
    }
}

static void put_header(fitsfile *fits, const struct wcs *wcs, bool top_down, int *status)
{
    struct wcs file;
    to_file_axes(&file, wcs, top_down);
    put_linear(fits, &file, status);
    if (file.order > 0) {
        struct wcs_inverse inverse;
        struct wcs zero_based = file; /* with the rows as the file has them */
        zero_based.x -= 1;
        zero_based.y -= 1;
        put_distortion(fits, &file, status);
        if (wcs_inverse_fit(&inverse, &zero_based)) {
            put_inverse(fits, &inverse, status);
        }
    }
    if (top_down) {
        put_text(fits, "ROWORDER", "TOP-DOWN", "row 1 is the top of the picture", status);
    } else {
        fits_write_comment(fits, "Row 1 is the bottom of the displayed picture.", status);
    }
}

static int fits_failed(struct error *err, int status)
{
    char text[FLEN_STATUS];
    if (status == MEMORY_ALLOCATION) {
        return error_memory(err);
    }
    fits_get_errstatus(status, text);
    return error_set(err, ERROR_OUTPUT, "FITS header: %s", text);
}

/* A whole FITS file without data in memory; *bytes is the caller's to free. */
static int make_file(void **bytes, size_t *size, fitsfile **fits, const struct wcs *wcs,
                     bool top_down, struct error *err)
{
    int status = 0;
    *fits = NULL;
    *size = 8 * FITS_RECORD;
    *bytes = calloc(1, *size); /* CFITSIO looks at what is there before it writes */
    if (!*bytes) {
        return error_memory(err);
    }
    fits_create_memfile(fits, bytes, size, FITS_RECORD, realloc, &status);
    fits_create_img(*fits, BYTE_IMG, 0, NULL, &status);
    put_header(*fits, wcs, top_down, &status);
    fits_flush_file(*fits, &status);
    if (status) {
        int result = fits_failed(err, status);
        status = 0;
        if (*fits) {
            fits_close_file(*fits, &status);
            *fits = NULL;
        }
        free(*bytes);
        *bytes = NULL;
        return result;
    }
    return 0;
}

int wcs_fits_write(const struct wcs *wcs, const struct file_target *target, bool top_down,
                   struct error *err)
{
    void *bytes;
    size_t room;
    fitsfile *fits;
    LONGLONG start, data, end = 0;
    int status = 0;
    struct file_out out = {0};
    int result = make_file(&bytes, &room, &fits, wcs, top_down, err);
    if (result) {
        return result;
    }
    fits_get_hduaddrll(fits, &start, &data, &end, &status);
    fits_close_file(fits, &status);
    result = status ? fits_failed(err, status) : file_out_open_to(&out, target, err);
    if (!result) {
        fwrite(bytes, 1, (size_t)end, out.stream); /* the commit finds and names a failure */
        result = file_out_commit(&out, err);
    }
    free(bytes);
    return result;
}

int wcs_fits_cards(char **cards, int *count, const struct wcs *wcs, bool top_down,
                   struct error *err)
{
    char simple[] = "SIMPLE", bitpix[] = "BITPIX", naxis[] = "NAXIS", extend[] = "EXTEND";
    char *left_out[] = {simple, bitpix, naxis, extend};
    void *bytes;
    size_t room;
    fitsfile *fits;
    char *text = NULL;
    int status = 0;
    int result = make_file(&bytes, &room, &fits, wcs, top_down, err);
    if (result) {
        return result;
    }
    fits_hdr2str(fits, 0, left_out, 4, &text, count, &status);
    int closing = 0;
    fits_close_file(fits, &closing);
    free(bytes);
    *cards = NULL;
    if (!status) {
        *count -= 1; /* END */
        *cards = malloc((size_t)*count * 80 + 1);
    }
    if (*cards) {
        memcpy(*cards, text, (size_t)*count * 80);
        (*cards)[*count * 80] = '\0';
    }
    int freeing = 0;
    fits_free_memory(text, &freeing);
    return status ? fits_failed(err, status) : *cards ? 0 : error_memory(err);
}

/* Reads the header that would be written, as any program that uses WCSLIB would. */
static int read_back(struct wcsprm **prm, int *found, const struct wcs *wcs, struct error *err)
{
    char *cards;
    int count, rejected;
    int result = wcs_fits_cards(&cards, &count, wcs, false, err);
    if (result) {
        return result;
    }
    int status = wcspih(cards, count, WCSHDR_all, 0, &rejected, found, prm);
    free(cards);
    if (!status && *found > 0) {
        status = wcsset(*prm);
    }
    if (status || *found == 0) {
        return error_set(err, ERROR_INPUT, "WCSLIB: %s",
                         status ? wcs_errmsg[status] : "no coordinate system in the header");
    }
    return 0;
}

int wcs_fits_radec(double *ra_deg, double *dec_deg, const struct wcs *wcs, double px, double py,
                   struct error *err)
{
    int found = 0, state = 0;
    struct wcsprm *prm = NULL;
    double pixel[2] = {px + 1, wcs->height - py}, image[2], phi, theta, world[2];
    int result = read_back(&prm, &found, wcs, err);
    if (!result) {
        int status = wcsp2s(prm, 1, 2, pixel, image, &phi, &theta, world, &state);
        if (status) {
            result = error_set(err, ERROR_INPUT, "WCSLIB: %s", wcs_errmsg[status]);
        } else {
            *ra_deg = world[prm->lng];
            *dec_deg = world[prm->lat];
        }
    }
    wcsvfree(&found, &prm);
    return result;
}
