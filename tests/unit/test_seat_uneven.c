/* Which sideways directions trip harder, and why, in words: each kind of sentence, and the closed
 * form of three flat seats. */
#include "seat_models.h"
#include "seat_scenes.h"

#include <string.h>

static const double degree = 3.14159265358979323846 / 180;

static tw_seat_touch_result touch_at(double azimuth_deg, double force, size_t relieved)
{
  return (tw_seat_touch_result){.azimuth = azimuth_deg * degree,
                                .state = TW_SEAT_TRIPPED,
                                .force = force,
                                .relieved = relieved};
}

static void says(size_t count, const tw_seat_touch_result *touch, const char *text)
{
  char out[TW_SEAT_UNEVEN];
  assert_int_equal(tw_seat_uneven(count, touch, out, sizeof out), text[0] != '\0');
  assert_string_equal(out, text);
}

static void each_kind_has_its_sentence(void **state)
{
  (void)state;
  tw_seat_touch_result t[3] = {touch_at(0, 0.1, 1), touch_at(60, 0.2, 2), touch_at(90, 0.15, 1)};
  says(3, t,
       "hardest at azimuth 60 deg (2 times the softest): two points share the lift-off; softest at "
       "0 "
       "deg: one point opens first");
  t[1].relieved = 1;
  says(3, t,
       "hardest at azimuth 60 deg (2 times the softest, at 0 deg): the lever differs; in both one "
       "point opens first");
  t[1].force = t[2].force = 0.1005;
  says(3, t, "alike from every side (within 1 %): one point opens first");
  t[0].relieved = t[1].relieved = 0;
  says(2, t, "alike from every side (within 1 %): no point opens before it trips");
  /* the axis is no side */
  t[1].elevation = 90 * degree;
  t[1].force = 9;
  says(2, t, "alike from every side (within 1 %): no point opens before it trips");
  t[2].state = TW_SEAT_NO_TRIP;
  says(3, t, "no trip at azimuth 90 deg; softest at 0 deg: no point opens before it trips");
  t[0].state = TW_SEAT_NO_ANSWER;
  says(3, t, "");
  t[0] = touch_at(0, 0, 1);
  says(1, t, "");
  says(0, t, "");
}

/* the longest sentence fits */
static void nothing_is_cut(void **state)
{
  (void)state;
  char out[TW_SEAT_UNEVEN];
  tw_seat_touch_result t[2] = {touch_at(345, 0.777, 9), touch_at(330, 0.0123, 9)};
  assert_true(tw_seat_uneven(2, t, out, sizeof out));
  assert_true(strlen(out) < sizeof out - 1);
  t[1].relieved = 3;
  assert_true(tw_seat_uneven(2, t, out, sizeof out));
  assert_non_null(strstr(out, "three points share the lift-off"));
  assert_true(strlen(out) < sizeof out - 1);
}

/* carrier on three flat seats: moments about them give F = (S - 3 N) b/(2 L max cos(a - a_i)), so
 * that half way between two points (60 deg off each) it is twice that towards one */
static void three_flat_seats_are_two_to_one(void **state)
{
  (void)state;
  tw_seat_spec s = scene_tripod(false);
  tw_seat_model *m = model(&s);
  tw_seat_work *w = tw_seat_work_new(m);
  tw_seat_options options;
  tw_seat_options_default(&options);
  options.metric = TW_SEAT_BY_OPENING;
  options.opening_force = 1e-6;
  tw_seat_touch_result t[12];
  for (size_t i = 0; i < 12; i++) {
    assert_int_equal(tw_seat_touch(m, w, 30 * (double)i * degree, 0, &options, &t[i], NULL), TW_OK);
  }
  char out[TW_SEAT_UNEVEN];
  assert_true(tw_seat_uneven(12, t, out, sizeof out));
  print_message("%s\n", out);
  assert_non_null(strstr(out, "(2 times the softest): two points share the lift-off"));
  assert_non_null(strstr(out, "one point opens first"));
  tw_seat_work_free(w);
  tw_seat_model_free(m);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(each_kind_has_its_sentence),
      cmocka_unit_test(nothing_is_cut),
      cmocka_unit_test(three_flat_seats_are_two_to_one),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
