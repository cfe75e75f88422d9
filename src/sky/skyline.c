#include "sky/skyline.h"

#include "base/text.h"

#include <math.h>
#include <stdio.h>
#include <string.h>
#include <strings.h>

static const double lowest_deg = -10, highest_deg = 90;

bool skyline_add(struct skyline *skyline, double azimuth_deg, double altitude_deg)
{
    bool right =
        azimuth_deg >= 0 && azimuth_deg <= 360 &&
        (isnan(altitude_deg) || (altitude_deg >= lowest_deg && altitude_deg <= highest_deg));
    if (!right || skyline->points == SKYLINE_POINTS) {
        return false;
    }
    bool full_circle = azimuth_deg >= 360; /* the left end of what stands in the north */
    azimuth_deg = full_circle ? 0 : azimuth_deg;
    int at = skyline->points++;
    for (; at > 0 && (full_circle || skyline->point[at - 1].azimuth_deg > azimuth_deg); at--) {
        skyline->point[at] = skyline->point[at - 1];
    }
    skyline->point[at] = (struct skyline_point){azimuth_deg, altitude_deg};
    return true;
}

static bool read_azimuth(double *azimuth_deg, const char *text)
{
    static const char *const compass[] = {"N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE",
                                          "S", "SSW", "SW", "WSW", "W", "WNW", "NW", "NNW"};
    for (int i = 0; i < 16; i++) {
        if (strcasecmp(text, compass[i]) == 0) {
            *azimuth_deg = i * 22.5;
            return true;
        }
    }
    return text_read_double(azimuth_deg, text);
}

static bool read_point(struct skyline *skyline, const char *text, size_t length)
{
    char point[40], *colon;
    double azimuth_deg, altitude_deg = NAN;
    if (length >= sizeof point) {
        return false;
    }
    snprintf(point, sizeof point, "%.*s", (int)length, text);
    colon = strchr(point, ':');
    if (!colon) {
        return false;
    }
    *colon = '\0';
    bool known = strcmp(colon + 1, "-") != 0;
    return read_azimuth(&azimuth_deg, point) &&
           (!known || text_read_double(&altitude_deg, colon + 1)) &&
           skyline_add(skyline, azimuth_deg, altitude_deg);
}

bool skyline_read(struct skyline *skyline, const char *text)
{
    static const char between[] = " \t,";
    struct skyline more = *skyline;
    const char *at = text + strspn(text, between);
    bool good = *at != '\0';
    while (good && *at) {
        size_t length = strcspn(at, between);
        good = read_point(&more, at, length);
        at += length;
        at += strspn(at, between);
    }
    if (good) {
        *skyline = more;
    }
    return good;
}

int skyline_write(char *out, size_t size, const struct skyline *skyline, int from)
{
    size_t used = 0;
    out[0] = '\0';
    for (; from < skyline->points; from++) {
        const struct skyline_point *point = &skyline->point[from];
        char text[40] = "";
        text_append(text, sizeof text, "%s%g:", used ? " " : "", point->azimuth_deg);
        if (isnan(point->altitude_deg)) {
            text_append(text, sizeof text, "-");
        } else {
            text_append(text, sizeof text, "%g", round(point->altitude_deg * 10) / 10);
        }
        size_t length = strlen(text);
        if (used + length >= size) {
            return from;
        }
        memcpy(out + used, text, length + 1);
        used += length;
    }
    return from;
}

/* The upper end of a wall that stands exactly there; NAN if none does. */
static double wall_at(const struct skyline *skyline, double azimuth_deg)
{
    double highest = NAN;
    for (int i = 0; i < skyline->points; i++) {
        if (skyline->point[i].azimuth_deg == azimuth_deg) {
            highest = fmax(highest, skyline->point[i].altitude_deg);
        }
    }
    return highest;
}

double skyline_altitude(const struct skyline *skyline, double azimuth_deg)
{
    int next = 0;
    azimuth_deg -= 360 * floor(azimuth_deg / 360);
    double wall = wall_at(skyline, azimuth_deg);
    if (!skyline->points || !isnan(wall)) {
        return wall;
    }
    while (next < skyline->points && skyline->point[next].azimuth_deg <= azimuth_deg) {
        next++;
    }
    const struct skyline_point *right = &skyline->point[next % skyline->points];
    const struct skyline_point *left =
        &skyline->point[(next + skyline->points - 1) % skyline->points];
    double span = right->azimuth_deg - left->azimuth_deg;
    double along = azimuth_deg - left->azimuth_deg;
    span += span <= 0 ? 360 : 0;
    along += along < 0 ? 360 : 0;
    return left->altitude_deg + (right->altitude_deg - left->altitude_deg) * along / span;
}

bool skyline_hides(const struct skyline *skyline, double azimuth_deg, double altitude_deg)
{
    return altitude_deg < skyline_altitude(skyline, azimuth_deg);
}
