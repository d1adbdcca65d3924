/* writer.c: who writes. The name of a writer stands in the state folder, not in the log: a copy or
 * a restored backup gets a new one at its first write. docs/models/logbook.md 3. */
#define _XOPEN_SOURCE 700 /* realpath */
#include "inside.h"

#include "tripwright/files.h"

#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

enum { NOTE_MOST = 65536, RANDOM_BYTES = (TW_LOG_WRITER - 1) / 2 };

/* ---- where ----------------------------------------------------------------------------------- */

static tw_status state_folder(tw_logbook *log, tw_fault *fault)
{
  const char *own = getenv("TRIPWRIGHT_STATE"), *xdg = getenv("XDG_STATE_HOME"),
             *home = getenv("HOME");
  char path[PATH_MAX] = "";
  if (log->state) {
    return TW_OK;
  }
  if (own && own[0]) {
    snprintf(path, sizeof path, "%s", own);
  } else if (xdg && xdg[0]) {
    snprintf(path, sizeof path, "%s/tripwright", xdg);
  } else if (home && home[0]) {
    snprintf(path, sizeof path, "%s/.local/state/tripwright", home);
  } else {
    return tw_fail(fault, TW_NO_FILE, "", "set TRIPWRIGHT_STATE to a folder of this machine",
                   "there is no folder to keep the writer's name in");
  }
  log->state = tw_copy_text(path);
  return log->state ? TW_OK : tw_log_no_memory(fault);
}

static bool make_folders(const char *path)
{
  char part[PATH_MAX];
  snprintf(part, sizeof part, "%s", path);
  for (char *at = part + 1; *at; at++) {
    if (*at == '/') {
      *at = '\0';
      if (mkdir(part, 0755) != 0 && errno != EEXIST) {
        return false;
      }
      *at = '/';
    }
  }
  return mkdir(part, 0755) == 0 || errno == EEXIST;
}

/* the note on this log: STATE/log-HASH.json, by the log's whole path */
static tw_status note_path(tw_logbook *log, char path[PATH_MAX], char real[PATH_MAX],
                           tw_fault *fault)
{
  char hash[TW_SHA256_TEXT];
  const tw_status status = state_folder(log, fault);
  if (status != TW_OK) {
    return status;
  }
  if (!realpath(log->path, real)) {
    return tw_fail(fault, TW_NO_FILE, "", NULL, "%.150s: %s", log->path, strerror(errno));
  }
  tw_sha256(real, strlen(real), hash);
  snprintf(path, PATH_MAX, "%s/log-%.16s.json", log->state, hash);
  return TW_OK;
}

/* ---- what ------------------------------------------------------------------------------------ */

static bool new_name(char out[TW_LOG_WRITER])
{
  unsigned char byte[RANDOM_BYTES];
  FILE *f = fopen("/dev/urandom", "rb");
  const bool read = f && fread(byte, 1, sizeof byte, f) == sizeof byte;
  if (f) {
    fclose(f);
  }
  for (size_t i = 0; read && i < sizeof byte; i++) {
    snprintf(out + 2 * i, 3, "%02x", byte[i]);
  }
  return read;
}

static json_t *note_read(const char *path)
{
  char *text = NULL;
  size_t length;
  if (tw_file_read(path, NOTE_MOST, NULL, &text, &length) != TW_OK) {
    return NULL;
  }
  json_t *note = json_loadb(text, length, 0, NULL);
  tw_free(text);
  return note;
}

static int64_t inode_of(const char *path)
{
  struct stat about;
  return stat(path, &about) == 0 ? (int64_t)about.st_ino : 0;
}

static tw_status note_write(const tw_logbook *log, const char *path, const json_t *note,
                            tw_fault *fault)
{
  char *text = NULL;
  if (!make_folders(log->state)) {
    return tw_fail(fault, TW_NO_FILE, "", "set TRIPWRIGHT_STATE to a folder that can be written",
                   "%.150s: %s", log->state, strerror(errno));
  }
  tw_status status = tw_canonical(note, &text, fault);
  status = status == TW_OK ? tw_file_replace(path, text, strlen(text), fault) : status;
  tw_free(text);
  return status;
}

/* the last number of a writer in the log */
static tw_status last_number(const tw_logbook *log, const char *writer, int64_t *out,
                             tw_fault *fault)
{
  return tw_log_number(log, "SELECT coalesce(max(seq), 0) FROM entry WHERE writer = ?1", writer,
                       out, fault);
}

