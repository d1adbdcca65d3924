/* figures.c: figures of pieces, what processes made, and what a design may use of it.
 * docs/models/logbook.md 8. */
#include "inside.h"

#include "tripwright/logbook_ask.h"

#include <math.h>
#include <string.h>

/* ---- one figure a piece ---------------------------------------------------------------------- */

typedef struct pieces {
  tw_log_piece *row;
  size_t count, room;
  size_t *slot; /* 2 x room places: number of the row plus one, found by its name */
  bool lost;
} pieces;

static double number_of(const tw_log_entry *e, const char *key)
{
  return json_number_value(json_object_get(e->body, key));
}

static const char *piece_of(const tw_log_entry *e)
{
  const char *piece = json_string_value(json_object_get(e->body, "piece"));
  return piece ? piece : e->unit ? e->unit : "";
}

/* the place of a name: its own, or the empty one where it belongs (FNV-1a, open addressing) */
static size_t *slot_of(const pieces *p, const char *name)
{
  const size_t slots = 2 * p->room;
  uint64_t hash = UINT64_C(0xcbf29ce484222325);
  for (size_t i = 0; name[i] && i < TW_LOG_WORD - 1; i++) {
    hash = (hash ^ (unsigned char)name[i]) * UINT64_C(0x100000001b3);
  }
  for (size_t k = (size_t)(hash % slots);; k = (k + 1) % slots) {
    if (!p->slot[k] || strncmp(p->row[p->slot[k] - 1].piece, name, TW_LOG_WORD - 1) == 0) {
      return &p->slot[k];
    }
  }
}

static bool make_room(pieces *p)
{
  const size_t room = p->room ? 2 * p->room : 64;
  tw_log_piece *larger = tw_resize(p->row, room, sizeof *larger);
  p->row = larger ? larger : p->row;
  size_t *slot = larger ? tw_alloc(2 * room, sizeof *slot) : NULL;
  if (!slot) {
    return false;
  }
  tw_free(p->slot);
  p->slot = slot;
  p->room = room;
  for (size_t i = 0; i < p->count; i++) {
    *slot_of(p, p->row[i].piece) = i + 1;
  }
  return true;
}

static tw_log_piece *piece_row(pieces *p, const char *name)
{
  if (p->count == p->room && !make_room(p)) {
    p->lost = true;
    return NULL;
  }
  size_t *slot = slot_of(p, name);
  if (*slot) {
    return &p->row[*slot - 1];
  }
  tw_log_piece *row = &p->row[p->count++];
  *slot = p->count;
  *row = (tw_log_piece){.readings = 0};
  snprintf(row->piece, sizeof row->piece, "%s", name);
  return row;
}

/* sums first: value, and u^2 */
static bool add_reading(void *self, const tw_log_entry *e)
{
  pieces *p = self;
  if (!json_is_number(json_object_get(e->body, "value"))) {
    return true;
  }
  tw_log_piece *row = piece_row(p, piece_of(e));
  if (!row) {
    return false;
  }
  const double u = number_of(e, "u");
  row->value += number_of(e, "value");
  row->u += u * u;
  row->readings++;
  if (json_is_number(json_object_get(e->body, "foreseen"))) {
    row->has_foreseen = true;
    row->foreseen = number_of(e, "foreseen");
    row->u_foreseen = number_of(e, "u_foreseen");
  }
  return true;
}

/* the mean of n readings has u^2/n: what they share is not known and not taken out */
static void divide(tw_log_piece *row)
{
  const double n = (double)row->readings;
  row->value /= n;
  row->u = sqrt(row->u) / n;
}

