/* shake_trace.c: a recorded acceleration run through carrier and node, line by line.
 *
 * Between two rows the acceleration is taken as straight. For such an input the carrier (a damped
 * oscillator) and the node (a leak) are advanced exactly (docs/models/false-trips.md 4).
 */
#include "shake.h"
#include "tripwright/constants.h"
#include "tripwright/units.h"

#include <ctype.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { LINE_MOST = 512, COLUMNS_MOST = 16 };

/* beyond this a row is in the wrong unit, m/s2 */
#define ACCELERATION_MOST 1e5
/* a row later than this many intervals is a gap */
#define GAP 1.5

typedef struct column {
  int axis; /* 0..2, 3 = time, -1 = not used */
  double scale;
} column;

typedef struct reader {
  FILE *in;
  const char *name;
  long line;
  char text[LINE_MOST];
  column column[COLUMNS_MOST];
  int columns;
  tw_fault *fault;
} reader;

typedef struct oscillator {
  double x, v;   /* deflection in units of acceleration (w^2 x), its rate */
  double node;   /* V */
  double signal; /* node change before the leak */
} oscillator;

/* ---- reading -----------------------------------------------------------------------------------
 */

static tw_status refuse(const reader *r, int at, const char *hint, const char *what)
{
  return tw_fail(r->fault, TW_BAD_INPUT, "environment.spectrum", hint, "%s:%ld:%d: %s", r->name,
                 r->line, at, what);
}

/* next line that holds something; *got false at the end */
static tw_status next_line(reader *r, bool *got)
{
  *got = false;
  while (fgets(r->text, sizeof r->text, r->in)) {
    r->line++;
    const size_t length = strlen(r->text);
    if (length + 1 == sizeof r->text && r->text[length - 1] != '\n') {
      return refuse(r, LINE_MOST, "one row of numbers a line", "the line is too long");
    }
    r->text[strcspn(r->text, "\r\n")] = '\0';
    const char *p = r->text + strspn(r->text, " \t");
    if (*p != '\0' && *p != '#') {
      *got = true;
      return TW_OK;
    }
  }
  if (ferror(r->in)) {
    return tw_fail(r->fault, TW_NO_FILE, "environment.spectrum", "",
                   "%s: reading failed after "
                   "line %ld",
                   r->name, r->line);
  }
  return TW_OK;
}

static bool name_column(const char *word, column *out)
{
  static const struct {
    const char *name;
    column column;
  } known[] = {
      {"time_s", {3, 1.0}},     {"time_ms", {3, 1e-3}},   {"time_us", {3, 1e-6}},
      {"x_m_s2", {0, 1.0}},     {"y_m_s2", {1, 1.0}},     {"z_m_s2", {2, 1.0}},
      {"x_mm_s2", {0, 1e-3}},   {"y_mm_s2", {1, 1e-3}},   {"z_mm_s2", {2, 1e-3}},
      {"x_g", {0, TW_GRAVITY}}, {"y_g", {1, TW_GRAVITY}}, {"z_g", {2, TW_GRAVITY}},
  };
  for (size_t i = 0; i < sizeof known / sizeof *known; i++) {
    if (strcmp(word, known[i].name) == 0) {
      *out = known[i].column;
      return true;
    }
  }
  return false;
}

