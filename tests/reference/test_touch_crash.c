/* Crashes: the tabulated cases of a pivot on foam (docs/models/crash.md 5), stages in series
 * against hand sums, energies against their integrals, order, reseating, stack. */
#include "near.h"
#include "tripwright/seat_forms.h"
#include "tripwright/touch_crash.h"
#include <string.h>

#define DEGREE (3.14159265358979324 / 180.0)

/* ball 10 mm, flat of 3 mm at 4 mm, 40 mm reach, 1 N, on a disc of this centre stiffness */
static tw_crash_pivot pivot_on(double centre_stiffness)
{
  const double k = centre_stiffness / 3e4;
  return (tw_crash_pivot){.flat_radius = 3e-3,
                          .flat_height = 4e-3,
                          .ball_radius = 5e-3,
                          .reach = 40e-3,
                          .socket_angle = 45.0 * DEGREE,
                          .friction_socket = 0.2,
                          .friction_flat = 0.2,
                          .preload = 1.0,
                          .ring_stiffness = 42850.07 * k,
                          .point_stiffness = 35224.6 * k};
}

static double angle_of(const tw_crash_pivot *p, double travel)
{
  return asin(fmin(travel / p->reach, 1.0));
}

static double swivel_force(const void *self, double travel)
{
  tw_crash_swivel s;
  tw_crash_swivel_at(self, angle_of(self, travel), &s);
  return s.tip_force;
}

static double edge_load(const void *self, double travel)
{
  tw_crash_swivel s;
  tw_crash_swivel_at(self, angle_of(self, travel), &s);
  return s.edge_load;
}

static tw_status cellular(const void *foam, double strain, double *stress, tw_fault *fault)
{
  return tw_foam_cellular_stress(foam, strain, stress, fault);
}

static const tw_foam_cellular soft = {45e6, 0.05};

/* ring 18/26 mm, 12 mm thick, 2 mm precompressed; edge at 13 mm, ball 45 mm above it */
static tw_crash_foam_ring ring(void)
{
  return (tw_crash_foam_ring){.stress = cellular,
                              .foam = &soft,
                              .outer_radius = 13e-3,
                              .inner_radius = 9e-3,
                              .thickness = 12e-3,
                              .precompression = 2e-3,
                              .tipping_radius = 13e-3,
                              .height = 45e-3};
}

static void foam_ring(void **state)
{
  (void)state;
  const tw_crash_foam_ring r = ring();
  double f = 0.0;
  assert_int_equal(tw_crash_foam_axial(&r, 0.0, &f, NULL), TW_OK);
  assert_printed(f, 2.61, 0.01);
  assert_int_equal(tw_crash_foam_side(&r, 0.0, &f, NULL), TW_OK);
  assert_printed(f, 0.7535, 1e-4);
  assert_int_equal(tw_crash_foam_axial(&r, 5e-3, &f, NULL), TW_OK);
  assert_printed(f, 5.74, 0.01);
  tw_fault fault = {0};
  assert_int_equal(tw_crash_foam_axial(&r, 9.9e-3, &f, &fault), TW_BAD_INPUT);
}

