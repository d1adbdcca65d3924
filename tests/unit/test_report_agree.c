/* One figure, one value: every figure that two views show is the same in both, over the examples
 * and designs drawn at random. A further figure is one row of the table. */
#include "page_design.h"
#include "random_designs.h"

#include "tripwright/assess.h"
#include "tripwright/documents.h"
#include "tripwright/page.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

/* The views of one design. A path is VIEW.KEY.KEY..., [n] picks from a list, [KEY=WORD] the row
 * whose KEY is that word or number. */
enum {
  CHECK,
  DISC,
  CIRCUIT,
  SEAT,
  SIDE,
  AXIS,
  FEEDS,
  SOFT,
  INWARD,
  CRASH,
  SHAKE,
  EXPECT,
  PAGE,
  VIEWS
};
static const char *const view_name[VIEWS] = {"check", "disc",   "circuit", "seat",   "side",
                                             "axis",  "feeds",  "soft",    "inward", "crash",
                                             "shake", "expect", "page"};

/* how exactly: one computation seen twice keeps its bits but for sums in another order; a figure
 * that is solved twice agrees to the solver's tolerance */
#define SEEN_TWICE   1e-9
#define SOLVED_TWICE 1e-6
/* the steepest part of a curve, which two views sample by rasters of their own */
#define SAMPLED_TWICE 1e-2

