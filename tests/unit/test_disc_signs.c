/* Signs of a push from either face and either poling, the squeeze, a hole, a bare plate, a disc
 * held nowhere, and one disc used by two threads. */
#include "disc_scenes.h"

#include <pthread.h>
#include <string.h>

/* the carrier on the ceramic face */
static tw_disc_spec disc_20(void)
{
  tw_disc_spec s = disc_named("D20A");
  s.contact_face = TW_DISC_CERAMIC_FACE;
  return s;
}

static double push(tw_disc_face face, tw_disc_poling poling)
{
  tw_disc_spec s = disc_20();
  s.contact_face = face;
  s.poling = poling;
  tw_disc *disc = disc_solved(&s);
  tw_disc_ring ring;
  assert_int_equal(tw_disc_at(disc, 2e-3, &ring, NULL), TW_OK);
  assert_true((ring.charge > 0.0) == (ring.voltage_open > 0.0));
  const double r[1] = {2e-3}, az[1] = {0.4};
  double q;
  assert_int_equal(tw_disc_charge(disc, 1, r, az, &q, NULL), TW_OK);
  assert_rel(q, ring.charge, 1e-12);
  tw_disc_free(disc);
  return ring.charge;
}

/* poled away from the metal, a push from the metal side stretches the ceramic: plus. A calibrated
 * poling says the sign of the push itself. */
static void sign_of_a_push(void **state)
{
  (void)state;
  const double q = push(TW_DISC_METAL_FACE, TW_DISC_POLING_UNKNOWN);
  assert_true(q > 0.0);
  assert_rel(push(TW_DISC_CERAMIC_FACE, TW_DISC_POLING_UNKNOWN), -q, 1e-12);
  assert_rel(push(TW_DISC_METAL_FACE, TW_DISC_POLING_PLUS), q, 1e-12);
  assert_rel(push(TW_DISC_CERAMIC_FACE, TW_DISC_POLING_PLUS), q, 1e-12);
  assert_rel(push(TW_DISC_METAL_FACE, TW_DISC_POLING_MINUS), -q, 1e-12);
  assert_rel(push(TW_DISC_CERAMIC_FACE, TW_DISC_POLING_MINUS), -q, 1e-12);
}

/* pushed from the metal the ceramic's face is in tension, pushed from the ceramic in compression:
 * ten times the margin (docs/models/disc.md 5: 8.5 against 0.8 MPa/N) */
static void stress_from_either_face(void **state)
{
  (void)state;
  double worst[2];
  for (int face = 0; face < 2; face++) {
    tw_disc_spec s = disc_20();
    s.contact_face = face == 0 ? TW_DISC_METAL_FACE : TW_DISC_CERAMIC_FACE;
    tw_disc *disc = disc_solved(&s);
    tw_disc_stress row[TW_DISC_STRESS_ROWS];
    size_t count;
    assert_int_equal(tw_disc_stresses(disc, 2e-3, row, &count, NULL), TW_OK);
    assert_int_equal(count, 4);
    worst[face] = -HUGE_VAL;
    for (size_t i = 0; i < count; i++) {
      if (row[i].layer == TW_DISC_LAYER_CERAMIC) {
        worst[face] = fmax(worst[face], row[i].peak_tension);
      }
    }
    tw_disc_free(disc);
  }
  print_message("ceramic tension: %.2f MPa/N from the metal, %.2f MPa/N from the ceramic\n",
                1e-6 * worst[0], 1e-6 * worst[1]);
  assert_rel(worst[0], 8.458e6, 1e-4);
  assert_rel(worst[1], 0.776e6, 1e-3);
}

/* a bed that is soft against the disc and reaches everywhere leaves the stress of a plate on a bed:
 * under a point, M = P/(4 pi) (1 + nu) [ln(2 l/c) - 0.5772] for a small ring c (Timoshenko,
 * infinite plate on an elastic bed, from memory); and point stress by Roark's radius */