/* tabulated: sideways 5.1 mm, and 5 mm along the axis */
static void pivots_on_foam(void **state)
{
  (void)state;
  static const struct {
    double t, k, point, ring;               /* mm, N/m, MPa/N of the disc, tabulated */
    double force, angle, load, side, axial; /* N, deg, N, MPa, MPa */
  } rows[] = {{0.13, 2.91e4, 42.8, 11.4, 0.84, 3.65, 7.1, 303, 66},
              {0.20, 1.06e5, 17.1, 4.82, 0.93, 1.04, 7.5, 128, 28},
              {0.30, 3.58e5, 7.10, 2.14, 0.95, 0.31, 7.6, 54, 12}};
  double x[60];
  double f[60];
  size_t n = 0;
  const tw_crash_foam_ring r = ring();
  assert_int_equal(tw_crash_foam_table(&r, true, 12e-3, 60, x, f, &n, NULL), TW_OK);
  for (int i = 0; i < 3; i++) {
    const tw_crash_pivot p = pivot_on(rows[i].k);
    /* stem: carbide of 1.4 mm, 40 mm long */
    const double stem = 3.0 * 600e9 * 3.14159265358979324 * pow(1.4e-3, 4) / 64.0 / pow(40e-3, 3);
    const tw_crash_stage stages[3] = {{.name = "swivel",
                                       .field = "seat",
                                       .law = TW_CRASH_EXACT,
                                       .force_of = swivel_force,
                                       .self = &p,
                                       .reach = 10e-3,
                                       .stop_stiffness = 1e7},
                                      {.name = "holder",
                                       .field = "holddown",
                                       .law = TW_CRASH_TABLE,
                                       .travel = x,
                                       .force = f,
                                       .count = n,
                                       .stop_stiffness = 1e7},
                                      {.name = "stem", .field = "stylus", .stiffness = stem}};
    const tw_crash_member ceramic = {.name = "ceramic",
                                     .field = "disc.ceramic_strength",
                                     .stage = 0,
                                     .share = 1.0,
                                     .load_of = edge_load,
                                     .self = &p,
                                     .stress_per_newton = rows[i].point * 1e6,
                                     .allowable = 40e6};
    tw_crash out;
    tw_fault fault = {0};
    assert_int_equal(tw_crash_run(stages, 3, &ceramic, 1, 5.1e-3, &out, &fault), TW_OK);
    const double angle = angle_of(&p, out.travel[0]) / DEGREE;
    print_message("%.2f mm: %.4f N, %.3f deg, %.3f N, %.1f MPa\n", rows[i].t, out.force, angle,
                  edge_load(&p, out.travel[0]), out.stress[0] * 1e-6);
    assert_printed(out.force, rows[i].force, 0.01);
    /* the table's own rounding of k and stress is worth half a per cent */
    assert_near(angle, rows[i].angle, 0.005 + 0.005 * rows[i].angle);
    assert_printed(edge_load(&p, out.travel[0]), rows[i].load, 0.1);
    assert_near(out.stress[0] * 1e-6, rows[i].side, 0.5 + 0.005 * rows[i].side);
    assert_rel(out.travel[0] + out.travel[1] + out.travel[2], 5.1e-3, 1e-12);
    assert_true(out.fails && out.has_first && out.first == 0);
    /* along the axis the holder's force goes straight through the disc's ring */
    double axial = 0.0;
    assert_int_equal(tw_crash_foam_axial(&r, 5e-3, &axial, NULL), TW_OK);
    assert_near(axial * rows[i].ring, rows[i].axial, 0.7);
  }
}

/* spring, stiff until it gives, and a stop: every number by hand */
static void by_hand(void **state)
{
  (void)state;
  const tw_crash_stage stages[3] = {{.name = "stem", .field = "stylus", .stiffness = 2e4},
                                    {.name = "seat",
                                     .field = "seat",
                                     .gives_at = 0.5,
                                     .stiffness = 1e3,
                                     .limit = 1e-3,
                                     .stop_stiffness = 1e6},
                                    {.name = "holder",
                                     .field = "holddown",
                                     .gives_at = 3.0,
                                     .stiffness = 500.0,
                                     .limit = 2e-3,
                                     .stop_stiffness = 1e7}};
  const tw_crash_member members[2] = {{.name = "stem root",
                                       .field = "stylus.stem_diameter",
                                       .stage = 0,
                                       .whole = true,
                                       .share = 1.0,
                                       .stress_per_newton = 100e6,
                                       .allowable = 350e6},
                                      {.name = "ceramic",
                                       .field = "disc",
                                       .stage = 1,
                                       .share = 2.0,
                                       .stress_per_newton = 10e6,
                                       .allowable = 40e6}};
  /* F = 3.5 N: 0.175 mm + (1 mm + 2 N / 1e6) + 1 mm */
  const double travel = 3.5 / 2e4 + 1e-3 + 2.0 / 1e6 + 0.5 / 500.0;
  tw_crash out;
  assert_int_equal(tw_crash_run(stages, 3, members, 2, travel, &out, NULL), TW_OK);
  assert_rel(out.force, 3.5, 1e-10);
  assert_true(!out.stopped[0] && out.stopped[1] && !out.stopped[2]);
  assert_rel(out.energy[0], 0.5 * 3.5 * 3.5 / 2e4, 1e-9);
  assert_rel(out.energy[1], 1e-3 * (0.5 + 0.5) + 2e-6 * 0.5 * (1.5 + 3.5), 1e-9);
  assert_rel(out.energy[2], 1e-3 * (3.0 + 0.25), 1e-9);
  /* the stop takes what is over 1.5 N */
  assert_rel(out.stress[1], 2.0 * 1.5 * 10e6, 1e-9);
  assert_rel(out.ratio[0], 1.0, 1e-9);
  assert_false(out.can_fail[1]);
  assert_true(out.can_fail[0] && out.first == 0);
  assert_rel(out.fail_force[0], 3.5, 1e-9);
  assert_rel(out.fail_travel[0], travel, 1e-9);
  /* the energy is the integral of the force over the travel */
  double sum = 0.0;
  const int n = 20000;
  for (int i = 0; i < n; i++) {
    double f = 0.0;
    assert_int_equal(tw_crash_force(stages, 3, travel * (i + 0.5) / n, &f, NULL), TW_OK);
    sum += f * travel / n;
  }
  assert_rel(sum, out.total, 1e-5);
}

