/* Impossible discs are refused with the field to change; memory may run out anywhere; random discs
 * never give a number that is not one. */
#include "disc_scenes.h"
#include "tripwright/disc.h"

#include <string.h>

static tw_disc_spec good(void)
{
  tw_disc_spec s = disc_on_ledge(6.4e-3);
  s.ledge_radius = 9.3e-3;
  s.void_depth = 60e-6;
  s.ceramic_eccentricity = 0.2e-3;
  s.carrier_mass = 5e-3;
  return s;
}

typedef struct wrong {
  size_t offset;
  double value;
  const char *field;
} wrong;

#define W(member, value, field)                                                                    \
  {                                                                                                \
    offsetof(tw_disc_spec, member), value, field                                                   \
  }

static void impossible_numbers(void **state)
{
  (void)state;
  static const wrong ROW[] = {
      W(metal_radius, 0.0, "disc.metal_diameter"),
      W(metal_radius, 5e-3, "disc.ceramic_diameter"),
      W(metal_radius, NAN, "disc.metal_diameter"),
      W(metal_radius, HUGE_VAL, "disc.metal_diameter"),
      W(metal_thickness, 0.0, "disc.metal_thickness"),
      W(metal_thickness, -1e-4, "disc.metal_thickness"),
      W(metal_thickness, 8e-3, "disc.metal_thickness"),
      W(metal.young, NAN, "disc.metal"),
      W(metal.poisson, 0.5, "disc.metal"),
      W(metal.density, 0.0, "disc.metal"),
      W(metal.expansion, NAN, "disc.metal"),
      W(ceramic_radius, 11e-3, "disc.ceramic_diameter"),
      W(ceramic_radius, 0.0, "disc.ceramic_diameter"),
      W(ceramic_radius, NAN, "disc.ceramic_diameter"),
      W(ceramic_thickness, -1e-6, "disc.ceramic_thickness"),
      W(ceramic_thickness, NAN, "disc.ceramic_thickness"),
      W(electrode_radius, 7.1e-3, "disc.electrode_diameter"),
      W(electrode_radius, NAN, "disc.electrode_diameter"),
      W(bond_thickness, -1e-6, "disc.bond_thickness"),
      W(bond.young, 0.0, "disc.bond_thickness"),
      W(silver_thickness, 2e-3, "disc.silver_thickness"),
      W(silver.poisson, -0.2, "disc.silver_thickness"),
      W(hole_radius, 9.5e-3, "disc.hole_diameter"),
      W(hole_radius, 6.95e-3, "disc.hole_diameter"),
      W(hole_radius, 6.5e-3, "disc.electrode_diameter"),
      W(ceramic_eccentricity, 4e-3, "disc.ceramic_eccentricity"),
      W(ceramic_eccentricity_azimuth, NAN, "disc.ceramic_eccentricity_azimuth"),
      W(ceramic.s11, 0.0, "disc.ceramic"),
      W(ceramic.s12, -17e-12, "disc.ceramic"),
      W(ceramic.s13, -12e-12, "disc.ceramic"),
      W(ceramic.s33, NAN, "disc.ceramic"),
      W(ceramic.d31, 171e-12, "disc.ceramic"),
      W(ceramic.d31, -1700e-12, "disc.ceramic"),
      W(ceramic.d33, -1.0, "disc.ceramic"),
      W(ceramic.permittivity, 0.0, "disc.ceramic"),
      W(ceramic.density, NAN, "disc.ceramic"),
      W(ceramic.pyroelectric, NAN, "disc.ceramic"),
      W(ledge_radius, 0.0, "support.ledge_radius"),
      W(ledge_radius, 10.1e-3, "support.ledge_radius"),
      W(ledge_radius, NAN, "support.ledge_radius"),
      W(void_radius, 11e-3, "support.void_radius"),
      W(void_radius, NAN, "support.void_radius"),
      W(void_depth, -1e-6, "support.void_depth"),
      W(void_depth, NAN, "support.void_depth"),
      W(backing_stiffness, -1.0, "support.backing_stiffness"),
      W(contact_radius, 12e-3, "seat.flat_radius"),
      W(contact_radius, NAN, "seat.flat_radius"),
      W(carrier_mass, -1.0, "seat.carrier_mass"),
      W(carrier_mass, NAN, "seat.carrier_mass"),
  };
  for (size_t i = 0; i < sizeof ROW / sizeof *ROW; i++) {
    tw_disc_spec s = good();
    memcpy((char *)&s + ROW[i].offset, &ROW[i].value, sizeof(double));
    tw_disc *disc = (tw_disc *)&s;
    tw_fault fault = {0};
    const tw_status status = tw_disc_new(&s, &disc, &fault);
    if (status != TW_BAD_INPUT || strcmp(fault.field, ROW[i].field) != 0 || fault.text[0] == '\0' ||
        fault.hint[0] == '\0') {
      fail_msg("row %zu (%s = %g): status %d, field %s, text %s", i, ROW[i].field, ROW[i].value,
               status, fault.field, fault.text);
    }
    assert_null(disc);
  }
  tw_disc_spec s = good();
  s.support = TW_DISC_FOUNDATION;
  tw_disc *disc;
  tw_fault fault;
  assert_int_equal(tw_disc_new(&s, &disc, &fault), TW_BAD_INPUT);
  assert_string_equal(fault.field, "support.foundation_stiffness");
  s = good();
  s.contact_face = TW_DISC_METAL_FACE; /* the ceramic of 215 um hangs into a void of 60 um */
  assert_int_equal(tw_disc_new(&s, &disc, &fault), TW_BAD_INPUT);
  assert_string_equal(fault.field, "support.void_depth");
}