tw_status tw_logbook_pieces(tw_logbook *log, const tw_log_filter *filter, tw_log_piece **rows,
                            size_t *count, tw_fault *fault)
{
  pieces p = {0};
  tw_log_filter readings = *filter;
  readings.current = true;
  readings.kind = tw_log_kind_word(TW_LOG_READING);
  tw_status status = tw_logbook_each(log, &readings, add_reading, &p, fault);
  status = status == TW_OK && p.lost ? tw_log_no_memory(fault) : status;
  tw_free(p.slot);
  if (status != TW_OK) {
    tw_free(p.row);
    p = (pieces){0};
  }
  for (size_t i = 0; i < p.count; i++) {
    divide(&p.row[i]);
  }
  *rows = p.row;
  *count = p.count;
  return status;
}

/* ---- what a process made --------------------------------------------------------------------- */

typedef struct making {
  tw_log_made *row;
  size_t count, room, of; /* of: the row of the present group */
  tw_status status;
  /* the present piece and dimension */
  char group[3 * TW_LOG_WORD];
  double sum, squares;
  size_t readings;
} making;

static tw_log_made *made_row(making *m, const char *process, tw_way way)
{
  for (size_t i = 0; i < m->count; i++) {
    if (m->row[i].way == way && strcmp(m->row[i].process, process) == 0) {
      return &m->row[i];
    }
  }
  tw_log_made *larger = tw_resize(m->row, m->count + 1, sizeof *larger);
  if (!larger) {
    return NULL;
  }
  m->row = larger;
  tw_log_made *row = &m->row[m->count++];
  *row = (tw_log_made){.way = way};
  snprintf(row->process, sizeof row->process, "%s", process);
  return row;
}

/* the group's mean becomes one figure of its row */
static bool close_group(making *m)
{
  if (m->readings == 0) {
    return true;
  }
  tw_log_made *row = &m->row[m->of];
  double *larger = row->n & (row->n - 1)
                       ? row->offset
                       : tw_resize(row->offset, row->n ? 2 * row->n : 1, sizeof *larger);
  if (!larger) {
    return false;
  }
  const double n = (double)m->readings, u2 = m->squares / (n * n), had = (double)row->n;
  row->offset = larger;
  row->offset[row->n++] = m->sum / n;
  row->u = sqrt((row->u * row->u * had + u2) / (had + 1.0));
  m->readings = 0;
  m->sum = m->squares = 0.0;
  return true;
}

/* process, measure, piece, value, drawn, u */
static bool add_made(making *m, sqlite3_stmt *get)
{
  const char *process = tw_log_column(get, 0), *measure = tw_log_column(get, 1);
  const tw_field field = tw_field_find(measure);
  const tw_dimension d =
      field == TW_FIELD_COUNT ? (tw_dimension){TW_WAY_NONE, 0} : tw_field_dimension(field);
  char group[3 * TW_LOG_WORD];
  if (d.way == TW_WAY_NONE) {
    return true;
  }
  snprintf(group, sizeof group, "%.47s/%.47s/%.47s", process, measure, tw_log_column(get, 2));
  if (strcmp(group, m->group) != 0) {
    if (!close_group(m)) {
      return false;
    }
    snprintf(m->group, sizeof m->group, "%s", group);
    const tw_log_made *row = made_row(m, process, d.way);
    if (!row) {
      return false;
    }
    m->of = (size_t)(row - m->row);
  }
  const double u = sqlite3_column_double(get, 5) / d.share;
  m->sum += (sqlite3_column_double(get, 3) - sqlite3_column_double(get, 4)) / d.share;
  m->squares += u * u;
  m->readings++;
  return true;
}

