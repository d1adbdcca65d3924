/* What `new` writes: each starting file meets its own requirements, its feed lies in its own range,
 * and a touch at that feed from every side that it asks for trips and stops; for every seat family,
 * kind of circuit and link. */
#include "design_fixture.h"
#include "tripwright/assess.h"
#include "tripwright/probe.h"

#include <math.h>
#include <stdlib.h>

#define MM_MIN (1e-3 / 60)
static const double pole = 1.57079632679489662;

static tw_design *starter_read(int seat, int circuit, int link, tw_limits *limits)
{
  char text[TW_STARTER_LENGTH];
  const int length = tw_design_starter_print(seat, circuit, link, text, sizeof text);
  assert_in_range(length, 1, sizeof text - 1);
  const tw_read_options read = {.units = units, .library = library, .need = TW_NEED_ALL};
  tw_messages *messages = tw_messages_new();
  tw_design *design = NULL;
  const tw_status status = tw_design_parse(text, strlen(text), NULL, &read, messages, &design);
  for (size_t i = 0; status != TW_OK && i < tw_messages_count(messages); i++) {
    const tw_message *m = tw_messages_at(messages, i);
    print_message("%d: %s: %s\n", m->line, m->field, m->text);
  }
  assert_int_equal(status, TW_OK);
  assert_int_equal(tw_limits_read(design, units, messages, limits), TW_OK);
  tw_messages_free(messages);
  return design;
}

/* the touch that `touch --feed` runs, at the file's own feed */
static void touches(const tw_design *design, double elevation)
{
  tw_probe *probe = NULL;
  tw_fault fault = {0};
  static tw_probe_touch touch;
  tw_touch_motion motion;
  tw_touch_result r;
  assert_int_equal(tw_probe_new_to_touch(design, &probe, &fault), TW_OK);
  tw_seat_work *seat = tw_seat_work_new(probe->seat);
  tw_touch_work *work = tw_touch_work_new();
  assert_int_equal(tw_probe_touch_of(design, probe, seat, 0, elevation, &touch, &fault), TW_OK);
  const double feed = tw_design_number(design, TW_F_machine_feed);
  assert_int_equal(tw_probe_motion(design, probe, feed, &motion, &fault), TW_OK);
  tw_probe_search(probe, &touch, &motion);
  motion.until = TW_UNTIL_STOP;
  assert_int_equal(tw_touch_run(&touch.model, &motion, work, NULL, &r, &fault), TW_OK);
  assert_int_equal(r.first.state, TW_TOUCH_OK);
  assert_int_equal(r.first.reached, TW_REACHED_STOP_END);
  assert_true(r.first.overtravel <= touch.room);
  tw_touch_work_free(work);
  tw_seat_work_free(seat);
  tw_probe_free(probe);
}

/* what none of them may say: its remedy would be another resistor, which a starter can have */
static void no_warning_on(const tw_assessment *a, const char *field)
{
  for (int i = 0; i < a->warnings; i++) {
    if (strcmp(a->warning[i].field, field) == 0) {
      print_message("  %s: %s\n", field, a->warning[i].text);
    }
    assert_string_not_equal(a->warning[i].field, field);
  }
}

static void starter_works(int seat, int circuit, int link)
{
  static tw_limits limits;
  static tw_assessment a;
  tw_design *design = starter_read(seat, circuit, link, &limits);
  tw_assess_options options = tw_assess_defaults();
  options.limits = &limits;
  options.map = options.contributions = false;
  assert_int_equal(tw_assess(design, &options, &a, NULL), TW_OK);
  const double feed = tw_design_number(design, TW_F_machine_feed);
  print_message("%s, %s, %s: %d of %d met, %.3g <= %.3g <= %.4g mm/min\n",
                tw_choice_word(TW_SET_SEAT, seat), tw_choice_word(TW_SET_CIRCUIT, circuit),
                tw_choice_word(TW_SET_LINK, link), a.met, a.asked,
                a.measure[TW_M_slowest_feed].value / MM_MIN, feed / MM_MIN,
                a.measure[TW_M_fastest_feed].value / MM_MIN);
  assert_true(a.asked > 0);
  assert_int_equal(a.met, a.asked);
  assert_int_equal(a.measure[TW_M_slowest_feed].state, TW_MEASURE_OK);
  assert_int_equal(a.measure[TW_M_fastest_feed].state, TW_MEASURE_OK);
  assert_true(a.measure[TW_M_slowest_feed].value <= feed);
  assert_true(a.measure[TW_M_fastest_feed].value >= feed);
  no_warning_on(&a, "circuit.bias_resistance");
  no_warning_on(&a, "circuit.polarity");
  no_warning_on(&a, "machine.dwell");
  no_warning_on(&a, "machine.approach_feed");
  if (limits.of[TW_M_trip_force_side].given) {
    touches(design, 0);
  }
  if (limits.of[TW_M_trip_force_axial].given) {
    touches(design, pole);
  }
  tw_design_free(design);
}

/* Every family with every circuit that it takes and every link; in a short run half of the
 * circuits for each family, all of them over the families, and the links take turns. */
static void every_starter_works(void **state)
{
  (void)state;
  const char *prove = getenv("TW_PROVE");
  const bool all = prove != NULL && prove[0] == '1';
  int count = 0, turn = 0;
  for (int seat = 0; seat < TW_SEAT_COUNT; seat++) {
    for (int circuit = 0; circuit < TW_CIRCUIT_COUNT; circuit++) {
      const bool contact = circuit == TW_CIRCUIT_CONTACT && seat != TW_SEAT_TRIPOD;
      assert_int_equal(tw_design_starter(seat, circuit) == NULL, contact);
      const bool taken = (seat + circuit) % 2 == 0 || circuit == TW_CIRCUIT_CONTACT;
      for (int link = 0; link < TW_LINK_COUNT && !contact; link++) {
        if (all || (taken && link == turn % TW_LINK_COUNT)) {
          starter_works(seat, circuit, link);
        }
      }
      count += !contact;
      turn += taken && !contact;
    }
  }
  assert_int_equal(count, 17); /* four circuits for each of four families, contacts for one */
}

/* the family's usual circuit, and what there is no file for */
static void what_is_asked_for(void **state)
{
  (void)state;
  char text[TW_STARTER_LENGTH];
  for (int seat = 0; seat < TW_SEAT_COUNT; seat++) {
    assert_string_equal(tw_design_template(seat), tw_design_starter(seat, -1));
    assert_true(tw_design_starter_print(seat, -1, -1, text, sizeof text) > 0);
    assert_string_equal(text, tw_design_template(seat));
  }
  assert_null(tw_design_starter(-1, 0));
  assert_null(tw_design_starter(TW_SEAT_COUNT, 0));
  assert_null(tw_design_starter(0, TW_CIRCUIT_COUNT));
  assert_int_equal(
      tw_design_starter_print(TW_SEAT_PIVOT, TW_CIRCUIT_CONTACT, -1, text, sizeof text), 0);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(every_starter_works),
      cmocka_unit_test(what_is_asked_for),
  };
  return cmocka_run_group_tests(tests, open_all, close_all);
}