/* the header: names with units, comma between */
static tw_status read_header(reader *r, bool has[3])
{
  const char *const hint = "time_s|time_ms|time_us and x|y|z with _m_s2, _mm_s2 or _g";
  bool got = false;
  const tw_status status = next_line(r, &got);
  if (status != TW_OK) {
    return status;
  }
  if (!got) {
    return refuse(r, 1, hint, "the file is empty");
  }
  int times = 0;
  for (char *p = r->text; p;) {
    char *comma = strchr(p, ',');
    const int at = (int)(p - r->text) + 1;
    if (comma) {
      *comma = '\0';
    }
    p += strspn(p, " \t");
    size_t end = strlen(p);
    while (end > 0 && isspace((unsigned char)p[end - 1])) {
      p[--end] = '\0';
    }
    if (r->columns == COLUMNS_MOST) {
      return refuse(r, at, hint, "more than 16 columns");
    }
    column *c = &r->column[r->columns];
    if (!name_column(p, c)) {
      return refuse(r, at, hint, "this column's name and unit are not known");
    }
    if (c->axis == 3) {
      times++;
    } else if (has[c->axis]) {
      return refuse(r, at, hint, "the axis stands here twice");
    } else {
      has[c->axis] = true;
    }
    r->columns++;
    p = comma ? comma + 1 : NULL;
  }
  if (times != 1) {
    return refuse(r, 1, hint, "there must be one column of time");
  }
  return has[0] || has[1] || has[2] ? TW_OK : refuse(r, 1, hint, "no column of acceleration");
}

/* one row into time and acceleration, SI */
static tw_status read_row(reader *r, double *time, double a[3])
{
  char *p = r->text;
  for (int i = 0; i < r->columns; i++) {
    char *end = NULL;
    const size_t digits = strspn(p, " \t+-.0123456789eE"), length = strcspn(p, ",");
    const int at = (int)(p - r->text) + 1;
    const double value = strtod(p, &end) * r->column[i].scale;
    if (end == p || !isfinite(value) || digits < length) { /* strtod takes 0x1p3 as well */
      /* behind the digits, if a number ends where they do and something else follows */
      const int after = end == p + digits ? (int)digits : 0;
      return refuse(r, at + after, "numbers with a decimal point", "this is not a number");
    }
    end += strspn(end, " \t");
    const bool last = i + 1 == r->columns;
    if (last ? *end != '\0' : *end != ',') {
      return refuse(r, (int)(end - r->text) + 1,
                    "as many numbers as the header has columns, comma between, decimal point",
                    last ? "the row goes on after its last column" : "a comma is missing here");
    }
    if (r->column[i].axis == 3) {
      *time = value;
    } else if (fabs(value) > ACCELERATION_MOST) {
      return refuse(r, at, "is the unit in the header right?",
                    "an acceleration of more than 1e5 m/s2");
    } else {
      a[r->column[i].axis] = value;
    }
    p = end + 1;
  }
  return TW_OK;
}

/* ---- carrier and node --------------------------------------------------------------------------
 */

/* x'' + 2 z w x' + w^2 x = w^2 a with a straight from a0 to a1 in dt, exact */
static void shake(oscillator *o, double w, double z, double a0, double a1, double dt)
{
  const double slope = (a1 - a0) / dt;
  const double s = z * w;
  const double wd = w * sqrt(1.0 - z * z);
  /* particular part a - 2 z/w a', and what is free beside it */
  const double x0 = o->x - (a0 - 2.0 * z / w * slope);
  const double v0 = o->v - slope;
  const double decay = exp(-s * dt);
  const double c = cos(wd * dt);
  const double si = sin(wd * dt);
  o->x = a1 - 2.0 * z / w * slope + decay * (x0 * c + (v0 + s * x0) / wd * si);
  o->v = slope + decay * (v0 * c - (w * w * x0 + s * v0) / wd * si);
}

/* V' = u' - V/tau with u straight over dt */
static void leak(oscillator *o, double signal, double tau, double dt)
{
  const double step = signal - o->signal;
  o->signal = signal;
  if (tau <= 0.0) {
    o->node += step;
    return;
  }
  o->node = o->node * exp(-dt / tau) - step / dt * tau * expm1(-dt / tau);
}

static double signed_signal(const tw_shake *s, int axis, double effective)
{
  /* sideways either way presses; along the axis the sign stays */
  const double size = tw_shake_signal(s, axis, effective);
  return axis == 2 && effective < 0.0 ? -size : size;
}