/* foam that comes back on another curve keeps the area between */
static void unloading(void **state)
{
  (void)state;
  static const double x[4] = {0, 1e-3, 2e-3, 3e-3};
  static const double up[4] = {1, 2, 3, 4};
  static const double down[4] = {0.5, 1.5, 2.5, 3.5};
  const tw_crash_stage s = {.name = "foam",
                            .field = "holddown.table",
                            .law = TW_CRASH_TABLE,
                            .travel = x,
                            .force = up,
                            .unloading = down,
                            .count = 4,
                            .stop_stiffness = 1e6};
  tw_crash out;
  assert_int_equal(tw_crash_run(&s, 1, NULL, 0, 2.5e-3, &out, NULL), TW_OK);
  assert_rel(out.force, 3.5, 1e-9);
  assert_rel(out.energy[0], 2.5e-3 * 2.25, 1e-9);
  assert_rel(out.kept[0], 2.5e-3 * 0.5, 1e-9);
  /* past the table's end it is solid */
  assert_int_equal(tw_crash_run(&s, 1, NULL, 0, 3.5e-3, &out, NULL), TW_OK);
  assert_rel(out.force, 4.0 + 0.5e-3 * 1e6, 1e-9);
  assert_true(out.stopped[0]);
}

static void refused(void **state)
{
  (void)state;
  tw_fault fault = {0};
  tw_crash out;
  tw_crash_stage s = {.name = "stem", .field = "stylus.stem_diameter"};
  assert_int_equal(tw_crash_run(&s, 1, NULL, 0, 1e-3, &out, &fault), TW_BAD_INPUT);
  assert_string_equal(fault.field, "stylus.stem_diameter");
  s.stiffness = 1e4;
  s.limit = 1e-3;
  assert_int_equal(tw_crash_run(&s, 1, NULL, 0, 1e-3, &out, &fault), TW_BAD_INPUT);
  s.stop_stiffness = 1e15; /* harder than anything: no force of this world gets there */
  assert_int_equal(tw_crash_run(&s, 1, NULL, 0, 1.0, &out, &fault), TW_NO_ANSWER);
  s.stop_stiffness = 1e7;
  assert_int_equal(tw_crash_run(&s, 1, NULL, 0, NAN, &out, &fault), TW_BAD_INPUT);
  assert_int_equal(tw_crash_run(&s, 0, NULL, 0, 1e-3, &out, &fault), TW_BAD_INPUT);
}

