/* Reading a design: values, origins, layers, places. */
#include "design_fixture.h"
#include "four_threads.h"

static const char probe[] =
    "design: pillar-hole indexer\n"
    "revision: 3\n"
    "disc: {part: brass_20_6k3, contact_face: ceramic}\n"
    "support: {kind: ledge, ledge_radius: 9.3 mm, void_depth: 60 um +20 um/-0}\n"
    "seat:\n"
    "  kind: pivot\n"
    "  contact: points 4\n"
    "  friction: 0.15 ± 0.05\n"
    "  ball_radius: 5 mm\n"
    "  flat_radius: 3 mm\n"
    "preload: {force: 0.8 N}\n"
    "stylus: {reach: 32 mm, stem_diameter: 1.5 mm, ball_diameter: 2 mm}\n"
    "circuit:\n"
    "  kind: comparator\n"
    "  amplifier: comparator_bipolar_oc\n"
    "  bias_resistance: 1M0\n"
    "  bias_upper: 47k\n"
    "  bias_lower: 15k\n"
    "  reference_upper: 39k\n"
    "  reference_lower: 10k\n"
    "  feedback_resistance: 1M\n"
    "output: {kind: open_collector}\n"
    "requirements:\n"
    "  trip_force_side: \"<= 0.15 N\"\n"
    "  false_trip_margin_z: \">= 2\"\n"
    "  pretravel_side: within 5 um .. 90 um\n"
    "  seating_regime: = full\n"
    "parts:\n"
    "  board: {state: ordered, lead_time: 9 day, cost: 4.5, hours: 30 min}\n";

static void reads_values_with_origins(void **state)
{
  (void)state;
  tw_design *d = good_design(probe, TW_NEED_ALL);
  assert_string_equal(tw_design_name(d), "pillar-hole indexer");
  assert_string_equal(tw_design_revision(d), "3");
  assert_true(tw_design_number(d, TW_F_support_ledge_radius) == 9.3e-3);
  assert_int_equal(tw_design_choice(d, TW_F_support_kind), TW_SUPPORT_LEDGE);
  const tw_value *depth = tw_design_value(d, TW_F_support_void_depth);
  assert_true(depth->number == 60e-6 && depth->tolerance.plus == 20e-6);
  assert_int_equal(depth->origin, TW_ORIGIN_GIVEN);
  assert_int_equal(depth->place.line, 4);
  assert_int_equal(depth->place.column, 58);
  assert_memory_equal(probe + depth->start, "60 um +20 um/-0", depth->length);
  assert_int_equal(tw_design_choice(d, TW_F_seat_contact), TW_CONTACT_POINTS);
  assert_int_equal(tw_design_count(d, TW_F_seat_contact_points), 4);
  tw_design_free(d);
}

static void library_rows_fill_and_yield(void **state)
{
  (void)state;
  tw_design *d = good_design(probe, TW_NEED_ALL);
  assert_true(tw_design_number(d, TW_F_disc_metal_diameter) == 20e-3);
  assert_int_equal(tw_design_value(d, TW_F_disc_metal_diameter)->origin, TW_ORIGIN_LIBRARY);
  /* 0.42 - 0.20 - 0.02 mm */
  assert_rel(tw_design_number(d, TW_F_disc_ceramic_thickness), 0.2e-3, 1e-12);
  assert_true(tw_design_number(d, TW_F_disc_metal_modulus) == 105e9);
  assert_true(tw_design_number(d, TW_F_disc_ceramic_s11) == 16.4e-12);
  assert_int_equal(tw_design_value(d, TW_F_disc_metal)->origin, TW_ORIGIN_LIBRARY);
  assert_int_equal(tw_design_choice(d, TW_F_circuit_amplifier_drive), TW_DRIVE_OPEN_COLLECTOR);
  const tw_tolerance offset = tw_design_tolerance(d, TW_F_circuit_amplifier_offset);
  assert_true(offset.plus == 7e-3 && offset.minus == 7e-3);
  const tw_tolerance bias = tw_design_tolerance(d, TW_F_circuit_amplifier_bias_current);
  /* typical figures of several makers, 20 to 65 nA, around the sheet's own 25 nA */
  assert_rel(bias.plus, 40e-9, 1e-12);
  assert_rel(bias.minus, 5e-9, 1e-12);
  tw_design_free(d);
  d = good_design("disc: {part: brass_20_6k3, metal_diameter: 21 mm}\nsupport: {kind: rim}\n",
                  TW_NEED_DISC);
  assert_true(tw_design_number(d, TW_F_disc_metal_diameter) == 21e-3);
  assert_int_equal(tw_design_value(d, TW_F_disc_metal_diameter)->origin, TW_ORIGIN_GIVEN);
  tw_design_free(d);
}

static void shorthand_yields_to_the_longer_name(void **state)
{
  (void)state;
  tw_design *d = good_design(probe, TW_NEED_ALL);
  assert_true(tw_design_number(d, TW_F_seat_friction_socket) == 0.15);
  assert_rel(tw_design_tolerance(d, TW_F_seat_friction_flat).plus, 0.05, 1e-12);
  tw_design_free(d);
  d = good_design("disc: {part: brass_20_6k3}\nsupport: {kind: rim}\n"
                  "seat: {friction: 0.1, friction_flat: 0.3}\n",
                  TW_NEED_DISC);
  assert_true(tw_design_number(d, TW_F_seat_friction_socket) == 0.1);
  assert_true(tw_design_number(d, TW_F_seat_friction_flat) == 0.3);
  tw_design_free(d);
}

