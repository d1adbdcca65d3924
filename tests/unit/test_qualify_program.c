/* Motion programs: read back by an independent checker; every refusal; listing and drawing. */
#include "near.h"
#include "ngc_check.h"
#include "tripwright/qualify_program.h"

#define MM     1e-3
#define MM_MIN (1e-3 / 60)

static tw_plan good(tw_program_test test)
{
  tw_plan p;
  tw_plan_start(test, &p);
  p.contact[0] = 100 * MM;
  p.contact[1] = 50 * MM;
  p.contact[2] = -20 * MM;
  p.azimuth = 0;
  p.diameter = test == TW_TEST_SPHERE ? 25 * MM : 50 * MM;
  p.tip_diameter = 6 * MM;
  p.top = test == TW_TEST_SPHERE ? -7 * MM : -5 * MM;
  p.clearance = 10 * MM;
  p.overtravel = 3 * MM;
  p.deceleration = 0.5;
  p.entry_secured = true;
  if (test == TW_TEST_FEEDS) {
    p.feeds = 3;
    p.feed[0] = 30 * MM_MIN;
    p.feed[1] = 60 * MM_MIN;
    p.feed[2] = 120 * MM_MIN;
  }
  return p;
}

static tw_program *make(const tw_plan *p, const tw_words *w)
{
  tw_messages *m = tw_messages_new();
  tw_program *g;
  const tw_status status = tw_program_make(p, w, m, &g);
  for (size_t i = 0; i < tw_messages_count(m); i++) {
    char text[600];
    tw_message_print(tw_messages_at(m, i), text, sizeof text);
    print_error("%s", text);
  }
  assert_int_equal(status, TW_OK);
  tw_messages_free(m);
  return g;
}

static void check(const tw_plan *p, const tw_words *w, ngc_rules rules, ngc_seen *seen)
{
  tw_program *g = make(p, w);
  char *text;
  assert_int_equal(tw_program_text(g, w, "a test (made up)", &text, NULL), TW_OK);
  char *copy = strdup(text);
  if (!ngc_check(copy, &rules, seen)) {
    print_error("%s: %s\n%s", tw_program_test_name(p->test), seen->problem, text);
    fail();
  }
  free(copy);
  tw_free(text);
  tw_program_free(g);
}

static void every_test_reads_back(void **state)
{
  (void)state;
  static const struct {
    tw_program_test test;
    int touches, stops, dwells;
  } rows[] = {{TW_TEST_REPEAT, 10, 0, 0}, {TW_TEST_FEEDS, 15, 0, 0},  {TW_TEST_RING, 36, 0, 0},
              {TW_TEST_SPHERE, 25, 0, 0}, {TW_TEST_OFFSET, 48, 4, 0}, {TW_TEST_DRIFT, 10, 0, 9}};
  for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
    const tw_plan p = good(rows[i].test);
    tw_words w;
    tw_words_start(&w);
    ngc_seen seen;
    check(&p, &w, (ngc_rules){10, 100, 1000, NULL}, &seen);
    assert_int_equal(seen.probes, 2 * rows[i].touches);
    assert_int_equal(seen.records, 3 * rows[i].touches);
    assert_int_equal(seen.stops, 1 + rows[i].stops); /* one before the first move */
    assert_int_equal(seen.dwells, rows[i].dwells);
    /* targets: one placement past the surface from the back-off; the whole way the first time */
    assert_near(seen.shortest_probe, 1.2, 1e-3);
    assert_true(seen.fastest <= 500 + 1e-6);
    /* with a guarded word nothing below the clearance needs the user's word for it */
    tw_plan guarded = p;
    guarded.entry_secured = false;
    guarded.feed_position = 200 * MM_MIN;
    snprintf(w.guarded, sizeof w.guarded, "G38.3");
    snprintf(w.orient, sizeof w.orient, "M19 R{angle}");
    check(&guarded, &w, (ngc_rules){10, 0, 1000, "38.3"}, &seen);
    assert_int_equal(seen.turns, rows[i].stops);
  }
}