static void stress_on_a_bed_and_under_a_point(void **state)
{
  (void)state;
  tw_disc_spec s = disc_20();
  s.metal_radius = 40e-3;
  s.metal_thickness = 0.4e-3;
  s.ceramic_thickness = 0.0;
  s.support = TW_DISC_FOUNDATION;
  s.foundation_stiffness = 3e9;
  tw_disc *disc = disc_solved(&s);
  const double nu = s.metal.poisson, t = 0.4e-3;
  const double d = s.metal.young * t * t * t / (12.0 * (1.0 - nu * nu));
  const double l = pow(d / s.foundation_stiffness, 0.25), c = 0.2e-3;
  tw_disc_stress row[TW_DISC_STRESS_ROWS];
  size_t count;
  assert_int_equal(tw_disc_stresses(disc, c, row, &count, NULL), TW_OK);
  assert_int_equal(count, 2);
  /* a ring of radius c: ln c; small terms of (c/l)^2 left out */
  const double moment = (1.0 + nu) / (4.0 * acos(-1.0)) * (log(2.0 * l / c) - 0.57721566);
  assert_rel(row[1].centre_short, 6.0 * moment / (t * t), 5e-3);
  assert_rel(row[1].peak_tension, row[1].centre_short, 0.01);
  tw_disc_free(disc);

  /* simply supported, central patch of 0.1 mm: 3 P/(2 pi t^2) [(1+nu) ln(R/r') + 1] (Roark) */
  s.support = TW_DISC_RIM;
  disc = disc_solved(&s);
  const double even = sqrt(1.6 * 1e-8 + t * t) - 0.675 * t;
  const double roark = 1.5 / (acos(-1.0) * t * t) * ((1.0 + nu) * log(40e-3 / even) + 1.0);
  assert_int_equal(tw_disc_stresses(disc, tw_disc_point_ring(disc, 0.1e-3), row, &count, NULL),
                   TW_OK);
  assert_rel(row[1].centre_short, roark, 1e-4);
  tw_disc_free(disc);
}

/* exact zones against ring elements on a disc with a hole, and the hole closing */
static void hole(void **state)
{
  (void)state;
  static const tw_disc_support KINDS[] = {TW_DISC_RIM, TW_DISC_CLAMPED, TW_DISC_PINNED};
  for (size_t k = 0; k < sizeof KINDS / sizeof *KINDS; k++) {
    tw_disc_spec s = disc_20();
    s.support = KINDS[k];
    s.hole_radius = 1.5e-3;
    s.contact_radius = 3e-3;
    tw_disc *disc = disc_solved(&s);
    tw_disc_ring ring;
    double r[48], az[48], c[48 * 48], mean = 0.0;
    for (int i = 0; i < 48; i++) {
      r[i] = 3e-3;
      az[i] = 2.0 * acos(-1.0) * i / 48.0;
    }
    assert_int_equal(tw_disc_at(disc, 3e-3, &ring, NULL), TW_OK);
    assert_int_equal(tw_disc_compliance(disc, 48, r, az, TW_DISC_OPEN, c, NULL), TW_OK);
    for (int i = 0; i < 48; i++) {
      mean += c[i] / 48.0;
    }
    assert_rel(1.0 / mean, ring.stiffness_open, 1e-4);
    tw_disc_measures m;
    assert_int_equal(tw_disc_measure(disc, TW_DISC_OPEN, &m, NULL), TW_OK);
    assert_true(m.resonance_mounted.value > 500.0);
    assert_true(tw_disc_influence(disc, 1.0e-3) == 0.0); /* nothing in the hole */
    tw_disc_free(disc);
  }
  tw_disc_spec s = disc_20();
  tw_disc *whole = disc_solved(&s);
  s.hole_radius = 2e-6;
  tw_disc *pricked = disc_solved(&s);
  tw_disc_ring a, b;
  assert_int_equal(tw_disc_at(whole, 2e-3, &a, NULL), TW_OK);
  assert_int_equal(tw_disc_at(pricked, 2e-3, &b, NULL), TW_OK);
  assert_rel(b.charge, a.charge, 1e-5);
  assert_rel(b.deflection, a.deflection, 1e-5);
  tw_disc_free(whole);
  tw_disc_free(pricked);
}

static void plate_without_ceramic(void **state)
{
  (void)state;
  tw_disc_spec s = disc_20();
  s.ceramic_thickness = 0.0;
  tw_disc *disc = disc_solved(&s);
  tw_disc_measures m;
  assert_int_equal(tw_disc_measure(disc, TW_DISC_OPEN, &m, NULL), TW_OK);
  assert_false(m.charge_per_newton.known);
  assert_non_null(m.charge_per_newton.why_not);
  assert_true(m.stiffness_short.known);
  assert_rel(m.stiffness_short.value, m.stiffness_open.value, 1e-12);
  assert_rel(m.resonance_free.value, m.resonance_free_open.value, 1e-12);
  tw_disc_free(disc);
}

