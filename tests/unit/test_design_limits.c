/* Every range of the parameter table holds at both ends: what lies just outside is refused, the
 * limit itself is accepted. A number is stated with its own unit; m for M is the usual slip. */
#include "design_fixture.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* is `text` refused for the field as out of its range? */
static bool refused(const char *path, const char *text, char *hint, size_t size)
{
  const tw_set set = {path, text};
  const tw_read_options options = {
      .units = units, .library = library, .sets = &set, .set_count = 1};
  tw_messages *messages = tw_messages_new();
  tw_design *design = NULL;
  (void)tw_design_parse("design: limits\n", 15, NULL, &options, messages, &design);
  tw_design_free(design);
  bool range = false;
  for (size_t i = 0; i < tw_messages_count(messages); i++) {
    const tw_message *m = tw_messages_at(messages, i);
    if (m->field && strcmp(m->field, path) == 0 &&
        (strstr(m->text, "is not between") || strstr(m->text, "no whole number"))) {
      range = true;
      snprintf(hint, size, "%s", m->hint ? m->hint : "");
    }
  }
  tw_messages_free(messages);
  return range;
}

static bool refused_number(const tw_field_info *f, double shown)
{
  char text[96], hint[300];
  const bool plain = strcmp(f->unit, "1") == 0;
  if (f->type == TW_TYPE_COUNT) {
    snprintf(text, sizeof text, "%.0f", shown);
  } else {
    snprintf(text, sizeof text, "%.15g%s%s", shown, plain ? "" : " ", plain ? "" : f->unit);
  }
  return refused(f->path, text, hint, sizeof hint);
}

/* a step that is small against the limit, not against the other one */
static double step(const tw_field_info *f, double limit)
{
  if (f->type == TW_TYPE_COUNT) {
    return 1;
  }
  return limit != 0 ? 1e-3 * fabs(limit) : 1e-6 * fmax(fabs(f->least), fabs(f->most));
}

static void both_ends_of_every_range_hold(void **state)
{
  (void)state;
  int wrong = 0, seen = 0;
  for (int i = 0; i < TW_FIELD_COUNT; i++) {
    const tw_field_info *f = tw_field_of((tw_field)i);
    if (f->type != TW_TYPE_QUANTITY && f->type != TW_TYPE_NUMBER && f->type != TW_TYPE_COUNT) {
      continue;
    }
    seen++;
    assert_true(f->least < f->most);
    const struct {
      double shown;
      bool refused;
    } tries[] = {{f->least, false},
                 {f->most, false},
                 {f->least - step(f, f->least), true},
                 {f->most + step(f, f->most), true}};
    for (size_t t = 0; t < sizeof tries / sizeof tries[0]; t++) {
      if (refused_number(f, tries[t].shown) != tries[t].refused) {
        print_message("%s: %.12g %s is %s\n", f->path, tries[t].shown, f->unit,
                      tries[t].refused ? "accepted" : "refused");
        wrong++;
      }
    }
  }
  assert_true(seen > 100);
  assert_int_equal(wrong, 0);
}

static void m_for_mega_is_named(void **state)
{
  (void)state;
  char hint[300] = "";
  assert_true(refused("circuit.bias_resistance", "1 mohm", hint, sizeof hint));
  assert_non_null(strstr(hint, "m means milli, M mega"));
  assert_true(refused("circuit.feedback_resistance", "10 mohm", hint, sizeof hint));
  assert_non_null(strstr(hint, "m means milli, M mega"));
  /* a length of 3 m is not a slip of this kind */
  assert_true(refused("disc.metal_diameter", "3 m", hint, sizeof hint));
  assert_null(strstr(hint, "mega"));
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(both_ends_of_every_range_hold),
      cmocka_unit_test(m_for_mega_is_named),
  };
  return cmocka_run_group_tests(tests, open_all, close_all);
}
