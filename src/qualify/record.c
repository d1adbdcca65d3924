/* record.c: the rows of a qualification record, as text and as JSON. */
#include "inner.h"
#include "tripwright/qualify_record.h"
#include "tripwright/text.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

/* ---- filling
 * ------------------------------------------------------------------------------------- */

static char *keep(tw_record *r, const char *text)
{
  char *copy = tw_copy_text(text);
  r->lost |= !copy;
  return copy;
}

/* room for one more at the end of an array of `size` bytes a piece; NULL and lost when there is
 * none */
static void *one_more(tw_record *r, void **array, size_t *count, size_t size)
{
  char *larger = tw_resize(*array, *count + 1, size);
  if (!larger) {
    r->lost = true;
    return NULL;
  }
  *array = larger;
  void *place = larger + *count * size;
  memset(place, 0, size);
  ++*count;
  return place;
}

tw_record *tw_record_new(const char *title)
{
  tw_record *r = tw_alloc(1, sizeof *r);
  if (r) {
    r->title = keep(r, title);
  }
  return r;
}

void tw_record_free(tw_record *r)
{
  if (!r) {
    return;
  }
  for (size_t i = 0; i < r->figures; i++) {
    tw_free(r->figure[i].name);
    tw_free(r->figure[i].formula);
    tw_free(r->figure[i].unit);
    tw_free(r->figure[i].shown);
  }
  for (size_t i = 0; i < r->plots; i++) {
    tw_free(r->plot[i].name);
    tw_free(r->plot[i].x);
    tw_free(r->plot[i].y);
    tw_free(r->plot[i].at);
  }
  for (size_t i = 0; i < r->conditions; i++) {
    tw_free(r->condition[i].key);
    tw_free(r->condition[i].words);
  }
  for (size_t i = 0; i < r->notes; i++) {
    tw_free(r->note[i]);
  }
  for (size_t i = 0; i < r->cautions; i++) {
    tw_free(r->caution[i]);
  }
  tw_free(r->figure);
  tw_free(r->plot);
  tw_free(r->condition);
  tw_free(r->note);
  tw_free(r->caution);
  tw_free(r->title);
  tw_free(r);
}

void tw_record_condition(tw_record *r, const char *key, const char *words)
{
  void *array = r->condition;
  tw_word_row *row = one_more(r, &array, &r->conditions, sizeof *row);
  r->condition = array;
  if (row) {
    row->key = keep(r, key);
    row->words = keep(r, words);
  }
}

static void add_line(tw_record *r, char ***lines, size_t *count, const char *text)
{
  void *array = *lines;
  char **row = one_more(r, &array, count, sizeof *row);
  *lines = array;
  if (row) {
    *row = keep(r, text);
  }
}

void tw_record_note(tw_record *r, const char *format, ...)
{
  char text[300];
  va_list list;
  va_start(list, format);
  vsnprintf(text, sizeof text, format, list);
  va_end(list);
  add_line(r, &r->note, &r->notes, text);
}

void tw_record_caution(tw_record *r, const char *words)
{
  add_line(r, &r->caution, &r->cautions, words);
}

tw_figure_row *tw_record_figure(tw_record *r, const char *name, double value, const char *unit,
                                const char *shown, double per, const char *formula)
{
  void *array = r->figure;
  tw_figure_row *row = one_more(r, &array, &r->figures, sizeof *row);
  r->figure = array;
  if (row) {
    row->name = keep(r, name);
    row->formula = keep(r, formula);
    row->unit = keep(r, unit);
    row->shown = keep(r, shown);
    row->per = per;
    row->value = value;
  }
  return row;
}

/* standard deviation of s over s: JCGM 100 E.4.3, table E.1 */
static double u_of_spread(const tw_figure_law *law)
{
  const double c4 = tw_c4((size_t)(law->dof + 1.0));
  return law->value * sqrt(1.0 - c4 * c4) / c4;
}

tw_status tw_figure_decide(tw_figure_row *row, double lower, double upper, double level,
                           tw_fault *fault)
{
  const tw_figure_law *law = &row->law;
  const tw_status status = tw_decide_by(law, lower, upper, level, &row->decision, fault);
  if (status == TW_OK) {
    row->has_decision = true;
    row->u = law->kind == TW_LAW_STUDENT  ? law->u
             : law->kind == TW_LAW_SPREAD ? u_of_spread(law)
                                          : (double)NAN; /* a count has an interval, no u */
    row->lower = lower;
    row->upper = upper;
  }
  return status;
}

tw_status tw_record_decide(tw_record *r, double u, double lower, double upper, double level,
                           tw_fault *fault)
{
  if (r->figures == 0) {
    return tw_fail(fault, TW_BAD_INPUT, "figure", "add it first",
                   "there is no figure to decide on");
  }
  tw_figure_row *row = &r->figure[r->figures - 1];
  row->law =
      (tw_figure_law){.kind = TW_LAW_STUDENT, .value = row->value, .u = u, .dof = (double)INFINITY};
  return tw_figure_decide(row, lower, upper, level, fault);
}