/* "A|B" is the larger of two or more: what `check` says of the worst of some ways */
static const struct {
  const char *a, *b;
  double share;
} rows[] = {
    /* disc */
    {"check.measures.charge_per_newton", "disc.measures.charge_per_newton", SEEN_TWICE},
    {"check.measures.voltage_per_newton_open", "disc.measures.voltage_per_newton_open", SEEN_TWICE},
    {"check.measures.capacitance_mounted", "disc.measures.capacitance_mounted", SEEN_TWICE},
    {"check.measures.resonance_free", "disc.measures.resonance_free", SEEN_TWICE},
    {"check.measures.resonance_mounted", "disc.measures.resonance_mounted", SEEN_TWICE},
    {"check.measures.resonance_loaded", "disc.measures.resonance_loaded", SEEN_TWICE},
    {"disc.measures.resonance_free", "expect.checks[check=resonance_free]", SEEN_TWICE},
    {"disc.measures.resonance_mounted", "expect.checks[check=resonance_mounted]", SEEN_TWICE},
    {"disc.measures.resonance_loaded", "expect.checks[check=resonance_loaded]", SEEN_TWICE},
    {"disc.measures.capacitance_free", "expect.checks[check=capacitance_free]", SEEN_TWICE},
    {"disc.measures.capacitance_mounted", "expect.checks[check=capacitance_mounted]", SEEN_TWICE},
    {"circuit.signal[stage=disc]", "disc.measures.charge_per_newton", SEEN_TWICE},
    /* circuit */
    {"check.measures.threshold_voltage", "circuit.levels.threshold_voltage", SEEN_TWICE},
    {"check.measures.threshold_voltage", "circuit.budget.threshold_voltage", SEEN_TWICE},
    {"check.measures.threshold_voltage", "shake.threshold_voltage", SEEN_TWICE},
    {"check.measures.hysteresis_voltage", "circuit.levels.hysteresis_voltage", SEEN_TWICE},
    {"check.measures.noise_rms", "circuit.noise.total", SEEN_TWICE},
    {"check.measures.rest_drift_voltage", "circuit.budget.drift_voltage", SEEN_TWICE},
    {"circuit.levels.threshold_charge", "seat.threshold_charge", SEEN_TWICE},
    {"circuit.levels.rest_node", "expect.checks[check=rest_node]", SEEN_TWICE},
    {"circuit.levels.trip", "expect.checks[check=threshold]", SEEN_TWICE},
    {"circuit.levels.release", "expect.checks[check=release]", SEEN_TWICE},
    {"circuit.levels.time_constant", "expect.checks[check=decay]", SEEN_TWICE},
    {"circuit.levels.rest", "side.levels.rest", SEEN_TWICE},
    {"circuit.levels.rest", "axis.levels.rest", SEEN_TWICE},
    {"circuit.levels.rest_node", "side.trace.node[0]", SEEN_TWICE},
    {"circuit.levels.output_rest", "side.trace.output[0]", SEEN_TWICE},
    {"circuit.levels.output_rest", "axis.trace.output[0]", SEEN_TWICE},
    {"circuit.contact.output_rest", "side.trace.output[0]", SEEN_TWICE},
    {"circuit.output.supply_idle", "expect.checks[check=supply_current]", SEEN_TWICE},
    /* seat */
    {"check.measures.preload_actual", "seat.rest.preload", SEEN_TWICE},
    {"check.measures.preload_actual", "expect.checks[check=preload]", SEEN_TWICE},
    {"check.measures.trip_force_axial", "seat.directions[elevation_deg=90].force", SOLVED_TWICE},
    {"check.measures.pretravel_axial", "seat.directions[elevation_deg=90].pretravel", SOLVED_TWICE},
    {"crash.directions[name=along the axis].trip_force", "seat.directions[elevation_deg=90].force",
     SOLVED_TWICE},
    /* touches in time */
    /* not output_hold_time: a touch is held for machine.dwell only, `check` until the output falls
     */
    {"check.measures.slowest_feed",
     "feeds.window.slowest_feed|soft.window.slowest_feed|inward.window.slowest_feed", SOLVED_TWICE},
    {"check.measures.slowest_feed_static",
     "feeds.window.slowest_feed_static|soft.window.slowest_feed_static|inward.window.slowest_feed_"
     "static",
     SAMPLED_TWICE},
    {"check.measures.fastest_feed", "crash.measures.fastest_feed", SOLVED_TWICE},
    {"check.measures.overtravel_side", "crash.measures.overtravel_side", SOLVED_TWICE},
    {"check.measures.overtravel_axial", "crash.measures.overtravel_axial", SOLVED_TWICE},
    {"check.measures.ready_time", "side.ready_time", SOLVED_TWICE},
    /* crash, shake */
    {"check.measures.crash_force", "crash.measures.crash_force", SEEN_TWICE},
    {"check.measures.stem_stress_ratio", "crash.measures.stem_stress_ratio", SEEN_TWICE},
    {"check.measures.ceramic_stress_ratio", "crash.measures.ceramic_stress_ratio", SEEN_TWICE},
    {"check.measures.reseat_offset", "crash.measures.reseat_offset", SEEN_TWICE},
    {"check.measures.stack_clearance", "crash.measures.stack_clearance", SEEN_TWICE},
    {"check.measures.false_trip_margin_x", "shake.moves.x.margin", SEEN_TWICE},
    {"check.measures.false_trip_margin_y", "shake.moves.y.margin", SEEN_TWICE},
    {"check.measures.false_trip_margin_z", "shake.moves.z.margin", SEEN_TWICE},
    /* the ledger of the page */
    {"check.measures.trip_force_side", "page.check.measures.trip_force_side", SEEN_TWICE},
    {"check.measures.pretravel_side", "page.check.measures.pretravel_side", SEEN_TWICE},
    {"check.measures.slowest_feed", "page.check.measures.slowest_feed", SEEN_TWICE},
    {"check.measures.resonance_loaded", "page.check.measures.resonance_loaded", SEEN_TWICE},
};
enum { ROWS = sizeof rows / sizeof rows[0] };

/* ---- paths ----------------------------------------------------------------------------------- */

static bool is_row(const json_t *row, const char *key, const char *word)
{
  const json_t *value = json_object_get(row, key);
  return json_is_string(value)
             ? strcmp(json_string_value(value), word) == 0
             : json_is_number(value) && fabs(json_number_value(value) - strtod(word, NULL)) < 1e-9;
}

