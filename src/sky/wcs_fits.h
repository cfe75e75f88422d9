/* sky/wcs_fits.h: a WCS as a FITS header, through WCSLIB and CFITSIO. */
#ifndef ALIDADE_SKY_WCS_FITS_H
#define ALIDADE_SKY_WCS_FITS_H

#include "base/file.h"
#include "sky/wcs.h"

/* Writes a FITS file with an empty primary array (NAXIS = 0) whose header holds the WCS: RA---TAN /
 * DEC--TAN, or as another projection is called (sky/projection.h), or the -SIP pair with A_, B_ and
 * inverse AP_, BP_ terms, plus IMAGEW, IMAGEH. Pixel numbers are FITS ones: first pixel (1, 1); row
 * 1 is the bottom of the displayed picture when rows is ROWS_BOTTOM_UP, and also for pictures of
 * other formats (the header then says nothing of ROWORDER, so the FITS default holds); for
 * ROWS_TOP_DOWN FITS files pass top_down = true. A file is written to a temporary one, then
 * renamed. ERROR_OUTPUT, ERROR_MEMORY. */
int wcs_fits_write(const struct wcs *wcs, const struct file_target *target, bool top_down,
                   struct error *err);

/* The same header cards as 80-character records, for copying into another file: *cards is owned by
 * the caller. */
int wcs_fits_cards(char **cards, int *count, const struct wcs *wcs, bool top_down,
                   struct error *err);

/* WCSLIB's own answer for a pixel in this project's convention; the authority that wcs_radec is
 * tested against. ERROR_INPUT if WCSLIB refuses the header. */
int wcs_fits_radec(double *ra_deg, double *dec_deg, const struct wcs *wcs, double px, double py,
                   struct error *err);

#endif
