/* image/frame_name.h: what the name of a file tells before it is opened. */
#ifndef ALIDADE_IMAGE_FRAME_NAME_H
#define ALIDADE_IMAGE_FRAME_NAME_H

#include <stdbool.h>

/* Whether it ends like a picture's name and is not hidden; folders before it do not count. */
bool frame_name_is_frame(const char *name);

/* Whether it ends like that of camera raw. */
bool frame_name_is_raw(const char *name);

/* Whether two names differ only in their ending: one picture, kept in two formats. */
bool frame_name_same_stem(const char *a, const char *b);

/* Order of names in which numbers count by their values, so that 9 comes before 10: below 0, 0 or
 * above. 0 only for equal names. */
int frame_name_compare(const char *a, const char *b);

#endif
