/* document.c: files kept by their SHA-256: in the log up to 1 MB, else in keep/ beside it. */
#include "inside.h"

#include "tripwright/files.h"

#include <errno.h>
#include <limits.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>

/* a capture of an hour at 1 MHz; what is larger is no document */
#define KEEP_MOST ((size_t)1 << 32)

char *tw_log_keep_path(const tw_logbook *log, const char *sha256)
{
  char path[PATH_MAX];
  const char *slash = strrchr(log->path, '/');
  snprintf(path, sizeof path, "%.*skeep/%.2s/%s", slash ? (int)(slash - log->path) + 1 : 0,
           log->path, sha256, sha256);
  return tw_copy_text(path);
}

/* the two folders on the way */
static tw_status make_way(const char *path, tw_fault *fault)
{
  char part[PATH_MAX];
  snprintf(part, sizeof part, "%s", path);
  char *leaf = strrchr(part, '/');
  *leaf = '\0';
  char *middle = strrchr(part, '/');
  if (middle) {
    *middle = '\0';
    if (mkdir(part, 0755) != 0 && errno != EEXIST) {
      return tw_fail(fault, TW_NO_FILE, "", NULL, "%.150s: %s", part, strerror(errno));
    }
    *middle = '/';
  }
  if (mkdir(part, 0755) != 0 && errno != EEXIST) {
    return tw_fail(fault, TW_NO_FILE, "", NULL, "%.150s: %s", part, strerror(errno));
  }
  return TW_OK;
}

static tw_status keep_beside(const tw_logbook *log, const char *sha256, const void *bytes,
                             size_t size, tw_fault *fault)
{
  if (log->memory) {
    return tw_fail(fault, TW_BAD_INPUT, "", "use a log with a file", "no folder to keep it in");
  }
  char *path = tw_log_keep_path(log, sha256);
  tw_status status = path ? make_way(path, fault) : tw_log_no_memory(fault);
  status = status == TW_OK ? tw_file_replace(path, bytes, size, fault) : status;
  tw_free(path);
  return status;
}

tw_status tw_log_document_put(tw_logbook *log, const char *sha256, const char *name, int64_t bytes,
                              const void *content, tw_fault *fault)
{
  sqlite3_stmt *put = NULL;
  tw_status status = tw_log_prepare(log,
                                    "INSERT INTO document(sha256, name, bytes, content) "
                                    "VALUES(?1, ?2, ?3, ?4) ON CONFLICT(sha256) DO NOTHING",
                                    &put, fault);
  if (status == TW_OK) {
    sqlite3_bind_text(put, 1, sha256, -1, SQLITE_STATIC);
    sqlite3_bind_text(put, 2, name, -1, SQLITE_STATIC);
    sqlite3_bind_int64(put, 3, bytes);
    if (content) {
      sqlite3_bind_blob64(put, 4, content, (sqlite3_uint64)bytes, SQLITE_STATIC);
    }
    status = tw_log_done(log, put, "writing", fault);
  }
  sqlite3_finalize(put);
  return status;
}

tw_status tw_logbook_keep_bytes(tw_logbook *log, const char *name, const void *bytes, size_t size,
                                char sha256[TW_SHA256_TEXT], tw_fault *fault)
{
  if (!log->write) {
    return tw_log_trouble(log, SQLITE_READONLY, "writing", fault);
  }
  tw_sha256(bytes, size, sha256);
  const bool inside = size <= TW_LOG_DOCUMENT;
  /* the file is whole on the disk before a row says that it is there */
  tw_status status = inside ? TW_OK : keep_beside(log, sha256, bytes, size, fault);
  status = status == TW_OK ? tw_log_run(log, "BEGIN IMMEDIATE", "writing", fault) : status;
  if (status == TW_OK) {
    status = tw_log_document_put(log, sha256, name, (int64_t)size, inside ? bytes : NULL, fault);
    status = tw_log_end(log, status, fault);
  }
  return status;
}

tw_status tw_logbook_keep(tw_logbook *log, const char *file, char sha256[TW_SHA256_TEXT],
                          tw_fault *fault)
{
  char *bytes = NULL;
  size_t size;
  const char *slash = strrchr(file, '/');
  tw_status status = tw_file_read(file, KEEP_MOST, fault, &bytes, &size);
  if (status == TW_OK) {
    status = tw_logbook_keep_bytes(log, slash ? slash + 1 : file, bytes, size, sha256, fault);
  }
  tw_free(bytes);
  return status;
}
