/* base64.c: bytes in a line of text. */
#include "base64.h"

#include "tripwright/base.h"

#include <nettle/base64.h>
#include <string.h>

char *tw_base64_of(const void *bytes, size_t size)
{
  char *text = tw_alloc(BASE64_ENCODE_RAW_LENGTH(size) + 1, 1);
  if (text) {
    base64_encode_raw(text, size, bytes);
  }
  return text;
}

unsigned char *tw_base64_read(const char *text, size_t *size)
{
  struct base64_decode_ctx state;
  const size_t length = strlen(text);
  unsigned char *bytes = tw_alloc(BASE64_DECODE_LENGTH(length) + 1, 1);
  base64_decode_init(&state);
  *size = BASE64_DECODE_LENGTH(length);
  if (bytes &&
      !(base64_decode_update(&state, size, bytes, length, text) && base64_decode_final(&state))) {
    tw_free(bytes);
    bytes = NULL;
  }
  return bytes;
}
