/* read.c: entries read, in the order of writing. */
#include "inside.h"

#include <stdio.h>
#include <string.h>

static void take_text(sqlite3_stmt *row, int column, char *out, size_t room)
{
  snprintf(out, room, "%s", tw_log_column(row, column));
}

tw_status tw_log_row(const tw_logbook *log, sqlite3_stmt *row, tw_log_entry *entry, json_t **body,
                     tw_fault *fault)
{
  *entry =
      (tw_log_entry){.seq = sqlite3_column_int64(row, 2), .clock = sqlite3_column_int64(row, 3)};
  take_text(row, 0, entry->id, sizeof entry->id);
  take_text(row, 1, entry->writer, sizeof entry->writer);
  take_text(row, 4, entry->at, sizeof entry->at);
  entry->kind = tw_log_column(row, 5);
  entry->unit = (const char *)sqlite3_column_text(row, 6);
  entry->replaces = (const char *)sqlite3_column_text(row, 7);
  const char *text = tw_log_column(row, 8);
  *body = json_loads(text, JSON_REJECT_DUPLICATES, NULL);
  entry->body = *body;
  if (!json_is_object(*body)) {
    json_decref(*body);
    *body = NULL;
    return tw_fail(fault, TW_BAD_INPUT, "", "tripwright log check names all that is damaged",
                   "%.120s: entry %.12s is damaged", log->path, entry->id);
  }
  return TW_OK;
}

#define KEY(key, number) " AND json_extract(e.body, '$." key "') = ?" number

#define OF_REVISION                                                                                \
  "(SELECT b.unit FROM entry b WHERE json_extract(b.body, '$.revision') = ?9 AND b.kind = 'unit')"

static void filter_sql(const tw_log_filter *f, char *sql, size_t size)
{
  const bool keyed = f->measure || f->lot || f->fault || f->instrument || f->process;
  const struct {
    bool wanted;
    const char *sql;
  } parts[] = {
      {f->id, " AND e.id >= ?1 AND e.id < ?1 || 'g'"},
      /* a + keeps an index away that would find more rows than the key's own */
      {f->kind && keyed, " AND +e.kind = ?2"},
      {f->kind && !keyed, " AND e.kind = ?2"},
      {f->unit, " AND e.unit = ?3"},
      {f->measure, KEY("measure", "4")},
      {f->lot, KEY("lot", "5")},
      {f->fault, KEY("fault", "6")},
      {f->instrument, KEY("instrument", "7")},
      {f->process, KEY("process", "8")},
      /* the + keeps the units' index away: the readings of the one measure are found first */
      {f->revision && keyed, " AND +e.unit IN " OF_REVISION},
      {f->revision && !keyed, " AND e.unit IN " OF_REVISION},
      {f->wrong_instrument,
       " AND json_extract(e.body, '$.instrument') IN (SELECT json_extract(b.body, "
       "'$.instrument_wrong') FROM entry b WHERE b.kind = 'event' AND "
       "NOT EXISTS(SELECT 1 FROM entry r WHERE r.replaces = b.id))"},
      {f->current, " AND e.kind <> 'withdrawal' AND NOT EXISTS(SELECT 1 FROM entry r "
                   "WHERE r.replaces = e.id)"},
  };
  size_t used = (size_t)snprintf(sql, size, "SELECT " TW_LOG_COLUMNS ", %s FROM entry e WHERE 1",
                                 f->current ? "0"
                                            : "EXISTS(SELECT 1 FROM entry r WHERE "
                                              "r.replaces = e.id)");
  for (size_t i = 0; i < sizeof parts / sizeof parts[0]; i++) {
    used += parts[i].wanted ? (size_t)snprintf(sql + used, size - used, "%s", parts[i].sql) : 0;
  }
  snprintf(sql + used, size - used, " ORDER BY e.clock, e.writer, e.seq");
}

static void bind(sqlite3_stmt *get, const tw_log_filter *f)
{
  const char *const text[] = {f->id,    f->kind,       f->unit,    f->measure, f->lot,
                              f->fault, f->instrument, f->process, f->revision};
  for (int i = 0; i < (int)(sizeof text / sizeof text[0]); i++) {
    if (text[i]) {
      sqlite3_bind_text(get, i + 1, text[i], -1, SQLITE_STATIC);
    }
  }
}

tw_status tw_logbook_each(tw_logbook *log, const tw_log_filter *filter, tw_log_visit *visit,
                          void *self, tw_fault *fault)
{
  static const tw_log_filter all = {.current = false};
  char sql[2048];
  sqlite3_stmt *get = NULL;
  filter = filter ? filter : &all;
  filter_sql(filter, sql, sizeof sql);
  tw_status status = tw_log_prepare(log, sql, &get, fault);
  if (status != TW_OK) {
    return status;
  }
  bind(get, filter);
  int code;
  bool on = true;
  while (status == TW_OK && on && (code = sqlite3_step(get)) != SQLITE_DONE) {
    tw_log_entry entry;
    json_t *body = NULL;
    status = code == SQLITE_ROW ? tw_log_row(log, get, &entry, &body, fault)
                                : tw_log_trouble(log, code, "reading", fault);
    if (status == TW_OK) {
      entry.replaced = sqlite3_column_int(get, 9) != 0;
      on = visit(self, &entry);
    }
    json_decref(body);
  }
  sqlite3_finalize(get);
  return status;
}

size_t tw_logbook_count(tw_logbook *log)
{
  int64_t count = 0;
  (void)tw_log_number(log, "SELECT count(*) FROM entry", NULL, &count, NULL);
  return (size_t)count;
}
