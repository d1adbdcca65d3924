/* The whole chain on a made machine: program, recorded points, tip table, points corrected, and
 * back at the wall, within the uncertainty that is stated. */
#include "made_machine.h"
#include "near.h"
#include "tripwright/qualify_tip.h"

#include <string.h>

#define MM     1e-3
#define UM     1e-6
#define MM_MIN (1e-3 / 60)
#define DEG    (MADE_PI / 180.0)
#define ROOM   512

static made_machine machine(double noise)
{
  made_machine m = {.ball = {10 * UM, -4 * UM},
                    .radius = 2.99 * MM,
                    .lobe = {0.5 * UM, 3.7 * UM, 1.4 * UM},
                    .delay = 1.2e-3,
                    .noise = noise,
                    .centre = {80.07 * MM, 39.95 * MM},
                    .bore = 50.0012 * MM};
  tw_random_start(&m.random, 41, 7);
  return m;
}

static tw_plan plan(tw_program_test test)
{
  tw_plan p;
  tw_plan_start(test, &p);
  p.contact[0] = 80 * MM;
  p.contact[1] = 40 * MM;
  p.contact[2] = -10 * MM;
  p.diameter = 50 * MM;
  p.tip_diameter = 6 * MM;
  p.top = 0;
  p.clearance = 10 * MM;
  p.overtravel = 3 * MM;
  p.deceleration = 0.5;
  p.feed_touch = 60 * MM_MIN;
  p.entry_secured = true;
  return p;
}

static size_t touch_all(made_machine *m, const tw_plan *p, made_touch *out)
{
  tw_messages *messages = tw_messages_new();
  tw_program *g = NULL;
  tw_words w;
  tw_words_start(&w);
  assert_int_equal(tw_program_make(p, &w, messages, &g), TW_OK);
  const size_t n = made_run(m, g, out, ROOM);
  assert_int_equal(n, g->touches);
  tw_program_free(g);
  tw_messages_free(messages);
  return n;
}

/* ring at spindle angle 0: the direction table */
static void table_of(made_machine *m, tw_tip *tip)
{
  static made_touch t[ROOM];
  static double point[2 * ROOM];
  const tw_plan p = plan(TW_TEST_RING);
  const size_t n = touch_all(m, &p, t);
  for (size_t i = 0; i < n; i++) {
    point[2 * i] = t[i].at[0];
    point[2 * i + 1] = t[i].at[1];
  }
  assert_int_equal(tw_tip_from_points(point, n, TW_RING, m->bore, 0, 6, 0, tip, NULL), TW_OK);
  tip->feed = p.feed_touch;
  tip->approach = p.approach;
}

/* one wall at four feeds: error along the travel against feed */
static void delay_of(made_machine *m, tw_tip *tip)
{
  static made_touch t[ROOM];
  static double feed[ROOM], error[ROOM];
  tw_plan p = plan(TW_TEST_FEEDS);
  const double feeds[] = {30 * MM_MIN, 60 * MM_MIN, 120 * MM_MIN, 240 * MM_MIN};
  made_machine wall = *m;
  wall.bore = 0;
  wall.normal = MADE_PI; /* touched by moving along +X */
  wall.wall = -(p.contact[0] + 3 * MM);
  p.azimuth = MADE_PI;
  p.feeds = 4;
  memcpy(p.feed, feeds, sizeof feeds);
  const size_t n = touch_all(&wall, &p, t);
  m->random = wall.random;
  for (size_t i = 0; i < n; i++) {
    feed[i] = t[i].feed;
    error[i] = (t[i].at[0] - p.contact[0]) * t[i].along[0];
  }
  tw_feed_error e;
  assert_int_equal(tw_feed_error_of(feed, error, n, 0.95, &e, NULL), TW_OK);
  assert_int_equal(tw_tip_take_delay(tip, &e, feeds[0], feeds[3], NULL), TW_OK);
}

