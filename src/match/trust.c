#include "match/trust.h"

#include <math.h>
#include <string.h>

static const char letters[] = {
    [TRUST_UNPROVEN] = '-', [TRUST_UNTOLD] = 'u', [TRUST_BESIDE] = 'b', [TRUST_PROVEN] = 'p'};

/* Nearly all: what is left is a zone or two that nobody would miss. */
static const double whole_share = 0.98;
static const double partial_share = 0.5;

bool trust_holds(const struct trust *trust, double x, double y)
{
    if (!trust->known) {
        return true;
    }
    double column = floor((x + 0.5) / trust->width * TRUST_COLUMNS);
    double row = floor((y + 0.5) / trust->height * TRUST_ROWS);
    if (!(column >= 0 && column < TRUST_COLUMNS && row >= 0 && row < TRUST_ROWS)) {
        return false;
    }
    return trust->zone[(int)row * TRUST_COLUMNS + (int)column] >= TRUST_BESIDE;
}

void trust_zone_bounds(double x[2], double y[2], const struct trust *trust, int zone)
{
    int column = zone % TRUST_COLUMNS, row = zone / TRUST_COLUMNS;
    for (int i = 0; i < 2; i++) {
        x[i] = floor(trust->width * (column + i) / TRUST_COLUMNS) - 0.5;
        y[i] = floor(trust->height * (row + i) / TRUST_ROWS) - 0.5;
    }
}

bool trust_is_whole(const struct trust *trust)
{
    return !trust->known || trust->share >= whole_share;
}

bool trust_is_partial(const struct trust *trust)
{
    return trust->known && trust->sky_share < partial_share;
}

void trust_write(char out[TRUST_ZONES + 1], const struct trust *trust)
{
    for (int i = 0; i < TRUST_ZONES; i++) {
        out[i] = letters[trust->known ? trust->zone[i] : TRUST_PROVEN];
    }
    out[TRUST_ZONES] = '\0';
}

bool trust_read(struct trust *trust, const char *text, double width, double height)
{
    struct trust made = {.known = true, .width = width, .height = height};
    int proven = 0;
    if (strlen(text) != TRUST_ZONES || !(width > 0 && height > 0)) {
        return false;
    }
    for (int i = 0; i < TRUST_ZONES; i++) {
        const char *letter = memchr(letters, text[i], sizeof letters);
        if (!letter) {
            return false;
        }
        made.zone[i] = (unsigned char)(letter - letters);
        proven += made.zone[i] >= TRUST_BESIDE;
    }
    made.share = made.sky_share = (double)proven / TRUST_ZONES;
    *trust = made;
    return true;
}
