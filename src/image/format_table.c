#include "image/format.h"

#include "image/read_fits.h"
#include "image/read_jpeg.h"
#include "image/read_png.h"
#include "image/read_raw.h"
#include "image/read_tiff.h"

const struct format format_table[] = {
    {"camera raw", read_raw_recognise, read_raw}, {"TIFF", read_tiff_recognise, read_tiff},
    {"PNG", read_png_recognise, read_png},        {"JPEG", read_jpeg_recognise, read_jpeg},
    {"FITS", read_fits_recognise, read_fits},     {NULL, NULL, NULL},
};
