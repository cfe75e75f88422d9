/* Writes the star list of a picture: x, y, flux, snr; for check_detection.py. The plane is not
 * binned. Usage: star_samples PICTURE */
#include "image/frame.h"
#include "stars/stars.h"

#include <stdio.h>

int main(int argc, char **argv)
{
    const struct frame_options how = {0};
    const struct detect_options plain = {0};
    struct frame frame = {0};
    struct star_list list = {0};
    struct error err = {0};
    if (argc != 2 || frame_read(&frame, argv[1], &how, &err) ||
        stars_detect(&list, &frame, &plain, &err)) {
        fprintf(stderr, "star_samples: %s\n", argc == 2 ? err.text : "one picture is wanted");
        return 2;
    }
    for (int i = 0; i < list.count; i++) {
        const struct star *s = &list.star[i];
        printf("%.17g\t%.17g\t%.17g\t%.17g\n", s->x, s->y, s->flux, s->snr);
    }
    star_list_free(&list);
    frame_free(&frame);
    return 0;
}