/* the base pivot's order: along the axis it holds, sideways the disc gives before the holder */
static void order(void **state)
{
  (void)state;
  const tw_crash_pivot p = pivot_on(2.91e4);
  const double point = 40.0 / 42.8;
  assert_printed(point, 0.93, 0.01);
  const double arm = tw_seat_friction_arm(0.2, 0.2, 5e-3, 4e-3, 45.0 * DEGREE);
  const tw_crash_mark side[] = {{"trip", "circuit.reference", 0.123},
                                {"holder lifts", "holddown.force", 2.61 * 13.0 / 45.0},
                                {"disc", "disc", point * (p.flat_radius + arm) / p.reach}};
  assert_printed(side[2].force, 0.117, 0.001);
  tw_messages *m = tw_messages_new();
  assert_int_equal(tw_crash_order_warn("x", side, 3, m), 1);
  assert_int_equal(tw_messages_count(m), 1);
  assert_string_equal(tw_messages_at(m, 0)->field, "disc");
  print_message("%s\n", tw_messages_at(m, 0)->text);
  tw_messages_free(m);
  const tw_crash_mark axial[] = {{"trip", "circuit.reference", 1.05},
                                 {"holder lifts", "holddown.force", 2.61},
                                 {"disc", "disc", 40.0 / 11.4}};
  assert_int_equal(tw_crash_order_warn("z", axial, 3, NULL), 0);
}

static void stems_and_reseating(void **state)
{
  (void)state;
  assert_printed(tw_crash_stem_stress(35e-3, 1.509e-3) * 1e-6, 103.8, 0.1);
  assert_printed(tw_crash_stem_stress(35e-3, 2.387e-3) * 1e-6, 26.2, 0.1);
  assert_printed(tw_crash_stem_stress(35e-3, 1.0e-3) * 1e-6, 356.5, 0.1);
  assert_printed(tw_crash_stem_stress(35e-3, 1.4e-3) * 1e-6, 129.9, 0.1);
  tw_crash_reseat r;
  assert_int_equal(tw_crash_reseat_of(TW_CRASH_BY_PLAY, 50e-6, 0.3, 2.61, 1e5, &r, NULL), TW_OK);
  assert_rel(r.offset, 0.3 * 2.61 / 1e5, 1e-12);
  assert_true(r.tram_again);
  assert_int_equal(tw_crash_reseat_of(TW_CRASH_BY_PLAY, 50e-6, 0.3, 2.61, 0.0, &r, NULL), TW_OK);
  assert_rel(r.offset, 50e-6, 1e-12);
  assert_int_equal(tw_crash_reseat_of(TW_CRASH_KINEMATICALLY, 50e-6, 0.3, 2.61, 1e5, &r, NULL),
                   TW_OK);
  assert_true(!r.tram_again && r.offset == 0.0);
}

static void stack(void **state)
{
  (void)state;
  const tw_stack_link links[4] = {{"housing", 45e-3, 0.1e-3, 0.2e-3},
                                  {"board", -1.6e-3, 0.15e-3, 0.15e-3},
                                  {"disc", -0.26e-3, 0.02e-3, 0.02e-3},
                                  {"carrier and foam", -42.8e-3, 0.05e-3, 0.05e-3}};
  double share[4];
  tw_stack s;
  assert_int_equal(tw_stack_of(links, 4, 0.1e-3, share, &s, NULL), TW_OK);
  assert_rel(s.nominal, 0.34e-3, 1e-9);
  assert_rel(s.worst_low, 0.02e-3, 1e-9);
  assert_rel(s.worst_high, 0.76e-3, 1e-9);
  assert_rel(s.mean, 0.39e-3, 1e-9);
  assert_rel(s.spread, sqrt(0.15 * 0.15 + 0.15 * 0.15 + 0.02 * 0.02 + 0.05 * 0.05) * 1e-3, 1e-12);
  assert_true(!s.fits && s.fits_rss);
  assert_rel(share[0] + share[1] + share[2] + share[3], 1.0, 1e-12);
  assert_rel(s.clearance, -0.08e-3, 1e-9);
  tw_fault fault = {0};
  assert_int_equal(tw_stack_of(links, 0, 0.0, NULL, &s, &fault), TW_BAD_INPUT);
  assert_string_equal(fault.field, "stack.chain");
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(foam_ring),
      cmocka_unit_test(pivots_on_foam),
      cmocka_unit_test(by_hand),
      cmocka_unit_test(unloading),
      cmocka_unit_test(refused),
      cmocka_unit_test(order),
      cmocka_unit_test(stems_and_reseating),
      cmocka_unit_test(stack),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
