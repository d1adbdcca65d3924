/* digest.h: what a text or a value is told by: its canonical form and its SHA-256.
 *
 * Ids of log entries, names of kept documents and the seal of a certificate are made here, so that
 * two programs give one value the same name. Pure functions; safe from several threads; texts given
 * out are freed with tw_free.
 */
#ifndef TRIPWRIGHT_DIGEST_H
#define TRIPWRIGHT_DIGEST_H

#include "tripwright/base.h"

#include <jansson.h>

#define TW_SHA256_TEXT 65 /* 64 hexadecimal digits, small letters, and the closing zero */

/* SHA-256 (FIPS 180-4) of `size` bytes */
void tw_sha256(const void *bytes, size_t size, char out[TW_SHA256_TEXT]);
/* The same of a whole file, with its size (may be NULL). TW_NO_FILE. */
tw_status tw_sha256_file(const char *file, char out[TW_SHA256_TEXT], uint64_t *size,
                         tw_fault *fault);
/* is it 64 hexadecimal digits in small letters? */
bool tw_is_sha256(const char *text);

/* The one text of a JSON value: keys sorted by their bytes, no blanks, UTF-8 unmasked, each number
 * with the fewest digits that give it back: plain from 1e-6 up to 1e15, else with an exponent; 20.0
 * and 20 are both 20. It is RFC 8785 with two differences: keys in the order of their bytes, and
 * the exponent from 1e15 instead of 1e21, so that no reader takes a large number for an integer. */
tw_status tw_canonical(const json_t *value, char **out, tw_fault *fault);
/* canonical text and its SHA-256 in one; `text` may be NULL */
tw_status tw_canonical_sha256(const json_t *value, char id[TW_SHA256_TEXT], char **text,
                              tw_fault *fault);

#endif
