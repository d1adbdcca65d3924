/* batch_cases.h: the cases of tests/data/batch_cases.json, asked by id and path. */
#ifndef TW_TEST_BATCH_CASES_H
#define TW_TEST_BATCH_CASES_H

#include "near.h"

#include <jansson.h>
#include <stdlib.h>
#include <string.h>

/* six and five digits, as the cases print them */
#define SIX  5e-7
#define FIVE 5e-6

static json_t *batch_cases;

static inline int open_cases(void **state)
{
  (void)state;
  json_error_t error;
  batch_cases = json_load_file(TW_SOURCE_DIR "/tests/data/batch_cases.json", 0, &error);
  return batch_cases ? 0 : -1;
}

static inline int close_cases(void **state)
{
  (void)state;
  json_decref(batch_cases);
  return 0;
}

/* "C03", "outputs/steps/1/yield_" */
static inline const json_t *case_at(const char *id, const char *path)
{
  const json_t *at = NULL;
  size_t i;
  json_t *one;
  json_array_foreach(json_object_get(batch_cases, "cases"), i, one)
  {
    at = strcmp(json_string_value(json_object_get(one, "id")), id) == 0 ? one : at;
  }
  char word[80];
  while (at && *path) {
    const size_t n = strcspn(path, "/");
    snprintf(word, sizeof word, "%.*s", (int)n, path);
    path += n + (path[n] == '/');
    at =
        json_is_array(at) ? json_array_get(at, strtoul(word, NULL, 10)) : json_object_get(at, word);
  }
  return at;
}

static inline double case_number(const char *id, const char *path)
{
  const json_t *value = case_at(id, path);
  if (!json_is_number(value)) {
    fail_msg("%s: no number at %s", id, path);
  }
  return json_number_value(value);
}

static inline double case_or(const char *id, const char *path, double otherwise)
{
  const json_t *value = case_at(id, path);
  return json_is_number(value) ? json_number_value(value) : otherwise;
}

static inline size_t case_count(const char *id, const char *path)
{
  return json_array_size(case_at(id, path));
}

/* the number at a path made of a pattern and an index */
static inline double case_of(const char *id, const char *pattern, size_t index)
{
  char path[120];
  snprintf(path, sizeof path, "%.*s%zu%s", (int)strcspn(pattern, "#"), pattern, index,
           pattern + strcspn(pattern, "#") + 1);
  return case_number(id, path);
}

#endif
