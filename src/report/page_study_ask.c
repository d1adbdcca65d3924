/* page_study_ask.c: one option at a time. */
#include "page_study_ask.h"
#include "tripwright/text.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* names that every study takes */
static const char *const common[] = {"azimuths", "timed", "map", "all", NULL};

static tw_status wrong(const char *name, const json_t *value, const char *wanted, tw_fault *fault)
{
  char field[64], text[64] = "this";
  char *written = json_dumps(value, JSON_ENCODE_ANY | JSON_COMPACT | JSON_REAL_PRECISION(6));
  snprintf(field, sizeof field, "study.%s", name);
  if (written) {
    snprintf(text, sizeof text, "%.60s", written);
    free(written);
  }
  return tw_fail(fault, TW_BAD_INPUT, field, "", "%s: %s is not %s", name, text, wanted);
}

static bool among(const char *name, const char *const *list)
{
  for (; *list; list++) {
    if (strcmp(*list, name) == 0) {
      return true;
    }
  }
  return false;
}

tw_status tw_ask_known(const json_t *ask, const char *const *known, tw_fault *fault)
{
  const char *name;
  json_t *value;
  if (ask && !json_is_object(ask)) {
    return tw_fail(fault, TW_BAD_INPUT, "study", "", "the options of a study are not an object");
  }
  json_object_foreach((json_t *)(uintptr_t)ask, name, value)
  {
    (void)value;
    if (!among(name, known) && !among(name, common)) {
      char field[80], hint[128];
      tw_text text = tw_text_in(hint, sizeof hint);
      snprintf(field, sizeof field, "study.%.40s", name);
      tw_text_put(&text, "this study takes");
      for (const char *const *k = known; *k; k++) {
        tw_text_add(&text, " %s,", *k);
      }
      tw_text_put(&text, " azimuths, timed, map, all");
      return tw_fail(fault, TW_BAD_INPUT, field, hint, "there is no option \"%.40s\"", name);
    }
  }
  return TW_OK;
}

tw_status tw_ask_count(const json_t *ask, const char *name, long least, long most, long fallback,
                       size_t *out, tw_fault *fault)
{
  const json_t *value = json_object_get(ask, name);
  *out = (size_t)fallback;
  if (!value) {
    return TW_OK;
  }
  const json_int_t number = json_integer_value(value);
  if (!json_is_integer(value) || number < least || number > most) {
    char wanted[80];
    snprintf(wanted, sizeof wanted, "a whole number from %ld to %ld", least, most);
    return wrong(name, value, wanted, fault);
  }
  *out = (size_t)number;
  return TW_OK;
}

tw_status tw_ask_flag(const json_t *ask, const char *name, bool *out, tw_fault *fault)
{
  const json_t *value = json_object_get(ask, name);
  *out = json_is_true(value);
  return !value || json_is_boolean(value) ? TW_OK : wrong(name, value, "true or false", fault);
}

tw_status tw_ask_share(const json_t *ask, const char *name, double *out, tw_fault *fault)
{
  const json_t *value = json_object_get(ask, name);
  *out = json_number_value(value);
  if (value && (!json_is_number(value) || !(*out >= 0 && *out < 1))) {
    return wrong(name, value, "a share from 0 to less than 1", fault);
  }
  return TW_OK;
}

tw_status tw_ask_texts(const json_t *ask, const char *name, const char **out, size_t *count,
                       tw_fault *fault)
{
  const json_t *list = json_object_get(ask, name);
  *count = 0;
  if (list && (!json_is_array(list) || json_array_size(list) > TW_ASK_NAMES)) {
    return wrong(name, list, "a list of at most 64 texts", fault);
  }
  for (size_t i = 0; i < json_array_size(list); i++) {
    out[i] = json_string_value(json_array_get(list, i));
    if (!out[i]) {
      return wrong(name, list, "a list of texts", fault);
    }
    ++*count;
  }
  return TW_OK;
}

tw_status tw_ask_blame(const char *name, tw_status status, tw_fault *fault)
{
  if (status == TW_BAD_INPUT && fault && fault->field[0] == '\0') {
    snprintf(fault->field, sizeof fault->field, "study.%s", name);
  }
  return status;
}