/* everything that a user may do, once */
static tw_status use_all(const tw_disc_spec *spec)
{
  static const double R[4] = {3e-3, 3.1e-3, 2.9e-3, 0.5e-3}, AZ[4] = {0.0, 2.0, 4.0, 1.0};
  double c[16], q[4];
  tw_disc *disc = NULL;
  tw_disc_measures m;
  tw_disc_backed b;
  tw_disc_stress rows[TW_DISC_STRESS_ROWS];
  size_t count;
  tw_fault fault;
  tw_status s = tw_disc_new(spec, &disc, &fault);
  s = s == TW_OK ? tw_disc_measure(disc, TW_DISC_OPEN, &m, &fault) : s;
  s = s == TW_OK ? tw_disc_compliance(disc, 4, R, AZ, TW_DISC_OPEN, c, &fault) : s;
  s = s == TW_OK ? tw_disc_charge(disc, 4, R, AZ, q, &fault) : s;
  s = s == TW_OK ? tw_disc_press(disc, 3e-3, 20.0, TW_DISC_OPEN, &b, &fault) : s;
  s = s == TW_OK ? tw_disc_stresses(disc, 3e-3, rows, &count, &fault) : s;
  tw_disc_free(disc);
  return s;
}

static void memory_may_run_out_anywhere(void **state)
{
  (void)state;
  for (int bed = 0; bed < 2; bed++) {
    tw_disc_spec s = good();
    s.support = bed ? TW_DISC_FOUNDATION : TW_DISC_LEDGE;
    s.foundation_stiffness = 1e9;
    tw_alloc_seen();
    assert_int_equal(use_all(&s), TW_OK);
    const long all = tw_alloc_seen();
    assert_true(all > 20);
    for (long n = 1; n <= all; n++) {
      for (int always = 0; always < 2; always++) {
        tw_alloc_fail_at(n, always);
        assert_int_equal(use_all(&s), TW_NO_MEMORY);
        tw_alloc_fail_at(0, false);
      }
    }
  }
}

static double uniform(uint64_t *seed, double low, double high)
{
  *seed = *seed * 6364136223846793005u + 1442695040888963407u;
  return low + (high - low) * (double)(*seed >> 11) / 9007199254740992.0;
}