static const json_t *row_of(const json_t *list, const char *pick)
{
  char key[40];
  const char *equals = strchr(pick, '=');
  if (!equals) {
    return json_array_get(list, (size_t)strtoul(pick, NULL, 10));
  }
  snprintf(key, sizeof key, "%.*s", (int)(equals - pick), pick);
  for (size_t i = 0; i < json_array_size(list); i++) {
    if (is_row(json_array_get(list, i), key, equals + 1)) {
      return json_array_get(list, i);
    }
  }
  return NULL;
}

/* the object or number at a path; NULL when there is none */
static const json_t *at_path(json_t *const *view, const char *path)
{
  char word[64];
  const json_t *at = NULL;
  for (bool first = true; *path; first = false) {
    const bool pick = *path == '[';
    path += pick || *path == '.';
    const size_t length = strcspn(path, pick ? "]" : ".[");
    snprintf(word, sizeof word, "%.*s", (int)length, path);
    path += length + pick;
    if (first) {
      for (int v = 0; v < VIEWS; v++) {
        at = strcmp(view_name[v], word) == 0 ? view[v] : at;
      }
    } else {
      at = pick ? row_of(at, word) : json_object_get(at, word);
    }
  }
  return at;
}

/* NAN when the view has no such figure */
static double figure(json_t *const *view, const char *path)
{
  const json_t *at = at_path(view, path);
  at = json_is_object(at) ? json_object_get(at, "value") : at;
  at = json_is_object(at) ? json_object_get(at, "value") : at; /* a state instead of a margin */
  return json_is_number(at) ? fabs(json_number_value(at)) : (double)NAN;
}

static double larger(json_t *const *view, const char *paths)
{
  char one[96]; /* the longest path of the rows */
  const char *bar = strchr(paths, '|');
  if (!bar) {
    return figure(view, paths);
  }
  snprintf(one, sizeof one, "%.*s", (int)(bar - paths), paths);
  const double a = figure(view, one), b = larger(view, bar + 1);
  return isnan(a) || isnan(b) ? (double)NAN : fmax(a, b);
}

/* ---- the views of a design ------------------------------------------------------------------- */

static json_t *check_of(const tw_design *design)
{
  tw_assess_options options = tw_assess_defaults();
  tw_assessment *a = tw_alloc(1, sizeof *a);
  tw_fault fault = {0};
  options.map = false;
  assert_int_equal(tw_assess(design, &options, a, &fault), TW_OK);
  json_t *document = tw_document_check(design, a, NULL);
  tw_free(a);
  return document;
}

/* a view that has no answer for a design shows no figure */
static void open_views(const page_design *all, const tw_design *design, bool page,
                       json_t *view[VIEWS])
{
  tw_touch_ask side = {.feed = tw_design_number(design, TW_F_machine_feed), .every = 1e-2};
  tw_touch_ask axis = side;
  axis.elevation = acos(-1.0) / 2;
  memset(view, 0, VIEWS * sizeof *view);
  view[CHECK] = check_of(design);
  /* `check` looks sideways where the pretravel is largest */
  const double worst = figure(view, "check.measures.pretravel_side.at");
  side.azimuth = isnan(worst) ? 0 : worst * acos(-1.0) / 180;
  (void)tw_document_disc(design, NULL, 0, &view[DISC], NULL);
  (void)tw_document_circuit(design, &view[CIRCUIT], NULL);
  (void)tw_document_seat(design, 4, false, NULL, &view[SEAT], &(tw_fault){0});
  (void)tw_document_touch(design, &side, &view[SIDE], &(tw_fault){0});
  (void)tw_document_touch(design, &axis, &view[AXIS], &(tw_fault){0});
  (void)tw_document_feeds(design, side.azimuth, 0, &view[FEEDS], &(tw_fault){0});
  const double soft = figure(view, "check.measures.pretravel_side.least_at");
  (void)tw_document_feeds(design, isnan(soft) ? 0 : soft * acos(-1.0) / 180, 0, &view[SOFT],
                          &(tw_fault){0});
  (void)tw_document_feeds(design, 0, axis.elevation, &view[INWARD], &(tw_fault){0});
  (void)tw_document_crash(design, NULL, NULL, &view[CRASH], &(tw_fault){0});
  (void)tw_document_shake(design, NULL, NULL, NULL, &view[SHAKE], &(tw_fault){0});
  (void)tw_document_expect(design, &view[EXPECT], &(tw_fault){0});
  if (page) {
    const tw_page_options options = {.units = all->units, .drawing = tw_drawing_defaults()};
    tw_messages *messages = tw_messages_new();
    (void)tw_page_evaluate(design, true, &options, messages, &view[PAGE], &(tw_fault){0});
    tw_messages_free(messages);
  }
}

