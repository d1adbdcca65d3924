/* collect.c: rows to a record: one survey of all rows (statistics, outline, time base) that keeps
 * them as long as they fit; else a second pass that keeps a window round the event. */
#include "stream.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define ROWS_LEAST    3
#define GAP           1.5  /* steps longer than this many intervals are gaps */
#define EVEN          0.01 /* steps that stray less are an even time base */
#define DAY           86400.0
#define WINDOW_BEFORE 0.25   /* share of a window before the event */
#define START_ROWS    4096   /* room for rows to begin with */
#define LOG_SLOWEST   3600.0 /* s between readings of a log */

struct survey {
  tw_rows *rows;
  tw_capture_record *record;
  size_t width, cap, room;  /* numbers a row; rows that may be kept; rows that fit now */
  bool over;                /* more rows than may be kept */
  uint64_t count, from, to; /* rows seen; rows to keep */
  double first, last, shortest, longest, day;
  double previous[TW_CAPTURE_CHANNELS];
  uint64_t stride; /* rows a cell of the outline */
  size_t in_block; /* row of the block that is taken */
};

/* ---- keeping --------------------------------------------------------------------------------- */

static bool grow(struct survey *s)
{
  tw_capture_record *r = s->record;
  size_t room = s->room ? 2 * s->room : START_ROWS;
  room = room < s->cap ? room : s->cap;
  for (size_t c = 0; c < r->channels; c++) {
    double *more = tw_resize(r->channel[c].value, room, sizeof *more);
    if (!more) {
      return false;
    }
    r->channel[c].value = more;
  }
  if (s->rows->axis) {
    double *more = tw_resize(r->stamp, room, sizeof *more);
    if (!more) {
      return false;
    }
    r->stamp = more;
  }
  s->room = room;
  return true;
}

static tw_status keep(struct survey *s, const double *row, double at)
{
  tw_capture_record *r = s->record;
  if (r->samples == s->room && !grow(s)) {
    return TW_NO_MEMORY;
  }
  for (size_t c = 0; c < r->channels; c++) {
    r->channel[c].value[r->samples] = row[s->rows->axis + c];
  }
  if (s->rows->axis) {
    r->stamp[r->samples] = at;
  }
  r->samples++;
  return TW_OK;
}

/* ---- the survey ------------------------------------------------------------------------------ */

static void halve_outline(struct survey *s)
{
  tw_capture_record *r = s->record;
  for (size_t c = 0; c < r->channels; c++) {
    tw_capture_outline *o = &r->outline[c];
    for (size_t i = 0; i < TW_CAPTURE_OUTLINE / 2; i++) {
      o->least[i] = fminf(o->least[2 * i], o->least[2 * i + 1]);
      o->most[i] = fmaxf(o->most[2 * i], o->most[2 * i + 1]);
    }
  }
  r->outlined = TW_CAPTURE_OUTLINE / 2;
  s->stride *= 2;
}

static void outline(struct survey *s, const double *value)
{
  tw_capture_record *r = s->record;
  if (s->count / s->stride >= TW_CAPTURE_OUTLINE) {
    halve_outline(s);
  }
  const size_t cell = (size_t)(s->count / s->stride);
  const bool fresh = cell >= r->outlined;
  for (size_t c = 0; c < r->channels; c++) {
    tw_capture_outline *o = &r->outline[c];
    const float v = (float)value[c];
    o->least[cell] = fresh ? v : fminf(o->least[cell], v);
    o->most[cell] = fresh ? v : fmaxf(o->most[cell], v);
  }
  r->outlined = cell + 1;
}

static void measure(struct survey *s, const double *value)
{
  for (size_t c = 0; c < s->record->channels; c++) {
    tw_capture_channel *k = &s->record->channel[c];
    const double v = value[c], d = fabs(v - s->previous[c]);
    if (s->count == 0) {
      k->least = k->most = v;
      k->step = (double)INFINITY;
    } else if (d > 0 && d < k->step) {
      k->step = d;
    }
    k->least = fmin(k->least, v);
    k->most = fmax(k->most, v);
    s->previous[c] = v;
  }
}

static bool ordered(const struct survey *s)
{
  return s->record->axis == TW_AXIS_TIME || s->record->axis == TW_AXIS_STAMPS;
}

static tw_status backwards(const struct survey *s, double at)
{
  return tw_refuse(s->rows->messages, s->rows->name,
                   s->rows->line ? s->rows->line(s->rows, s->in_block) : 0,
                   "two recordings in one file, or rows sorted anew: cut it there",
                   "time runs backwards: %.9g s after %.9g s (row %llu)", at, s->last,
                   (unsigned long long)(s->count + 1));
}