static void requirements_and_parts(void **state)
{
  (void)state;
  tw_design *d = good_design(probe, TW_NEED_ALL);
  assert_int_equal(tw_design_requirements(d), 4);
  const tw_requirement *q = tw_design_requirement(d, 0);
  assert_string_equal(q->name, "trip_force_side");
  assert_int_equal(q->rule, TW_RULE_MOST);
  assert_string_equal(q->high, "0.15 N");
  assert_int_equal(q->place.line, 24);
  assert_string_equal(q->excerpt, "  trip_force_side: \"<= 0.15 N\"");
  q = tw_design_requirement(d, 2);
  assert_int_equal(q->rule, TW_RULE_WITHIN);
  assert_string_equal(q->low, "5 um");
  assert_string_equal(q->high, "90 um");
  q = tw_design_requirement(d, 3);
  assert_int_equal(q->rule, TW_RULE_IS);
  assert_string_equal(q->word, "full");
  const tw_part *board = tw_design_part_named(d, "board");
  assert_non_null(board);
  assert_int_equal(board->state, TW_PART_ORDERED);
  assert_true(board->lead_time == 9 * 86400.0 && board->hours == 1800 && board->cost == 4.5);
  assert_null(tw_design_part_named(d, "housing"));
  tw_design_free(d);
}

static void defaults_fill_the_rest(void **state)
{
  (void)state;
  tw_design *d = good_design(probe, TW_NEED_ALL);
  assert_rel(tw_design_number(d, TW_F_seat_socket_angle), 0.78539816339744828, 1e-15);
  assert_int_equal(tw_design_value(d, TW_F_seat_socket_angle)->origin, TW_ORIGIN_DEFAULT);
  assert_false(tw_design_has(d, TW_F_measured_capacitance));
  assert_true(isnan(tw_design_number(d, TW_F_measured_capacitance)));
  assert_true(tw_design_number_or(d, TW_F_measured_capacitance, 7) == 7);
  const tw_table *feeds = tw_design_table(d, TW_F_machine_feeds);
  assert_int_equal(feeds->rows, 8);
  assert_rel(feeds->cells[7].number, 1.0 / 60, 1e-15);
  tw_design_free(d);
}

/* every default of the table reads as its own type and lies inside its range */
static void every_default_reads(void **state)
{
  (void)state;
  for (size_t i = 0; i < TW_FIELD_COUNT; i++) {
    const tw_field_info *info = tw_field_of((tw_field)i);
    if (strcmp(info->fallback, TW_MUST) == 0 || strcmp(info->fallback, TW_UNSET) == 0) {
      continue;
    }
    const tw_set set = {info->path, info->fallback};
    const tw_read_options options = {
        .units = units, .library = library, .sets = &set, .set_count = 1};
    tw_messages *messages = tw_messages_new();
    tw_design *d = NULL;
    const char *text = "design: defaults\n";
    if (tw_design_parse(text, strlen(text), NULL, &options, messages, &d) != TW_OK) {
      char line[1000];
      tw_message_print(tw_messages_at(messages, 0), line, sizeof line);
      fail_msg("%s: %s", info->path, line);
    }
    tw_design_free(d);
    tw_messages_free(messages);
  }
}

static void clones_change_alone(void **state)
{
  (void)state;
  tw_design *d = good_design(probe, TW_NEED_ALL);
  tw_design *other = NULL;
  const tw_field field = TW_F_preload_force;
  const double force = 1.25;
  assert_int_equal(tw_design_with(d, 1, &field, &force, &other), TW_OK);
  assert_true(tw_design_number(other, field) == 1.25);
  assert_true(tw_design_number(d, field) == 0.8);
  tw_design_free(d); /* the texts outlive the first owner */
  assert_string_equal(tw_design_name(other), "pillar-hole indexer");
  tw_design_free(other);
}

static void *read_often(void *argument)
{
  long *wrong = argument;
  const tw_read_options options = {.units = units, .library = library, .need = TW_NEED_ALL};
  for (int i = 0; i < 50; i++) {
    tw_messages *messages = tw_messages_new();
    tw_design *d = NULL;
    *wrong += tw_design_parse(probe, strlen(probe), NULL, &options, messages, &d) != TW_OK ||
              tw_design_number(d, TW_F_preload_force) != 0.8;
    tw_design *own = tw_design_clone(d);
    tw_design_put(own, TW_F_preload_force, i);
    *wrong += tw_design_number(own, TW_F_preload_force) != i;
    tw_design_free(d);
    tw_design_free(own);
    tw_messages_free(messages);
  }
  return NULL;
}

/* one library and one unit system serve all threads */
static void several_threads_read(void **state)
{
  (void)state;
  on_four_threads(read_often);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(reads_values_with_origins),
      cmocka_unit_test(library_rows_fill_and_yield),
      cmocka_unit_test(shorthand_yields_to_the_longer_name),
      cmocka_unit_test(requirements_and_parts),
      cmocka_unit_test(defaults_fill_the_rest),
      cmocka_unit_test(every_default_reads),
      cmocka_unit_test(clones_change_alone),
      cmocka_unit_test(several_threads_read),
  };
  return cmocka_run_group_tests(tests, open_all, close_all);
}
