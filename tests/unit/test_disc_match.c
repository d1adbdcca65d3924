/* One disc as measured: made-up measurements of a disc with other constants must be met, and what
 * was not used must show as residual. */
#include "disc_scenes.h"
#include "tripwright/disc.h"

#include <string.h>

static tw_disc_spec assumed(void)
{
  return disc_on_ledge(6.5e-3);
}

/* a disc that is 10 % stiffer, 20 % weaker, 15 % more permittive than assumed */
static tw_disc_measured measure_another(double piezo, double permittivity, double stiffness)
{
  tw_disc_spec s = assumed();
  s.poling = TW_DISC_POLING_MINUS;
  s.metal.young *= stiffness;
  s.bond.young *= stiffness;
  s.silver.young *= stiffness;
  s.ceramic.s11 /= stiffness;
  s.ceramic.s12 /= stiffness;
  s.ceramic.s13 /= stiffness;
  s.ceramic.s33 /= stiffness;
  s.ceramic.d31 *= piezo;
  s.ceramic.d33 *= piezo;
  s.ceramic.permittivity *= permittivity;
  tw_disc *disc;
  tw_disc_measures m;
  assert_int_equal(tw_disc_new(&s, &disc, NULL), TW_OK);
  assert_int_equal(tw_disc_measure(disc, TW_DISC_SHORT, &m, NULL), TW_OK);
  tw_disc_free(disc);
  return (tw_disc_measured){m.capacitance_free.value, m.capacitance_mounted.value,
                            m.resonance_free.value, m.resonance_mounted.value,
                            m.charge_per_newton.value};
}

static void finds_the_constants_again(void **state)
{
  (void)state;
  const tw_disc_measured seen = measure_another(0.8, 1.15, 1.1);
  assert_true(seen.charge_per_newton < 0.0);
  tw_disc_spec s = assumed();
  tw_disc_match match;
  assert_int_equal(tw_disc_spec_match(&s, &seen, &match, NULL), TW_OK);
  assert_rel(match.piezo, 0.8, 1e-7);
  assert_rel(match.permittivity, 1.15, 1e-7);
  assert_rel(match.stiffness, 1.1, 1e-7);
  assert_int_equal(s.poling, TW_DISC_POLING_MINUS);
  assert_near(match.capacitance_mounted_off, 0.0, 1e-7);
  assert_near(match.resonance_mounted_off, 0.0, 1e-7);
  assert_true(s.metal_thickness == assumed().metal_thickness);
  assert_true(s.ceramic_thickness == assumed().ceramic_thickness);
}

static void tells_what_does_not_fit(void **state)
{
  (void)state;
  tw_disc_measured seen = measure_another(1.0, 1.0, 1.0);
  seen.resonance_mounted *= 1.1; /* a clamped-looking rim */
  seen.capacitance = 0.0;
  tw_disc_spec s = assumed();
  tw_disc_match match;
  assert_int_equal(tw_disc_spec_match(&s, &seen, &match, NULL), TW_OK);
  assert_rel(match.stiffness, 1.0, 1e-7);
  assert_near(match.resonance_mounted_off, 1.0 / 1.1 - 1.0, 1e-6);
  assert_near(match.resonance_free_off, 0.0, 1e-8);
  /* without the free one, the mounted one sets the stiffness: close to 1.1^2 */
  seen.resonance_free = 0.0;
  s = assumed();
  assert_int_equal(tw_disc_spec_match(&s, &seen, &match, NULL), TW_OK);
  assert_near(match.stiffness, 1.21, 0.03);
  assert_near(match.resonance_mounted_off, 0.0, 1e-8);
}

static void nothing_measured_changes_nothing(void **state)
{
  (void)state;
  const tw_disc_measured none = {0};
  tw_disc_spec s = assumed();
  const tw_disc_spec before = s;
  tw_disc_match match;
  assert_int_equal(tw_disc_spec_match(&s, &none, &match, NULL), TW_OK);
  assert_memory_equal(&s, &before, sizeof s);
  assert_true(match.piezo == 1.0 && match.stiffness == 1.0 && match.permittivity == 1.0);
}

static void refuses_the_absurd(void **state)
{
  (void)state;
  tw_fault fault;
  tw_disc_match match;
  tw_disc_spec s = assumed();
  tw_disc_measured seen = {.capacitance = 10e-6}; /* nF taken for uF */
  assert_int_equal(tw_disc_spec_match(&s, &seen, &match, &fault), TW_BAD_INPUT);
  assert_string_equal(fault.field, "measured.capacitance");
  s = assumed();
  seen = (tw_disc_measured){.resonance_free = 60.0};
  assert_int_equal(tw_disc_spec_match(&s, &seen, &match, &fault), TW_BAD_INPUT);
  assert_string_equal(fault.field, "measured.resonance_free");
  s = assumed();
  seen = (tw_disc_measured){.charge_per_newton = NAN};
  assert_int_equal(tw_disc_spec_match(&s, &seen, &match, &fault), TW_BAD_INPUT);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(finds_the_constants_again),
      cmocka_unit_test(tells_what_does_not_fit),
      cmocka_unit_test(nothing_measured_changes_nothing),
      cmocka_unit_test(refuses_the_absurd),
  };
  return cmocka_run_group_tests_name("disc match", tests, NULL, NULL);
}
