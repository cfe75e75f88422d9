/* image/frame.h: one picture file in memory, as far as solving and drawing need it. */
#ifndef ALIDADE_IMAGE_FRAME_H
#define ALIDADE_IMAGE_FRAME_H

#include "image/picture_source.h"
#include "sky/time.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* Where a value was found; decides how far it is trusted. */
enum fact_origin {
    FACT_UNKNOWN = 0,
    FACT_EXIF,    /* a tag that the camera wrote */
    FACT_FITS,    /* a card that a program wrote */
    FACT_DERIVED, /* follows from other facts of the file */
    FACT_BODY,    /* a table of cameras says so */
    FACT_RIG,     /* the settings file says so */
    FACT_USER     /* the command line says so */
};

struct fact {
    double value;
    enum fact_origin origin; /* FACT_UNKNOWN: value is meaningless */
    const char *source;      /* for people: "EXIF FocalLength", "focal-plane resolution"; static */
};

/* What the file says about how it was taken. */
struct frame_facts {
    struct fact focal_mm;
    struct fact focal_35mm; /* equivalent focal length on a 36 x 24 mm sensor, as EXIF rounds it */
    struct fact pixel_um;   /* pitch of the pixels of *this* picture, square */
    struct fact exposure_s;
    struct fact iso;
    struct fact f_number;
    struct fact latitude_deg, longitude_deg; /* of the camera, WGS 84; east is positive */
    struct fact height_m;                    /* above sea level */
    struct fact ra_deg, dec_deg; /* where the mount or its user meant to point, taken as ICRS */
    /* When the exposure began, with up to three decimals of the second. */
    struct time_stamp start_local; /* the camera's clock, in whatever zone */
    struct time_stamp start_utc;   /* where the file states UTC or an offset */
    const char *start_source;      /* for people, as in struct fact; NULL if no time is known */
    char camera[64], lens[64]; /* names as the camera writes them, make before model; or empty */
    int sensor_width, sensor_height; /* pixels when taken, if EXIF keeps them; 0 unknown */
};

/* The luminance that stars are looked for in. Row-major, y down, as displayed. Linear in the
 * file's values (an 8-bit picture keeps its stretch); of camera raw, what is above the black level.
 * Pixel (i, j) is the mean of the bin x bin picture pixels from (bin*i, bin*j), colour channels
 * averaged; a rest at the right and lower edge is left out. NaN marks pixels without data. */
struct plane {
    int width, height;
    int bin;
    float *value; /* width * height */
    float full;   /* the value at which the file's numbers end (saturation), or 0 if unknown */
};

/* Means of red, green and blue over bin x bin picture pixels, as displayed; linear in the file's
 * values as the plane is, of camera raw balanced so that grey is grey. */
struct colours {
    int width, height;
    int bin;         /* twice the plane's, or the same where the picture is no larger */
    float *value[3]; /* width * height each; NULL: not asked for, or the file has no colour */
};

/* Three values a pixel, as displayed; only for drawing. One of rgb and deep is set. */
struct picture {
    int width, height;
    unsigned char *rgb; /* 8 bits a value */
    uint16_t *deep;     /* 16 bits a value: of files with more than 8, where that was asked for */
    bool sampled;       /* only image/picture_samples.h's pixels are there, row by row */
    unsigned char *profile; /* ICC profile of the values; NULL: they are sRGB */
    size_t profile_size;
};

/* How rows of the file map to the displayed picture; needed to write a WCS for that file. */
enum row_order {
    ROWS_TOP_DOWN = 0, /* all but FITS; FITS with ROWORDER = 'TOP-DOWN' */
    ROWS_BOTTOM_UP     /* FITS without a ROWORDER card */
};

/* What can be done with files of a format; false where it does not apply. */
struct format_abilities {
    bool camera_raw;  /* values count from the black level, which the file states */
    bool fits_header; /* holds header units that a copy keeps; rows as enum row_order says */
    bool jpeg_stream; /* vector files can take the file's bytes in as they are */
};

/* Starts as all zeros; free with frame_free. */
struct frame {
    int width, height;  /* displayed picture, after orientation; at least 1 */
    const char *format; /* "camera raw", "TIFF", "PNG", "JPEG", "FITS"; static */
    struct format_abilities can;
    enum row_order rows;
    struct plane luminance;
    struct colours colours; /* empty unless asked for */
    struct picture picture; /* likewise */
    bool turned;            /* the file's pixels were turned or flipped for display */
    struct frame_facts facts;
};

struct frame_options;

/* Who reads pictures in place of this process: another one, for example. All borrowed. */
struct frame_reader {
    /* As frame_read_from, whatever the reader of the options is. */
    int (*read)(void *context, struct frame *frame, const struct picture_source *source,
                const struct frame_options *options, struct error *err);
    void (*close)(void *context);
    void *context;
};

struct frame_options {
    const struct frame_reader *reader; /* NULL: read here */
    bool want_picture;
    /* The plane is binned so that it has at most this many pixels; 0: never binned. The bin is the
     * smallest whole number that does it; a multiple of the cell of a colour filter mosaic. */
    long max_plane_pixels;
    bool want_deep;    /* a picture of 16 bits where the file has more than 8 */
    bool want_samples; /* of the picture only samples, where it is large; not with want_deep */
    bool keep_levels;  /* the picture is not stretched for display, only scaled to its range */
    bool want_colours; /* of camera raw, FITS and JPEG */
};

/* What the first bytes of a file say that it is: the name of a format in the table, or words for a
 * picture of another format; NULL if it is no picture. name: of the file, for formats whose first
 * bytes do not decide. */
const char *frame_format_of(const unsigned char *bytes, size_t size, const char *name);

/* Reads a picture; its kind is judged by its first bytes, not by its name. A cube of three planes,
 * or RGB, counts as colour; alpha is ignored except that fully transparent pixels become NaN.
 * Returns 0, ERROR_INPUT (sentence names file, place, what was expected) or ERROR_MEMORY; on
 * failure the frame is empty. Dimensions above 60000 a side or 400 megapixels are refused before
 * anything is allocated. */
int frame_read_from(struct frame *frame, const struct picture_source *source,
                    const struct frame_options *options, struct error *err);
/* The same of a file. */
int frame_read(struct frame *frame, const char *name, const struct frame_options *options,
               struct error *err);
void frame_free(struct frame *frame);

#endif
