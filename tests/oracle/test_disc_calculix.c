/* Discs against CalculiX (axisymmetric quadratic solids): a homogeneous plate under a ring load,
 * the elastic laminate (constants at constant field), its resonances, and the deflection per volt
 * with the piezo strain given as thermal expansion. */
#include "disc_ccx.h"
#include "disc_scenes.h"

/* elements of 0.1 mm, two through each layer: the mesh of docs/models/disc.md section 3 */
static const ccx_mesh MESH = {70, 30, 2, 2};

/* the laminate without any piezo coupling: d31 and d33 next to nothing */
static tw_disc_spec elastic_only(void)
{
  tw_disc_spec s = disc_named("D20A");
  s.ceramic.d31 = -1e-18;
  s.ceramic.d33 = 1e-18;
  return s;
}

static ccx_result run(const tw_disc_spec *s, ccx_case what)
{
  ccx_mesh mesh = MESH;
  if (s->ceramic_radius == s->metal_radius) {
    mesh.inner += mesh.outer;
    mesh.outer = 0;
  }
  ccx_result r;
  assert_true(ccx_run(s, mesh, what, &r));
  return r;
}

/* both layers brass: the 0.4 mm plate of the handbook test */
static void homogeneous_plate(void **state)
{
  (void)state;
  tw_disc_spec s = disc_named("D20A");
  const double e = s.metal.young, nu = s.metal.poisson;
  s.ceramic_radius = s.metal_radius; /* brass all over: the ceramic given the constants of brass */
  s.ceramic.s11 = s.ceramic.s33 = 1.0 / e;
  s.ceramic.s12 = s.ceramic.s13 = -nu / e;
  const ccx_result solid = run(&s, CCX_LOAD);
  tw_disc_spec plate;
  tw_disc_spec_default(&plate);
  plate.metal_radius = 10e-3;
  plate.metal_thickness = 0.4e-3;
  tw_disc *disc = disc_solved(&plate);
  tw_disc_backed b;
  assert_int_equal(tw_disc_press(disc, 2e-3, 1.0, TW_DISC_SHORT, &b, NULL), TW_OK);
  print_message("brass 0.4 mm, w(0)/F: thin plate %.6e, CalculiX %.6e m/N (%+.2f %%)\n",
                b.centre_deflection, solid.centre,
                100.0 * (b.centre_deflection / solid.centre - 1.0));
  assert_rel(solid.centre, 7.134877e-06, 0.001); /* docs/models/disc.md, section 3 */
  assert_rel(b.centre_deflection, solid.centre, 0.005);
  tw_disc_free(disc);
}

static void elastic_laminate(void **state)
{
  (void)state;
  const tw_disc_spec s = elastic_only();
  const ccx_result solid = run(&s, CCX_LOAD);
  tw_disc *disc = disc_solved(&s);
  tw_disc_ring ring;
  assert_int_equal(tw_disc_at(disc, 2e-3, &ring, NULL), TW_OK);
  print_message("laminate, w under the ring: thin %.6e, CalculiX %.6e m/N (%+.2f %%)\n",
                ring.deflection, solid.load, 100.0 * (ring.deflection / solid.load - 1.0));
  assert_rel(solid.load, 1.152416e-05, 0.001); /* docs/models/disc.md, section 3 */
  assert_rel(ring.deflection, solid.load, 0.03);
  tw_disc_free(disc);
}

static void elastic_resonances(void **state)
{
  (void)state;
  const tw_disc_spec s = elastic_only();
  tw_disc *disc = disc_solved(&s);
  tw_disc_measures m;
  assert_int_equal(tw_disc_measure(disc, TW_DISC_SHORT, &m, NULL), TW_OK);
  const double open = run(&s, CCX_FREE).hertz, held = run(&s, CCX_HELD).hertz;
  print_message("resonance free %.2f, CalculiX %.2f Hz (%+.2f %%); rim held %.2f, %.2f Hz "
                "(%+.2f %%)\n",
                m.resonance_free.value, open, 100.0 * (m.resonance_free.value / open - 1.0),
                m.resonance_mounted.value, held, 100.0 * (m.resonance_mounted.value / held - 1.0));
  assert_rel(open, 5866.16, 0.001);
  assert_rel(held, 2537.88, 0.001);
  assert_rel(m.resonance_free.value, open, 0.015);
  assert_rel(m.resonance_mounted.value, held, 0.02);
  tw_disc_free(disc);
}

/* the thermal twin has an even field through the thickness: a permittivity without end takes the
 * bending field out of the laminate too */
static void deflection_per_volt(void **state)
{
  (void)state;
  tw_disc_spec s = disc_named("D20A");
  const ccx_result solid = run(&s, CCX_VOLT);
  s.ceramic.permittivity = 1e5;
  tw_disc *disc = disc_solved(&s);
  const double centre = tw_disc_influence(disc, 0.0), ring = tw_disc_influence(disc, 2e-3);
  print_message("g(0), g(2 mm): laminate %.5e, %.5e, CalculiX %.5e, %.5e m/V (%+.2f, %+.2f %%)\n",
                centre, ring, solid.centre, solid.load, 100.0 * (centre / solid.centre - 1.0),
                100.0 * (ring / solid.load - 1.0));
  assert_rel(solid.centre, 1.342790e-07, 0.001);
  assert_rel(solid.load, 1.280702e-07, 0.001);
  assert_rel(centre, solid.centre, 0.01);
  assert_rel(ring, solid.load, 0.01);
  tw_disc_free(disc);
}

int main(void)
{
  if (!ccx_there()) {
    printf("skipped: the program ccx is not installed, nothing was compared\n");
    return 0;
  }
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(homogeneous_plate),
      cmocka_unit_test(elastic_laminate),
      cmocka_unit_test(elastic_resonances),
      cmocka_unit_test(deflection_per_volt),
  };
  return cmocka_run_group_tests_name("disc against CalculiX", tests, NULL, NULL);
}