/* the step to this row; the axis is moved on over midnight */
static tw_status step_to(struct survey *s, double *at)
{
  if (s->rows->wraps_a_day && s->count > 0 && *at + s->day < s->last - DAY / 2) {
    s->day += DAY;
  }
  *at += s->day;
  if (s->count == 0) {
    s->first = *at;
  } else if (ordered(s)) {
    const double step = *at - s->last;
    if (step < 0) {
      return backwards(s, *at);
    }
    s->shortest = s->count == 1 ? step : fmin(s->shortest, step);
    s->longest = s->count == 1 ? step : fmax(s->longest, step);
  }
  s->last = *at;
  return TW_OK;
}

static tw_status take(struct survey *s, const double *row, bool again)
{
  double at = s->rows->axis ? row[0] : 0;
  if (s->count >= TW_CAPTURE_SAMPLES) {
    return tw_refuse(s->rows->messages, s->rows->name, 0, "cut out the part that matters",
                     "more than %u rows", TW_CAPTURE_SAMPLES);
  }
  if (s->rows->axis && isfinite(at)) {
    const tw_status status = step_to(s, &at);
    if (status != TW_OK) {
      return status;
    }
  }
  if (!again) {
    measure(s, row + s->rows->axis);
    outline(s, row + s->rows->axis);
    if (s->count >= s->cap) {
      s->over = true;
    }
  }
  const bool wanted = again ? s->count >= s->from && s->count < s->to : !s->over;
  const tw_status kept = wanted ? keep(s, row, at) : TW_OK;
  s->count++;
  return kept;
}

static tw_status run(struct survey *s, bool again)
{
  double *block = tw_alloc(TW_STREAM_BLOCK * s->width, sizeof *block);
  if (!block) {
    return TW_NO_MEMORY;
  }
  s->count = 0;
  s->day = 0;
  s->record->samples = 0;
  tw_status status = s->rows->again(s->rows);
  size_t n = 1;
  while (status == TW_OK && n > 0) {
    status = s->rows->next(s->rows, block, &n);
    for (size_t i = 0; status == TW_OK && i < n; i++) {
      s->in_block = i;
      status = take(s, block + i * s->width, again);
    }
    if (again && s->count >= s->to) {
      break;
    }
  }
  tw_free(block);
  return status;
}

/* ---- what it comes to -------------------------------------------------------------------------
 */

/* the row round which a long record is kept: where a channel's outline is widest */
static uint64_t event_row(const struct survey *s)
{
  const tw_capture_record *r = s->record;
  size_t best = 0;
  double widest = -1;
  for (size_t c = 0; c < r->channels; c++) {
    const double span = r->channel[c].most - r->channel[c].least;
    for (size_t i = 0; span > 0 && i < r->outlined; i++) {
      const double width = ((double)r->outline[c].most[i] - (double)r->outline[c].least[i]) / span;
      if (width > widest) {
        widest = width;
        best = i;
      }
    }
  }
  return best * s->stride;
}

static tw_status second_pass(struct survey *s)
{
  const uint64_t event = event_row(s), all = s->count;
  const uint64_t before = (uint64_t)(WINDOW_BEFORE * (double)s->cap);
  s->from = event > before ? event - before : 0;
  s->from = s->from + s->cap > all ? all - s->cap : s->from;
  s->to = s->from + s->cap;
  const tw_status status = run(s, true);
  s->record->first = s->from;
  s->count = all;
  return status;
}

static int by_size(const void *a, const void *b)
{
  const double x = *(const double *)a, y = *(const double *)b;
  return (x > y) - (x < y);
}

static tw_status stamp_interval(tw_capture_record *r)
{
  const size_t n = r->samples - 1;
  double *step = tw_alloc(n, sizeof *step);
  if (!step) {
    return TW_NO_MEMORY;
  }
  for (size_t i = 0; i < n; i++) {
    step[i] = r->stamp[i + 1] - r->stamp[i];
  }
  qsort(step, n, sizeof *step, by_size);
  r->interval = step[n / 2];
  r->gaps = 0;
  for (size_t i = 0; i < n; i++) {
    r->gaps += step[i] > GAP * r->interval;
  }
  tw_free(step);
  return TW_OK;
}

static tw_status refuse_rate(const struct survey *s)
{
  return tw_refuse(
      s->rows->messages, s->rows->name, 0,
      "say the interval (--interval \"10 us\") or the unit of time (--columns-in us,V)",
      "a sample every %.4g s: a recording has one in %.0g s to %.0g s", s->record->interval,
      1 / TW_CAPTURE_RATE_MOST, 1 / TW_CAPTURE_RATE_LEAST);
}