static void held_nowhere(void **state)
{
  (void)state;
  tw_disc_spec s = disc_20();
  s.support = TW_DISC_FREE;
  tw_disc *disc = disc_solved(&s);
  tw_disc_measures m;
  tw_disc_ring ring;
  tw_fault fault;
  assert_int_equal(tw_disc_measure(disc, TW_DISC_OPEN, &m, NULL), TW_OK);
  assert_false(m.charge_per_newton.known);
  assert_false(m.resonance_mounted.known);
  assert_rel(m.resonance_free.value, 6039.3, 1e-4);
  assert_rel(m.capacitance_free.value, 1.0707976e-8, 1e-6);
  assert_int_equal(tw_disc_at(disc, 2e-3, &ring, &fault), TW_NO_ANSWER);
  assert_string_equal(fault.field, "support.kind");
  tw_disc_free(disc);
}

/* pyroelectric constant and unequal expansion: bonded flat to a face that does not grow there is
 * nothing but p A and the held-back strain of the ceramic itself */
static void warmth(void **state)
{
  (void)state;
  tw_disc_spec s = disc_20();
  s.metal.expansion = s.ceramic.expansion; /* everything grows alike: p A alone */
  tw_disc *disc = disc_solved(&s);
  tw_disc_measures m;
  const double area = acos(-1.0) * 7e-3 * 7e-3;
  assert_int_equal(tw_disc_measure(disc, TW_DISC_OPEN, &m, NULL), TW_OK);
  assert_rel(m.charge_per_kelvin.value, 3e-4 * area, 1e-9); /* 46 nC/K */
  tw_disc_free(disc);
  s.metal.expansion = TW_DISC_BRASS.expansion;
  disc = disc_solved(&s);
  assert_int_equal(tw_disc_measure(disc, TW_DISC_OPEN, &m, NULL), TW_OK);
  print_message("charge per kelvin: %.1f nC/K on brass, %.1f nC/K without unequal expansion\n",
                1e9 * m.charge_per_kelvin.value, 1e9 * 3e-4 * area);
  assert_true(m.charge_per_kelvin.value > 3e-4 * area);
  tw_disc_free(disc);
}

typedef struct job {
  const tw_disc *disc;
  double sum;
} job;

static void *work(void *self)
{
  job *j = self;
  for (int i = 0; i < 40; i++) {
    const double r[2] = {2e-3, 3e-3}, az[2] = {0.0, 1.0};
    double c[4];
    tw_disc_backed b;
    if (tw_disc_compliance(j->disc, 2, r, az, TW_DISC_OPEN, c, NULL) != TW_OK ||
        tw_disc_press(j->disc, 2e-3, 0.2 * i, TW_DISC_OPEN, &b, NULL) != TW_OK) {
      return j;
    }
    j->sum += c[1] * 1e6 + b.charge * 1e9;
  }
  return NULL;
}

static void two_threads_on_one_disc(void **state)
{
  (void)state;
  tw_disc_spec s = disc_20();
  s.void_depth = 20e-6;
  tw_disc *disc = disc_solved(&s);
  job jobs[2] = {{disc, 0.0}, {disc, 0.0}}, alone = {disc, 0.0};
  assert_null(work(&alone));
  pthread_t thread[2];
  for (int i = 0; i < 2; i++) {
    assert_int_equal(pthread_create(&thread[i], NULL, work, &jobs[i]), 0);
  }
  for (int i = 0; i < 2; i++) {
    void *failed;
    pthread_join(thread[i], &failed);
    assert_null(failed);
    assert_true(jobs[i].sum == alone.sum);
  }
  tw_disc_free(disc);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(sign_of_a_push),
      cmocka_unit_test(stress_from_either_face),
      cmocka_unit_test(stress_on_a_bed_and_under_a_point),
      cmocka_unit_test(hole),
      cmocka_unit_test(plate_without_ceramic),
      cmocka_unit_test(held_nowhere),
      cmocka_unit_test(warmth),
      cmocka_unit_test(two_threads_on_one_disc),
  };
  return cmocka_run_group_tests_name("disc signs", tests, NULL, NULL);
}
