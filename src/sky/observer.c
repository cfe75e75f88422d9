#include "sky/observer.h"

#include <erfam.h>

bool observer_time(double tt[2], struct utc utc)
{
    double tai[2];
    return eraUtctai(utc.day, utc.fraction, &tai[0], &tai[1]) >= 0 &&
           eraTaitt(tai[0], tai[1], &tt[0], &tt[1]) == 0;
}

bool observer_make(eraASTROM *observer, const struct place *place, struct utc utc)
{
    double tt[2], origins;
    if (!observer_time(tt, utc)) {
        return false;
    }
    if (!place) {
        eraApcg13(tt[0], tt[1], observer);
        return true;
    }
    return eraApco13(utc.day, utc.fraction, 0, place->longitude_deg * ERFA_DD2R,
                     place->latitude_deg * ERFA_DD2R, place->height_m, 0, 0, 0, 0, 0, 0.5, observer,
                     &origins) >= 0;
}
