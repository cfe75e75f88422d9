/* base/utf8.h: characters of UTF-8 text (RFC 3629). Texts end with a zero byte, which is never
 * read past. */
#ifndef ALIDADE_BASE_UTF8_H
#define ALIDADE_BASE_UTF8_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

/* Bytes of the character that text begins with, 1 to 4 (the final zero counts as one of 1); 0 if
 * the bytes are no character: a stray or missing continuation, an overlong form, a surrogate. */
size_t utf8_length(const char *text);

/* The code point of the character of utf8_length bytes at text. */
uint32_t utf8_code(const char *text, size_t length);

/* Characters in the first bytes of text: each byte that continues no other counts. */
size_t utf8_count(const char *text, size_t bytes);

/* The largest length, at most that given, at which text can be cut without parting a character.
 * text has more bytes than length. */
size_t utf8_cut(const char *text, size_t length);

/* Copies text as far as it fits into size bytes, the final zero included; no character is parted.
 */
void utf8_copy(char *out, size_t size, const char *text);

/* Whether a code point must not reach a screen or a page from outside: a control character, or one
 * that turns the direction of writing (Unicode Standard Annex 9: U+202A..E, U+2066..9, U+200E..F,
 * U+061C). */
bool utf8_is_control(uint32_t code);

/* The same text fit for a terminal: what is no character, or a control, becomes "?". Cut to size as
 * utf8_copy does. */
void utf8_shown(char *out, size_t size, const char *text);

/* Writes the same, of any length. */
void utf8_write_shown(FILE *out, const char *text);

#endif
