#include "sky/horizon.h"

#include "sky/vector.h"

#include <erfam.h>
#include <math.h>

static const double humidity = 0.5, wavelength_um = 0.53;

double horizon_usual_pressure(double height_m)
{
    return 1013.25 * pow(1 - 2.25577e-5 * height_m, 5.25588);
}

static bool make_sky(eraASTROM *sky, const struct place *place, struct utc utc)
{
    double origins;
    return eraApco13(utc.day, utc.fraction, 0, place->longitude_deg * ERFA_DD2R,
                     place->latitude_deg * ERFA_DD2R, place->height_m, 0, 0, place->pressure_hpa,
                     place->temperature_c, humidity, wavelength_um, sky, &origins) >= 0;
}

void horizon_find(double *azimuth_deg, double *altitude_deg, const struct horizon *horizon,
                  double ra_deg, double dec_deg)
{
    eraASTROM sky = horizon->sky; /* ERFA takes no constant one */
    double ra, dec, azimuth, zenith, hour, dec_of_date, ra_of_date;
    eraAtciq(ra_deg * ERFA_DD2R, dec_deg * ERFA_DD2R, 0, 0, 0, 0, &sky, &ra, &dec);
    eraAtioq(ra, dec, &sky, &azimuth, &zenith, &hour, &dec_of_date, &ra_of_date);
    *azimuth_deg = angle_wrap_360(azimuth * ERFA_DR2D);
    *altitude_deg = 90 - zenith * ERFA_DR2D;
}

void horizon_radec(double *ra_deg, double *dec_deg, const struct horizon *horizon,
                   double azimuth_deg, double altitude_deg)
{
    eraASTROM sky = horizon->sky;
    double ra, dec;
    eraAtoiq("A", azimuth_deg * ERFA_DD2R, (90 - altitude_deg) * ERFA_DD2R, &sky, &ra, &dec);
    eraAticq(ra, dec, &sky, &ra, &dec);
    *ra_deg = angle_wrap_360(ra * ERFA_DR2D);
    *dec_deg = dec * ERFA_DR2D;
}

bool horizon_from_radec(double *azimuth_deg, double *altitude_deg, const struct place *place,
                        struct utc utc, double ra_deg, double dec_deg)
{
    struct horizon horizon;
    if (!horizon_make(&horizon, place, utc)) {
        return false;
    }
    horizon_find(azimuth_deg, altitude_deg, &horizon, ra_deg, dec_deg);
    return true;
}

bool horizon_to_radec(double *ra_deg, double *dec_deg, const struct place *place, struct utc utc,
                      double azimuth_deg, double altitude_deg)
{
    struct horizon horizon;
    if (!horizon_make(&horizon, place, utc)) {
        return false;
    }
    horizon_radec(ra_deg, dec_deg, &horizon, azimuth_deg, altitude_deg);
    return true;
}

void horizon_vector(double v[3], double azimuth_deg, double altitude_deg)
{
    vector_from_radec(v, 90 - azimuth_deg, altitude_deg);
}

void horizon_angles(double *azimuth_deg, double *altitude_deg, const double v[3])
{
    *azimuth_deg = hypot(v[0], v[1]) > 0 ? angle_wrap_360(atan2(v[0], v[1]) * ERFA_DR2D) : 0;
    *altitude_deg = atan2(v[2], hypot(v[0], v[1])) * ERFA_DR2D;
}

bool horizon_make(struct horizon *horizon, const struct place *place, struct utc utc)
{
    horizon->utc = utc;
    return make_sky(&horizon->sky, place, utc);
}

static eraASTROM sky_later(const struct horizon *horizon, double later_s)
{
    eraASTROM sky = horizon->sky;
    struct utc later = time_add(horizon->utc, later_s);
    eraAper13(later.day, later.fraction, &sky);
    return sky;
}

void horizon_see(double out[3], const struct horizon *horizon, const double v[3], double later_s)
{
    eraASTROM sky = sky_later(horizon, later_s);
    double ra, dec, azimuth, zenith, hour, dec_of_date, ra_of_date;
    vector_to_radec(&ra, &dec, v);
    eraAtciqz(ra * ERFA_DD2R, dec * ERFA_DD2R, &sky, &ra, &dec);
    eraAtioq(ra, dec, &sky, &azimuth, &zenith, &hour, &dec_of_date, &ra_of_date);
    horizon_vector(out, azimuth * ERFA_DR2D, 90 - zenith * ERFA_DR2D);
}

void horizon_unsee(double out[3], const struct horizon *horizon, const double v[3], double later_s)
{
    eraASTROM sky = sky_later(horizon, later_s);
    double azimuth, altitude, ra, dec;
    horizon_angles(&azimuth, &altitude, v);
    eraAtoiq("A", azimuth * ERFA_DD2R, (90 - altitude) * ERFA_DD2R, &sky, &ra, &dec);
    eraAticq(ra, dec, &sky, &ra, &dec);
    vector_from_radec(out, ra * ERFA_DR2D, dec * ERFA_DR2D);
}

double horizon_zenith(const struct horizon *horizon, double ra_deg, double dec_deg)
{
    double azimuth, altitude, up_ra, up_dec, down_ra, down_dec;
    const double step = 0.01; /* small beside a frame, large beside rounding */
    horizon_find(&azimuth, &altitude, horizon, ra_deg, dec_deg);
    horizon_radec(&up_ra, &up_dec, horizon, azimuth, altitude + step);
    horizon_radec(&down_ra, &down_dec, horizon, azimuth, altitude - step);
    double up[3], down[3], ra = ra_deg * ERFA_DD2R, dec = dec_deg * ERFA_DD2R;
    double east[3] = {-sin(ra), cos(ra), 0};
    double north[3] = {-sin(dec) * cos(ra), -sin(dec) * sin(ra), cos(dec)};
    vector_from_radec(up, up_ra, up_dec);
    vector_from_radec(down, down_ra, down_dec);
    for (int i = 0; i < 3; i++) {
        up[i] -= down[i];
    }
    return angle_wrap_360(atan2(vector_dot(up, east), vector_dot(up, north)) * ERFA_DR2D);
}

bool horizon_zenith_angle(double *angle_deg, const struct place *place, struct utc utc,
                          double ra_deg, double dec_deg)
{
    struct horizon horizon;
    if (!horizon_make(&horizon, place, utc)) {
        return false;
    }
    *angle_deg = horizon_zenith(&horizon, ra_deg, dec_deg);
    return true;
}

void horizon_pole(double v[3], struct utc utc)
{
    double matrix[3][3];
    /* Bias, precession and nutation move by 20 arcsec a year: UTC is as good as TT. */
    eraPnm06a(utc.day, utc.fraction, matrix);
    for (int i = 0; i < 3; i++) {
        v[i] = matrix[2][i];
    }
}
