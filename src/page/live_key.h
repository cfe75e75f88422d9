/* page/live_key.h: the secret in the address of a page that others on the network can reach. */
#ifndef ALIDADE_PAGE_LIVE_KEY_H
#define ALIDADE_PAGE_LIVE_KEY_H

#include "base/error.h"

#include <stdbool.h>
#include <stddef.h>

/* "k7f2-m9qd-x3ab": 60 bits of the system's randomness, in letters and digits that cannot be taken
 * for each other. */
enum { LIVE_KEY_SIZE = 15 };

/* ERROR_INPUT if the system gives no random bytes. */
int live_key_make(char key[LIVE_KEY_SIZE], struct error *err);

/* Whether the first length bytes of given are the key; takes as long for a near miss as for any
 * other text of that length. */
bool live_key_matches(const char *given, size_t length, const char key[LIVE_KEY_SIZE]);

#endif
