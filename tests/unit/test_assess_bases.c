/* What a guess of the program decides is called assumed, by trial and not by list: the axial trip
 * force of a pivot follows the stiffness of its socket, the return of vees that of their contacts.
 * Stating the field turns it back. */
#include "design_fixture.h"
#include "tripwright/probe.h"

#include <stdio.h>

static tw_assessment a;

#define COUNT(list) (sizeof(list) / sizeof(list)[0])

/* assessed without map and touches in time */
static const tw_measure *assess(const tw_design *design)
{
  tw_assess_options options = tw_assess_defaults();
  options.azimuths = 8;
  options.map = options.timed = options.contributions = false;
  assert_int_equal(tw_assess(design, &options, &a, NULL), TW_OK);
  return a.measure;
}

static tw_basis basis(const char *name, const tw_set *sets, size_t count, tw_measure_id id)
{
  tw_design *design = example_with(name, sets, count);
  const tw_basis basis = assess(design)[id].basis;
  tw_design_free(design);
  return basis;
}

static double value(const char *name, const char *path, const char *text, tw_measure_id id)
{
  const tw_set set = {path, text};
  tw_design *design = example_with(name, &set, 1);
  const double value = assess(design)[id].value;
  tw_design_free(design);
  return value;
}

static void socket_of_a_pivot(void **state)
{
  (void)state;
  const tw_measure_id force = TW_M_trip_force_axial;
  const double soft = value("pillar-indexer", "seat.socket_stiffness", "1 N/um", force),
               hard = value("pillar-indexer", "seat.socket_stiffness", "9 N/um", force);
  print_message("axial trip force, socket of 1 and 9 N/um: %.3f and %.3f N\n", soft, hard);
  assert_true(hard > 1.5 * soft);
  assert_int_equal(basis("pillar-indexer", NULL, 0, force), TW_BASIS_ASSUMED);
  assert_string_equal(a.measure[force].assumes, "seat.socket_stiffness");
  assert_true(a.measure[force].assumes_share > TW_BASIS_MOVES);
  static const tw_set stated[] = {{"seat.socket_stiffness", "3 N/um ± 10 %"}};
  assert_int_equal(basis("pillar-indexer", stated, COUNT(stated), force), TW_BASIS_LIBRARY);
  assert_null(a.measure[force].assumes);
}

/* the friction is stated there; the side does not follow the socket */
static void side_of_a_pivot(void **state)
{
  (void)state;
  const tw_measure_id force = TW_M_trip_force_side;
  const double soft = value("pillar-indexer", "seat.socket_stiffness", "1 N/um", force),
               hard = value("pillar-indexer", "seat.socket_stiffness", "9 N/um", force);
  assert_rel(soft, hard, TW_BASIS_MOVES);
  assert_int_equal(basis("pillar-indexer", NULL, 0, force), TW_BASIS_LIBRARY);
}

static void return_of_vees(void **state)
{
  (void)state;
  const tw_measure_id offset = TW_M_return_offset;
  const double soft = value("gearbox-tripod", "seat.contact_stiffness", "2.5 N/um", offset),
               hard = value("gearbox-tripod", "seat.contact_stiffness", "7.5 N/um", offset);
  print_message("return of vees of 2.5 and 7.5 N/um: %.3f and %.3f um\n", 1e6 * soft, 1e6 * hard);
  assert_true(soft > 1.5 * hard);
  assert_int_equal(basis("gearbox-tripod", NULL, 0, offset), TW_BASIS_ASSUMED);
  assert_string_equal(a.measure[offset].assumes, "seat.contact_stiffness");
  static const tw_set stated[] = {{"seat.contact_stiffness", "5 N/um ± 20 %"}};
  assert_int_equal(basis("gearbox-tripod", stated, COUNT(stated), offset), TW_BASIS_LIBRARY);
}

/* a guess that moves a figure by less than 5 % does not make it assumed; friction of a bonded stem
 * rubs nowhere */
static void what_moves_nothing(void **state)
{
  (void)state;
  tw_design *design = example_with("edge-bonded", NULL, 0);
  assert_int_equal(tw_design_value(design, TW_F_seat_friction_flat)->origin, TW_ORIGIN_DEFAULT);
  assert_int_equal(assess(design)[TW_M_trip_force_axial].basis, TW_BASIS_LIBRARY);
  tw_design_free(design);
}