void tw_record_plot(tw_record *r, const char *name, const char *x, const char *y, bool round,
                    const double *at, size_t n)
{
  void *array = r->plot;
  tw_plot_row *row = one_more(r, &array, &r->plots, sizeof *row);
  r->plot = array;
  if (!row) {
    return;
  }
  row->name = keep(r, name);
  row->x = keep(r, x);
  row->y = keep(r, y);
  row->round = round;
  row->at = tw_alloc(n, 2 * sizeof *row->at);
  r->lost |= !row->at;
  if (row->at && n) {
    row->n = n;
    memcpy(row->at, at, 2 * n * sizeof *at);
  }
}

bool tw_record_whole(const tw_record *r)
{
  return !r->lost;
}

tw_verdict tw_record_verdict(const tw_record *r, bool *any)
{
  tw_verdict verdict = TW_PROVEN;
  *any = false;
  for (size_t i = 0; i < r->figures; i++) {
    if (r->figure[i].has_decision) {
      *any = true;
      /* the enumeration runs from proven to disproven: the worst one stands */
      verdict = r->figure[i].decision.verdict > verdict ? r->figure[i].decision.verdict : verdict;
    }
  }
  return verdict;
}

/* ---- text
 * ---------------------------------------------------------------------------------------- */

#define TW_PLACES_MOST 9.0

/* decimal places that are worth showing: three figures of the interval, else four of the value */
static int places_of(const tw_figure_row *f)
{
  const double width = f->has_interval ? 0.5 * (f->interval.high - f->interval.low) * f->per
                                       : fabs(f->value * f->per) * 0.1;
  if (!(width > 0.0)) {
    return 3;
  }
  /* before it is made an int: a value near the end of the doubles has no finite width */
  return (int)fmin(fmax(2.0 - floor(log10(width)), 0.0), TW_PLACES_MOST);
}

static void figure_text(tw_text *t, const tw_figure_row *f)
{
  const int places = places_of(f);
  if (!isfinite(f->value * f->per)) { /* too large for the unit that is shown */
    tw_text_add(t, "  %-26s %12.6g %-6s %s\n", f->name, f->value, f->unit, f->formula);
    return;
  }
  tw_text_add(t, "  %-26s %12.*f %-6s %s\n", f->name, places, f->value * f->per, f->shown,
              f->formula);
  if (f->has_interval) {
    tw_text_add(t, "  %26s %g%% interval %.*f to %.*f %s\n", "", 100.0 * f->level, places,
                f->interval.low * f->per, places, f->interval.high * f->per, f->shown);
  }
  if (f->has_foreseen) {
    tw_text_add(t, "  %26s foreseen by the design %.3g %s\n", "", f->foreseen * f->per, f->shown);
  }
  if (f->has_decision) {
    tw_text_add(t, "  %26s limit", "");
    if (!isinf(f->lower)) {
      tw_text_add(t, " from %.6g", f->lower * f->per);
    }
    if (!isinf(f->upper)) {
      tw_text_add(t, " to %.6g", f->upper * f->per);
    }
    char law[80], probability[24];
    tw_law_text(&f->law, law, sizeof law);
    tw_probability_text(f->decision.probability, 4, probability, sizeof probability);
    tw_text_add(t, " %s: %s\n", f->shown, tw_verdict_text(f->decision.verdict));
    tw_text_add(t, "  %26s probability %s, by %s\n", "", probability, law);
  }
}

tw_status tw_record_text(const tw_record *r, char **text, tw_fault *fault)
{
  tw_text t = {0};
  *text = NULL;
  if (r->lost) {
    return tw_no_memory(fault);
  }
  tw_text_add(&t, "%s\n\nConditions\n", r->title);
  for (size_t i = 0; i < r->conditions; i++) {
    tw_text_add(&t, "  %-20s %s\n", r->condition[i].key, r->condition[i].words);
  }
  tw_text_add(&t, "\nFigures\n");
  for (size_t i = 0; i < r->figures; i++) {
    figure_text(&t, &r->figure[i]);
  }
  if (r->notes) {
    tw_text_add(&t, "\nTo be seen in the readings\n");
  }
  for (size_t i = 0; i < r->notes; i++) {
    tw_text_add(&t, "  %s\n", r->note[i]);
  }
  bool any;
  const tw_verdict verdict = tw_record_verdict(r, &any);
  if (any) {
    tw_text_add(&t, "\nDecision: %s\n", tw_verdict_text(verdict));
  }
  if (r->cautions) {
    tw_text_add(&t, "\nCautions\n");
  }
  for (size_t i = 0; i < r->cautions; i++) {
    tw_text_add(&t, "  %s\n", r->caution[i]);
  }
  *text = tw_text_take(&t);
  return *text ? TW_OK : tw_no_memory(fault);
}

