/* Layers of a design: shop file, base, own file, --set; which wins and where each value stands. */
#include "design_fixture.h"

#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

static char folder[] = "/tmp/tripwright-layers-XXXXXX";

static void write_file(const char *name, const char *text)
{
  char path[200];
  snprintf(path, sizeof path, "%s/%s", folder, name);
  FILE *f = fopen(path, "wb");
  assert_non_null(f);
  assert_int_equal(fwrite(text, 1, strlen(text), f), strlen(text));
  assert_int_equal(fclose(f), 0);
}

static int set_up(void **state)
{
  return mkdtemp(folder) && open_all(state) == 0 ? 0 : -1;
}

static int tear_down(void **state)
{
  static const char *const name[] = {"base.yaml", "unit.yaml", "shop.yaml", "other.yaml"};
  for (size_t i = 0; i < sizeof name / sizeof name[0]; i++) {
    char path[200];
    snprintf(path, sizeof path, "%s/%s", folder, name[i]);
    unlink(path);
  }
  rmdir(folder);
  return close_all(state);
}

/* the status of reading unit.yaml; the last message goes to `said` */
static tw_status read_unit(tw_read_options options, tw_design **out, char *said, size_t size)
{
  char path[200];
  snprintf(path, sizeof path, "%s/unit.yaml", folder);
  options.units = units;
  options.library = library;
  tw_messages *messages = tw_messages_new();
  const tw_status status = tw_design_read(path, &options, messages, out);
  const size_t n = tw_messages_count(messages);
  said[0] = '\0';
  if (n > 0) {
    snprintf(said, size, "%s", tw_messages_at(messages, n - 1)->text);
  }
  tw_messages_free(messages);
  return status;
}

static void the_stronger_layer_wins(void **state)
{
  (void)state;
  char said[400];
  write_file("shop.yaml", "machine: {feed: 80 mm/min, latency: 3 ms}\ncosts: {currency: CHF}\n"
                          "parts: {board: {lead_time: 9 day}}\n"
                          "processes: {print: {offset_xy: 0.1 mm ± 0.05 mm}}\n");
  write_file("base.yaml", "design: family\nseat: {friction_socket: 0.3, flat_radius: 3 mm}\n"
                          "machine: {latency: 2 ms}\n"
                          "circuit: {kind: comparator, bias_upper: 47k, bias_lower: 15k}\n"
                          "requirements: {trip_force_side: \"<= 0.3 N\", hysteresis: \">= 1 mV\"}\n"
                          "parts: {board: {state: ordered}}\n");
  write_file("unit.yaml", "based_on: base.yaml\nseat: {friction: 0.1, flat_radius: 3.2 mm}\n"
                          "circuit: {bias_voltage: 1 V}\n"
                          "requirements: {trip_force_side: \"<= 0.2 N\"}\n"
                          "measured: {capacitance: 10.6 nF}\n");
  const tw_set set = {"seat.flat_radius", "3.4 mm"};
  tw_design *d = NULL;
  assert_int_equal(
      read_unit((tw_read_options){.sets = &set, .set_count = 1}, &d, said, sizeof said), TW_OK);
  assert_string_equal(said, "");
  assert_string_equal(tw_design_name(d), "family");
  assert_true(tw_design_number(d, TW_F_seat_flat_radius) == 3.4e-3);
  assert_int_equal(tw_design_value(d, TW_F_seat_flat_radius)->origin, TW_ORIGIN_SET);
  assert_true(tw_design_number(d, TW_F_machine_latency) == 2e-3);
  assert_int_equal(tw_design_value(d, TW_F_machine_latency)->origin, TW_ORIGIN_BASE);
  assert_int_equal(tw_design_value(d, TW_F_machine_feed)->origin, TW_ORIGIN_SHOP);
  assert_int_equal(tw_design_value(d, TW_F_measured_capacitance)->origin, TW_ORIGIN_MEASURED);
  assert_non_null(strstr(tw_design_value(d, TW_F_machine_latency)->place.file, "/base.yaml"));
  assert_non_null(strstr(tw_design_base(d), "/base.yaml"));
  /* the shorthand of this file is stronger than the long name in the base */
  assert_true(tw_design_number(d, TW_F_seat_friction_socket) == 0.1);
  /* a voltage here replaces the divider there */
  assert_true(tw_design_has(d, TW_F_circuit_bias_voltage));
  assert_false(tw_design_has(d, TW_F_circuit_bias_upper));
  assert_int_equal(tw_design_requirements(d), 2);
  assert_string_equal(tw_design_requirement(d, 0)->high, "0.2 N");
  const tw_part *board = tw_design_part_named(d, "board");
  assert_int_equal(board->state, TW_PART_ORDERED);
  assert_true(board->lead_time == 9 * 86400.0);
  assert_int_equal(tw_design_processes(d), 1);
  assert_true(tw_design_process(d, 0)->offset_xy.tolerance.plus == 0.05e-3);
  char line[200];
  assert_string_equal(
      tw_design_excerpt(d, tw_design_value(d, TW_F_machine_latency)->place, line, sizeof line),
      "machine: {latency: 2 ms}");
  tw_design_free(d);
}

