#include "image/format.h"

#include "image/read_fits.h"
#include "image/read_jpeg.h"
#include "image/read_png.h"
#include "image/read_raw.h"
#include "image/read_tiff.h"

const struct format format_table[] = {
    {.name = "camera raw",
     .recognise = read_raw_recognise,
     .knows = read_raw_knows,
     .read = read_raw,
     .can = {.camera_raw = true},
     /* What LibRaw reads; the makers' letters. */
     .endings = "3fr arw cr2 cr3 crw dcr dng erf fff iiq k25 kdc mef mos mrw nef nrw orf pef raf raw "
                "rw2 rwl sr2 srf srw x3f"},
    {.name = "TIFF", .recognise = read_tiff_recognise, .read = read_tiff, .endings = "tif tiff"},
    {.name = "PNG", .recognise = read_png_recognise, .read = read_png, .endings = "png"},
    {.name = "JPEG",
     .recognise = read_jpeg_recognise,
     .read = read_jpeg,
     .can = {.jpeg_stream = true},
     .endings = "jpeg jpg"},
    {.name = "FITS",
     .recognise = read_fits_recognise,
     .read = read_fits,
     .can = {.fits_header = true},
     .endings = "fit fits fts fz"},
    {.name = NULL},
};