static tw_disc_spec random_spec(uint64_t *seed)
{
  tw_disc_spec s;
  tw_disc_spec_default(&s);
  s.metal_radius = uniform(seed, 3e-3, 30e-3);
  s.metal_thickness = uniform(seed, 0.03e-3, 0.06 * s.metal_radius);
  s.ceramic_radius = uniform(seed, 0.3, 1.0) * s.metal_radius;
  s.ceramic_thickness = uniform(seed, 0.03e-3, 0.06 * s.metal_radius);
  s.electrode_radius = uniform(seed, 0.5, 1.0) * s.ceramic_radius;
  s.bond_thickness = uniform(seed, -20e-6, 30e-6) > 0 ? 15e-6 : 0.0;
  s.silver_thickness = uniform(seed, -10e-6, 10e-6) > 0 ? 6e-6 : 0.0;
  s.hole_radius = uniform(seed, -0.3, 0.3) > 0.1 ? 0.1 * s.ceramic_radius : 0.0;
  s.support = (tw_disc_support)uniform(seed, 0.0, 6.999);
  s.bonded = uniform(seed, -1.0, 1.0) > 0;
  s.ledge_radius = uniform(seed, 0.6, 1.0) * s.metal_radius;
  s.foundation_stiffness = pow(10.0, uniform(seed, 6.0, 13.0));
  s.void_radius = uniform(seed, -1.0, 1.0) > 0 ? uniform(seed, 0.5, 1.0) * s.metal_radius : 0.0;
  s.void_depth = uniform(seed, -1.0, 1.0) > 0 ? uniform(seed, 1e-6, 80e-6) : 0.0;
  s.contact_radius = uniform(seed, 0.12, 0.5) * s.ceramic_radius;
  s.carrier_mass = uniform(seed, 0.0, 20e-3);
  s.ceramic_eccentricity = fmin(0.3e-3, s.metal_radius - s.ceramic_radius);
  s.poling = (tw_disc_poling)uniform(seed, 0.0, 2.999);
  return s;
}

/* no gap closed further than it goes, nothing pulled, nothing that is not a number */
static void check_press(const tw_disc *disc, double radius)
{
  double before = -1.0;
  for (double force = 0.0; force < 200.0; force = 1.7 * force + 0.05) {
    tw_disc_backed b;
    tw_fault fault;
    const tw_status status = tw_disc_press(disc, radius, force, TW_DISC_OPEN, &b, &fault);
    if (status != TW_OK) {
      fail_msg("%g N: %s", force, fault.text);
    }
    assert_true(isfinite(b.charge) && isfinite(b.charge_slope) && isfinite(b.deflection));
    assert_true(b.clearance >= 0.0 && b.backing_force >= 0.0 && b.slope >= -1e-15);
    assert_true(b.backing_force <= 1.5 * force + 1e-12);
    assert_true(b.deflection >= before - 1e-12 * fabs(before));
    before = b.deflection;
  }
}

static void random_discs_give_numbers(void **state)
{
  (void)state;
  uint64_t seed = 20;
  int solved = 0;
  for (int round = 0; round < 300; round++) {
    const tw_disc_spec s = random_spec(&seed);
    tw_disc *disc;
    tw_fault fault;
    const tw_status status = tw_disc_new(&s, &disc, &fault);
    if (status != TW_OK) {
      assert_int_equal(status, TW_BAD_INPUT);
      assert_true(fault.field[0] != '\0');
      continue;
    }
    tw_disc_measures m;
    if (tw_disc_measure(disc, TW_DISC_OPEN, &m, &fault) != TW_OK) {
      fail_msg("round %d, support %d: %s", round, s.support, fault.text);
    }
    const tw_disc_value *v = &m.capacitance_blocked;
    for (size_t i = 0; i < (sizeof m - offsetof(tw_disc_measures, capacitance_blocked)) / sizeof *v;
         i++) {
      assert_true(isfinite(v[i].value));
      assert_true(v[i].known == (v[i].why_not == NULL));
    }
    if (m.stiffness_short.known) {
      assert_true(m.stiffness_open.value > m.stiffness_short.value * (1.0 - 1e-12));
      assert_true(m.capacitance_mounted.value >= m.capacitance_blocked.value * (1.0 - 1e-12));
      check_press(disc, m.contact_radius);
    }
    solved++;
    tw_disc_free(disc);
  }
  print_message("%d of 300 random discs were possible and solved\n", solved);
  assert_true(solved > 150);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(impossible_numbers),
      cmocka_unit_test(memory_may_run_out_anywhere),
      cmocka_unit_test(random_discs_give_numbers),
  };
  return cmocka_run_group_tests_name("disc refusals", tests, NULL, NULL);
}