static void feed(const tw_shake *s, oscillator o[3], const double before[3], const double now[3],
                 double dt, double time, const bool has[3], tw_shake_trace *out, double squares[3],
                 double strongest[3])
{
  for (int i = 0; i < 3; i++) {
    if (!has[i]) {
      continue;
    }
    shake(&o[i], TW_TWO_PI * s->resonance[i], s->damping, before[i], now[i], dt);
    leak(&o[i], signed_signal(s, i, o[i].x), s->time_constant, dt);
    strongest[i] = fmax(strongest[i], fabs(o[i].x));
    if (fabs(o[i].node) > out->axis[i].node) {
      out->axis[i].node = fabs(o[i].node);
      out->at[i] = time;
    }
    squares[i] += now[i] * now[i];
    out->most[i] = fmax(out->most[i], fabs(now[i]));
  }
}

/* margins from the largest signals; what gives 2 scales with the recording as a whole */
static void judge(const tw_shake *s, const double strongest[3], const double squares[3],
                  tw_shake_trace *out)
{
  for (int i = 0; i < 3; i++) {
    if (!out->has[i] || out->rows == 0) {
      continue;
    }
    const double node = out->axis[i].node;
    const double whole = tw_shake_signal(s, i, strongest[i]);
    const double applied = out->most[i];
    tw_shake_fill(s, i, applied, applied > 0.0 ? strongest[i] / applied : 1.0,
                  whole > 0.0 ? node / whole : 1.0, &out->axis[i]);
    out->rms[i] = sqrt(squares[i] / (double)out->rows);
    out->coarse = out->coarse || (out->interval * s->resonance[i] > 0.25);
  }
}

/* time must go on, and evenly */
static tw_status check_time(const reader *r, double time, double last, tw_shake_trace *out)
{
  char text[120];
  const double dt = time - last;
  if (!(dt > 0.0)) {
    return refuse(r, 1, "rows in the order of time, each time once",
                  dt == 0.0 ? "time stands still" : "time runs back");
  }
  if (out->interval == 0.0) {
    out->interval = dt;
  } else if (dt > GAP * out->interval) {
    snprintf(text, sizeof text, "a gap of %.6g s where rows stand %.6g s apart", dt, out->interval);
    return refuse(r, 1, "cut the recording there, or record again", text);
  }
  return TW_OK;
}

tw_status tw_shake_recording(const tw_shake *s, FILE *in, const char *name,
                             const tw_progress *progress, tw_shake_trace *out, tw_fault *fault)
{
  reader r = {.in = in, .name = name ? name : "recording", .fault = fault};
  oscillator o[3] = {{0}};
  double before[3] = {0.0};
  double squares[3] = {0.0};
  double strongest[3] = {0.0};
  double last = 0.0;
  bool got = true;
  *out = (tw_shake_trace){0};
  tw_status status = tw_shake_check(s, fault);
  if (status == TW_OK) {
    status = read_header(&r, out->has);
  }
  while (status == TW_OK) {
    double now[3] = {0.0};
    double time = 0.0;
    status = next_line(&r, &got);
    if (status != TW_OK || !got) {
      break;
    }
    status = read_row(&r, &time, now);
    if (status == TW_OK && out->rows > 0) {
      status = check_time(&r, time, last, out);
      if (status == TW_OK) {
        feed(s, o, before, now, time - last, time, out->has, out, squares, strongest);
        out->duration += time - last;
      }
    } else if (status == TW_OK) { /* at rest in what it begins with */
      for (int i = 0; i < 3; i++) {
        o[i] = (oscillator){.x = now[i], .signal = signed_signal(s, i, now[i])};
        squares[i] = now[i] * now[i];
        out->most[i] = fabs(now[i]);
      }
    }
    memcpy(before, now, sizeof before);
    last = time;
    out->rows++;
    if (out->rows % 65536 == 0 && !tw_progress_tick(progress, 0.5, r.name)) {
      status = TW_CANCELLED;
    }
  }
  if (status == TW_OK && out->rows < 2) {
    status = refuse(&r, 1, "record at least a second", "there are fewer than two rows");
  }
  if (status != TW_OK && status != TW_CANCELLED) {
    *out = (tw_shake_trace){0};
    return status;
  }
  judge(s, strongest, squares, out);
  return status;
}