static void the_shop_file_has_limits(void **state)
{
  (void)state;
  char said[400], path[200];
  tw_design *d = NULL;
  write_file("unit.yaml", "design: a\n");
  write_file("shop.yaml", "requirements: {trip_force_side: \"<= 1 N\"}\n");
  assert_int_equal(read_unit((tw_read_options){0}, &d, said, sizeof said), TW_BAD_INPUT);
  assert_string_equal(said, "a shop file cannot hold this");
  assert_int_equal(read_unit((tw_read_options){.no_shop = true}, &d, said, sizeof said), TW_OK);
  tw_design_free(d);
  /* a named one is taken instead, and must be there */
  snprintf(path, sizeof path, "%s/other.yaml", folder);
  write_file("other.yaml", "machine: {feed: 60 mm/min}\n");
  assert_int_equal(read_unit((tw_read_options){.shop = path}, &d, said, sizeof said), TW_OK);
  assert_rel(tw_design_number(d, TW_F_machine_feed), 1e-3, 1e-15);
  tw_design_free(d);
  snprintf(path, sizeof path, "%s/nowhere.yaml", folder);
  assert_int_equal(read_unit((tw_read_options){.shop = path}, &d, said, sizeof said), TW_NO_FILE);
  assert_non_null(strstr(said, "No such file or directory"));
}

static void a_text_from_memory_has_no_neighbours(void **state)
{
  (void)state;
  const tw_read_options options = {.units = units, .library = library};
  tw_messages *messages = tw_messages_new();
  tw_design *d = NULL;
  const char *text = "based_on: base.yaml\n";
  assert_int_equal(tw_design_parse(text, strlen(text), NULL, &options, messages, &d), TW_BAD_INPUT);
  assert_string_equal(tw_messages_at(messages, 0)->text, "this design is in no folder");
  tw_messages_free(messages);
}

static void kinds_decide_what_is_needed(void **state)
{
  (void)state;
  /* opening contacts need no disc and no amplifier */
  tw_design *d = good_design(tw_design_template(TW_SEAT_TRIPOD), TW_NEED_ALL);
  assert_false(tw_design_has_disc(d));
  assert_false(tw_design_has(d, TW_F_circuit_amplifier_class));
  assert_false(tw_design_applies(d, TW_F_seat_flat_radius));
  tw_design_free(d);
  /* a gain stage is the comparator's part unless another is named */
  d = good_design("seat: {kind: bonded, bond_radius: 1.5 mm, carrier_mass: 1 g}\n"
                  "disc: {part: brass_20_6k3}\nsupport: {kind: clamped, void_depth: 400 um}\n"
                  "stylus: {reach: 25 mm, stem_diameter: 1 mm, ball_diameter: 2 mm}\n"
                  "circuit: {kind: gain, supply: 5 V, amplifier: opamp_bipolar_single,\n"
                  "  gain_upper: 91k, gain_lower: 10k, bias_resistance: 1M0, bias_upper: 39k,\n"
                  "  bias_lower: 10k, reference_upper: 27k, reference_lower: 10k}\n",
                  TW_NEED_ALL);
  assert_true(tw_design_number(d, TW_F_circuit_stage_slew) ==
              tw_design_number(d, TW_F_circuit_amplifier_slew));
  assert_true(tw_design_has(d, TW_F_circuit_stage_slew));
  tw_design_free(d);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(the_stronger_layer_wins),
      cmocka_unit_test(the_shop_file_has_limits),
      cmocka_unit_test(a_text_from_memory_has_no_neighbours),
      cmocka_unit_test(kinds_decide_what_is_needed),
  };
  return cmocka_run_group_tests(tests, set_up, tear_down);
}
