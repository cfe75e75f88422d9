/* base/fits_record.h: what a FITS file consists of. */
#ifndef ALIDADE_BASE_FITS_RECORD_H
#define ALIDADE_BASE_FITS_RECORD_H

/* Bytes of a record and of a card in it (FITS standard 4.0, sections 3.1 and 4.1). */
enum { FITS_RECORD = 2880, FITS_CARD = 80 };

#endif
