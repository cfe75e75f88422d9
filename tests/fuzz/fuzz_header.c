/* The header of a FITS file, as it is read for facts and given again with a solution's cards: what
 * is written must be a FITS file whose picture is read as before. */
#include "fuzz_cards.h"
#include "fuzz_reader.h"
#include "image/fits_copy.h"
#include "image/read_fits.h"

size_t LLVMFuzzerCustomMutator(uint8_t *data, size_t size, size_t most, unsigned int seed)
{
    static const char *const keys[] = {
        "CTYPE1",   "CTYPE2",   "CRVAL1",   "CRVAL2",   "CRPIX1",   "CRPIX2",  "CD1_1",
        "CD2_2",    "PC1_1",    "CDELT1",   "CROTA2",   "A_ORDER",  "A_2_0",   "PV2_1",
        "LONPOLE",  "RADESYS",  "EQUINOX",  "DATE-OBS", "DATE-BEG", "EXPTIME", "FOCALLEN",
        "XPIXSZ",   "OBJCTRA",  "OBJCTDEC", "ROWORDER", "BAYERPAT", "BZERO",   "BSCALE",
        "CHECKSUM", "CONTINUE", "HIERARCH", "COMMENT",  "HISTORY",  "NAXIS",   "NAXIS1",
        "NAXIS2",   "NAXIS3",   "BITPIX",   "END",      "INHERIT",  "BLANK",   "WCSAXES"};
    return fuzz_change_card(data, size, most, seed, keys, sizeof keys / sizeof *keys);
}

static bool same_plane(const struct frame *a, const struct frame *b)
{
    const struct plane *p = &a->luminance, *q = &b->luminance;
    return p->width == q->width && p->height == q->height &&
           memcmp(p->value, q->value, sizeof(float) * (size_t)p->width * (size_t)p->height) == 0;
}

static void copy(const struct picture_source *source, const struct frame *frame,
                 const struct frame_options *options)
{
    struct file_bytes out = {0};
    struct frame again = {0};
    struct error err = {0};
    const struct file_target target = {"copy", &out};
    const struct wcs wcs = {.ra_deg = 84,
                            .dec_deg = -5,
                            .cd = {{-0.01, 0}, {0, 0.01}},
                            .width = frame->width,
                            .height = frame->height};
    int code = fits_copy_write(&target, source, frame, &wcs, false, &err);
    if (code != err.code || (code && err.text[0] == '\0')) {
        abort();
    }
    if (!code) {
        const struct picture_source copied = picture_source_bytes(out.bytes, out.size, "copy");
        if (read_fits(&again, &copied, options, &err) || !same_plane(frame, &again)) {
            abort();
        }
    }
    frame_free(&again);
    file_bytes_free(&out);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    const struct frame_options options = {.max_plane_pixels = 100000};
    const struct picture_source source = picture_source_bytes(data, size, "fuzzed");
    struct frame frame = {0};
    struct error err = {0};
    if (size > 0 && size <= FUZZ_MOST_INPUT && read_fits(&frame, &source, &options, &err) == 0) {
        frame.can.fits_header = true;
        copy(&source, &frame, &options);
    }
    frame_free(&frame);
    return 0;
}
