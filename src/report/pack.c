/* pack.c: a zip archive whose bytes depend on its files alone. */
#include "tripwright/report.h"

#include <string.h>
#include <zip.h>

static tw_status check_names(const tw_pack_file *files, size_t count, tw_fault *fault)
{
  for (size_t i = 0; i < count; i++) {
    const char *name = files[i].name;
    if (!name[0] || name[0] == '/' || strchr(name, '\\') || strcmp(name, "..") == 0 ||
        strncmp(name, "../", 3) == 0 || strstr(name, "/../")) {
      return tw_fail(fault, TW_BAD_INPUT, "", "", "\"%s\" cannot be the name of a packed file",
                     name);
    }
    for (size_t k = 0; k < i; k++) {
      if (strcmp(files[k].name, name) == 0) {
        return tw_fail(fault, TW_BAD_INPUT, "", "", "\"%s\" would be packed twice", name);
      }
    }
  }
  return TW_OK;
}

/* no date, no owner, one method: nothing of the day or the machine enters the archive. The date is
 * the earliest that a zip can hold, 1980-01-01 00:00 (its MS-DOS form is written as it stands). */
static bool add_file(zip_t *zip, const tw_pack_file *file)
{
  zip_source_t *source = zip_source_buffer(zip, file->data, file->size, 0);
  if (!source) {
    return false;
  }
  const zip_int64_t at = zip_file_add(zip, file->name, source, ZIP_FL_ENC_UTF_8);
  if (at < 0) {
    zip_source_free(source);
    return false;
  }
  const zip_uint64_t index = (zip_uint64_t)at;
  return zip_set_file_compression(zip, index, ZIP_CM_DEFLATE, 9) == 0 &&
         zip_file_set_dostime(zip, index, 0, (1 << 5) | 1, 0) == 0 &&
         zip_file_set_external_attributes(zip, index, 0, ZIP_OPSYS_UNIX, 0100644u << 16) == 0;
}

/* the archive is made in memory, so that the file on disk is whole or not there */
static tw_status take_bytes(zip_source_t *source, void **data, size_t *size, tw_fault *fault)
{
  zip_stat_t stat;
  if (zip_source_open(source) != 0) {
    return tw_fail(fault, TW_INTERNAL, "", "", "the archive cannot be read back");
  }
  const bool known = zip_source_stat(source, &stat) == 0 && (stat.valid & ZIP_STAT_SIZE);
  *size = known ? (size_t)stat.size : 0;
  *data = known ? tw_alloc(*size + 1, 1) : NULL;
  const bool read = *data && zip_source_read(source, *data, *size) == (zip_int64_t)*size;
  zip_source_close(source);
  if (!read) {
    tw_free(*data);
    *data = NULL;
    return tw_fail(fault, TW_NO_MEMORY, "", "", "no memory for the archive");
  }
  return TW_OK;
}

static tw_status build(zip_source_t *source, const tw_pack_file *files, size_t count,
                       tw_fault *fault)
{
  zip_error_t error;
  zip_error_init(&error);
  zip_t *zip = zip_open_from_source(source, ZIP_TRUNCATE, &error);
  bool good = zip != NULL;
  for (size_t i = 0; good && i < count; i++) {
    good = add_file(zip, &files[i]);
  }
  if (good && zip_close(zip) == 0) {
    zip_error_fini(&error);
    return TW_OK;
  }
  tw_fail(fault, TW_NO_MEMORY, "", "", "the archive cannot be made: %s",
          zip ? zip_strerror(zip) : zip_error_strerror(&error));
  if (zip) {
    zip_discard(zip);
  }
  zip_error_fini(&error);
  return TW_NO_MEMORY;
}

tw_status tw_pack_write(const char *path, const tw_pack_file *files, size_t count, tw_fault *fault)
{
  tw_status status = check_names(files, count, fault);
  if (status != TW_OK) {
    return status;
  }
  zip_error_t error;
  zip_error_init(&error);
  zip_source_t *source = zip_source_buffer_create(NULL, 0, 0, &error);
  zip_error_fini(&error);
  if (!source) {
    return tw_fail(fault, TW_NO_MEMORY, "", "", "no memory for the archive");
  }
  zip_source_keep(source); /* zip_close gives up one reference; the bytes are read after it */
  void *data = NULL;
  size_t size = 0;
  status = build(source, files, count, fault);
  if (status == TW_OK) {
    status = take_bytes(source, &data, &size, fault);
  }
  zip_source_free(source);
  if (status == TW_OK) {
    status = tw_file_replace(path, data, size, fault);
  }
  tw_free(data);
  return status;
}
