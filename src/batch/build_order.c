/* build_order.c: which operation goes next, and when a check can be made. */
#include "tripwright/batch_build.h"
#include "tripwright/text.h"

#include <string.h>

static const char *const caution_text[] = {
#define X(id, text) text,
    TW_CAUTIONS(X)
#undef X
};

const char *tw_caution_text(tw_caution caution)
{
  return caution_text[caution];
}

static const tw_operation rows[] = {
#define X(id, when, needs, adds, closes, disturbs, parts, hold, caution, text)                     \
  {#id, when, needs, adds, closes, disturbs, parts, hold, TW_CAUTION_##caution, text},
    TW_OPERATIONS(X)
#undef X
};

size_t tw_operation_count(void)
{
  return sizeof rows / sizeof rows[0];
}

const tw_operation *tw_operation_at(size_t index)
{
  return index < tw_operation_count() ? &rows[index] : NULL;
}

/* ---- lists of states: "disc, bare" ------------------------------------------------------------
 */

/* the next state of a list; NULL at its end */
static const char *next_state(const char **list, size_t *length)
{
  const char *at = *list;
  while (*at == ' ' || *at == ',') {
    at++;
  }
  *length = strcspn(at, ",");
  *list = at + *length;
  return *length ? at : NULL;
}

static bool has_state(const char *list, const char *state, size_t length)
{
  size_t n;
  for (const char *s; (s = next_state(&list, &n)) != NULL;) {
    if (n == length && strncmp(s, state, n) == 0) {
      return true;
    }
  }
  return false;
}

/* is a state added by one of the rows that are done? */
static bool is_there(const tw_operation *row, const size_t *order, size_t done, const char *state,
                     size_t length)
{
  for (size_t k = 0; k < done; k++) {
    if (has_state(row[order[k]].adds, state, length)) {
      return true;
    }
  }
  return false;
}

/* the first state of `needs` that is missing, or NULL */
static const char *missing(const tw_operation *row, const size_t *order, size_t done,
                           const char *needs, size_t *length)
{
  for (const char *s; (s = next_state(&needs, length)) != NULL;) {
    if (!is_there(row, order, done, s, *length)) {
      return s;
    }
  }
  return NULL;
}

/* ---- order
 * --------------------------------------------------------------------------------------- */

static tw_status stuck(const tw_operation *row, size_t n, const size_t *order, size_t done,
                       const bool *is_done, tw_fault *fault)
{
  char names[200];
  tw_text text = tw_text_in(names, sizeof names);
  for (size_t i = 0; i < n; i++) {
    size_t length;
    const char *state = is_done[i] ? NULL : missing(row, order, done, row[i].needs, &length);
    if (state) {
      tw_text_add(&text, "%s%s needs '%.*s'", text.length ? ", " : "", row[i].id, (int)length,
                  state);
    }
  }
  return tw_fail(fault, TW_BAD_INPUT, NULL, "another row must add what is missing",
                 "the build sheet's rules have no order: %s", names);
}

tw_status tw_build_order(const tw_operation *row, size_t n, size_t *order, tw_fault *fault)
{
  bool is_done[TW_BUILD_STEPS] = {false};
  if (n > TW_BUILD_STEPS) {
    return tw_fail(fault, TW_BAD_INPUT, NULL, NULL, "more than %d operations", TW_BUILD_STEPS);
  }
  for (size_t done = 0; done < n; done++) {
    size_t next = 0, length;
    while (next < n && (is_done[next] || missing(row, order, done, row[next].needs, &length))) {
      next++;
    }
    if (next == n) {
      return stuck(row, n, order, done, is_done, fault);
    }
    is_done[next] = true;
    order[done] = next;
  }
  return TW_OK;
}

bool tw_build_window(const tw_operation *row, const size_t *order, size_t n, const char *needs,
                     size_t *first, size_t *last)
{
  size_t length, at = 0;
  while (at < n && missing(row, order, at + 1, needs, &length)) {
    at++;
  }
  *first = at;
  *last = n;
  if (at == n) {
    return false;
  }
  for (size_t k = 0; k < n && *last == n; k++) {
    const char *list = needs;
    for (const char *s; (s = next_state(&list, &length)) != NULL;) {
      if (has_state(row[order[k]].closes, s, length)) {
        *last = k;
      }
    }
  }
  return *first < *last;
}
