#include "demo/mosaic.h"

#include <math.h>

struct mosaic_gain mosaic_grey(void)
{
    return (struct mosaic_gain){{{1, 1}, {1, 1}}};
}

/* A sunlike star fills green pixels first, as daylight does in every camera; red and blue follow
 * the colour index over half a magnitude either way (common practice, no source). */
struct mosaic_gain mosaic_of_colour(double b_v)
{
    double redder = b_v - 0.65;
    double red = 0.6 * pow(10, 0.4 * 0.55 * redder), blue = 0.7 * pow(10, -0.4 * 0.75 * redder);
    double mean = (red + 2 + blue) / 4;
    float r = (float)(red / mean), g = (float)(1 / mean), b = (float)(blue / mean);
    return (struct mosaic_gain){{{r, g}, {g, b}}};
}