/* straight down on to a face from above the clearance: nothing is below it but the touch */
static void axial_touch_needs_no_guarded_word(void **state)
{
  (void)state;
  tw_plan p = good(TW_TEST_REPEAT);
  p.elevation = 90 * 3.14159265358979323846 / 180;
  p.contact[2] = -2 * MM;
  p.top = -5 * MM;
  p.clearance = 0.5 * MM;
  p.entry_secured = false;
  tw_words w;
  tw_words_start(&w);
  ngc_seen seen;
  check(&p, &w, (ngc_rules){0.5, 0, 1000, NULL}, &seen);
  assert_near(seen.lowest, -2.2, 1e-3);
}

/* the checker itself must object to what it is there for */
static void checker_objects(void **state)
{
  (void)state;
  static const char *const bad[] = {
      "G0 X1 Y1 Z20\n",                                            /* rapid */
      "G1 X1 Y1 Z20\n",                                            /* no feed */
      "G1 X1 Y1 Z20 F100\nG1 X2 Y1 Z0 F100\n",                     /* below, unguarded */
      "G1 X1 Y1 Z20 F100\nG1 X1 Y1 Z0 F100\n",                     /* down, not secured */
      "G1 X1 Y1 Z20 F100\nG38.2 X1 Y1 Z0 F50\nG1 X3 Y1 Z0 F100\n", /* not the way back */
      "G1 X1 Y1 Z20 F100\nG38.2 X1.2 Y1 Z20 F50\n",                /* too short */
      "G1 X1 Y1 Z20 F2000\n",                                      /* too fast */
      "G1 X1 Y1 Z20 F100 Q3\n",                                    /* unknown letter */
      "(open\nG1 X1 Y1 Z20 F100\n",                                /* comment */
  };
  for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
    char text[400];
    snprintf(text, sizeof text, "G21\nG17 G40 G49 G61 G80 G90 G94\nG54\nM5\nM0\n%sM30\n", bad[i]);
    ngc_seen seen;
    if (ngc_check(text, &(ngc_rules){10, 0, 1000, NULL}, &seen)) {
      print_error("the checker let through: %s", bad[i]);
      fail();
    }
  }
  char fine[] =
      "G21\nG17 G40 G49 G61 G80 G90 G94\nG54\nM5\nM0\nG1 X1 Y1 Z20 F100\nG38.2 X1 Y1 Z0 F50\n"
      "G1 X1 Y1 Z20 F100\nM30\n";
  ngc_seen seen;
  assert_true(ngc_check(fine, &(ngc_rules){10, 0, 1000, NULL}, &seen));
}

/* ---- refusals -------------------------------------------------------------------------------- */

static void refuse(const tw_plan *p, const tw_words *w, const char *field)
{
  tw_messages *m = tw_messages_new();
  tw_program *g;
  assert_int_equal(tw_program_make(p, w, m, &g), TW_BAD_INPUT);
  assert_null(g);
  bool found = false;
  for (size_t i = 0; i < tw_messages_count(m); i++) {
    const tw_message *one = tw_messages_at(m, i);
    assert_non_null(one->hint);
    found |= one->field && strcmp(one->field, field) == 0;
  }
  if (!found) {
    char text[600] = "";
    if (tw_messages_count(m)) {
      tw_message_print(tw_messages_at(m, 0), text, sizeof text);
    }
    print_error("nothing about '%s', but\n%s", field, text);
    fail();
  }
  tw_messages_free(m);
}