/* figures that differ; a row is counted as seen when both views have it */
static int differing(json_t *const *view, const char *name, int seen[ROWS])
{
  int wrong = 0;
  for (int i = 0; i < ROWS; i++) {
    const double a = figure(view, rows[i].a), b = larger(view, rows[i].b);
    if (isnan(a) || isnan(b)) {
      continue;
    }
    seen[i]++;
    if (fabs(a - b) > rows[i].share * fmax(a, b)) {
      print_message("%s: %s is %.9g, %s is %.9g\n", name, rows[i].a, a, rows[i].b, b);
      wrong++;
    }
  }
  return wrong;
}

static int one_design(const page_design *all, const tw_design *design, const char *name, bool page,
                      int seen[ROWS])
{
  json_t *view[VIEWS];
  open_views(all, design, page, view);
  const int wrong = differing(view, name, seen);
  for (int v = 0; v < VIEWS; v++) {
    json_decref(view[v]);
  }
  return wrong;
}

/* ---- tests ----------------------------------------------------------------------------------- */

static tw_design *example(const page_design *all, const char *name)
{
  char path[300];
  tw_design *design = NULL;
  tw_messages *messages = tw_messages_new();
  const tw_read_options options = {
      .units = all->units, .library = all->library, .need = TW_NEED_ALL};
  snprintf(path, sizeof path, "%s/examples/%s.yaml", TW_SOURCE_DIR, name);
  assert_int_equal(tw_design_read(path, &options, messages, &design), TW_OK);
  tw_messages_free(messages);
  return design;
}

static int seen[ROWS];

static void the_examples_agree(void **state)
{
  static const char *const names[] = {"pillar-indexer", "pillar-indexer-deaf", "gearbox-tripod",
                                      "plate-sizer",    "edge-bonded",         "unit-07",
                                      "top-face-gate"};
  int wrong = 0;
  for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
    tw_design *design = example(*state, names[i]);
    wrong += one_design(*state, design, names[i], i == 0 || i == 3, seen);
    tw_design_free(design);
  }
  assert_int_equal(wrong, 0);
}

/* a row whose path is misspelt would hold nothing */
static void every_row_was_seen(void **state)
{
  (void)state;
  for (int i = 0; i < ROWS; i++) {
    if (seen[i] == 0) {
      print_message("never in both views: %s and %s\n", rows[i].a, rows[i].b);
    }
    assert_true(seen[i] > 0 || strstr(rows[i].a, "stack_clearance"));
  }
}

static void designs_drawn_at_random_agree(void **state)
{
  const page_design *all = *state;
  const char *prove = getenv("TW_PROVE");
  const uint64_t count = prove && prove[0] == '1' ? 300 : RANDOM_KINDS;
  int wrong = 0;
  for (uint64_t i = 0; i < count; i++) {
    random_draw draw;
    tw_design *design = random_design(all->units, all->library, 19, i, "", &draw);
    if (design && one_design(all, design, draw.kind->name, false, seen) > 0) {
      random_draw_print(&draw);
      wrong++;
    }
    tw_design_free(design);
  }
  assert_int_equal(wrong, 0);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(the_examples_agree),
      cmocka_unit_test(every_row_was_seen),
      cmocka_unit_test(designs_drawn_at_random_agree),
  };
  return cmocka_run_group_tests(tests, page_design_setup, page_design_teardown);
}
