#include "stack/stack_write.h"

#include "draw/write_jpeg.h"
#include "draw/write_png.h"
#include "image/own_mark.h"
#include "night/emergence.h"
#include "sky/wcs_fits.h"
#include "stack/stack_parts.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static int write_picture(const struct file_target *target, const struct stack *stack,
                         const struct stack_look *look, bool png, struct error *err)
{
    struct picture picture = {0};
    struct file_out out = {0};
    int code = stack_picture(&picture, stack, look, err);
    code = code ? code : file_out_open_to(&out, target, err);
    if (!code) {
        char about[120];
        snprintf(about, sizeof about, "%d frames: %s", stack->frames, emergence_caution);
        const struct blend blend = {
            .width = picture.width, .height = picture.height, .picture = &picture, .about = about};
        code = png ? write_png(out.stream, target->name, &blend, true, err)
                   : write_jpeg(out.stream, target->name, &blend, err);
        if (code) {
            file_out_abandon(&out);
        } else {
            code = file_out_commit(&out, err);
        }
    }
    free(picture.rgb);
    return code;
}

int stack_write_png(const struct file_target *target, const struct stack *stack,
                    const struct stack_look *look, struct error *err)
{
    return write_picture(target, stack, look, true, err);
}

int stack_write_jpeg(const struct file_target *target, const struct stack *stack,
                     const struct stack_look *look, struct error *err)
{
    return write_picture(target, stack, look, false, err);
}

enum { CARD = 80, RECORD = 2880 };

static void put_card(FILE *stream, long *cards, const char *text)
{
    fprintf(stream, "%-80.80s", text);
    ++*cards;
}

static void put_number(FILE *stream, long *cards, const char *key, double value, int decimals,
                       const char *comment)
{
    char card[CARD + 40];
    snprintf(card, sizeof card, "%-8s= %20.*f / %s", key, decimals, value, comment);
    put_card(stream, cards, card);
}

static int write_header(FILE *stream, const struct stack *stack, bool colour, struct error *err)
{
    char *wcs = NULL;
    int count = 0;
    long cards = 0;
    int code = wcs_fits_cards(&wcs, &count, &stack->wcs, false, err);
    if (code) {
        return code;
    }
    put_card(stream, &cards, "SIMPLE  =                    T / FITS standard 4.0");
    put_number(stream, &cards, "BITPIX", -32, 0, "floats");
    put_number(stream, &cards, "NAXIS", colour ? 3 : 2, 0, "");
    put_number(stream, &cards, "NAXIS1", stack->place.width, 0, "");
    put_number(stream, &cards, "NAXIS2", stack->place.height, 0, "");
    if (colour) {
        put_number(stream, &cards, "NAXIS3", 3, 0, "red, green, blue");
    }
    put_card(stream, &cards, OWN_MARK_CARD ", while the night went on: no real stack");
    put_number(stream, &cards, "NCOMBINE", stack->frames, 0, "frames");
    put_number(stream, &cards, "EXPTIME", stack->exposure_s, 3, "[s] of all of them");
    fwrite(wcs, CARD, (size_t)count, stream);
    cards += count;
    put_card(stream, &cards, "END");
    free(wcs);
    while (cards * CARD % RECORD) {
        put_card(stream, &cards, "");
    }
    return 0;
}

/* What a colour adds to the luminance at a pixel. */
static float tint_at(const struct stack *stack, int plane, int x, int y)
{
    int i = x / 2 < stack->tint_width ? x / 2 : stack->tint_width - 1;
    int j = y / 2 < stack->tint_height ? y / 2 : stack->tint_height - 1;
    if (i < 0 || j < 0) {
        return 0;
    }
    size_t at = (size_t)j * (size_t)stack->tint_width + (size_t)i;
    float red = stack->red[at], blue = stack->blue[at];
    return plane == 0 ? red : plane == 2 ? blue : -(red + blue) / 2;
}

/* Most significant byte first (FITS standard 4.0, 5.3). */
static void put_float(unsigned char *to, float value)
{
    uint32_t bits;
    memcpy(&bits, &value, sizeof bits);
    for (int i = 0; i < 4; i++) {
        to[i] = (unsigned char)(bits >> (24 - 8 * i) & 0xff);
    }
}

static void write_plane(FILE *stream, unsigned char *row, const struct stack *stack, int plane)
{
    int width = stack->place.width;
    for (int y = stack->place.height - 1; y >= 0; y--) {
        for (int x = 0; x < width; x++) {
            float tint = plane < 0 ? 0 : tint_at(stack, plane, x, y);
            put_float(row + 4 * (size_t)x, stack_value(stack, x, y) + tint);
        }
        fwrite(row, 4, (size_t)width, stream);
    }
}

int stack_write_fits(const struct file_target *target, const struct stack *stack, struct error *err)
{
    static const char zeros[RECORD] = {0};
    struct file_out out = {0};
    unsigned char *row = malloc(4 * (size_t)stack->place.width);
    bool colour = stack->red != NULL;
    int code = row ? file_out_open_to(&out, target, err) : error_memory(err);
    code = code ? code : write_header(out.stream, stack, colour, err);
    for (int plane = colour ? 0 : -1; !code && plane < (colour ? 3 : 0); plane++) {
        write_plane(out.stream, row, stack, plane);
    }
    free(row);
    if (code) {
        file_out_abandon(&out);
        return code;
    }
    size_t data = 4 * (size_t)stack->place.width * (size_t)stack->place.height * (colour ? 3 : 1);
    fwrite(zeros, 1, (RECORD - data % RECORD) % RECORD, out.stream);
    return file_out_commit(&out, err); /* which finds and names a failure */
}
