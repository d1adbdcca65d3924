/* How right one edge will be: the figures of check, put together by hand again; asked for alone or
 * with all others they are the same. */
#include "design_fixture.h"
#include "near.h"
#include "tripwright/assess.h"
#include "tripwright/edge.h"

#include <stdio.h>
#include <string.h>

static void read_example(const char *name, tw_design **out)
{
  const tw_read_options reading = {.units = units, .library = library, .need = TW_NEED_ALL};
  char file[600];
  snprintf(file, sizeof file, "%s/examples/%s.yaml", TW_SOURCE_DIR, name);
  tw_messages *messages = tw_messages_new();
  assert_int_equal(tw_design_read(file, &reading, messages, out), TW_OK);
  tw_messages_free(messages);
}

static tw_assessment whole, alone;

static void made_of_its_parts(void **state)
{
  (void)state;
  static const char *const examples[] = {"pillar-indexer", "gearbox-tripod", "plate-sizer"};
  for (size_t e = 0; e < 3; e++) {
    tw_design *design;
    read_example(examples[e], &design);
    tw_assess_options options = tw_assess_defaults();
    options.map = options.contributions = false;
    assert_int_equal(tw_assess(design, &options, &whole, NULL), TW_OK);
    const tw_measure *m = whole.measure;
    const double feed = tw_design_number(design, TW_F_machine_feed);
    const double repeat = m[TW_M_repeatability_2s].value / 2;
    const double waits = tw_design_number(design, TW_F_machine_sampling_interval) / 2 +
                         tw_design_number(design, TW_F_machine_latency) +
                         tw_design_number_or(design, TW_F_link_latency, 0) +
                         tw_design_number_or(design, TW_F_link_jitter, 0) / 2;
    const double travel = m[TW_M_pretravel_at_feed].value + feed * waits;
    /* two runs of the touch in time, whose steps fall elsewhere */
    assert_rel(m[TW_M_edge_before_table].value, travel + 2 * repeat, 3e-3);
    assert_rel(m[TW_M_edge_after_table].value, 2 * repeat * sqrt(1 + 11.0 / 36), 1e-9);
    tw_measure_set only = {.has = {false}};
    only.has[TW_M_edge_before_table] = true;
    options.wanted = &only;
    assert_int_equal(tw_assess(design, &options, &alone, NULL), TW_OK);
    assert_rel(alone.measure[TW_M_edge_before_table].value, m[TW_M_edge_before_table].value, 1e-12);
    assert_int_equal(alone.measure[TW_M_repeatability_2s].state, TW_MEASURE_NOT_COMPUTED);
    assert_int_equal(alone.measure[TW_M_edge_after_table].state, TW_MEASURE_NOT_COMPUTED);
    tw_design_free(design);
  }
}

/* no touch, no edge: the state and the reason of what is missing */
static void no_trip_is_told(void **state)
{
  (void)state;
  tw_design *design;
  read_example("edge-bonded", &design);
  tw_assess_options options = tw_assess_defaults();
  options.map = options.contributions = false;
  assert_int_equal(tw_assess(design, &options, &whole, NULL), TW_OK);
  const bool trips = whole.measure[TW_M_pretravel_at_feed].state == TW_MEASURE_OK &&
                     whole.measure[TW_M_pretravel_variation_side].state == TW_MEASURE_OK;
  assert_int_equal(whole.measure[TW_M_edge_before_table].state == TW_MEASURE_OK, trips);
  assert_true(trips || whole.measure[TW_M_edge_before_table].note[0]);
  options.timed = false;
  assert_int_equal(tw_assess(design, &options, &whole, NULL), TW_OK);
  assert_int_equal(whole.measure[TW_M_edge_after_table].state, TW_MEASURE_NOT_COMPUTED);
  tw_design_free(design);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(made_of_its_parts),
      cmocka_unit_test(no_trip_is_told),
  };
  return cmocka_run_group_tests(tests, open_all, close_all);
}