/* stating every guess leaves nothing assumed but what a default of the machine decides */
static void all_stated(void **state)
{
  (void)state;
  static const tw_set stated[] = {
      {"seat.friction", "0.2 ± 0.02"},
      {"seat.socket_stiffness", "3 N/um"},
      {"disc.allowable_tension", "50 MPa"},
      {"stylus.notch_factor", "2.5"},
      {"holddown.friction", "0.3"},
      {"machine.acceleration", "0.5 m/s2"},
      {"machine.jerk", "50 m/s3"},
      {"machine.sampling_interval", "1 ms"},
      {"machine.latency", "1 ms"},
      {"machine.resolution", "1 um"},
      {"machine.work_stiffness", "1000 N/um"},
  };
  tw_design *design = example_with("pillar-indexer", stated, COUNT(stated));
  assess(design);
  for (int i = 0; i < TW_MEASURE_COUNT; i++) {
    if (a.measure[i].basis == TW_BASIS_ASSUMED) {
      print_message("%s still follows %s\n", tw_measure_about((tw_measure_id)i)->name,
                    a.measure[i].assumes);
    }
    assert_int_not_equal(a.measure[i].basis, TW_BASIS_ASSUMED);
  }
  tw_design_free(design);
}

/* what is assumed names a default that is a guess, or one of the machine; nothing is measured where
 * nothing was measured, also not the stress of a disc that is not there */
static void whose_word_it_is(void **state)
{
  (void)state;
  static const char *const name[] = {"pillar-indexer", "gearbox-tripod", "plate-sizer",
                                     "edge-bonded", "top-face-gate"};
  for (size_t e = 0; e < COUNT(name); e++) {
    tw_design *design = example_with(name[e], NULL, 0);
    assess(design);
    for (int i = 0; i < TW_MEASURE_COUNT; i++) {
      const tw_measure *m = &a.measure[i];
      assert_int_not_equal(m->basis, TW_BASIS_MEASURED);
      assert_int_equal(m->basis == TW_BASIS_ASSUMED, m->assumes != NULL);
      if (m->assumes) {
        const tw_field field = tw_field_find(m->assumes);
        assert_true(tw_field_of(field)->standing == TW_DEFAULT_GUESS ||
                    strncmp(m->assumes, "machine.", 8) == 0);
        assert_int_equal(tw_design_value(design, field)->origin, TW_ORIGIN_DEFAULT);
        assert_true(m->state != TW_MEASURE_NOT_APPLICABLE);
      }
    }
    tw_design_free(design);
  }
}

/* what was measured on the unit rests on that */
static void measured_goes_before(void **state)
{
  (void)state;
  assert_int_equal(basis("unit-07", NULL, 0, TW_M_charge_per_newton), TW_BASIS_MEASURED);
  assert_int_equal(a.measure[TW_M_trip_force_axial].basis, TW_BASIS_ASSUMED);
}

/* a guess has a tolerance, or nothing could be tried with it */
static void guesses_have_limits(void **state)
{
  (void)state;
  tw_design *design = example_with("pillar-indexer", NULL, 0);
  int guesses = 0;
  for (int i = 0; i < TW_FIELD_COUNT; i++) {
    const tw_field_info *about = tw_field_of((tw_field)i);
    if (about->standing == TW_DEFAULT_GUESS) {
      tw_quantity q;
      tw_fault why = {0};
      tw_unit unit;
      assert_int_equal(tw_units_find(units, about->unit, &unit, &why), TW_OK);
      assert_int_equal(tw_quantity_read(units, about->fallback, &unit, &q, NULL, &why), TW_OK);
      assert_true(q.tolerance.minus > 0 && q.tolerance.plus > 0);
      guesses++;
    }
  }
  assert_int_equal(guesses, 7);
  tw_design_free(design);
}

/* who watches sees what is asked of this clone, and of no other */
static void watched(void **state)
{
  (void)state;
  static bool read[TW_FIELD_COUNT];
  tw_design *design = example_with("pillar-indexer", NULL, 0), *own = tw_design_clone(design);
  tw_design_watch(own, read);
  tw_design *other = tw_design_clone(own);
  tw_design_number(other, TW_F_preload_force);
  assert_false(read[TW_F_preload_force]);
  tw_design_number(own, TW_F_preload_force);
  assert_true(read[TW_F_preload_force]);
  assert_false(read[TW_F_stylus_reach]);
  tw_design_watch(own, NULL);
  tw_design_number(own, TW_F_stylus_reach);
  assert_false(read[TW_F_stylus_reach]);
  tw_design_free(other);
  tw_design_free(own);
  tw_design_free(design);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(socket_of_a_pivot),
      cmocka_unit_test(side_of_a_pivot),
      cmocka_unit_test(return_of_vees),
      cmocka_unit_test(what_moves_nothing),
      cmocka_unit_test(all_stated),
      cmocka_unit_test(whose_word_it_is),
      cmocka_unit_test(measured_goes_before),
      cmocka_unit_test(guesses_have_limits),
      cmocka_unit_test(watched),
  };
  return cmocka_run_group_tests(tests, open_all, close_all);
}
