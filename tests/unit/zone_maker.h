/* tests/unit/zone_maker.h: compiled time zones, written byte by byte after RFC 8536, section 3. */
#ifndef ALIDADE_TESTS_ZONE_MAKER_H
#define ALIDADE_TESTS_ZONE_MAKER_H

#include <stddef.h>
#include <string.h>

struct zone_bytes {
    unsigned char bytes[1024];
    size_t size;
};

static inline void zone_put(struct zone_bytes *out, long long value, int width)
{
    for (int i = width - 1; i >= 0; i--) {
        out->bytes[out->size++] = (unsigned char)((unsigned long long)value >> 8 * i);
    }
}

static inline void zone_put_text(struct zone_bytes *out, const char *text, size_t length)
{
    memcpy(out->bytes + out->size, text, length);
    out->size += length;
}

enum { ZONE_MADE_V1_END = 44, ZONE_MADE_CHANGES = 88, ZONE_MADE_KINDS = 115 };

/* Version 2: an empty first block; in the second, three changes between LMT (+00:53:28), CET and
 * CEST; a rule. Central European summer time of 1996 (29 March 2026, 25 October 2026, 01:00 UTC:
 * Directive 2000/84/EC) carries on by the rule. */
static inline void zone_make(struct zone_bytes *out)
{
    static const char letters[] = "LMT\0CET\0CEST", rule[] = "\nCET-1CEST,M3.5.0,M10.5.0/3\n";
    *out = (struct zone_bytes){.size = 0};
    zone_put_text(out, "TZif2\0\0\0\0\0\0\0\0\0\0\0\0\0\0", 20);
    for (int i = 0; i < 6; i++) {
        zone_put(out, 0, 4);
    }
    zone_put_text(out, "TZif2\0\0\0\0\0\0\0\0\0\0\0\0\0\0", 20);
    const int counts[] = {0, 0, 0, 3, 3, sizeof letters};
    for (int i = 0; i < 6; i++) {
        zone_put(out, counts[i], 4);
    }
    zone_put(out, -2422054408, 8); /* 1893 */
    zone_put(out, 828234000, 8);   /* 31 March 1996, 01:00 UTC */
    zone_put(out, 846378000, 8);   /* 27 October 1996, 01:00 UTC */
    zone_put_text(out, "\1\2\1", 3);
    zone_put(out, 3208, 4);
    zone_put_text(out, "\0\0", 2);
    zone_put(out, 3600, 4);
    zone_put_text(out, "\0\4", 2);
    zone_put(out, 7200, 4);
    zone_put_text(out, "\1\10", 2);
    zone_put_text(out, letters, sizeof letters);
    zone_put_text(out, rule, sizeof rule - 1);
}

#endif
