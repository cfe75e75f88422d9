/* page/live_qr.h: an address as a code that a telephone's camera reads from the terminal. */
#ifndef ALIDADE_PAGE_LIVE_QR_H
#define ALIDADE_PAGE_LIVE_QR_H

#include "base/error.h"

#include <stdio.h>

/* Writes lines of block characters, two modules high each, with a quiet margin: light modules are
 * drawn, so that it reads on a dark terminal (ISO/IEC 18004, which QR codes are, allows either
 * reflectance). ERROR_MEMORY; ERROR_USAGE for a text that is too long. */
int live_qr_write(FILE *out, const char *text, struct error *err);

#endif
