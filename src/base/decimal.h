/* base/decimal.h: decimal numbers out of bytes that need not be terminated. */
#ifndef ALIDADE_BASE_DECIMAL_H
#define ALIDADE_BASE_DECIMAL_H

/* Reads the longest decimal number ("-1.5e3", ".5", "7.") at start, not looking at or beyond end,
 * independent of locale. Returns the place after it; or NULL, leaving *value alone, if there is
 * none or it is too large for a double. The result is within one unit in the last place, and
 * correctly rounded up to 15 digits with a power of ten within +-22. */
const char *decimal_read(double *value, const char *start, const char *end);

#endif
