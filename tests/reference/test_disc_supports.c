/* docs/models/disc.md section 5: elastic beds, a disc flat on a rigid face, flat over a hole, and
 * how much a suspended disc gives against a flat one. */
#include "../data/disc_tables.h"

static tw_disc *flat(const char *name, bool bonded, double hole, tw_disc_face face)
{
  tw_disc_spec s = disc_named(name);
  s.support = TW_DISC_FLAT;
  s.bonded = bonded;
  s.void_radius = hole;
  s.contact_face = face;
  s.poling = TW_DISC_POLING_UNKNOWN;
  return disc_solved(&s);
}

static void elastic_beds(void **state)
{
  (void)state;
  for (size_t i = 0; i < DISC_COUNT(DISC_BEDS); i++) {
    const disc_bed_row *row = &DISC_BEDS[i];
    tw_disc_spec s = disc_named(row->disc);
    s.support = TW_DISC_FOUNDATION;
    s.foundation_stiffness = row->k;
    tw_disc *disc = disc_solved(&s);
    for (int a = 0; a < 4; a++) {
      const double q = 1e9 * disc_ring(disc, 1e-3 * (a + 1)).charge;
      assert_printed(q, row->q[2 * a], 1e-4);
      if (row->k < 5e9) { /* stiffer beds: the 2-D model shears and squeezes */
        assert_rel(q, row->q[2 * a + 1], 0.03);
      }
    }
    tw_disc_free(disc);
  }
}

/* the page's closed form, written out anew: bonded -e33/c33, sliding
 * -e33/c33 - 2 [(c13/c33) tc + nu/(1-nu) tm] eps0, eps0 = -Np/(A11 + A12 + f Am) */
static void closed_form(const tw_disc_spec *s, double *slides, double *bonded)
{
  const tw_disc_ceramic *c = &s->ceramic;
  const double nu = s->metal.poisson, plane = s->metal.young / (1.0 - nu * nu);
  const double tm = s->metal_thickness, tc = s->ceramic_thickness;
  const double below = (c->s11 + c->s12) * c->s33 - 2.0 * c->s13 * c->s13;
  const double c33 = (c->s11 + c->s12) / below, c13 = -c->s13 / below;
  const double e33 = c->d33 * c33 + 2.0 * c->d31 * c13;
  const double rho = pow(s->metal_radius / s->ceramic_radius, 2.0);
  const double f = (1.0 - nu * nu) * (rho - 1.0) / ((1.0 - nu) + (1.0 + nu) * rho);
  /* Q11 + Q12 = 1/(s11 + s12) */
  const double stiff = tc / (c->s11 + c->s12) + plane * tm * (1.0 + nu + f);
  const double strain = -c->d31 / (c->s11 + c->s12) / stiff;
  *bonded = -e33 / c33;
  *slides = *bonded - 2.0 * (c13 / c33 * tc + nu / (1.0 - nu) * tm) * strain;
}

/* nC/N for a push on the ceramic face; page, 2-D */
static void flat_on_a_rigid_face(void **state)
{
  (void)state;
  static const struct {
    const char *disc;
    double slides, slides2, bonded, bonded2;
  } ROW[] = {{"D20A", 0.27656, 0.2772, 0.14236, 0.1424},
             {"D20H", 0.40685, 0.4080, 0.19790, 0.1979},
             {"D15A", 0.27492, 0.2754, 0.14236, 0.1424},
             {"D15H", 0.40423, 0.4051, 0.19790, 0.1979}};
  for (size_t i = 0; i < DISC_COUNT(ROW); i++) {
    tw_disc *loose = flat(ROW[i].disc, false, 0.0, TW_DISC_CERAMIC_FACE);
    tw_disc *stuck = flat(ROW[i].disc, true, 0.0, TW_DISC_CERAMIC_FACE);
    const tw_disc_ring a = disc_ring(loose, 2e-3), b = disc_ring(stuck, 2e-3);
    assert_true(a.unbending && b.unbending);
    double slides, bonded;
    const tw_disc_spec s = disc_named(ROW[i].disc);
    closed_form(&s, &slides, &bonded);
    assert_rel(a.charge, -slides, 1e-12);
    assert_rel(b.charge, -bonded, 1e-12);
    /* one unit of the last digit: the page prints 0.27656 where its own formula gives 0.276555 */
    assert_near(1e9 * a.charge, ROW[i].slides, 1e-5);
    assert_rel(1e9 * a.charge, ROW[i].slides2, 0.004);
    assert_printed(1e9 * b.charge, ROW[i].bonded, 1e-5);
    assert_rel(1e9 * b.charge, ROW[i].bonded2, 0.004);
    tw_disc_free(loose);
    tw_disc_free(stuck);
  }
}

/* rim against flat: 440 (free to slide) to 850 (bonded) times less for 20 mm, 920 to 1780 for
 * 15 mm, and of the other sign */
static void suspended_against_flat(void **state)
{
  (void)state;
  static const char *const NAMES[] = {"D20A", "D15A"};
  static const double LESS[2][2] = {{440, 850}, {920, 1780}};
  for (int i = 0; i < 2; i++) {
    tw_disc_spec s = disc_named(NAMES[i]);
    s.contact_face = TW_DISC_CERAMIC_FACE;
    tw_disc *rim = disc_solved(&s);
    tw_disc *loose = flat(NAMES[i], false, 0.0, TW_DISC_CERAMIC_FACE);
    tw_disc *stuck = flat(NAMES[i], true, 0.0, TW_DISC_CERAMIC_FACE);
    const double held = disc_ring(rim, 2e-3).charge;
    const double slide = held / disc_ring(loose, 2e-3).charge;
    const double bond = held / disc_ring(stuck, 2e-3).charge;
    print_message(
        "%s: rim %.2f nC/N, %.0f times a flat disc that slides, %.0f times a bonded one\n",
        NAMES[i], 1e9 * held, slide, bond);
    assert_rel(slide, -LESS[i][0], 0.02); /* the page rounds to two digits */
    assert_rel(bond, -LESS[i][1], 0.02);
    tw_disc_free(rim);
    tw_disc_free(loose);
    tw_disc_free(stuck);
  }
}