tw_status tw_logbook_made(tw_logbook *log, tw_log_made **rows, size_t *count, tw_fault *fault)
{
  static const char sql[] =
      "SELECT json_extract(e.body, '$.process') AS p, json_extract(e.body, '$.measure') AS m, "
      "coalesce(json_extract(e.body, '$.piece'), e.unit, e.id) AS u, "
      "json_extract(e.body, '$.value'), json_extract(e.body, '$.drawn'), "
      "json_extract(e.body, '$.u') FROM entry e WHERE e.kind = 'reading' AND p IS NOT NULL AND "
      "json_extract(e.body, '$.drawn') IS NOT NULL AND "
      "NOT EXISTS(SELECT 1 FROM entry r WHERE r.replaces = e.id) ORDER BY p, m, u, e.clock";
  making m = {0};
  sqlite3_stmt *get = NULL;
  tw_status status = tw_log_prepare(log, sql, &get, fault);
  for (int code; status == TW_OK && (code = sqlite3_step(get)) != SQLITE_DONE;) {
    status = code != SQLITE_ROW  ? tw_log_trouble(log, code, "reading", fault)
             : add_made(&m, get) ? TW_OK
                                 : tw_log_no_memory(fault);
  }
  sqlite3_finalize(get);
  status = status == TW_OK && !close_group(&m) ? tw_log_no_memory(fault) : status;
  if (status != TW_OK) {
    tw_logbook_made_free(m.row, m.count);
    m = (making){0};
  }
  *rows = m.row;
  *count = m.count;
  return status;
}

void tw_logbook_made_free(tw_log_made *rows, size_t count)
{
  for (size_t i = 0; i < count; i++) {
    tw_free(rows[i].offset);
  }
  tw_free(rows);
}

/* ---- into a design --------------------------------------------------------------------------- */

const char *tw_way_words(tw_way way)
{
  static const char *const words[] = {[TW_WAY_NONE] = "none",
                                      [TW_WAY_XY] = "across, outside",
                                      [TW_WAY_HOLE] = "across, inside",
                                      [TW_WAY_PLACE] = "place",
                                      [TW_WAY_Z] = "along the axis"};
  return words[way];
}

static tw_status learn_one(const tw_log_made *made, const tw_quantity *stated, tw_log_use *use,
                           tw_fault *fault)
{
  const double tolerance = (stated->tolerance.minus + stated->tolerance.plus) / 2.0;
  const tw_prior prior = tw_prior_of(stated->number, tolerance);
  *use = (tw_log_use){.way = made->way, .offset = stated->number, .tolerance = tolerance};
  snprintf(use->process, sizeof use->process, "%s", made->process);
  const tw_status status = tw_learn(made->offset, made->n, &prior, &use->own, fault);
  if (status == TW_OK) {
    const double left = tw_without_gauge(use->own.scale, made->u, &use->gauge_floored);
    use->half = use->own.half_next_piece * left / use->own.scale;
  }
  return status;
}

tw_status tw_logbook_use(tw_logbook *log, const tw_design *design, tw_log_use **rows, size_t *count,
                         tw_fault *fault)
{
  tw_log_made *made = NULL;
  size_t n = 0;
  *rows = NULL;
  *count = 0;
  tw_status status = tw_logbook_made(log, &made, &n, fault);
  tw_log_use *use = status == TW_OK && n > 0 ? tw_alloc(n, sizeof *use) : NULL;
  status = status == TW_OK && n > 0 && !use ? tw_log_no_memory(fault) : status;
  for (size_t i = 0; status == TW_OK && i < n; i++) {
    const tw_quantity *stated = tw_design_process_offset(design, made[i].process, made[i].way);
    if (stated && stated->tolerance.minus + stated->tolerance.plus > 0.0) {
      status = learn_one(&made[i], stated, &use[(*count)++], fault);
    }
  }
  tw_logbook_made_free(made, n);
  if (status != TW_OK) {
    tw_free(use);
    use = NULL;
    *count = 0;
  }
  *rows = use;
  return status;
}

tw_status tw_log_use_apply(tw_design *design, const tw_log_use *rows, size_t count, tw_fault *fault)
{
  tw_status status = TW_OK;
  for (size_t i = 0; status == TW_OK && i < count; i++) {
    const tw_quantity own = {.number = rows[i].own.mean,
                             .tolerance = {.given = true,
                                           .spread = TW_SPREAD_NORMAL,
                                           .minus = rows[i].half,
                                           .plus = rows[i].half}};
    status = tw_design_process_learn(design, rows[i].process, rows[i].way, &own, fault);
  }
  return status;
}
