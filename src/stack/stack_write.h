/* stack/stack_write.h: the stack as files. */
#ifndef ALIDADE_STACK_STACK_WRITE_H
#define ALIDADE_STACK_STACK_WRITE_H

#include "base/file.h"
#include "stack/stack.h"

/* As stack_picture shows it; PNG and JPEG both bear the project's mark, and the PNG says that it is
 * a glimpse. ERROR_OUTPUT, ERROR_MEMORY.
 */
int stack_write_png(const struct file_target *target, const struct stack *stack,
                    const struct stack_look *look, struct error *err);
int stack_write_jpeg(const struct file_target *target, const struct stack *stack,
                     const struct stack_look *look, struct error *err);

/* What was measured, in 32-bit floats: values of the first frame above the sky, three planes (red,
 * green, blue) where the frames had colour, NaN where no frame was, with the sheet's WCS (FITS
 * standard 4.0; the cards by sky/wcs_fits.h). The card GLIMPSE says by which program, and that it
 * is no more than that. ERROR_OUTPUT, ERROR_MEMORY. */
int stack_write_fits(const struct file_target *target, const struct stack *stack,
                     struct error *err);

#endif
