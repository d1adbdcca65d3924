/* entry.c: an entry and its JSON object. docs/models/logbook.md 1. */
#include "inside.h"

#include <stdio.h>
#include <string.h>
#include <time.h>

static const struct {
  const char *word, *needs, *about;
} kinds[] = {
#define X(id, word, needs, about) {word, needs, about},
    TW_LOG_KINDS(X)
#undef X
};

const char *tw_log_kind_word(tw_log_kind kind)
{
  return kinds[kind].word;
}

const char *tw_log_kind_about(tw_log_kind kind)
{
  return kinds[kind].about;
}

tw_log_kind tw_log_kind_named(const char *word)
{
  int k = 0;
  while (k < TW_LOG_KIND_COUNT && strcmp(kinds[k].word, word) != 0) {
    k++;
  }
  return (tw_log_kind)k;
}

bool tw_log_reserved(const char *key)
{
  static const char *const reserved[] = {"id",   "writer", "seq",      "clock", "at",
                                         "kind", "unit",   "replaces", "sha256"};
  for (size_t i = 0; i < sizeof reserved / sizeof reserved[0]; i++) {
    if (strcmp(key, reserved[i]) == 0) {
      return true;
    }
  }
  return false;
}

/* ---- time ------------------------------------------------------------------------------------ */

void tw_log_now(char at[TW_LOG_TIME])
{
  const time_t now = time(NULL);
  struct tm parts;
  gmtime_r(&now, &parts);
  strftime(at, TW_LOG_TIME, "%Y-%m-%dT%H:%M:%SZ", &parts);
}

/* "2026-11-29" or "2026-11-29T12:00:00Z" */
bool tw_log_time_is_right(const char *at)
{
  static const char form[] = "0000-00-00T00:00:00Z";
  const size_t length = strlen(at);
  if (length != 10 && length != sizeof form - 1) {
    return false;
  }
  for (size_t i = 0; i < length; i++) {
    if (form[i] == '0' ? at[i] < '0' || at[i] > '9' : at[i] != form[i]) {
      return false;
    }
  }
  const int month = 10 * (at[5] - '0') + at[6] - '0', day = 10 * (at[8] - '0') + at[9] - '0';
  return month >= 1 && month <= 12 && day >= 1 && day <= 31;
}

/* ---- object to entry ------------------------------------------------------------------------- */

static tw_status wrong(const char *key, tw_fault *fault)
{
  return tw_fail(fault, TW_BAD_INPUT, "", "take the line from the log it comes from again",
                 "\"%s\" is missing or not what an entry has there", key);
}

static bool text_within(const json_t *object, const char *key, size_t room, char *out)
{
  const char *text = json_string_value(json_object_get(object, key));
  if (!text || strlen(text) >= room) {
    return false;
  }
  memcpy(out, text, strlen(text) + 1);
  return true;
}

static bool number_within(const json_t *object, const char *key, int64_t *out)
{
  const json_t *value = json_object_get(object, key);
  *out = json_integer_value(value);
  return json_is_integer(value) && *out > 0;
}

static json_t *body_of(const json_t *object)
{
  json_t *body = json_object(), *value;
  const char *key;
  json_object_foreach((json_t *)(uintptr_t)object, key, value)
  {
    if (!tw_log_reserved(key) && json_object_set(body, key, value) != 0) {
      json_decref(body);
      return NULL;
    }
  }
  return body;
}

/* a text that may be missing, but is nothing else */
static bool maybe_text(const json_t *object, const char *key, const char **out)
{
  const json_t *value = json_object_get(object, key);
  *out = json_string_value(value);
  return !value || (json_is_string(value) && **out);
}

tw_status tw_log_entry_of(const json_t *object, tw_log_entry *entry, json_t **body, tw_fault *fault)
{
  *entry = (tw_log_entry){.replaced = false};
  *body = NULL;
  entry->kind = json_string_value(json_object_get(object, "kind"));
  const char *bad =
      !json_is_object(object)                                                               ? "{"
      : !text_within(object, "id", sizeof entry->id, entry->id) || !tw_is_sha256(entry->id) ? "id"
      : !text_within(object, "writer", sizeof entry->writer, entry->writer) || !entry->writer[0]
          ? "writer"
      : !text_within(object, "at", sizeof entry->at, entry->at) || !tw_log_time_is_right(entry->at)
          ? "at"
      : !number_within(object, "seq", &entry->seq)        ? "seq"
      : !number_within(object, "clock", &entry->clock)    ? "clock"
      : !entry->kind || !entry->kind[0]                   ? "kind"
      : !maybe_text(object, "unit", &entry->unit)         ? "unit"
      : !maybe_text(object, "replaces", &entry->replaces) ? "replaces"
                                                          : NULL;
  if (bad) {
    return wrong(bad, fault);
  }
  char id[TW_SHA256_TEXT];
  *body = body_of(object);
  entry->body = *body;
  tw_status status = *body ? tw_log_entry_id(entry, id, fault) : tw_log_no_memory(fault);
  if (status == TW_OK && strcmp(id, entry->id) != 0) {
    status = tw_fail(fault, TW_BAD_INPUT, "", "take the line from the log it comes from again",
                     "entry %.12s was changed: what it says has id %.12s", entry->id, id);
  }
  if (status != TW_OK) {
    json_decref(*body);
    *body = NULL;
  }
  return status;
}

/* ---- entry to object ------------------------------------------------------------------------- */

static json_t *object_of(const tw_log_entry *entry)
{
  json_t *object = json_copy((json_t *)(uintptr_t)entry->body);
  int lost = !object;
  lost |= json_object_set_new(object, "writer", json_string(entry->writer));
  lost |= json_object_set_new(object, "seq", json_integer((json_int_t)entry->seq));
  lost |= json_object_set_new(object, "clock", json_integer((json_int_t)entry->clock));
  lost |= json_object_set_new(object, "at", json_string(entry->at));
  lost |= json_object_set_new(object, "kind", json_string(entry->kind));
  lost |= entry->unit && json_object_set_new(object, "unit", json_string(entry->unit));
  lost |= entry->replaces && json_object_set_new(object, "replaces", json_string(entry->replaces));
  if (lost) {
    json_decref(object);
    return NULL;
  }
  return object;
}

tw_status tw_log_entry_id(const tw_log_entry *entry, char id[TW_SHA256_TEXT], tw_fault *fault)
{
  json_t *object = object_of(entry);
  const tw_status status =
      object ? tw_canonical_sha256(object, id, NULL, fault) : tw_log_no_memory(fault);
  json_decref(object);
  return status;
}

json_t *tw_log_entry_json(const tw_log_entry *entry)
{
  json_t *object = object_of(entry);
  if (object && json_object_set_new(object, "id", json_string(entry->id)) != 0) {
    json_decref(object);
    return NULL;
  }
  return object;
}