static void every_refusal(void **state)
{
  (void)state;
  tw_words w;
  tw_words_start(&w);
  const double nan = (double)NAN;
#define REFUSE(test, change, field)                                                                \
  do {                                                                                             \
    tw_plan p = good(test);                                                                        \
    change;                                                                                        \
    refuse(&p, &w, field);                                                                         \
  } while (0)
  REFUSE(TW_TEST_REPEAT, p.contact[1] = nan, "at");
  REFUSE(TW_TEST_REPEAT, p.azimuth = nan, "azimuth");
  REFUSE(TW_TEST_REPEAT, p.elevation = -0.1, "elevation");
  REFUSE(TW_TEST_REPEAT, p.elevation = nan, "elevation");
  REFUSE(TW_TEST_RING, p.diameter = nan, "diameter");
  REFUSE(TW_TEST_RING, p.diameter = 7 * MM, "diameter"); /* the tip hardly fits */
  REFUSE(TW_TEST_SPHERE, p.tip_diameter = 0, "tip-diameter");
  REFUSE(TW_TEST_REPEAT, p.top = nan, "top");
  REFUSE(TW_TEST_SPHERE, p.top = -20 * MM, "top");
  REFUSE(TW_TEST_REPEAT, p.clearance = nan, "clearance");
  REFUSE(TW_TEST_REPEAT, p.clearance = -6 * MM, "clearance"); /* below the top */
  REFUSE(TW_TEST_RING, p.clearance = -3 * MM, "clearance");   /* above it by less than the ball */
  REFUSE(TW_TEST_REPEAT, p.entry_secured = false, "clearance");
  REFUSE(TW_TEST_REPEAT, p.approach = -1, "approach");
  REFUSE(TW_TEST_REPEAT, p.placement = 0, "placement");
  REFUSE(TW_TEST_REPEAT, p.back_off = nan, "back-off");
  REFUSE(TW_TEST_REPEAT, p.back_off = 0.1 * MM, "back-off"); /* still touching */
  REFUSE(TW_TEST_REPEAT, p.back_off = 5 * MM, "back-off");   /* past the start */
  REFUSE(TW_TEST_REPEAT, p.back_off = 0.13 * MM; p.placement = 0.1 * MM, "back-off"); /* 0.254 mm */
  REFUSE(TW_TEST_REPEAT, p.feed_position = 0, "position-feed");
  REFUSE(TW_TEST_REPEAT, p.feed_position = 2000 * MM_MIN, "position-feed"); /* above the limit */
  REFUSE(TW_TEST_REPEAT, p.feed_first = -5, "first-feed");
  REFUSE(TW_TEST_REPEAT, p.feed_touch = nan, "feed");
  REFUSE(TW_TEST_REPEAT, p.feed_limit = 0, "feed-limit");
  REFUSE(TW_TEST_REPEAT, p.feed_limit = 1e6; p.feed_position = 1, "position-feed"); /* 60 m/min */
  REFUSE(TW_TEST_REPEAT, p.overtravel = nan, "overtravel");
  REFUSE(TW_TEST_REPEAT, p.overtravel = 0.3 * MM, "feed"); /* two placements alone are 0.4 mm */
  REFUSE(TW_TEST_REPEAT, p.latency = 0.5; p.overtravel = 0.8 * MM, "feed"); /* 0.4 + 0.42 mm */
  REFUSE(TW_TEST_REPEAT, p.deceleration = nan, "deceleration");
  REFUSE(TW_TEST_REPEAT, p.deceleration = 0.0004, "feed"); /* run-up 0.87 mm in 0.8 */
  REFUSE(TW_TEST_REPEAT, p.latency = -1, "latency");
  REFUSE(TW_TEST_FEEDS, p.feed[2] = 900 * MM_MIN; p.deceleration = 0.05, "feeds");
  REFUSE(TW_TEST_FEEDS, p.feeds = 1, "feeds");
  REFUSE(TW_TEST_FEEDS, p.feed[1] = nan, "feeds");
  REFUSE(TW_TEST_REPEAT, p.touches = 1, "touches");
  REFUSE(TW_TEST_RING, p.touches = 5, "touches");
  REFUSE(TW_TEST_RING, p.touches = 2000, "touches");
  REFUSE(TW_TEST_OFFSET, p.turns = 3, "turns");
  REFUSE(TW_TEST_DRIFT, p.interval = 0, "interval");
  REFUSE(TW_TEST_SPHERE, p.reach = 10 * MM, "reach"); /* the equator is 13 mm below the top */
  /* the ball counts in every test, with a placement of air below it */
  REFUSE(TW_TEST_REPEAT, p.tip_diameter = nan, "tip-diameter");
  REFUSE(TW_TEST_REPEAT, p.clearance = -1.9 * MM, "clearance"); /* 0.1 mm of air */
  REFUSE(TW_TEST_RING, p.contact[2] = -5.1 * MM, "at");         /* above the top, nearly */
  REFUSE(TW_TEST_REPEAT, p.contact[2] = 0, "at");
  REFUSE(TW_TEST_REPEAT, p.elevation = 1.5707963267948966; p.contact[2] = 0, "at"); /* in the air */
  REFUSE(TW_TEST_RING, p.floor = -23.1 * MM, "floor"); /* 0.1 mm below the ball */
  REFUSE(TW_TEST_SPHERE, p.floor = -23.0 * MM, "floor");
  /* travels: stated ones, and what no workshop's machine has */
  REFUSE(TW_TEST_REPEAT, p.contact[0] = 100003 * MM, "at");
  REFUSE(TW_TEST_RING, p.travel[1][0] = 0; p.travel[1][1] = 70 * MM, "travel");
  REFUSE(TW_TEST_REPEAT, p.travel[2][0] = -100 * MM; p.travel[2][1] = 9 * MM, "travel");
  /* slips of a unit */
  REFUSE(TW_TEST_REPEAT, p.deceleration = 500, "deceleration");
  REFUSE(TW_TEST_REPEAT, p.overtravel = 3, "overtravel");
  REFUSE(TW_TEST_REPEAT, p.tip_diameter = 6, "tip-diameter");
  REFUSE(TW_TEST_RING, p.diameter = 50, "diameter");
  REFUSE(TW_TEST_REPEAT, p.latency = 20, "latency");
  REFUSE(TW_TEST_REPEAT, p.feed_touch = 0.004 * MM_MIN, "feed"); /* would be written F0.00 */
  REFUSE(TW_TEST_REPEAT, p.feed_position = 1e-9, "position-feed");
  snprintf(w.straight, sizeof w.straight, "G0");
  REFUSE(TW_TEST_REPEAT, (void)0, "straight");
  tw_words_start(&w);
  w.inches = true;
  REFUSE(TW_TEST_REPEAT, (void)0, "units");
  tw_words_start(&w);
  w.last_parameter = 1020;
  REFUSE(TW_TEST_REPEAT, (void)0, "touches"); /* ten touches do not fit into seven places */
  tw_words_start(&w);
  w.pause[0] = '\0';
  REFUSE(TW_TEST_OFFSET, (void)0, "turns");
  w.dwell[0] = '\0';
  REFUSE(TW_TEST_DRIFT, (void)0, "interval");
  snprintf(w.guarded, sizeof w.guarded, "G38.3");
  REFUSE(TW_TEST_REPEAT, p.feed_position = 1000 * MM_MIN; p.deceleration = 0.03, "position-feed");
}

