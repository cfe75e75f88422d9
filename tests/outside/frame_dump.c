/* What frame_read makes of a file: facts as lines of key and value, then the plane as 32-bit
 * floats. usage: frame_dump FILE PLANE_FILE [MOST_PIXELS] */
#include "image/frame.h"

#include <stdio.h>
#include <stdlib.h>

static void print_fact(const char *key, const struct fact *fact)
{
    if (fact->origin != FACT_UNKNOWN) {
        printf("%s\t%.9g\n", key, fact->value);
    }
}

static void print_facts(const struct frame *frame)
{
    const struct frame_facts *f = &frame->facts;
    printf("format\t%s\nwidth\t%d\nheight\t%d\n", frame->format, frame->width, frame->height);
    printf("bin\t%d\nplane_width\t%d\nplane_height\t%d\nfull\t%.9g\n", frame->luminance.bin,
           frame->luminance.width, frame->luminance.height, (double)frame->luminance.full);
    print_fact("focal_mm", &f->focal_mm);
    print_fact("focal_35mm", &f->focal_35mm);
    print_fact("pixel_um", &f->pixel_um);
    print_fact("exposure_s", &f->exposure_s);
    print_fact("iso", &f->iso);
    print_fact("f_number", &f->f_number);
    print_fact("latitude_deg", &f->latitude_deg);
    print_fact("longitude_deg", &f->longitude_deg);
    print_fact("height_m", &f->height_m);
    print_fact("ra_deg", &f->ra_deg);
    print_fact("dec_deg", &f->dec_deg);
    char local[40], utc[40];
    time_stamp_write(local, sizeof local, &f->start_local);
    time_stamp_write(utc, sizeof utc, &f->start_utc);
    printf("start_local\t%s\nstart_utc\t%s\ncamera\t%s\nlens\t%s\n", local, utc, f->camera,
           f->lens);
}

int main(int argc, char **argv)
{
    struct frame_options how = {.max_plane_pixels = argc > 3 ? atol(argv[3]) : 0};
    struct frame frame = {0};
    struct error err = {0};
    if (argc < 3 || frame_read(&frame, argv[1], &how, &err)) {
        fprintf(stderr, "%s\n", argc < 3 ? "usage: frame_dump FILE PLANE_FILE" : err.text);
        return 1;
    }
    print_facts(&frame);
    FILE *out = fopen(argv[2], "wb");
    size_t count = (size_t)frame.luminance.width * (size_t)frame.luminance.height;
    int failed = !out || fwrite(frame.luminance.value, sizeof(float), count, out) != count;
    failed |= out && fclose(out);
    frame_free(&frame);
    return failed ? 1 : 0;
}
