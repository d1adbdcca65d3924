/* digest.c: SHA-256 of bytes and files (nettle does the work). */
#include "tripwright/digest.h"

#include "tripwright/files.h"

#include <errno.h>
#include <nettle/sha2.h>
#include <string.h>

static void in_digits(struct sha256_ctx *sum, char out[TW_SHA256_TEXT])
{
  static const char digits[] = "0123456789abcdef";
  uint8_t byte[SHA256_DIGEST_SIZE];
  sha256_digest(sum, sizeof byte, byte);
  for (size_t i = 0; i < sizeof byte; i++) {
    out[2 * i] = digits[byte[i] >> 4];
    out[2 * i + 1] = digits[byte[i] & 15];
  }
  out[TW_SHA256_TEXT - 1] = '\0';
}

void tw_sha256(const void *bytes, size_t size, char out[TW_SHA256_TEXT])
{
  struct sha256_ctx sum;
  sha256_init(&sum);
  sha256_update(&sum, size, bytes);
  in_digits(&sum, out);
}

tw_status tw_sha256_file(const char *file, char out[TW_SHA256_TEXT], uint64_t *size,
                         tw_fault *fault)
{
  FILE *f;
  const tw_status status = tw_file_open(file, fault, &f);
  if (status != TW_OK) {
    return status;
  }
  struct sha256_ctx sum;
  sha256_init(&sum);
  uint8_t block[16384];
  uint64_t all = 0;
  for (size_t n; (n = fread(block, 1, sizeof block, f)) > 0; all += n) {
    sha256_update(&sum, n, block);
  }
  const bool failed = ferror(f) != 0;
  const int why = errno;
  fclose(f);
  if (failed) {
    return tw_fail(fault, TW_NO_FILE, "", NULL, "%.160s: %s", file, strerror(why));
  }
  in_digits(&sum, out);
  if (size) {
    *size = all;
  }
  return TW_OK;
}

bool tw_is_sha256(const char *text)
{
  return strlen(text) == TW_SHA256_TEXT - 1 &&
         strspn(text, "0123456789abcdef") == TW_SHA256_TEXT - 1;
}
