#include "page/live_key.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>

enum { GROUP = 5 }; /* four characters and a dash */

static const char alphabet[] = "abcdefghijkmnpqrstuvwxyz23456789";
static const char source[] = "/dev/urandom";

int live_key_make(char key[LIVE_KEY_SIZE], struct error *err)
{
    unsigned char bytes[LIVE_KEY_SIZE];
    FILE *file = fopen(source, "rb");
    size_t got = file ? fread(bytes, 1, sizeof bytes, file) : 0;
    int number = errno;
    if (file) {
        fclose(file);
    }
    if (got != sizeof bytes) {
        return error_set(err, ERROR_INPUT, "%s: no random bytes for the key of the page: %s",
                         source, strerror(number));
    }
    for (int i = 0; i < LIVE_KEY_SIZE - 1; i++) {
        key[i] = i % GROUP == GROUP - 1 ? '-' : alphabet[bytes[i] % (sizeof alphabet - 1)];
    }
    key[LIVE_KEY_SIZE - 1] = '\0';
    return 0;
}

bool live_key_matches(const char *given, size_t length, const char key[LIVE_KEY_SIZE])
{
    volatile unsigned char differs = length != LIVE_KEY_SIZE - 1;
    for (size_t i = 0; i < length; i++) {
        differs = (unsigned char)(differs | (given[i] ^ key[i % (LIVE_KEY_SIZE - 1)]));
    }
    return differs == 0;
}
