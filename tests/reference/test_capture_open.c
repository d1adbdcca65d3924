/* Recordings made by an independent model (tests/data/captures, truth.json: solved by a script of
 * its own that shares no code with this project): every feature within its tolerance, and the act
 * recognised where nobody says it. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdlib.h>
/* cmocka needs the above */
#include "capture_known.h"

#include <cmocka.h>

#define FOLDER TW_SOURCE_DIR "/tests/data/captures/"

static json_t *truth;

static int start(void **state)
{
  (void)state;
  truth = json_load_file(FOLDER "truth.json", 0, NULL);
  return truth ? 0 : 1;
}

static int end(void **state)
{
  (void)state;
  json_decref(truth);
  return 0;
}

static tw_capture_record *read_file(const char *name)
{
  char path[600];
  snprintf(path, sizeof path, FOLDER "%s", name);
  tw_messages *m = tw_messages_new();
  tw_capture_record *record = NULL;
  if (tw_capture_read(path, NULL, m, &record) != TW_OK) {
    char text[1000];
    tw_message_print(tw_messages_at(m, 0), text, sizeof text);
    print_message("%s\n", text);
  }
  tw_messages_free(m);
  return record;
}

/* volts at full scale from the tone that was recorded at the same setting */
static double gain_from(const char *name)
{
  const json_t *all = json_object_get(truth, "captures");
  size_t i;
  json_t *capture;
  double gain = (double)NAN;
  json_array_foreach(all, i, capture)
  {
    if (strcmp(json_string_value(json_object_get(capture, "file")), name) == 0) {
      tw_capture_setup s;
      known_setup(capture, &s);
      tw_capture_record *record = read_file(name);
      tw_capture_result *result = NULL;
      if (tw_capture_evaluate(record, &s, &result, NULL) == TW_OK) {
        gain = tw_capture_feature_of(result, "volts_at_full_scale")->value;
      }
      tw_free(result);
      tw_capture_record_free(record);
    }
  }
  return gain;
}

static int judge(const char *file, const tw_capture_result *result, const json_t *expect)
{
  int missed = 0;
  const char *name;
  json_t *want;
  json_object_foreach((json_t *)(uintptr_t)expect, name, want)
  {
    const json_t *value = json_object_get(want, "value");
    const tw_capture_feature *f = tw_capture_feature_of(result, name);
    const double tol = known_number(want, "tol");
    bool fine = f != NULL;
    if (f && json_is_string(value)) {
      fine = strcmp(f->word, json_string_value(value)) == 0;
    } else if (f && json_is_boolean(value)) {
      fine = (f->value > 0) == json_is_true(value);
    } else if (f) {
      fine = fabs(f->value - json_number_value(value)) <= (isfinite(tol) ? tol : 0);
    }
    if (getenv("TW_SAY") || !fine) {
      print_message("%s %-14s %-18s %.7g (u %.2g), wanted %.7g +- %.2g%s\n", fine ? "  " : "!!",
                    file, name, f ? f->value : (double)NAN, f ? f->u : (double)NAN,
                    json_is_number(value) ? json_number_value(value) : 0, tol,
                    f ? "" : ": no such feature");
    }
    missed += !fine;
  }
  return missed;
}

static void every_feature_within_its_tolerance(void **state)
{
  (void)state;
  size_t i;
  json_t *capture;
  int missed = 0, files = 0;
  json_array_foreach(json_object_get(truth, "captures"), i, capture)
  {
    const char *file = json_string_value(json_object_get(capture, "file"));
    const char *gain =
        json_string_value(json_object_get(json_object_get(capture, "known"), "gain_from"));
    tw_capture_setup s;
    tw_fault fault = {0};
    known_setup(capture, &s);
    if (gain) {
      s.instrument.full_scale = gain_from(gain);
    }
    tw_capture_record *record = read_file(file);
    assert_non_null(record);
    tw_capture_result *result = NULL;
    if (tw_capture_evaluate(record, &s, &result, &fault) != TW_OK) {
      print_message("!! %s: %s (%s)\n", file, fault.text, fault.hint);
      missed++;
    } else {
      missed += judge(file, result, json_object_get(capture, "expect"));
    }
    tw_free(result);
    tw_capture_record_free(record);
    files++;
  }
  assert_int_equal(files, 24);
  assert_int_equal(missed, 0);
}

/* the act is seen in the recording itself, as far as it can be: a set-down weight and the sound
 * card's spike look like others */
static void acts_are_recognised(void **state)
{
  (void)state;
  size_t i;
  json_t *capture;
  json_array_foreach(json_object_get(truth, "captures"), i, capture)
  {
    const char *file = json_string_value(json_object_get(capture, "file"));
    const char *kind = json_string_value(json_object_get(capture, "kind"));
    tw_capture_record *record = read_file(file);
    const char *seen = tw_capture_act_word(tw_capture_guess(record));
    if (strcmp(kind, "hand_weight") != 0 && strcmp(kind, "card_cut") != 0) {
      if (strcmp(seen, kind) != 0) {
        print_message("%s: %s taken for %s\n", file, kind, seen);
      }
      assert_string_equal(seen, kind);
    }
    tw_capture_record_free(record);
  }
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(every_feature_within_its_tolerance),
      cmocka_unit_test(acts_are_recognised),
  };
  return cmocka_run_group_tests(tests, start, end);
}