static void all_reasons_at_once(void **state)
{
  (void)state;
  tw_plan p;
  tw_plan_start(TW_TEST_RING, &p);
  tw_words w;
  tw_words_start(&w);
  tw_messages *m = tw_messages_new();
  tw_program *g;
  assert_int_equal(tw_program_make(&p, &w, m, &g), TW_BAD_INPUT);
  assert_true(tw_messages_errors(m) >= 6); /* at, diameter, tip, top, clearance, overtravel, ... */
  tw_messages_free(m);
}

/* ---- words ----------------------------------------------------------------------------------- */

static void words_of_the_user(void **state)
{
  (void)state;
  static const char text[] = "# a made-up controller\nname = shop mill\ninches = yes\nunits = G70\n"
                             "probe = TOUCH\nrecord = SAY {n}\ncomment_open = ;\ncomment_close =\n"
                             "check = STOPIFTRIPPED {n}\nend = M2\n"
                             "own_words = TOUCH SAY STOPIFTRIPPED\n";
  tw_messages *m = tw_messages_new();
  tw_words w;
  assert_int_equal(tw_words_read_text("w", text, strlen(text), m, &w), TW_OK);
  const tw_plan p = good(TW_TEST_REPEAT);
  tw_program *g = make(&p, &w);
  char *out;
  assert_int_equal(tw_program_text(g, &w, "t", &out, NULL), TW_OK);
  assert_non_null(strstr(out, ";touch 10\n"));
  assert_non_null(strstr(out, "\nG70\n"));
  assert_non_null(strstr(
      out, "\nTOUCH X3.92913 Y1.96850 Z-0.78740 F1.9685\n")); /* 99.8, 50, -20 mm at 50 mm/min */
  assert_non_null(strstr(out, "\nSAY 10\n"));
  assert_non_null(strstr(out, "\nSTOPIFTRIPPED 1\n"));
  assert_null(strstr(out, "M30"));
  assert_non_null(strstr(out, "you answer for them:\n;TOUCH SAY STOPIFTRIPPED\n"));
  tw_free(out);
  tw_program_free(g);
  /* a pulse does not show that the tip still touches: no check of it is written */
  tw_plan pulse = p;
  pulse.pulse = true;
  g = make(&pulse, &w);
  assert_int_equal(tw_program_text(g, &w, "t", &out, NULL), TW_OK);
  assert_null(strstr(out, "\nSTOPIFTRIPPED")); /* but in the head */
  assert_non_null(strstr(out, "clearance before each touch is by position alone"));
  tw_free(out);
  tw_program_free(g);
  static const char *const bad[] = {"prob = X\n",
                                    "probe\n",
                                    "probe =\n",
                                    "inches = maybe\n",
                                    "record = {x}\n",
                                    "orient = M19\n",
                                    "first_parameter = -3\n",
                                    "dwell = G4 {n}\n",
                                    "first_parameter = 5000\n",
                                    "guarded = 0123456789012345678901234567890123456789\n"};
  for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
    assert_int_equal(tw_words_read_text("w", bad[i], strlen(bad[i]), m, &w), TW_BAD_INPUT);
  }
  tw_messages_free(m);
}

