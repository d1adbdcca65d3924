/* tests.c: first-pass yield, hours, and units that wait for something. docs/models/logbook.md 7. */
#include "inside.h"

#include "tripwright/logbook_ask.h"

#include <stdlib.h>
#include <string.h>

#define NOT_REPLACED " AND NOT EXISTS(SELECT 1 FROM entry r WHERE r.replaces = e.id)"

/* does unit u have such an entry? the first term is the index's */
#define GONE(kind_word)                                                                            \
  "EXISTS(SELECT 1 FROM entry s WHERE s.kind IN ('shipped', 'returned') AND s.unit = u.unit AND "  \
  "s.kind = '" kind_word "')"

static void take(sqlite3_stmt *row, int column, char *out, size_t size)
{
  snprintf(out, size, "%s", tw_log_column(row, column));
}

/* room for one more row in a list that doubles */
static bool more(void **rows, size_t count, size_t size)
{
  if (count & (count - 1)) { /* not a power of two: there is room */
    return true;
  }
  void *larger = tw_resize(*rows, count ? 2 * count : 1, size);
  if (larger) {
    *rows = larger;
  }
  return larger != NULL;
}

/* every row of a statement; `visit` false is no memory */
static tw_status each(tw_logbook *log, const char *sql,
                      bool (*visit)(void *self, sqlite3_stmt *row), void *self, tw_fault *fault)
{
  sqlite3_stmt *get = NULL;
  tw_status status = tw_log_prepare(log, sql, &get, fault);
  for (int code; status == TW_OK && (code = sqlite3_step(get)) != SQLITE_DONE;) {
    status = code != SQLITE_ROW ? tw_log_trouble(log, code, "reading", fault)
             : visit(self, get) ? TW_OK
                                : tw_log_no_memory(fault);
  }
  sqlite3_finalize(get);
  return status;
}

/* ---- yield ----------------------------------------------------------------------------------- */

enum { STEPS_MOST = 64 };

typedef struct yields {
  bool by_month;
  tw_log_yield *row;
  size_t count;
  char unit[TW_LOG_WORD];
  /* of the present unit: steps that were tested or adjusted already */
  char seen[STEPS_MOST][TW_LOG_WORD];
  bool adjusted[STEPS_MOST], tested[STEPS_MOST];
  size_t steps;
} yields;

static size_t step_of(yields *y, const char *step)
{
  size_t i = 0;
  while (i < y->steps && strcmp(y->seen[i], step) != 0) {
    i++;
  }
  if (i == y->steps && i < STEPS_MOST) {
    snprintf(y->seen[i], TW_LOG_WORD, "%s", step);
    y->adjusted[i] = y->tested[i] = false;
    y->steps++;
  }
  return i;
}

static tw_log_yield *row_of(yields *y, const char *step, const char *month)
{
  for (size_t i = y->count; i-- > 0;) {
    if (strcmp(y->row[i].step, step) == 0 && strcmp(y->row[i].month, month) == 0) {
      return &y->row[i];
    }
  }
  if (!more((void **)&y->row, y->count, sizeof *y->row)) {
    return NULL;
  }
  tw_log_yield *row = &y->row[y->count++];
  *row = (tw_log_yield){.units = 0};
  snprintf(row->step, sizeof row->step, "%s", step);
  snprintf(row->month, sizeof row->month, "%s", month);
  return row;
}

/* unit, kind, at, step, passed */
static bool count_test(void *self, sqlite3_stmt *get)
{
  yields *y = self;
  char unit[TW_LOG_WORD], step[TW_LOG_WORD], month[8] = "";
  take(get, 0, unit, sizeof unit);
  take(get, 3, step, sizeof step);
  if (strcmp(unit, y->unit) != 0) {
    snprintf(y->unit, sizeof y->unit, "%s", unit);
    y->steps = 0;
  }
  const size_t k = step_of(y, step);
  if (k == STEPS_MOST || y->tested[k]) {
    return true;
  }
  if (strcmp(tw_log_column(get, 1), "adjustment") == 0) {
    y->adjusted[k] = true;
    return true;
  }
  y->tested[k] = true;
  if (y->by_month) {
    snprintf(month, sizeof month, "%.7s", tw_log_column(get, 2));
  }
  tw_log_yield *row = row_of(y, step, month);
  if (row) {
    row->units++;
    row->passed += sqlite3_column_int(get, 4) != 0 && !y->adjusted[k];
  }
  return row != NULL;
}

static int by_step(const void *a, const void *b)
{
  const tw_log_yield *x = a, *y = b;
  const int step = strcmp(x->step, y->step);
  return step ? step : strcmp(x->month, y->month);
}