/* stamps count from the first row: seconds of the day say nothing on a drawing */
static void from_first(const struct survey *s)
{
  tw_capture_record *r = s->record;
  if (s->rows->stamps) {
    r->start -= s->first;
    for (size_t i = 0; r->stamp && i < r->samples; i++) {
      r->stamp[i] -= s->first;
    }
  }
}

/* even steps become a start and an interval, others stay stamps */
static tw_status time_base(struct survey *s)
{
  tw_capture_record *r = s->record;
  if (!s->rows->axis) {
    r->start += (double)r->first * r->interval;
  } else {
    const double interval = (s->last - s->first) / (double)(s->count - 1);
    const double most = fmax(fabs(s->first), fabs(s->last));
    const double slack =
        fmax(EVEN * interval, 1.01 * (s->rows->quantum + most * s->rows->relative));
    r->offset_of_file = s->first;
    r->jitter = interval > 0 ? fmax(s->longest - interval, interval - s->shortest) / interval : 0;
    if (interval > 0 && s->longest <= interval + slack && s->shortest >= interval - slack &&
        s->longest <= GAP * interval + s->rows->quantum) {
      r->interval = interval;
      r->start = s->first + (double)r->first * interval;
      tw_free(r->stamp);
      r->stamp = NULL;
    } else {
      r->axis = TW_AXIS_STAMPS;
      const tw_status status = stamp_interval(r);
      if (status != TW_OK) {
        return status;
      }
      r->start = r->stamp[0];
    }
  }
  from_first(s);
  const double slowest = r->axis == TW_AXIS_STAMPS ? LOG_SLOWEST : 1 / TW_CAPTURE_RATE_LEAST;
  return r->interval >= 0.999 / TW_CAPTURE_RATE_MOST && r->interval <= 1.001 * slowest
             ? TW_OK
             : refuse_rate(s);
}

static tw_status check(const struct survey *s)
{
  const tw_capture_record *r = s->record;
  if (s->count < ROWS_LEAST) {
    return tw_refuse(s->rows->messages, s->rows->name, 0, "export the recording again",
                     "%llu row%s of data: too short", (unsigned long long)s->count,
                     s->count == 1 ? "" : "s");
  }
  bool moves = false;
  for (size_t c = 0; c < r->channels; c++) {
    moves = moves || r->channel[c].most > r->channel[c].least;
  }
  if (!moves) {
    return tw_refuse(s->rows->messages, s->rows->name, 0,
                     "connect the lead, or export the channel that was used",
                     "%s does not move: %.6g %s in all %llu rows",
                     r->channels == 1 ? r->channel[0].name : "no channel moves; the first",
                     r->channel[0].least, r->channel[0].unit, (unsigned long long)s->count);
  }
  return TW_OK;
}

static void say(struct survey *s)
{
  tw_capture_record *r = s->record;
  size_t n = strlen(r->found);
  if (r->axis == TW_AXIS_TIME || r->axis == TW_AXIS_STAMPS) {
    snprintf(r->found + n, sizeof r->found - n, "; every %.6g s%s", r->interval,
             r->axis == TW_AXIS_STAMPS ? " or so (stamps)" : "");
  }
  n = strlen(r->found);
  if (r->gaps > 0) {
    snprintf(r->found + n, sizeof r->found - n, "; %llu gap%s", (unsigned long long)r->gaps,
             r->gaps == 1 ? "" : "s");
  }
  n = strlen(r->found);
  if (r->told_rows > (double)s->count) {
    snprintf(r->found + n, sizeof r->found - n, "; its head promises %.0f rows", r->told_rows);
  }
}

tw_status tw_collect(tw_rows *rows, const tw_capture_reading *reading, tw_capture_record *record)
{
  struct survey s = {.rows = rows, .record = record, .stride = 1};
  s.width = rows->channels + rows->axis;
  s.cap = (reading->window ? reading->window : TW_CAPTURE_WINDOW) / s.width;
  s.cap = s.cap > START_ROWS ? s.cap : START_ROWS;
  record->channels = rows->channels;
  record->outline = tw_alloc(rows->channels, sizeof *record->outline);
  tw_status status = record->outline ? run(&s, false) : TW_NO_MEMORY;
  status = status == TW_OK ? check(&s) : status;
  record->rows = s.count;
  if (status == TW_OK && s.over) {
    status = second_pass(&s);
  }
  const double share = isnan(reading->pretrigger) ? record->told_pretrigger : reading->pretrigger;
  if (status == TW_OK && !rows->axis && isfinite(share)) {
    record->start = -share * (double)record->rows * record->interval;
    record->told_trigger = 0;
  }
  if (status == TW_OK && (record->axis == TW_AXIS_TIME)) {
    status = time_base(&s);
  }
  if (status == TW_OK) {
    say(&s);
  }
  return status;
}
