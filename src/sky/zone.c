#include "sky/zone.h"

#include "sky/rates.h"

#include <ctype.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const double day_s = 86400;

bool zone_is_known(const struct zone *zone)
{
    return zone->kinds > 0;
}

void zone_fix(struct zone *zone, double ahead_min)
{
    memset(zone, 0, sizeof *zone);
    zone->kinds = 1;
    zone->kind[0].ahead_s = (int)lround(ahead_min * 60);
}

/* To the nearest millisecond before flooring, since a Julian date is not exact. */
static long long unix_seconds(struct utc utc)
{
    double whole = (utc.day - UNIX_EPOCH_JD) * day_s;
    return (long long)floor(whole + utc.fraction * day_s + 0.0005);
}

static const struct zone_kind *kind_at(const struct zone *zone, long long unix_s)
{
    int low = 0, high = zone->changes; /* changes before low have come, from high on have not */
    if (zone->rule.given && (!zone->changes || unix_s >= zone->at[zone->changes - 1])) {
        return zone_rule_at(&zone->rule, unix_s);
    }
    while (low < high) {
        int middle = (low + high) / 2;
        if (zone->at[middle] <= unix_s) {
            low = middle + 1;
        } else {
            high = middle;
        }
    }
    return &zone->kind[low ? zone->becomes[low - 1] : 0];
}

const struct zone_kind *zone_at(const struct zone *zone, struct utc utc)
{
    return kind_at(zone, unix_seconds(utc));
}

double zone_ahead_min(const struct zone *zone, struct utc utc)
{
    return zone_at(zone, utc)->ahead_s / 60.0;
}

enum zone_shows zone_to_utc(struct utc *utc, const struct zone *zone, struct utc shown)
{
    long long clock = unix_seconds(shown);
    int before = kind_at(zone, clock - (long long)day_s)->ahead_s;
    int after = kind_at(zone, clock + (long long)day_s)->ahead_s;
    bool first = kind_at(zone, clock - before)->ahead_s == before;
    bool second = kind_at(zone, clock - after)->ahead_s == after;
    *utc = time_add(shown, -(first || !second ? before : after));
    if (before == after) {
        return ZONE_ONCE;
    }
    return first && second ? ZONE_TWICE : first || second ? ZONE_ONCE : ZONE_NEVER;
}

bool zone_change(struct utc *when, const struct zone *zone, struct utc after, struct utc until)
{
    long long low = unix_seconds(after), start = low, high = unix_seconds(until);
    int ahead_s = kind_at(zone, low)->ahead_s;
    if (high <= low || kind_at(zone, high)->ahead_s == ahead_s) {
        return false;
    }
    while (high - low > 1) {
        long long middle = low + (high - low) / 2;
        if (kind_at(zone, middle)->ahead_s == ahead_s) {
            low = middle;
        } else {
            high = middle;
        }
    }
    *when = time_add(after, (double)(high - start));
    return true;
}

static void write_offset(char *out, size_t size, int ahead_s)
{
    int minutes = abs(ahead_s) / 60;
    if (minutes) {
        snprintf(out, size, "UTC%c%02d:%02d", ahead_s < 0 ? '-' : '+', minutes / 60, minutes % 60);
    } else {
        snprintf(out, size, "UTC");
    }
}

void zone_write_word(char *out, size_t size, const struct zone_kind *kind)
{
    if (isalpha((unsigned char)kind->word[0])) {
        snprintf(out, size, "%s", kind->word);
    } else {
        write_offset(out, size, kind->ahead_s);
    }
}

void zone_write(char *out, size_t size, const struct zone_kind *kind)
{
    char offset[24];
    write_offset(offset, sizeof offset, kind->ahead_s);
    if (isalpha((unsigned char)kind->word[0]) && strcmp(kind->word, offset) != 0) {
        snprintf(out, size, "%s (%s)", kind->word, offset);
    } else {
        snprintf(out, size, "%s", offset);
    }
}