static void offset_of(made_machine *m, tw_tip *tip, size_t touches)
{
  static made_touch t[ROOM];
  static double spindle[ROOM], point[2 * ROOM];
  tw_plan p = plan(TW_TEST_OFFSET);
  p.touches = touches;
  const size_t n = touch_all(m, &p, t);
  for (size_t i = 0; i < n; i++) {
    spindle[i] = t[i].spindle;
    point[2 * i] = t[i].at[0];
    point[2 * i + 1] = t[i].at[1];
  }
  assert_int_equal(tw_tip_offset_from_touches(tip, spindle, point, n, TW_RING, NULL), TW_OK);
}

struct back {
  double worst, squares, outside, count;
};

/* walls all round at 130 mm from the origin, four spindle angles, another feed, and back */
static void walls(made_machine *m, const tw_tip *tip, struct back *b)
{
  static made_touch t[ROOM];
  for (int a = 0; a < 12; a++) {
    made_machine wall = *m;
    tw_plan p = plan(TW_TEST_REPEAT);
    p.azimuth = (a * 30 + 10) * DEG;
    p.touches = 2;
    p.feed_touch = 120 * MM_MIN;
    wall.bore = 0;
    wall.normal = p.azimuth;
    wall.wall = 130 * MM;
    p.contact[0] = (130 * MM + 3 * MM) * cos(p.azimuth);
    p.contact[1] = (130 * MM + 3 * MM) * sin(p.azimuth);
    for (int turn = 0; turn < 4; turn++) {
      tw_messages *messages = tw_messages_new();
      tw_program *g = NULL;
      tw_words w;
      tw_words_start(&w);
      assert_int_equal(tw_program_make(&p, &w, messages, &g), TW_OK);
      tw_messages_free(messages);
      /* the spindle is turned before the program starts */
      double at[3] = {0};
      for (size_t i = 0; i < g->count; i++) {
        const tw_move *move = &g->move[i];
        if (move->kind == TW_MOVE_COUNTED) {
          assert_true(made_trip(&wall, at, move->to, move->feed, turn * 90 * DEG, t));
          const tw_touched touched = {.at = {t->at[0], t->at[1], t->at[2]},
                                      .azimuth = p.azimuth,
                                      .feed = t->feed,
                                      .spindle = t->spindle,
                                      .u = m->noise};
          tw_surface s;
          assert_int_equal(tw_tip_apply(tip, &touched, &s, NULL), TW_OK);
          const double off = s.at[0] * cos(p.azimuth) + s.at[1] * sin(p.azimuth) - 130 * MM;
          b->worst = fmax(b->worst, fabs(off));
          b->squares += s.u > 0 ? off * off / (s.u * s.u) : 0;
          b->outside += fabs(off) > 2 * s.u;
          b->count++;
        }
        for (int k = 0; k < 3 && move->feed > 0 && move->kind != TW_MOVE_RECORD; k++) {
          at[k] = move->to[k];
        }
      }
      tw_program_free(g);
    }
    m->random = wall.random;
  }
}

static void chain(made_machine *m, size_t touches, struct back *b, tw_tip *tip)
{
  table_of(m, tip);
  delay_of(m, tip);
  offset_of(m, tip, touches);
  walls(m, tip, b);
}

/* exact touches: what is left are the second-order parts, far below a hundredth of a micrometre */
static void without_noise_it_is_exact(void **state)
{
  (void)state;
  static tw_tip tip;
  const size_t touches[] = {4, 12, 36};
  for (size_t i = 0; i < 3; i++) {
    made_machine m = machine(0);
    struct back b = {0};
    chain(&m, touches[i], &b, &tip);
    assert_near(tip.offset[0], 10 * UM, 0.01 * UM);
    assert_near(tip.offset[1], -4 * UM, 0.01 * UM);
    assert_near(tip.delay, 1.2e-3, 1e-9);
    assert_near(b.worst, 0, 0.01 * UM);
  }
}