tw_status tw_logbook_yield(tw_logbook *log, bool by_month, tw_log_yield **rows, size_t *count,
                           tw_fault *fault)
{
  yields *y = tw_alloc(1, sizeof *y);
  *rows = NULL;
  *count = 0;
  if (!y) {
    return tw_log_no_memory(fault);
  }
  y->by_month = by_month;
  tw_status status =
      each(log,
           "SELECT e.unit, e.kind, e.at, json_extract(e.body, '$.step'), "
           "json_extract(e.body, '$.passed') FROM entry e "
           "WHERE e.kind IN ('test', 'adjustment') AND e.unit IS NOT NULL" NOT_REPLACED
           " ORDER BY e.unit, e.clock, e.writer, e.seq",
           count_test, y, fault);
  for (size_t i = 0; status == TW_OK && i < y->count; i++) {
    tw_log_yield *row = &y->row[i];
    tw_share share;
    status = tw_share_of(row->passed, row->units, TW_LEARN_LEVEL, &share, fault);
    row->exact = share.interval;
    status = status == TW_OK
                 ? tw_jeffreys_of(row->passed, row->units, TW_LEARN_LEVEL, &row->jeffreys, fault)
                 : status;
  }
  if (status == TW_OK && y->count > 0) {
    qsort(y->row, y->count, sizeof *y->row, by_step);
    *rows = y->row;
    *count = y->count;
  } else {
    tw_free(y->row);
  }
  tw_free(y);
  return status;
}

/* ---- hours ----------------------------------------------------------------------------------- */

typedef struct hours {
  tw_log_hours *row;
  size_t count;
} hours;

static bool add_hours(void *self, sqlite3_stmt *get)
{
  hours *h = self;
  if (!more((void **)&h->row, h->count, sizeof *h->row)) {
    return false;
  }
  tw_log_hours *row = &h->row[h->count++];
  *row = (tw_log_hours){.entries = (size_t)sqlite3_column_int64(get, 1),
                        .real = sqlite3_column_double(get, 2),
                        .foreseen = sqlite3_column_double(get, 3)};
  take(get, 0, row->step, sizeof row->step);
  return true;
}

tw_status tw_logbook_hours(tw_logbook *log, tw_log_hours **rows, size_t *count, tw_fault *fault)
{
  hours h = {0};
  const tw_status status = each(
      log,
      "SELECT coalesce(json_extract(e.body, '$.step'), ''), count(*), "
      "total(json_extract(e.body, '$.hours')), total(json_extract(e.body, '$.hours_foreseen')) "
      "FROM entry e WHERE json_extract(e.body, '$.hours') IS NOT NULL" NOT_REPLACED
      " GROUP BY 1 ORDER BY 1",
      add_hours, &h, fault);
  if (status != TW_OK) {
    tw_free(h.row);
    h = (hours){0};
  }
  *rows = h.row;
  *count = h.count;
  return status;
}

/* ---- open units ------------------------------------------------------------------------------ */

typedef struct opens {
  tw_log_open *row;
  size_t count;
  tw_log_open now;
  bool here;
} opens;

static bool close_unit(opens *o)
{
  if (o->now.unit[0] && o->here) {
    if (!more((void **)&o->row, o->count, sizeof *o->row)) {
      return false;
    }
    o->row[o->count++] = o->now;
  }
  return true;
}

/* unit, kind, at, step, passed */
static bool follow(void *self, sqlite3_stmt *get)
{
  opens *o = self;
  const char *unit = tw_log_column(get, 0), *kind = tw_log_column(get, 1);
  if (strcmp(unit, o->now.unit) != 0) {
    if (!close_unit(o)) {
      return false;
    }
    o->now = (tw_log_open){.returned = false};
    snprintf(o->now.unit, sizeof o->now.unit, "%s", unit);
    o->here = false;
    take(get, 2, o->now.since, sizeof o->now.since);
  }
  take(get, 2, o->now.last, sizeof o->now.last);
  if (strcmp(kind, "unit") == 0) {
    o->here = true;
  } else if (strcmp(kind, "shipped") == 0) {
    o->here = o->now.returned = false;
  } else if (strcmp(kind, "returned") == 0) {
    o->here = o->now.returned = true;
  } else if (strcmp(kind, "test") == 0) {
    const bool passed = sqlite3_column_int(get, 4) != 0;
    if (!passed) {
      take(get, 3, o->now.failed, sizeof o->now.failed);
    } else if (strcmp(o->now.failed, tw_log_column(get, 3)) == 0) {
      o->now.failed[0] = '\0';
    }
  }
  return true;
}

tw_status tw_logbook_open_units(tw_logbook *log, tw_log_open **rows, size_t *count, tw_fault *fault)
{
  opens o = {0};
  tw_status status =
      each(log,
           "SELECT e.unit, e.kind, e.at, json_extract(e.body, '$.step'), "
           "json_extract(e.body, '$.passed') FROM entry e "
           "WHERE e.kind IN ('unit', 'test', 'adjustment', 'event', 'shipped', "
           "'returned') AND e.unit IN (SELECT u.unit FROM entry u WHERE "
           "u.kind = 'unit' AND (NOT " GONE("shipped") " OR " GONE(
               "returned") "))" NOT_REPLACED " ORDER BY e.unit, e.clock, e.writer, e.seq",
           follow, &o, fault);
  if (status == TW_OK && !close_unit(&o)) {
    status = tw_log_no_memory(fault);
  }
  if (status != TW_OK) {
    tw_free(o.row);
    o = (opens){0};
  }
  *rows = o.row;
  *count = o.count;
  return status;
}
