/* check.c: is the log whole? Nothing is written. docs/models/logbook.md 6. */
#include "inside.h"

#include <stdio.h>
#include <string.h>
#include <unistd.h>

typedef struct check {
  tw_logbook *log;
  tw_messages *messages;
  tw_log_health *health;
  tw_fault *fault;
} check;

static void say(const check *c, const char *hint, const char *text)
{
  tw_messages_add(c->messages, TW_ERROR, (tw_place){.file = c->log->path}, NULL, NULL, hint, "%s",
                  text);
  c->health->troubles++;
}

#define MEND "export what can be read and import it, or a backup, into a new log"

/* rows of a query, each a sentence made by `words`; a damaged page is a trouble, no failure */
static tw_status each_row(const check *c, const char *sql,
                          tw_status (*words)(const check *c, sqlite3_stmt *row))
{
  sqlite3_stmt *get = NULL;
  tw_status status = TW_OK;
  int code = sqlite3_prepare_v2(c->log->base, sql, -1, &get, NULL);
  while (code == SQLITE_OK && status == TW_OK && (code = sqlite3_step(get)) == SQLITE_ROW) {
    status = words(c, get);
    code = SQLITE_OK;
  }
  sqlite3_finalize(get);
  if (status == TW_OK && code != SQLITE_DONE) {
    if ((code & 0xff) != SQLITE_CORRUPT && (code & 0xff) != SQLITE_NOTADB &&
        (code & 0xff) != SQLITE_ERROR) {
      return tw_log_trouble(c->log, code, "reading", c->fault);
    }
    say(c, MEND, sqlite3_errmsg(c->log->base));
  }
  return status;
}

static tw_status page_words(const check *c, sqlite3_stmt *row)
{
  if (strcmp(tw_log_column(row, 0), "ok") != 0) {
    say(c, MEND, tw_log_column(row, 0));
  }
  return TW_OK;
}

static tw_status key_words(const check *c, sqlite3_stmt *row)
{
  char text[160];
  snprintf(text, sizeof text, "entry %.12s replaces %.12s, which is not here",
           tw_log_column(row, 0), tw_log_column(row, 1));
  say(c, "import the log of the writer that has it", text);
  return TW_OK;
}

static tw_status gap_words(const check *c, sqlite3_stmt *row)
{
  char text[160];
  c->health->writers++;
  if (sqlite3_column_int64(row, 1) != sqlite3_column_int64(row, 2)) {
    snprintf(text, sizeof text, "of writer %.16s there are %lld entries, the last has number %lld",
             tw_log_column(row, 0), (long long)sqlite3_column_int64(row, 1),
             (long long)sqlite3_column_int64(row, 2));
    say(c, "import the log of that writer, or a backup", text);
  }
  return TW_OK;
}

static tw_status entry_words(const check *c, sqlite3_stmt *row)
{
  tw_log_entry entry;
  json_t *body = NULL;
  char id[TW_SHA256_TEXT] = "", text[160];
  tw_fault why = {0};
  tw_status status = tw_log_row(c->log, row, &entry, &body, &why);
  status = status == TW_OK ? tw_log_entry_id(&entry, id, &why) : status;
  json_decref(body);
  c->health->entries++;
  if (status == TW_NO_MEMORY) {
    return tw_log_no_memory(c->fault);
  }
  if (status != TW_OK || strcmp(id, entry.id) != 0) {
    snprintf(text, sizeof text, "entry %.12s (%s, number %lld of %s) is not what it was written as",
             entry.id, entry.kind, (long long)entry.seq, entry.writer);
    say(c, MEND, text);
  }
  return TW_OK;
}

static tw_status document_words(const check *c, sqlite3_stmt *row)
{
  const char *sha256 = tw_log_column(row, 0);
  char real[TW_SHA256_TEXT] = "", text[200];
  const void *content = sqlite3_column_blob(row, 3);
  uint64_t size = (uint64_t)sqlite3_column_bytes(row, 3);
  c->health->documents++;
  if (sqlite3_column_type(row, 3) != SQLITE_NULL) {
    tw_sha256(content ? content : "", (size_t)size, real);
  } else {
    char *path = tw_log_keep_path(c->log, sha256);
    if (!path) {
      return tw_log_no_memory(c->fault);
    }
    if (tw_sha256_file(path, real, &size, NULL) != TW_OK) {
      real[0] = '\0';
    }
    tw_free(path);
  }
  if (strcmp(real, sha256) != 0 || (int64_t)size != sqlite3_column_int64(row, 2)) {
    snprintf(text, sizeof text, "document %.12s (%.80s) is %s", sha256, tw_log_column(row, 1),
             real[0] ? "not what it was kept as" : "not in keep/ beside the log");
    say(c, "copy it from where the log was first kept", text);
  }
  return TW_OK;
}

static tw_status named_words(const check *c, sqlite3_stmt *row)
{
  char text[160];
  snprintf(text, sizeof text, "entry %.12s names document %.12s, which is not here",
           tw_log_column(row, 0), tw_log_column(row, 1));
  say(c, "import it from the log that has it", text);
  return TW_OK;
}

static const struct part {
  const char *sql;
  tw_status (*words)(const check *c, sqlite3_stmt *row);
} parts[] = {
    {"PRAGMA integrity_check(20)", page_words},
    {"SELECT " TW_LOG_COLUMNS " FROM entry e NOT INDEXED", entry_words},
    /* a backup is checked up to here */
    {"SELECT writer, count(*), max(seq) FROM entry GROUP BY writer", gap_words},
    {"SELECT e.id, e.replaces FROM entry e WHERE e.replaces IS NOT NULL AND "
     "NOT EXISTS(SELECT 1 FROM entry r WHERE r.id = e.replaces)",
     key_words},
    {"SELECT sha256, name, bytes, content FROM document NOT INDEXED", document_words},
    {"SELECT e.id, json_extract(e.body, '$.document') AS d FROM entry e WHERE d IS NOT NULL AND "
     "NOT EXISTS(SELECT 1 FROM document k WHERE k.sha256 = d)",
     named_words},
};
enum { PARTS = sizeof parts / sizeof parts[0], PARTS_OF_COPY = 2 };

static tw_status check_parts(tw_logbook *log, int count, tw_messages *messages,
                             tw_log_health *health, tw_fault *fault)
{
  *health = (tw_log_health){0};
  const check c = {log, messages, health, fault};
  tw_status status = tw_log_schema_check(log, messages, &health->troubles, fault);
  for (int i = 0; status == TW_OK && i < count; i++) {
    status = each_row(&c, parts[i].sql, parts[i].words);
  }
  return status;
}

tw_status tw_logbook_check(tw_logbook *log, tw_messages *messages, tw_log_health *health,
                           tw_fault *fault)
{
  return check_parts(log, PARTS, messages, health, fault);
}

tw_status tw_log_check_copy(tw_logbook *copy, tw_messages *messages, tw_log_health *health,
                            tw_fault *fault)
{
  return check_parts(copy, PARTS_OF_COPY, messages, health, fault);
}