/* 100 machines with 0.4 um of noise: the stated u is what the walls really scatter by */
static void with_noise_it_is_within_u(void **state)
{
  (void)state;
  static tw_tip tip;
  struct back b = {0};
  for (unsigned k = 0; k < 100; k++) {
    made_machine m = machine(0.4 * UM);
    tw_random_start(&m.random, 1000, k);
    m.centre[0] += 0.02 * MM * tw_random_normal(&m.random);
    chain(&m, k % 2 ? 12 : 4, &b, &tip);
  }
  const double ratio = sqrt(b.squares / b.count), outside = b.outside / b.count;
  print_message("walls: error over u %.3f, outside 2 u %.1f %%\n", ratio, 100 * outside);
  assert_true(ratio > 0.8 && ratio < 1.1);
  assert_true(outside < 0.08);
  assert_true(b.worst < 4 * UM);
}

/* centres from plain circles: with four touches the three lobes pass for an offset, wholly */
static void four_touches_take_lobes_for_offset(void **state)
{
  (void)state;
  static made_touch t[ROOM];
  static tw_tip tip;
  made_machine m = machine(0);
  table_of(&m, &tip);
  const double hidden = tw_tip_hidden_by_four(&tip);
  assert_near(hidden, m.lobe[1], 0.01 * UM);
  for (size_t touches = 4; touches <= 12; touches += 8) {
    tw_plan p = plan(TW_TEST_OFFSET);
    p.touches = touches;
    assert_int_equal(touch_all(&m, &p, t), 4 * touches);
    double angle[4], centre[8], point[24];
    for (size_t k = 0; k < 4; k++) {
      for (size_t i = 0; i < touches; i++) {
        point[2 * i] = t[k * touches + i].at[0];
        point[2 * i + 1] = t[k * touches + i].at[1];
      }
      tw_fit fit;
      assert_int_equal(tw_fit_form(TW_CIRCLE, point, touches, 2, NULL, &fit, NULL), TW_OK);
      angle[k] = t[k * touches].spindle;
      centre[2 * k] = fit.centre[0];
      centre[2 * k + 1] = fit.centre[1];
    }
    tw_offset o;
    assert_int_equal(tw_offset_of(angle, centre, 4, 0, &o, NULL), TW_OK);
    tw_tip_take_offset(&tip, &o);
    const double off = hypot(tip.offset[0] - m.ball[0], tip.offset[1] - m.ball[1]);
    assert_near(off, touches == 4 ? hidden : 0, 0.02 * UM);
  }
}

/* an error counted against the travel gives a delay that cannot be */
static void a_delay_below_zero_is_refused(void **state)
{
  (void)state;
  static tw_tip tip;
  const double feed[] = {30 * MM_MIN, 60 * MM_MIN, 120 * MM_MIN, 240 * MM_MIN};
  double error[4];
  for (int sign = -1; sign <= 1; sign += 2) {
    tw_feed_error e;
    tw_fault fault = {0};
    for (int i = 0; i < 4; i++) {
      error[i] = sign * 1.2e-3 * feed[i] + 0.05 * UM * (i % 2);
    }
    assert_int_equal(tw_feed_error_of(feed, error, 4, 0.95, &e, NULL), TW_OK);
    assert_int_equal(tw_tip_take_delay(&tip, &e, feed[0], feed[3], &fault),
                     sign < 0 ? TW_BAD_INPUT : TW_OK);
    assert_true(sign > 0 || strstr(fault.hint, "along the travel"));
  }
  /* near nothing it may come out a little below zero */
  for (int i = 0; i < 4; i++) {
    error[i] = 1 * UM * (i % 2);
  }
  tw_feed_error e;
  assert_int_equal(tw_feed_error_of(feed, error, 4, 0.95, &e, NULL), TW_OK);
  assert_int_equal(tw_tip_take_delay(&tip, &e, feed[0], feed[3], NULL), TW_OK);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(without_noise_it_is_exact),
      cmocka_unit_test(with_noise_it_is_within_u),
      cmocka_unit_test(four_touches_take_lobes_for_offset),
      cmocka_unit_test(a_delay_below_zero_is_refused),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