/* is it the same file, not gone back behind what was written? */
static tw_status still_ours(const tw_logbook *log, const json_t *note, const char *real, bool *ours,
                            tw_fault *fault)
{
  const char *writer = json_string_value(json_object_get(note, "writer"));
  int64_t last = 0;
  *ours = false;
  if (!writer || strlen(writer) != TW_LOG_WRITER - 1 ||
      json_integer_value(json_object_get(note, "inode")) != inode_of(real)) {
    return TW_OK;
  }
  const tw_status status = last_number(log, writer, &last, fault);
  *ours = last >= json_integer_value(json_object_get(note, "seq"));
  return status;
}

/* a new name; the one before stays in the list of those that wrote from here */
static tw_status rename_writer(tw_logbook *log, const json_t *old, const char *path,
                               const char *real, tw_fault *fault)
{
  char name[TW_LOG_WRITER] = "";
  if (!new_name(name)) {
    return tw_fail(fault, TW_NO_FILE, "", NULL, "no random numbers from the system");
  }
  json_t *earlier = json_deep_copy(json_object_get(old, "earlier"));
  if (!json_is_array(earlier)) {
    json_decref(earlier);
    earlier = json_array();
  }
  const char *before = json_string_value(json_object_get(old, "writer"));
  if (before) {
    json_array_append_new(earlier, json_string(before));
  }
  json_t *note = json_pack("{s:s, s:s, s:I, s:I, s:o}", "path", real, "writer", name, "inode",
                           (json_int_t)inode_of(real), "seq", (json_int_t)0, "earlier", earlier);
  const tw_status status = note ? note_write(log, path, note, fault) : tw_log_no_memory(fault);
  json_decref(note);
  if (status == TW_OK) {
    snprintf(log->writer, sizeof log->writer, "%s", name);
  }
  return status;
}

tw_status tw_log_writer(tw_logbook *log, tw_fault *fault)
{
  char path[PATH_MAX], real[PATH_MAX];
  if (log->writer[0]) {
    return TW_OK;
  }
  if (log->memory) {
    return new_name(log->writer) ? TW_OK
                                 : tw_fail(fault, TW_NO_FILE, "", NULL, "no random numbers");
  }
  tw_status status = note_path(log, path, real, fault);
  if (status != TW_OK) {
    return status;
  }
  json_t *note = note_read(path);
  bool ours = false;
  status = note ? still_ours(log, note, real, &ours, fault) : TW_OK;
  if (status == TW_OK && ours) {
    snprintf(log->writer, sizeof log->writer, "%s",
             json_string_value(json_object_get(note, "writer")));
  } else if (status == TW_OK) {
    status = rename_writer(log, note, path, real, fault);
  }
  json_decref(note);
  return status;
}

void tw_log_writer_remember(tw_logbook *log)
{
  char path[PATH_MAX], real[PATH_MAX];
  if (!log->written || log->memory || note_path(log, path, real, NULL) != TW_OK) {
    return;
  }
  json_t *note = note_read(path);
  const char *writer = json_string_value(json_object_get(note, "writer"));
  if (writer && strcmp(writer, log->writer) == 0 &&
      json_integer_value(json_object_get(note, "seq")) < log->written) {
    json_object_set_new(note, "seq", json_integer((json_int_t)log->written));
    (void)note_write(log, path, note, NULL);
  }
  json_decref(note);
}

tw_status tw_log_writers_here(tw_logbook *log, char (**out)[TW_LOG_WRITER], size_t *count,
                              tw_fault *fault)
{
  char path[PATH_MAX], real[PATH_MAX];
  *out = NULL;
  *count = 0;
  tw_status status = tw_log_writer(log, fault);
  status = status == TW_OK ? note_path(log, path, real, fault) : status;
  if (status != TW_OK) {
    return status;
  }
  json_t *note = note_read(path);
  const json_t *earlier = json_object_get(note, "earlier");
  *out = tw_alloc(json_array_size(earlier) + 1, sizeof **out);
  for (size_t i = 0; *out && i < json_array_size(earlier); i++) {
    const char *name = json_string_value(json_array_get(earlier, i));
    if (name && strlen(name) == TW_LOG_WRITER - 1) {
      snprintf((*out)[(*count)++], TW_LOG_WRITER, "%s", name);
    }
  }
  if (*out) {
    snprintf((*out)[(*count)++], TW_LOG_WRITER, "%s", log->writer);
  }
  json_decref(note);
  return *out ? TW_OK : tw_log_no_memory(fault);
}
