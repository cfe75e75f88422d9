/* sky/zone_file.h: time zones from the system's compiled files: the Time Zone Information Format of
 * RFC 8536, versions 1 to 4. */
#ifndef ALIDADE_SKY_ZONE_FILE_H
#define ALIDADE_SKY_ZONE_FILE_H

#include "base/error.h"
#include "sky/zone.h"

/* From the bytes of a file; messages begin with its name. ERROR_INPUT for what is damaged, counts
 * leap seconds, or has more than a struct zone holds. */
int zone_file_parse(struct zone *zone, const unsigned char *bytes, size_t size, const char *name,
                    struct error *err);

/* The zone of that name, "Europe/Berlin", of a folder such as /usr/share/zoneinfo. ERROR_USAGE for
 * a name that is not there, with one that comes near; ERROR_INPUT if there are no zones, or the
 * file is damaged. */
int zone_file_read(struct zone *zone, const char *folder, const char *name, struct error *err);

/* What people say of a clock: an offset ("+01:00", "1:00", "-3:30", "+1"), "Z" or "UTC", else the
 * name of a zone of the folder. Codes as of zone_file_read. */
int zone_file_read_any(struct zone *zone, const char *folder, const char *text, struct error *err);

#endif
