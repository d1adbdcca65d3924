/* The range of feeds that is printed, held against single touches: over random designs of all
 * families, and over a field that has nothing to do with it. */
#include "design_fixture.h"
#include "random_designs.h"
#include "tripwright/assess.h"
#include "tripwright/probe.h"

#include <stdlib.h>

#define MM_MIN (1e-3 / 60)
#define SEED   20260117 /* any */
/* feeds tried inside each range, besides its ends */
#define BETWEEN 6

static const double pole = 1.57079632679489662;

static uint64_t designs(void)
{
  const char *prove = getenv("TW_PROVE");
  return prove != NULL && prove[0] == '1' ? 1000 : 24;
}

typedef struct tally {
  int ways, silent, shut, gaps, reasons[TW_WINDOW_NEVER + 1], touches_most, wrong;
} tally;

typedef struct way {
  const tw_design *design;
  const tw_probe *probe;
  tw_probe_touch touch;
  tw_touch_work *work;
  double elevation, room;
} way;

/* the touch that `touch --feed` runs, with the controller's look at `phase` */
static tw_touch_one touch_at(way *y, double feed, double phase)
{
  tw_touch_motion motion;
  tw_touch_result r;
  tw_fault fault = {0};
  assert_int_equal(tw_probe_motion(y->design, y->probe, feed, &motion, &fault), TW_OK);
  tw_probe_search(y->probe, &y->touch, &motion);
  motion.sample_phase = phase;
  motion.until = TW_UNTIL_STOP;
  const tw_status status = tw_touch_run(&y->touch.model, &motion, y->work, NULL, &r, &fault);
  if (status != TW_OK) {
    print_message("%s: %s\n", fault.field, fault.text);
  }
  assert_int_equal(status, TW_OK);
  return r.first;
}

static double printed(double feed, int side)
{
  tw_unit unit;
  assert_int_equal(tw_units_find(units, "mm/min", &unit, NULL), TW_OK);
  return tw_number_rounded(feed, &unit, 3, side);
}

static bool good(way *y, double feed, double phase)
{
  const tw_touch_one one = touch_at(y, feed, phase);
  return one.reached == TW_REACHED_STOP_END && one.overtravel <= y->room;
}

static void complain(tally *t, const random_draw *draw, const way *y, double feed, const char *what)
{
  t->wrong++;
  random_draw_print(draw);
  print_message("    elevation %.0f: %s at %.4g mm/min\n", y->elevation * 57.29578, what,
                feed / MM_MIN);
}

/* the slow end trips as printed; 1 % below it does not, unless it is said why */
static void slow_end(way *y, const tw_window *w, const random_draw *draw, tally *t)
{
  const double slow = printed(w->slowest, 1);
  if (touch_at(y, slow, 0.5).state != TW_TOUCH_OK) {
    complain(t, draw, y, slow, "the slowest feed does not trip");
  }
  const bool said = w->gap || w->slow_reason != TW_WINDOW_LEAK;
  if (!said && touch_at(y, 0.99 * w->slowest, 0.5).reached >= TW_REACHED_OUTPUT) {
    complain(t, draw, y, 0.99 * w->slowest, "it still trips under the slowest feed");
  }
}

static void range(way *y, const tw_window *w, tw_random *random, const random_draw *draw, tally *t)
{
  const double slow = printed(w->slowest, 1), fast = printed(w->fastest, -1);
  if (w->slowest > w->fastest) {
    complain(t, draw, y, w->fastest, "the slowest feed lies above the fastest");
  }
  for (int i = 0; i <= BETWEEN + 1 && slow <= fast; i++) {
    const double share = i > BETWEEN ? 1 : tw_random_uniform(random);
    const double feed = i == 0 ? slow : i > BETWEEN ? fast : slow * pow(fast / slow, share);
    if (!good(y, feed, tw_random_uniform(random))) {
      complain(t, draw, y, feed, "a feed of the range is not good");
    }
  }
}

static void one_way(const tw_design *design, const tw_probe *probe, double elevation,
                    const random_draw *draw, tw_random *random, tally *t)
{
  static way y;
  tw_seat_work *seat = tw_seat_work_new(probe->seat);
  tw_window w;
  tw_fault fault = {0};
  y.design = design;
  y.probe = probe;
  y.elevation = elevation;
  y.work = tw_touch_work_new();
  const tw_status status = tw_probe_touch_of(design, probe, seat, 0, elevation, &y.touch, &fault);
  t->ways++;
  y.room = y.touch.room;
  if (status != TW_OK) {
    assert_true(fault.text[0]);
    t->silent++;
  } else {
    assert_int_equal(tw_probe_window(design, probe, &y.touch, elevation, y.work, &w, &fault),
                     TW_OK);
    t->reasons[w.slow_reason]++;
    t->gaps += w.gap;
    t->shut += w.trips && !(w.fastest > 0);
    t->touches_most = w.touches > t->touches_most ? w.touches : t->touches_most;
    if (w.trips) {
      slow_end(&y, &w, draw, t);
    }
    if (w.fastest > 0) {
      range(&y, &w, random, draw, t);
    }
  }
  tw_touch_work_free(y.work);
  tw_seat_work_free(seat);
}

