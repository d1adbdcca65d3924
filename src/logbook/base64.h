/* base64.h: bytes in a line of text (RFC 4648 section 4), by nettle. */
#ifndef TW_LOGBOOK_BASE64_H
#define TW_LOGBOOK_BASE64_H

#include <stdbool.h>
#include <stddef.h>

/* freed with tw_free; NULL without memory */
char *tw_base64_of(const void *bytes, size_t size);
/* NULL: no such text, or no memory; *size bytes, freed with tw_free */
unsigned char *tw_base64_read(const char *text, size_t *size);

#endif