/* flat over a hole: free to lift (simple at the hole's edge) and held down around it. The laminate
 * columns have no squeeze, so bending is taken from a push on either face: their difference. */
static void flat_over_a_hole(void **state)
{
  (void)state;
  for (size_t i = 0; i < DISC_COUNT(DISC_VOIDS); i++) {
    const disc_void_row *row = &DISC_VOIDS[i];
    for (int a = 0; a < 2; a++) {
      for (int stuck = 0; stuck < 2; stuck++) {
        const double laminate = row->q[4 * a + 2 * stuck], field = row->q[4 * a + 2 * stuck + 1];
        const double r = 1e-3 * (a + 1);
        if (isnan(laminate)) {
          continue;
        }
        tw_disc *below = flat(row->disc, stuck == 1, 1e-3 * row->rv, TW_DISC_METAL_FACE);
        tw_disc *above = flat(row->disc, stuck == 1, 1e-3 * row->rv, TW_DISC_CERAMIC_FACE);
        const double up = 1e9 * disc_ring(below, r).charge, down = 1e9 * disc_ring(above, r).charge;
        assert_printed((up - down) / 2.0, laminate, 1e-3);
        /* with the squeeze, against 2-D: the free one to 0.7 %; the held one where the hole
         * reaches well past the ceramic to 10 %, inside it to the thickness effect */
        if (stuck == 0 && row->rv < 9.5 && !(row->rv == 7.5)) {
          assert_near(-down, field, 0.007 * field + 0.003);
        } else if (stuck == 1 && laminate == 0.0 && fabs(field) < 0.3) {
          assert_near(-down, field, 0.03);
        } else if (stuck == 1 && laminate > 0.0 && row->rv < 9.5 && !(row->rv == 7.5)) {
          assert_rel(-down, field, 0.10);
        }
        tw_disc_free(below);
        tw_disc_free(above);
      }
    }
  }
}

/* eccentric ceramic: a 3-D finite-element run gave 4.00e-7 (three-point rim) to 4.05e-7 C/(N m)
 * (ring rim) for 0.3 mm with a uniform field; the bending field takes 5 % of it */
static void eccentric_ceramic(void **state)
{
  (void)state;
  tw_disc_spec s = disc_named("D20A");
  s.ceramic_eccentricity = 0.3e-3;
  s.ceramic_eccentricity_azimuth = 0.7;
  const double kappa = 2.9509456e-3;
  for (int a = 1; a <= 4; a++) {
    s.contact_radius = 1e-3 * a;
    tw_disc *disc = disc_solved(&s);
    const double q = disc_measured(disc).charge_per_moment.value;
    print_message("eccentric by 0.3 mm, a = %d mm: %.4g C/(N m), chi %.4f\n", a, q,
                  q / (kappa * s.ceramic_eccentricity));
    assert_rel(q, 0.95 * 4.05e-7, 0.01);
    assert_rel(q / (kappa * s.ceramic_eccentricity), 0.43, 0.02);
    tw_disc_free(disc);
  }
}

/* A second way to the same figure: with the plate's edge far away, what counts is the place
 * relative to the ceramic alone, so g moves with it: g(|r - e|), less the ledge's own first order,
 * which leans the disc rigidly. */
static void eccentric_is_a_shift_of_the_ceramic(void **state)
{
  (void)state;
  tw_disc_spec s = disc_named("D20A");
  s.metal_radius = 120e-3;
  s.support = TW_DISC_LEDGE;
  s.ledge_radius = 9e-3;
  tw_disc *centred = disc_solved(&s);
  s.ceramic_eccentricity = 1e-6;
  tw_disc *shifted = disc_solved(&s);
  const double e = s.ceramic_eccentricity, h = 1e-6, a = 3e-3;
  const double r[1] = {a}, az[1] = {0.0};
  double q0, q1;
  assert_int_equal(tw_disc_charge(centred, 1, r, az, &q0, NULL), TW_OK);
  assert_int_equal(tw_disc_charge(shifted, 1, r, az, &q1, NULL), TW_OK);
  const double slope_a =
      (tw_disc_influence(centred, a + h) - tw_disc_influence(centred, a - h)) / (2.0 * h);
  const double slope_s =
      (tw_disc_influence(centred, 9e-3 + h) - tw_disc_influence(centred, 9e-3 - h)) / (2.0 * h);
  /* g shifts by -e g'(a); the ledge's own shift -e g'(rs) tilts the disc rigidly: times a/rs */
  const double first = -slope_a + slope_s * a / 9e-3;
  assert_rel((q1 - q0) / e, first, 5e-3);
  tw_disc_free(centred);
  tw_disc_free(shifted);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(elastic_beds),
      cmocka_unit_test(flat_on_a_rigid_face),
      cmocka_unit_test(suspended_against_flat),
      cmocka_unit_test(flat_over_a_hole),
      cmocka_unit_test(eccentric_ceramic),
      cmocka_unit_test(eccentric_is_a_shift_of_the_ceramic),
  };
  return cmocka_run_group_tests_name("disc supports", tests, NULL, NULL);
}