/* ---- JSON
 * ---------------------------------------------------------------------------------------- */

static void json_string(tw_text *t, const char *text)
{
  tw_text_add(t, "\"");
  for (const unsigned char *c = (const unsigned char *)text; *c; c++) {
    if (*c == '"' || *c == '\\') {
      tw_text_add(t, "\\%c", *c);
    } else if (*c < 0x20) {
      tw_text_add(t, "\\u%04x", *c);
    } else {
      tw_text_add(t, "%c", *c);
    }
  }
  tw_text_add(t, "\"");
}

static void json_number(tw_text *t, double value)
{
  if (isfinite(value)) {
    tw_text_add(t, "%.17g", value);
  } else {
    tw_text_add(t, "null"); /* no limit */
  }
}

static void json_figure(tw_text *t, const tw_figure_row *f)
{
  tw_text_add(t, "{\"name\":");
  json_string(t, f->name);
  tw_text_add(t, ",\"value\":");
  json_number(t, f->value);
  tw_text_add(t, ",\"unit\":");
  json_string(t, f->unit);
  tw_text_add(t, ",\"formula\":");
  json_string(t, f->formula);
  if (f->has_interval) {
    tw_text_add(t, ",\"interval\":[%.17g,%.17g],\"level\":%.17g", f->interval.low, f->interval.high,
                f->level);
  }
  if (f->has_foreseen) {
    tw_text_add(t, ",\"foreseen\":%.17g", f->foreseen);
  }
  if (f->has_decision) {
    char law[80];
    tw_law_text(&f->law, law, sizeof law);
    tw_text_add(t, ",\"u\":");
    json_number(t, f->u);
    tw_text_add(t, ",\"decided_by\":");
    json_string(t, law);
    tw_text_add(t, ",\"limits\":[");
    json_number(t, f->lower);
    tw_text_add(t, ",");
    json_number(t, f->upper);
    tw_text_add(t, "],\"probability\":%.17g,\"verdict\":", f->decision.probability);
    json_string(t, tw_verdict_text(f->decision.verdict));
  }
  tw_text_add(t, "}");
}

static void json_plot(tw_text *t, const tw_plot_row *p)
{
  tw_text_add(t, "{\"name\":");
  json_string(t, p->name);
  tw_text_add(t, ",\"x\":");
  json_string(t, p->x);
  tw_text_add(t, ",\"y\":");
  json_string(t, p->y);
  tw_text_add(t, ",\"round\":%s,\"points\":[", p->round ? "true" : "false");
  for (size_t i = 0; i < p->n; i++) {
    tw_text_add(t, "%s[", i ? "," : "");
    json_number(t, p->at[2 * i]);
    tw_text_add(t, ",");
    json_number(t, p->at[2 * i + 1]);
    tw_text_add(t, "]");
  }
  tw_text_add(t, "]}");
}

static void json_lines(tw_text *t, const char *key, char *const *line, size_t count)
{
  tw_text_add(t, ",\"%s\":[", key);
  for (size_t i = 0; i < count; i++) {
    tw_text_add(t, "%s", i ? "," : "");
    json_string(t, line[i]);
  }
  tw_text_add(t, "]");
}

tw_status tw_record_json(const tw_record *r, char **json, tw_fault *fault)
{
  tw_text t = {0};
  *json = NULL;
  if (r->lost) {
    return tw_no_memory(fault);
  }
  tw_text_add(&t, "{\"title\":");
  json_string(&t, r->title);
  tw_text_add(&t, ",\"conditions\":{");
  for (size_t i = 0; i < r->conditions; i++) {
    tw_text_add(&t, "%s", i ? "," : "");
    json_string(&t, r->condition[i].key);
    tw_text_add(&t, ":");
    json_string(&t, r->condition[i].words);
  }
  tw_text_add(&t, "},\"figures\":[");
  for (size_t i = 0; i < r->figures; i++) {
    tw_text_add(&t, "%s", i ? "," : "");
    json_figure(&t, &r->figure[i]);
  }
  tw_text_add(&t, "],\"plots\":[");
  for (size_t i = 0; i < r->plots; i++) {
    tw_text_add(&t, "%s", i ? "," : "");
    json_plot(&t, &r->plot[i]);
  }
  tw_text_add(&t, "]");
  json_lines(&t, "notes", r->note, r->notes);
  json_lines(&t, "cautions", r->caution, r->cautions);
  bool any;
  const tw_verdict verdict = tw_record_verdict(r, &any);
  if (any) {
    tw_text_add(&t, ",\"verdict\":");
    json_string(&t, tw_verdict_text(verdict));
  }
  tw_text_add(&t, "}");
  *json = tw_text_take(&t);
  return *json ? TW_OK : tw_no_memory(fault);
}
