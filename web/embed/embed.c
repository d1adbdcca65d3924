/* embed.c: writes files into a C source as gzip-compressed arrays, for the page's assets.
 *
 * embed OUT.c FILE...   runs at build time on the building machine. The same files give the same
 * source: gzip with the date 0, and a 64-bit FNV-1a fingerprint of the plain content as the tag.
 */
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <zlib.h>

static unsigned char *read_file(const char *path, size_t *size)
{
  FILE *file = fopen(path, "rb");
  if (!file) {
    fprintf(stderr, "embed: %s cannot be read\n", path);
    exit(1);
  }
  fseek(file, 0, SEEK_END);
  const long length = ftell(file);
  rewind(file);
  unsigned char *data = malloc((size_t)length + 1);
  if (!data || fread(data, 1, (size_t)length, file) != (size_t)length) {
    fprintf(stderr, "embed: %s cannot be read\n", path);
    exit(1);
  }
  fclose(file);
  *size = (size_t)length;
  return data;
}

/* windowBits 15 + 16: gzip framing; deflateSetHeader is left alone, so the date is 0 */
static unsigned char *pack(const unsigned char *data, size_t size, size_t *packed)
{
  z_stream z = {0};
  if (deflateInit2(&z, Z_BEST_COMPRESSION, Z_DEFLATED, 15 + 16, 9, Z_DEFAULT_STRATEGY) != Z_OK) {
    exit(1);
  }
  const size_t room = deflateBound(&z, size);
  unsigned char *out = malloc(room);
  if (!out) {
    exit(1);
  }
  z.next_in = (unsigned char *)(uintptr_t)data;
  z.avail_in = (uInt)size;
  z.next_out = out;
  z.avail_out = (uInt)room;
  if (deflate(&z, Z_FINISH) != Z_STREAM_END) {
    exit(1);
  }
  *packed = z.total_out;
  deflateEnd(&z);
  return out;
}

static const char *type_of(const char *name)
{
  const char *dot = strrchr(name, '.');
  if (dot && strcmp(dot, ".js") == 0) {
    return "text/javascript; charset=utf-8";
  }
  if (dot && strcmp(dot, ".css") == 0) {
    return "text/css; charset=utf-8";
  }
  if (dot && strcmp(dot, ".svg") == 0) {
    return "image/svg+xml";
  }
  return "text/html; charset=utf-8";
}

static uint64_t fingerprint(const unsigned char *data, size_t size)
{
  uint64_t h = UINT64_C(0xcbf29ce484222325);
  for (size_t i = 0; i < size; i++) {
    h = (h ^ data[i]) * UINT64_C(0x100000001b3);
  }
  return h;
}

int main(int argc, char **argv)
{
  if (argc < 3) {
    fprintf(stderr, "usage: embed OUT.c FILE...\n");
    return 2;
  }
  FILE *out = fopen(argv[1], "wb");
  if (!out) {
    fprintf(stderr, "embed: %s cannot be written\n", argv[1]);
    return 1;
  }
  char *rows = calloc((size_t)argc, 512);
  if (!rows) {
    return 1;
  }
  fprintf(out, "/* made by web/embed/embed.c */\n#include \"assets.h\"\n\n");
  for (int i = 2; i < argc; i++) {
    const char *slash = strrchr(argv[i], '/');
    const char *name = slash ? slash + 1 : argv[i];
    size_t size, packed;
    unsigned char *data = read_file(argv[i], &size);
    unsigned char *gzip = pack(data, size, &packed);
    fprintf(out, "static const unsigned char data_%d[] = {", i - 2);
    for (size_t k = 0; k < packed; k++) {
      fprintf(out, "%s%u,", k % 24 ? "" : "\n", gzip[k]);
    }
    fprintf(out, "\n};\n");
    snprintf(rows + strlen(rows), 512,
             "    {\"%s\", \"%s\", \"\\\"%016" PRIx64 "\\\"\", data_%d, %zu, %zu},\n", name,
             type_of(name), fingerprint(data, size), i - 2, packed, size);
    free(gzip);
    free(data);
  }
  fprintf(out, "\nconst tw_asset tw_assets[] = {\n%s};\n", rows);
  fprintf(out, "const size_t tw_assets_count = %d;\n", argc - 2);
  free(rows);
  return fclose(out) == 0 ? 0 : 1;
}
