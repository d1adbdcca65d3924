/* assets.c: the page's files out of the program. */
#include "assets.h"

#include <string.h>
#include <zlib.h>

size_t tw_asset_count(void)
{
  return tw_assets_count;
}

const tw_asset *tw_asset_at(size_t index)
{
  return index < tw_assets_count ? &tw_assets[index] : NULL;
}

const tw_asset *tw_asset_find(const char *name)
{
  for (size_t i = 0; i < tw_assets_count; i++) {
    if (strcmp(tw_assets[i].name, name) == 0) {
      return &tw_assets[i];
    }
  }
  return NULL;
}

tw_status tw_asset_text(const tw_asset *asset, char **out, tw_fault *fault)
{
  char *text = tw_alloc(asset->size + 1, 1);
  if (!text) {
    return tw_fail(fault, TW_NO_MEMORY, "", "", "no memory for %s", asset->name);
  }
  z_stream z = {.next_in = (unsigned char *)(uintptr_t)asset->gzip,
                .avail_in = (uInt)asset->gzip_size,
                .next_out = (unsigned char *)text,
                .avail_out = (uInt)asset->size};
  const int opened = inflateInit2(&z, 15 + 16);
  const int done = opened == Z_OK ? inflate(&z, Z_FINISH) : opened;
  if (opened == Z_OK) {
    inflateEnd(&z);
  }
  if (done != Z_STREAM_END || z.total_out != asset->size) {
    tw_free(text);
    return tw_fail(fault, done == Z_MEM_ERROR ? TW_NO_MEMORY : TW_INTERNAL, "", "",
                   "%s cannot be unpacked", asset->name);
  }
  *out = text;
  return TW_OK;
}
