/* base/units.h: angles. */
#ifndef ALIDADE_BASE_UNITS_H
#define ALIDADE_BASE_UNITS_H

#define PI 3.14159265358979323846
#define RAD_PER_DEG (PI / 180)
#define DEG_PER_RAD (180 / PI)
#define ARCSEC_PER_RAD (180 * 3600 / PI)

#endif
