/* lines.c: files of JSON lines read: every id computed anew. docs/models/logbook.md 5. */
#include "base64.h"
#include "inside.h"

#include "tripwright/files.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* a document of 1 MB as base64 and its names, four times over */
#define LINE_MOST (8 * TW_LOG_DOCUMENT)

/* {"sha256", "name", "bytes", "content"}: what was kept */
static tw_status take_document_line(tw_log_take *take, const json_t *object, tw_fault *fault)
{
  const char *sha256 = json_string_value(json_object_get(object, "sha256"));
  const char *name = json_string_value(json_object_get(object, "name"));
  const char *text = json_string_value(json_object_get(object, "content"));
  const json_int_t bytes = json_integer_value(json_object_get(object, "bytes"));
  char real[TW_SHA256_TEXT] = "";
  size_t size = 0;
  if (!sha256 || !tw_is_sha256(sha256) || !name || bytes < 0) {
    return tw_fail(fault, TW_BAD_INPUT, "", "take the line from the log it comes from again",
                   "a document needs sha256, name and bytes");
  }
  unsigned char *content = text ? tw_base64_read(text, &size) : NULL;
  if (content) {
    tw_sha256(content, size, real);
  }
  tw_status status;
  if (text && (!content || (json_int_t)size != bytes || strcmp(real, sha256) != 0)) {
    status = tw_fail(fault, TW_BAD_INPUT, "", "take the line from the log it comes from again",
                     "document %.12s is not what it was kept as", sha256);
  } else {
    status = tw_log_take_document(take, sha256, name, (int64_t)bytes, content, fault);
  }
  tw_free(content);
  return status;
}

/* *clone: the line is fine, and for that reason the file is refused */
static tw_status take_line(tw_log_take *take, const char *text, size_t length, bool *stop,
                           tw_fault *fault)
{
  json_error_t error;
  json_t *object = json_loadb(text, length, JSON_REJECT_DUPLICATES, &error), *body = NULL;
  tw_log_entry entry;
  tw_status status;
  *stop = false;
  if (!json_is_object(object)) {
    status = tw_fail(fault, TW_BAD_INPUT, "", "take the line from the log it comes from again",
                     "this is no JSON object: %.100s", object ? "another value" : error.text);
  } else if (json_object_get(object, "sha256")) {
    status = take_document_line(take, object, fault);
    *stop = status != TW_OK && status != TW_BAD_INPUT;
  } else {
    status = tw_log_entry_of(object, &entry, &body, fault);
    if (status == TW_OK) {
      status = tw_log_take_entry(take, &entry, fault);
      *stop = status != TW_OK;
    }
  }
  json_decref(body);
  json_decref(object);
  return status;
}

static void leave_out(tw_log_take *take, tw_messages *messages, tw_place place, const tw_fault *why)
{
  tw_messages_add(messages, TW_ERROR, place, NULL, NULL, why->hint, "%s", why->text);
  take->taken->left_out++;
}

static bool is_blank(const char *text, size_t length)
{
  for (size_t i = 0; i < length; i++) {
    if (!strchr(" \t\r\n", text[i]) || !text[i]) {
      return false;
    }
  }
  return true;
}

/* one line; TW_OK also when it was left out */
static tw_status one_line(tw_log_take *take, tw_place place, const char *text, size_t length,
                          tw_messages *messages, tw_fault *fault)
{
  bool stop = false;
  if (is_blank(text, length)) {
    return TW_OK;
  }
  if (length > LINE_MOST) {
    tw_fault why = {0};
    tw_fail(&why, TW_BAD_INPUT, "", "is it a file of log lines?", "a line of over 8 MB");
    leave_out(take, messages, place, &why);
    return TW_OK;
  }
  tw_fault why = {0};
  const tw_status status = take_line(take, text, length, &stop, &why);
  if (status != TW_OK && stop) {
    if (fault) {
      *fault = why;
    }
    return status;
  }
  if (status != TW_OK) {
    leave_out(take, messages, place, &why);
  }
  return TW_OK;
}

tw_status tw_logbook_import_text(tw_logbook *log, const char *name, const char *text, size_t length,
                                 tw_messages *messages, tw_log_taken *taken, tw_fault *fault)
{
  tw_log_take take;
  tw_status status = tw_log_take_begin(&take, log, taken, fault);
  if (status != TW_OK) {
    return status;
  }
  tw_place place = {.file = name};
  for (size_t at = 0; status == TW_OK && at < length;) {
    const char *end = memchr(text + at, '\n', length - at);
    const size_t size = end ? (size_t)(end - text) - at : length - at;
    place.line++;
    status = one_line(&take, place, text + at, size, messages, fault);
    at += size + 1;
  }
  return tw_log_take_end(&take, status, fault);
}

tw_status tw_logbook_import(tw_logbook *log, const char *file, tw_messages *messages,
                            tw_log_taken *taken, tw_fault *fault)
{
  FILE *in;
  tw_log_take take;
  *taken = (tw_log_taken){0};
  tw_status status = tw_file_open(file, fault, &in);
  if (status != TW_OK) {
    return status;
  }
  status = tw_log_take_begin(&take, log, taken, fault);
  if (status == TW_OK) {
    tw_place place = {.file = file};
    char *line = NULL;
    size_t room = 0;
    for (ssize_t n; status == TW_OK && (n = getline(&line, &room, in)) >= 0;) {
      place.line++;
      status = one_line(&take, place, line, (size_t)n, messages, fault);
    }
    if (status == TW_OK && ferror(in)) {
      status = tw_fail(fault, TW_NO_FILE, "", NULL, "%.150s cannot be read to its end", file);
    }
    free(line);
    status = tw_log_take_end(&take, status, fault);
  }
  fclose(in);
  return status;
}
