/* share.c: through a synced folder each writer adds only to a file of its own, and reads the
 * others'. docs/models/logbook.md 5. */
#include "inside.h"

#include "tripwright/files.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

/* ---- giving ---------------------------------------------------------------------------------- */

/* number of the last whole line of a file of lines; 0: none, or it does not end whole */
static int64_t last_given(const char *file)
{
  char *text = NULL;
  size_t length = 0;
  int64_t last = 0;
  if (tw_file_read(file, SIZE_MAX / 4, NULL, &text, &length) != TW_OK) {
    return 0;
  }
  if (length > 1 && text[length - 1] == '\n') {
    size_t start = length - 1;
    while (start > 0 && text[start - 1] != '\n') {
      start--;
    }
    json_t *line = json_loadb(text + start, length - start, 0, NULL);
    last = json_integer_value(json_object_get(line, "seq"));
    json_decref(line);
  }
  tw_free(text);
  return last;
}

/* before an entry the document that it names, so that the last line is an entry's */
static tw_status put_named_document(tw_logbook *log, FILE *out, const json_t *body, tw_fault *fault)
{
  const char *sha256 = json_string_value(json_object_get(body, "document"));
  sqlite3_stmt *get = NULL;
  if (!sha256) {
    return TW_OK;
  }
  tw_status status = tw_log_prepare(
      log, "SELECT sha256, name, bytes, content FROM document WHERE sha256 = ?1", &get, fault);
  if (status == TW_OK) {
    sqlite3_bind_text(get, 1, sha256, -1, SQLITE_STATIC);
    if (sqlite3_step(get) == SQLITE_ROW) {
      status = tw_log_put_line(out, tw_log_document_object(get), fault);
    }
  }
  sqlite3_finalize(get);
  return status;
}

/* the lines of one writer behind number `after` */
static tw_status lines_of(tw_logbook *log, const char *writer, int64_t after, char **text,
                          size_t *length, size_t *count, tw_fault *fault)
{
  sqlite3_stmt *get = NULL;
  tw_status status = tw_log_prepare(log,
                                    "SELECT " TW_LOG_COLUMNS " FROM entry e WHERE e.writer = ?1 "
                                    "AND e.seq > ?2 ORDER BY e.seq",
                                    &get, fault);
  FILE *out = status == TW_OK ? open_memstream(text, length) : NULL;
  if (!out) {
    sqlite3_finalize(get);
    return status == TW_OK ? tw_log_no_memory(fault) : status;
  }
  sqlite3_bind_text(get, 1, writer, -1, SQLITE_STATIC);
  sqlite3_bind_int64(get, 2, after);
  for (int code; status == TW_OK && (code = sqlite3_step(get)) != SQLITE_DONE; ++*count) {
    tw_log_entry entry;
    json_t *body = NULL;
    status = code == SQLITE_ROW ? tw_log_row(log, get, &entry, &body, fault)
                                : tw_log_trouble(log, code, "reading", fault);
    status = status == TW_OK ? put_named_document(log, out, body, fault) : status;
    status = status == TW_OK ? tw_log_put_line(out, tw_log_entry_json(&entry), fault) : status;
    json_decref(body);
  }
  sqlite3_finalize(get);
  return fclose(out) == 0 ? status : tw_log_no_memory(fault);
}

static tw_status add_lines(const char *file, const char *text, size_t length, tw_fault *fault)
{
  const int fd = open(file, O_WRONLY | O_APPEND | O_CREAT | O_CLOEXEC, 0644);
  bool written = fd >= 0;
  for (size_t at = 0; written && at < length;) {
    const ssize_t n = write(fd, text + at, length - at);
    written = n > 0 || (n < 0 && errno == EINTR);
    at += n > 0 ? (size_t)n : 0;
  }
  written = written && fsync(fd) == 0;
  const int why = errno;
  if (fd >= 0) {
    close(fd);
  }
  return written ? TW_OK
                 : tw_fail(fault, TW_NO_FILE, "", "is the folder there, with room?", "%.150s: %s",
                           file, strerror(why));
}

/* a file that ends within a line, or that went further than the log, is written anew */
static tw_status give(tw_logbook *log, const char *folder, const char *writer, size_t *given,
                      tw_fault *fault)
{
  char file[PATH_MAX], *text = NULL;
  size_t length = 0, count = 0;
  snprintf(file, sizeof file, "%s/log-%s.jsonl", folder, writer);
  const int64_t after = last_given(file);
  tw_status status = lines_of(log, writer, after, &text, &length, &count, fault);
  if (status == TW_OK && count > 0) {
    status = after > 0 ? add_lines(file, text, length, fault)
                       : tw_file_replace(file, text, length, fault);
  }
  *given += status == TW_OK ? count : 0;
  free(text);
  return status;
}

/* ---- taking ---------------------------------------------------------------------------------- */

static bool is_own(const char *name, char (*writer)[TW_LOG_WRITER], size_t writers)
{
  for (size_t i = 0; i < writers; i++) {
    if (strncmp(name + strlen("log-"), writer[i], TW_LOG_WRITER - 1) == 0) {
      return true;
    }
  }
  return false;
}

static bool is_lines(const char *name)
{
  const size_t length = strlen(name);
  return strncmp(name, "log-", 4) == 0 && length == 4 + TW_LOG_WRITER - 1 + 6 &&
         strcmp(name + length - 6, ".jsonl") == 0;
}

static tw_status take_all(tw_logbook *log, const char *folder, char (*writer)[TW_LOG_WRITER],
                          size_t writers, tw_messages *messages, tw_log_taken *taken,
                          tw_fault *fault)
{
  DIR *open = opendir(folder);
  tw_status status = TW_OK;
  if (!open) {
    return tw_fail(fault, TW_NO_FILE, "", "make the folder first", "%.150s: %s", folder,
                   strerror(errno));
  }
  for (const struct dirent *e; status == TW_OK && (e = readdir(open));) {
    char file[PATH_MAX];
    tw_log_taken one;
    if (!is_lines(e->d_name) || is_own(e->d_name, writer, writers)) {
      continue;
    }
    snprintf(file, sizeof file, "%s/%s", folder, e->d_name);
    status = tw_logbook_import(log, file, messages, &one, fault);
    taken->entries += one.entries;
    taken->documents += one.documents;
    taken->known += one.known;
    taken->left_out += one.left_out;
  }
  closedir(open);
  return status;
}

tw_status tw_logbook_share(tw_logbook *log, const char *folder, tw_messages *messages,
                           size_t *given, tw_log_taken *taken, tw_fault *fault)
{
  char(*writer)[TW_LOG_WRITER] = NULL;
  size_t writers = 0;
  *given = 0;
  *taken = (tw_log_taken){0};
  tw_status status = tw_log_writers_here(log, &writer, &writers, fault);
  for (size_t i = 0; status == TW_OK && i < writers; i++) {
    status = give(log, folder, writer[i], given, fault);
  }
  status =
      status == TW_OK ? take_all(log, folder, writer, writers, messages, taken, fault) : status;
  tw_free(writer);
  return status;
}
