#include "rig/trail_choice.h"

#include "base/text.h"
#include "base/units.h"
#include "sky/rates.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* Numbers from here on are rules, below it they are pixels. */
static const double least_rule = 100, greatest_rule = 2000, least_px = 0.1;
static const double longest_s = 3600;

double trail_px_of_seconds(double seconds, double scale_arcsec, double dec_deg)
{
    return SIDEREAL_ARCSEC_S * cos(dec_deg * RAD_PER_DEG) * seconds / scale_arcsec;
}

double trail_seconds_of_px(double px, double scale_arcsec, double dec_deg)
{
    double drift = SIDEREAL_ARCSEC_S * cos(dec_deg * RAD_PER_DEG);
    return fmin(longest_s, px * scale_arcsec / fmax(drift, 1e-6));
}

double trail_choice_seconds(const struct trail_choice *choice, const struct trail_sight *sight)
{
    if (choice->px > 0) {
        return trail_seconds_of_px(choice->px, sight->scale_arcsec, sight->dec_deg);
    }
    double rule = choice->rule_mm_s > 0 ? choice->rule_mm_s : TRAIL_USUAL_MM_S;
    return rule / sight->focal_mm;
}

double trail_choice_exposure(const struct trail_choice *choice, const struct shutter *shutter,
                             const struct trail_sight *sight)
{
    return shutter_within(shutter, trail_choice_seconds(choice, sight));
}

bool trail_choice_read(struct trail_choice *choice, const char *text)
{
    char number[32];
    const char *unit = strstr(text, "px");
    size_t length = unit ? (size_t)(unit - text) : strlen(text);
    double value;
    if (length >= sizeof number || (unit && unit[2 + strspn(unit + 2, " \t")])) {
        return false;
    }
    snprintf(number, sizeof number, "%.*s", (int)length, text);
    if (!text_read_double(&value, number) || !(value >= least_px && value <= greatest_rule)) {
        return false;
    }
    bool in_px = unit || value < least_rule;
    *choice = (struct trail_choice){in_px ? 0 : value, in_px ? value : 0};
    return true;
}

void trail_choice_write(char *out, size_t size, const struct trail_choice *choice)
{
    double rule = choice->rule_mm_s > 0 ? choice->rule_mm_s : TRAIL_USUAL_MM_S;
    if (choice->px > 0) {
        snprintf(out, size, "%.3g px of trail", choice->px);
    } else {
        snprintf(out, size, "%.0f rule", rule);
    }
}
