/* draw/card.h: the field card: all that one target needs in one night, on one page. */
#ifndef ALIDADE_DRAW_CARD_H
#define ALIDADE_DRAW_CARD_H

#include "draw/page.h"
#include "objects/figures.h"
#include "plan/plan_words.h"

/* How many calibration frames are usual (common practice, no source). */
enum { CARD_DARKS = 50, CARD_BIAS = 100, CARD_FLATS = 100 };

/* Writes the card of the sheet's item, which must be up in that night. red: for a screen in the
 * dark. figures may be NULL. ERROR_OUTPUT, ERROR_MEMORY. */
int card_write(const struct file_target *target, enum page_format format, bool red,
               const struct plan_sheet *sheet, const struct figures *figures, struct error *err);

#endif
