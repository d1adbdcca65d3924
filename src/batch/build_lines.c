/* build_lines.c: the build sheet of a design: rows that apply, fields to hold, checks in place. */
#include "tripwright/batch_build.h"
#include "tripwright/batch_risk.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* a gauge better than this share of the tolerance draws nothing in (common practice, no source) */
#define GAUGE_SHARE 0.1

static const char *const card_needs[TW_BENCH_COUNT] = {
#define X(check, states) [TW_BENCH_##check] = states,
    TW_CARD_ROWS(X)
#undef X
};

/* ---- which rows apply
 * ---------------------------------------------------------------------------- */

/* "disc", "has:PATH", "PATH=word|word" of `length` bytes */
static bool condition_holds(const tw_design *design, const char *text, size_t length)
{
  char one[120], path[60];
  snprintf(one, sizeof one, "%.*s", (int)length, text);
  if (strcmp(one, "disc") == 0) {
    return tw_design_has_disc(design);
  }
  if (strncmp(one, "has:", 4) == 0) {
    const tw_field field = tw_field_find(one + 4);
    return field < TW_FIELD_COUNT && tw_design_given(design, field);
  }
  const size_t n = strcspn(one, "=");
  snprintf(path, sizeof path, "%.*s", (int)n, one);
  const tw_field field = tw_field_find(path);
  const char *word = field < TW_FIELD_COUNT && tw_design_has(design, field)
                         ? tw_choice_word(tw_field_of(field)->set, tw_design_choice(design, field))
                         : NULL;
  for (const char *at = one + n; word && *at; at += strcspn(at, "|")) {
    at++;
    if (strlen(word) == strcspn(at, "|") && strncmp(at, word, strlen(word)) == 0) {
      return true;
    }
  }
  return false;
}

static bool applies(const tw_design *design, const char *when)
{
  while (*when) {
    const size_t length = strcspn(when, ";");
    if (!condition_holds(design, when, length)) {
      return false;
    }
    when += length;
    when += strspn(when, "; ");
  }
  return true;
}

/* ---- fields
 * ---------------------------------------------------------------------------------------- */

static bool is_word_of(const char *list, const char *word)
{
  const size_t length = strlen(word);
  for (const char *at = list; length && *at; at += strspn(at, " ")) {
    const size_t n = strcspn(at, " ");
    if (n == length && strncmp(at, word, n) == 0) {
      return true;
    }
    at += n;
  }
  return false;
}

/* limits as read on the gauge; lengths only are guarded */
static void limits_of(const tw_design *design, tw_field field, double gauge_u, tw_build_field *f)
{
  const tw_tolerance t = tw_design_tolerance(design, field);
  const double value = tw_design_number(design, field), half = (t.minus + t.plus) / 2;
  const bool length = tw_field_of(field)->tolerance == TW_TOLERANCE_LENGTH;
  f->guarded = length && gauge_u > GAUGE_SHARE * half && TW_GUARD_SCORE * gauge_u < half;
  const double guard = f->guarded ? TW_GUARD_SCORE * gauge_u : 0;
  f->low = value - t.minus + guard;
  f->high = value + t.plus - guard;
}

/* a tolerance that the workshop stated, of a field that counts */
static bool is_held(const tw_design *design, tw_field field)
{
  const tw_field_type type = tw_field_of(field)->type;
  const bool number = type == TW_TYPE_QUANTITY || type == TW_TYPE_NUMBER;
  const tw_tolerance t = number ? tw_design_tolerance(design, field) : (tw_tolerance){0};
  return number && t.given && t.minus + t.plus > 0 && tw_design_given(design, field) &&
         tw_design_applies(design, field);
}

static void place_fields(const tw_design *design, double gauge_u, tw_build *b)
{
  bool placed[TW_FIELD_COUNT] = {false};
  for (size_t k = 0; k < b->lines; k++) {
    for (int f = 0; f < TW_FIELD_COUNT && b->fields < TW_BUILD_FIELDS; f++) {
      const char *part = tw_field_of((tw_field)f)->part;
      if (!placed[f] && is_held(design, (tw_field)f) && is_word_of(b->line[k].parts, part)) {
        placed[f] = true;
        b->field[b->fields] = (tw_build_field){.field = (tw_field)f, .line = k};
        limits_of(design, (tw_field)f, gauge_u, &b->field[b->fields++]);
      }
    }
  }
  for (int f = 0; f < TW_FIELD_COUNT && b->loose < TW_BUILD_FIELDS; f++) {
    if (is_held(design, (tw_field)f) && !placed[f]) {
      b->loose_field[b->loose++] = (tw_field)f;
    }
  }
}

/* ---- checks
 * ---------------------------------------------------------------------------------------- */

/* does an operation disturb a state that the check needs? */
static bool is_disturbed(const tw_operation *row, const char *needs)
{
  char one[60];
  for (const char *at = row->disturbs; *at; at += strspn(at, ", ")) {
    const size_t n = strcspn(at, ",");
    snprintf(one, sizeof one, "%.*s", (int)n, at);
    if (strstr(needs, one)) {
      return true;
    }
    at += n;
  }
  return false;
}

static void add_check(tw_build *b, const tw_bench_check *check, size_t line, size_t before,
                      bool again)
{
  if (b->checks < TW_BUILD_CHECKS) {
    b->check[b->checks++] = (tw_build_check){check, line, before, again};
  }
}

static void place_check(tw_build *b, const size_t *order, const tw_bench_check *check)
{
  size_t first, last;
  const char *needs = card_needs[check->id];
  if (!needs || !tw_build_window(b->line, order, b->lines, needs, &first, &last)) {
    b->left[b->unplaced++] = check;
    return;
  }
  add_check(b, check, first, last, false);
  for (size_t k = first + 1; k < last; k++) {
    if (is_disturbed(&b->line[k], needs)) {
      add_check(b, check, k, last, true);
    }
  }
}

/* by line, those of one line as the card has them */
static void sort_checks(tw_build *b)
{
  for (size_t i = 1; i < b->checks; i++) {
    const tw_build_check one = b->check[i];
    size_t at = i;
    for (; at > 0 && b->check[at - 1].line > one.line; at--) {
      b->check[at] = b->check[at - 1];
    }
    b->check[at] = one;
  }
}

tw_status tw_build_of(const tw_design *design, const tw_bench_card *card, double gauge_u,
                      size_t left_out, tw_build *out, tw_fault *fault)
{
  tw_operation row[TW_BUILD_STEPS];
  size_t order[TW_BUILD_STEPS], n = 0;
  *out = (tw_build){0};
  for (size_t i = 0; i < tw_operation_count() && n < TW_BUILD_STEPS; i++) {
    const tw_operation *one = tw_operation_at(i);
    if (i != left_out && applies(design, one->when)) {
      row[n++] = *one;
    }
  }
  const tw_status status = tw_build_order(row, n, order, fault);
  if (status != TW_OK) {
    return status;
  }
  out->lines = n;
  for (size_t k = 0; k < n; k++) {
    out->line[k] = row[order[k]];
    order[k] = k; /* order[0..k-1] is not asked for again */
  }
  place_fields(design, gauge_u, out);
  for (int i = 0; card && i < card->count; i++) {
    place_check(out, order, &card->check[i]);
  }
  sort_checks(out);
  return TW_OK;
}
