/* For lines "ZONE SECONDS" on standard input, seconds since 1970 UTC: how far the clocks of that
 * zone are ahead then, what they show, and, for the same number taken as what a clock shows, the
 * time that it stands for. Usage: zone_samples FOLDER */
#include "sky/rates.h"
#include "sky/zone_file.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

int main(int argc, char **argv)
{
    char name[80];
    long long seconds;
    struct zone zone = {0};
    struct error err = {0};
    while (argc == 2 && scanf("%79s %lld", name, &seconds) == 2) {
        if (strcmp(zone.name, name) != 0 && zone_file_read(&zone, argv[1], name, &err)) {
            fprintf(stderr, "%s\n", err.text);
            return err.code;
        }
        struct utc epoch = {UNIX_EPOCH_JD, 0}, read, when = time_add(epoch, (double)seconds);
        const struct zone_kind *kind = zone_at(&zone, when);
        enum zone_shows shows = zone_to_utc(&read, &zone, when);
        printf("%s %lld %d %s %d %.0f\n", name, seconds, kind->ahead_s, kind->word, (int)shows,
               time_between(epoch, read));
    }
    return 0;
}