static void ranges_hold(void **state)
{
  (void)state;
  tally t = {0};
  tw_random random;
  tw_random_start(&random, SEED, 1u << 30);
  for (uint64_t i = 0; i < designs(); i++) {
    random_draw draw;
    tw_probe *probe = NULL;
    tw_design *design = random_design(units, library, SEED, i, "", &draw);
    assert_non_null(design);
    if (tw_probe_new_to_touch(design, &probe, NULL) == TW_OK && probe->trouble.status == TW_OK) {
      one_way(design, probe, 0, &draw, &random, &t);
      one_way(design, probe, pole, &draw, &random, &t);
    }
    tw_probe_free(probe);
    tw_design_free(design);
  }
  print_message(
      "%d ways: %d do not trip, %d without a good feed, %d with a gap that is named; slow "
      "end: leak %d, bias %d, searched %d, overtravel %d, missed %d, never %d; at most %d "
      "touches for a range\n",
      t.ways, t.silent, t.shut, t.gaps, t.reasons[0], t.reasons[1], t.reasons[2], t.reasons[3],
      t.reasons[4], t.reasons[5], t.touches_most);
  assert_int_equal(t.wrong, 0);
  assert_true(t.reasons[TW_WINDOW_LEAK] > 5); /* designs that are stuck have no range */
}

/* the hollow under the disc has no part in the range of feeds of a pivot: as it is made deeper, the
 * range stays */
static void hollow_leaves_the_range(void **state)
{
  (void)state;
  static const char *const depth[] = {"18 um", "20 um", "22 um",   "24 um",
                                      "26 um", "28 um", "26.4 um", "60 um"};
  tw_measure_set wanted = {{0}};
  wanted.has[TW_M_slowest_feed] = wanted.has[TW_M_fastest_feed] = true;
  double first = 0;
  for (size_t i = 0; i < sizeof depth / sizeof depth[0]; i++) {
    const tw_set set = {"support.void_depth", depth[i]};
    const tw_read_options read = {
        .units = units, .library = library, .need = TW_NEED_ALL, .sets = &set, .set_count = 1};
    tw_messages *messages = tw_messages_new();
    tw_design *design = NULL;
    assert_int_equal(
        tw_design_read(TW_SOURCE_DIR "/examples/pillar-indexer.yaml", &read, messages, &design),
        TW_OK);
    tw_assess_options options = tw_assess_defaults();
    static tw_assessment a;
    options.wanted = &wanted;
    assert_int_equal(tw_assess(design, &options, &a, NULL), TW_OK);
    const double slow = a.measure[TW_M_slowest_feed].value;
    print_message("%s: %.4f to %.1f mm/min\n", depth[i], slow / MM_MIN,
                  a.measure[TW_M_fastest_feed].value / MM_MIN);
    first = i == 0 ? slow : first;
    assert_rel(slow, first, 2e-3);
    assert_rel(a.measure[TW_M_fastest_feed].value, 3000 * MM_MIN, 1e-9);
    tw_design_free(design);
    tw_messages_free(messages);
  }
}

/* The slowest feed of `check` trips from every side: three points of contact give more charge for a
 * millimetre where two of them open than where one does, and both must trip. */
static void slowest_feed_is_of_every_side(void **state)
{
  (void)state;
  const tw_read_options read = {.units = units, .library = library, .need = TW_NEED_ALL};
  tw_messages *messages = tw_messages_new();
  tw_design *design = NULL;
  assert_int_equal(
      tw_design_read(TW_SOURCE_DIR "/examples/pillar-indexer.yaml", &read, messages, &design),
      TW_OK);
  tw_messages_free(messages);
  tw_assess_options options = tw_assess_defaults();
  tw_measure_set wanted = {{0}};
  wanted.has[TW_M_slowest_feed] = wanted.has[TW_M_slowest_feed_static] = true;
  options.wanted = &wanted;
  static tw_assessment a;
  assert_int_equal(tw_assess(design, &options, &a, NULL), TW_OK);
  const double slowest = a.measure[TW_M_slowest_feed].value;
  tw_probe *probe = NULL;
  assert_int_equal(tw_probe_new_to_touch(design, &probe, NULL), TW_OK);
  tw_seat_work *seat = tw_seat_work_new(probe->seat);
  static way y;
  y = (way){.design = design, .probe = probe, .work = tw_touch_work_new()};
  int fails_below = 0;
  for (int k = 0; k < 24; k++) {
    const double azimuth = k * pole / 6;
    assert_int_equal(tw_probe_touch_of(design, probe, seat, azimuth, 0, &y.touch, NULL), TW_OK);
    if (touch_at(&y, printed(slowest, 1), 0.5).state != TW_TOUCH_OK) {
      print_message("does not trip at azimuth %d deg\n", 15 * k);
      assert_true(false);
    }
    fails_below += touch_at(&y, 0.98 * slowest, 0.5).state != TW_TOUCH_OK;
  }
  print_message("%.4g mm/min, static %.4g; 2 %% below %d of 24 sides do not trip\n",
                slowest / MM_MIN, a.measure[TW_M_slowest_feed_static].value / MM_MIN, fails_below);
  assert_true(fails_below > 0); /* and it is no slower than it must be */
  assert_true(a.measure[TW_M_slowest_feed_static].value <= slowest * 1.01);
  tw_touch_work_free(y.work);
  tw_seat_work_free(seat);
  tw_probe_free(probe);
  tw_design_free(design);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(ranges_hold),
      cmocka_unit_test(hollow_leaves_the_range),
      cmocka_unit_test(slowest_feed_is_of_every_side),
  };
  return cmocka_run_group_tests(tests, open_all, close_all);
}
