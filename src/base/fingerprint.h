/* base/fingerprint.h: what is in a file, as a number by which it is known again. */
#ifndef ALIDADE_BASE_FINGERPRINT_H
#define ALIDADE_BASE_FINGERPRINT_H

#include "base/error.h"

#include <stddef.h>
#include <stdint.h>

/* FNV-1a with 64 bits, by Fowler, Noll and Vo (public domain): start with FINGERPRINT_START, then
 * feed one piece after the other. */
#define FINGERPRINT_START UINT64_C(0xcbf29ce484222325)
uint64_t fingerprint_feed(uint64_t digest, const void *bytes, size_t length);

enum { FINGERPRINT_BLOCKS = 5, FINGERPRINT_BLOCK = 16384 };

/* The digest of FINGERPRINT_BLOCKS blocks of FINGERPRINT_BLOCK bytes, the first at the head of the
 * file, the last at its tail, the others evenly between; of all of a file that is no longer than
 * these together. Never 0. Name, folder and times of the file do not matter. Two frames of a camera
 * differ in it: by their noise in each block. *bytes: the length of the file. ERROR_INPUT with the
 * cause, for the same things as file_stream_open and for what cannot be read. */
int fingerprint_read(uint64_t *digest, long long *bytes, const char *name, struct error *err);

#endif