static void listing_and_drawing(void **state)
{
  (void)state;
  const tw_plan p = good(TW_TEST_SPHERE);
  tw_words w;
  tw_words_start(&w);
  tw_program *g = make(&p, &w);
  char *text;
  assert_int_equal(tw_program_listing(g, &text, NULL), TW_OK);
  assert_non_null(strstr(text, "touch 25, counted: towards"));
  size_t lines = 0;
  for (const char *c = text; *c; c++) {
    lines += *c == '\n';
  }
  assert_int_equal(lines, g->count);
  tw_free(text);
  assert_int_equal(tw_program_drawing(g, &text, NULL), TW_OK);
  assert_non_null(strstr(text, "<svg"));
  assert_non_null(strstr(text, "</svg>"));
  assert_null(strstr(text, "nan"));
  tw_free(text);
  tw_program_free(g);
}

static void cautions_stand_in_every_program(void **state)
{
  (void)state;
  const tw_plan p = good(TW_TEST_RING);
  tw_words w;
  tw_words_start(&w);
  tw_program *g = make(&p, &w);
  char *text;
  assert_int_equal(tw_program_text(g, &w, "t", &text, NULL), TW_OK);
  static const char *const wanted[] = {
      "read all of it before it runs", "eye protection",  "spindle stopped",
      "never a safety device",         "local rules",     "NOT guarded",
      "feed override at 100 percent",  "work offset G54", "now off: G49",
      "the machine would drive down",  "exact path",      "spindle locked, hands off"};
  for (size_t i = 0; i < sizeof wanted / sizeof wanted[0]; i++) {
    assert_non_null(strstr(text, wanted[i]));
  }
  /* all of it stands before the stop, and the stop before the first move */
  const char *stop = strstr(text, "\nM0\n"), *move = strstr(text, "\nG1 ");
  assert_true(stop && move && stop < move);
  for (size_t i = 6; i < sizeof wanted / sizeof wanted[0]; i++) {
    assert_true(strstr(text, wanted[i]) < stop);
  }
  tw_free(text);
  tw_program_free(g);
  /* a spindle turned by hand is locked, never held */
  const tw_plan turned = good(TW_TEST_OFFSET);
  g = make(&turned, &w);
  assert_int_equal(tw_program_text(g, &w, "t", &text, NULL), TW_OK);
  assert_non_null(strstr(text, "lock it there"));
  assert_non_null(strstr(text, "never hold it by hand"));
  assert_null(strstr(text, "hold it there"));
  tw_free(text);
  tw_program_free(g);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(every_test_reads_back), cmocka_unit_test(axial_touch_needs_no_guarded_word),
      cmocka_unit_test(checker_objects),       cmocka_unit_test(every_refusal),
      cmocka_unit_test(all_reasons_at_once),   cmocka_unit_test(words_of_the_user),
      cmocka_unit_test(listing_and_drawing),   cmocka_unit_test(cautions_stand_in_every_program),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
