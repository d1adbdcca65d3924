/* A void that is used up: against the exact solution of a uniform plate that rests on a contact
 * circle, against a fine penalty model of the laminate, and what becomes of the charge. */
#include "../data/disc_tables.h"
#include "statics.h"

#define PI 3.14159265358979323846

/* ---- exact: uniform plate, simple rim R, ring load at a, flat on the backing inside c ---------
 */

/* Between c and a, and between a and R: w = k0 + k1 r^2 + k2 ln r + k3 r^2 ln r, downwards.
 * Unknown: 4 + 4 constants and the load F that makes the contact circle c. */
static void basis(double r, double b[4][4])
{
  const double l = log(r);
  const double v[4][4] = {{1.0, r * r, l, r * r * l},
                          {0.0, 2.0 * r, 1.0 / r, r * (2.0 * l + 1.0)},
                          {0.0, 2.0, -1.0 / (r * r), 2.0 * l + 3.0},
                          {0.0, 0.0, 2.0 / (r * r * r), 2.0 / r}};
  memcpy(b, v, sizeof v);
}

static void gauss(double a[9][10])
{
  for (int i = 0; i < 9; i++) {
    int p = i;
    for (int k = i + 1; k < 9; k++) {
      p = fabs(a[k][i]) > fabs(a[p][i]) ? k : p;
    }
    for (int j = 0; j < 10; j++) {
      const double t = a[i][j];
      a[i][j] = a[p][j];
      a[p][j] = t;
    }
    for (int k = 0; k < 9; k++) {
      if (k != i) {
        const double f = a[k][i] / a[i][i];
        for (int j = i; j < 10; j++) {
          a[k][j] -= f * a[i][j];
        }
      }
    }
  }
  for (int i = 0; i < 9; i++) {
    a[i][9] /= a[i][i];
  }
}

typedef struct exact {
  double force, backing, deflection;
} exact;

/* lengths in units of R to keep the system well scaled */
static exact contact_circle(double radius, double d, double nu, double depth, double load, double c)
{
  const double a = load / radius, cc = c / radius;
  double m[9][10] = {{0}}, in[4][4], at[4][4], rim[4][4];
  basis(cc, in);
  basis(a, at);
  basis(1.0, rim);
  for (int j = 0; j < 4; j++) {
    for (int i = 0; i < 3; i++) {
      m[i][j] = in[i][j];     /* w = depth, w' = 0, w'' = 0 (no moment) at c */
      m[3 + i][j] = at[i][j]; /* w, w', w'' continuous at a */
      m[3 + i][4 + j] = -at[i][j];
    }
    m[6][j] = at[3][j]; /* D (w''' inside - outside) = F/(2 pi a) */
    m[6][4 + j] = -at[3][j];
    m[7][4 + j] = rim[0][j];
    m[8][4 + j] = rim[2][j] + nu * rim[1][j];
  }
  m[0][9] = depth;
  m[6][8] = 1.0; /* unknown 8: F R^2/(2 pi a D), sign below */
  gauss(m);
  exact e;
  /* shear inside: D w''' + ... = -backing/(2 pi r): k3 carries it, 8 pi D k3 = net upward force */
  const double scale = d / (radius * radius);
  e.backing = fabs(8.0 * PI * scale * m[3][9]);
  e.force = fabs(m[8][9]) * 2.0 * PI * a * scale;
  e.deflection = 0.0;
  for (int j = 0; j < 4; j++) {
    e.deflection += at[0][j] * m[j][9];
  }
  return e;
}

static void contact_circle_of_a_uniform_plate(void **state)
{
  (void)state;
  tw_disc_spec s;
  tw_disc_spec_default(&s);
  s.metal_radius = 10e-3;
  s.metal_thickness = 0.3e-3;
  s.void_depth = 40e-6;
  s.contact_radius = 4e-3;
  tw_disc *disc = disc_solved(&s);
  const double nu = s.metal.poisson;
  const double d = s.metal.young * pow(s.metal_thickness, 3.0) / (12.0 * (1.0 - nu * nu));
  for (double c = 0.4e-3; c < 3.3e-3; c += 0.4e-3) {
    const exact e = contact_circle(10e-3, d, nu, 40e-6, 4e-3, c);
    tw_disc_backed b;
    assert_int_equal(tw_disc_press(disc, 4e-3, e.force, TW_DISC_SHORT, &b, NULL), TW_OK);
    print_message("contact circle %.1f mm: load %.3f N, backing %.4f N (exact %.4f), deflection "
                  "%.3f um (%.3f), touches %.2f .. %.2f mm\n",
                  1e3 * c, e.force, b.backing_force, e.backing, 1e6 * b.deflection,
                  1e6 * e.deflection, 1e3 * b.inner, 1e3 * b.outer);
    assert_rel(b.backing_force, e.backing, 2e-3);
    assert_rel(b.deflection, e.deflection, 1e-3);
    assert_near((b.inner + b.outer) / 2.0, c, 10e-3 / 64.0); /* one element */
    assert_true(b.clearance == 0.0);
  }
  tw_disc_free(disc);
}

/* ---- fine penalty model of the laminate ------------------------------------------------------ */

typedef struct fine {
  double charge, deflection, backing;
} fine;

#define SPRING 1e10 /* N/m a node */

/* switch the springs on and off until they agree with what they feel */
static void settle(tw_statics *s, double a, double depth, double force, bool *on)
{
  for (int round = 0, changed = 1; changed > 0; round++) {
    assert_true(round < 2000);
    tw_statics_assemble(s, 0);
    for (int i = 0; i < s->mesh.nodes - 1; i++) {
      *tw_band_at(&s->k, 3 * i, 3 * i) += on[i] ? SPRING : 0.0;
    }
    assert_true(tw_statics_factor(s));
    tw_statics_clear(s);
    tw_statics_load(s, a, force);
    for (int i = 0; i < s->mesh.nodes - 1; i++) {
      s->x[3 * i] += on[i] ? SPRING * depth : 0.0;
    }
    tw_statics_solve(s, 0);
    changed = 0;
    for (int i = 0; i < s->mesh.nodes - 1; i++) {
      const bool should = s->x[3 * i] - depth > (on[i] ? -1e-13 : 1e-13); /* rounding */
      if (should != on[i] && (round < 20 || changed == 0)) {
        on[i] = should; /* all that are wrong, later only the first */
        changed++;
      }
    }
  }
}

/* 300 elements a radius, springs that push only, the load raised in small steps */
static fine penalty(const tw_disc_spec *spec, double force)
{
  tw_laminate lam;
  tw_laminate_build(spec, &lam);
  const tw_hold hold = {.outer = spec->metal_radius, .support = spec->metal_radius};
  tw_statics s;
  const double a = spec->contact_radius;
  bool on[1000] = {false};
  assert_int_equal(tw_statics_new(&lam, &hold, tw_fineness_even(&lam, &hold, 300), &a, 1, 0, &s),
                   TW_OK);
  for (double f = 0.0; f < force; f += 0.1) {
    settle(&s, a, spec->void_depth, f, on);
  }
  settle(&s, a, spec->void_depth, force, on);
  fine out = {.deflection = tw_statics_w(&s, a)};
  for (int i = 0; i < s.mesh.nodes - 1; i++) {
    out.backing += on[i] ? SPRING * (s.x[3 * i] - spec->void_depth) : 0.0;
  }
  for (int i = 0; i < s.k.size; i++) {
    out.charge -= s.p[i] * s.x[i]; /* bending charge, -p.x */
  }
  tw_statics_free(&s);
  return out;
}

static void laminate_against_a_fine_model(void **state)
{
  (void)state;
  tw_disc_spec s = disc_named("D20A");
  s.contact_face = TW_DISC_CERAMIC_FACE;
  s.poling = TW_DISC_POLING_PLUS;
  s.contact_radius = 3e-3;
  s.void_depth = 30e-6;
  tw_disc *disc = disc_solved(&s);
  const double squeeze = disc_measured(disc).thickness_charge.value;
  static const double LOADS[] = {1.0, 3.0, 3.3, 4.0, 6.0, 9.0, 15.0, 30.0};
  for (size_t i = 0; i < DISC_COUNT(LOADS); i++) {
    const fine f = penalty(&s, LOADS[i]);
    tw_disc_backed b;
    assert_int_equal(tw_disc_press(disc, 3e-3, LOADS[i], TW_DISC_SHORT, &b, NULL), TW_OK);
    /* loads count away from the ceramic here: the charge of the fine model with the poling's sign,
     * and the squeeze of what the backing takes */
    const double charge = f.charge + squeeze * b.backing_force;
    print_message("load %4.1f N: charge %.2f nC (fine %.2f), slope %.2f nC/N, deflection %.3f um "
                  "(%.3f), backing %.3f N (%.3f), touches %.2f .. %.2f mm\n",
                  LOADS[i], 1e9 * b.charge, 1e9 * charge, 1e9 * b.charge_slope, 1e6 * b.deflection,
                  1e6 * f.deflection, b.backing_force, f.backing, 1e3 * b.inner, 1e3 * b.outer);
    assert_rel(b.charge, charge, 3e-3);
    assert_rel(b.deflection, f.deflection, 2e-3);
    assert_near(b.backing_force, f.backing, 5e-3 * LOADS[i]);
  }
  tw_disc_free(disc);
}

/* clearance falls in proportion until it is gone; from then on a newton gives a fraction */
static void charge_collapses(void **state)
{
  (void)state;
  tw_disc_spec s = disc_named("D20A");
  s.contact_face = TW_DISC_CERAMIC_FACE;
  s.poling = TW_DISC_POLING_PLUS;
  s.void_depth = 20e-6;
  tw_disc *disc = disc_solved(&s);
  tw_disc_backed rest, half, used;
  assert_int_equal(tw_disc_press(disc, 2e-3, 0.0, TW_DISC_OPEN, &rest, NULL), TW_OK);
  assert_int_equal(tw_disc_press(disc, 2e-3, 1.0, TW_DISC_OPEN, &half, NULL), TW_OK);
  assert_int_equal(tw_disc_press(disc, 2e-3, 4.0, TW_DISC_OPEN, &used, NULL), TW_OK);
  assert_rel(rest.clearance, 20e-6, 1e-12);
  assert_rel(half.clearance, 20e-6 - half.centre_deflection, 1e-9);
  assert_rel(half.charge, disc_ring(disc, 2e-3).charge, 1e-9);
  assert_rel(half.slope, 1.0 / disc_ring(disc, 2e-3).stiffness_open, 1e-6);
  assert_true(used.clearance == 0.0);
  assert_true(used.charge_slope < 0.05 * half.charge_slope);
  print_message("void of 20 um: %.1f nC/N before it is used up, %.2f nC/N after: %.0f times less\n",
                1e9 * half.charge_slope, 1e9 * used.charge_slope,
                half.charge_slope / used.charge_slope);
  tw_disc_free(disc);
  /* the ceramic takes its thickness out of the void when it faces it */
  s.contact_face = TW_DISC_METAL_FACE;
  s.void_depth = 230e-6;
  disc = disc_solved(&s);
  assert_rel(tw_disc_gap(disc, 1e-3), 30e-6, 1e-9);
  assert_rel(tw_disc_gap(disc, 9e-3), 230e-6, 1e-9);
  tw_disc_free(disc);
}

/* a soft floor gives more and keeps more charge; a very stiff one is the rigid one */
static void floor_of_its_own_stiffness(void **state)
{
  (void)state;
  tw_disc_spec s = disc_named("D20A");
  s.contact_face = TW_DISC_CERAMIC_FACE;
  s.poling = TW_DISC_POLING_PLUS;
  s.void_depth = 20e-6;
  double charge[4];
  static const double K[4] = {0.0, 1e17, 1e12, 1e10};
  for (int i = 0; i < 4; i++) {
    s.backing_stiffness = K[i];
    tw_disc *disc = disc_solved(&s);
    tw_disc_backed b;
    assert_int_equal(tw_disc_press(disc, 2e-3, 6.0, TW_DISC_SHORT, &b, NULL), TW_OK);
    charge[i] = b.charge;
    tw_disc_free(disc);
  }
  assert_rel(charge[1], charge[0], 1e-3);
  assert_true(charge[2] > charge[1]);
  assert_true(charge[3] > 1.2 * charge[2]);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(contact_circle_of_a_uniform_plate),
      cmocka_unit_test(laminate_against_a_fine_model),
      cmocka_unit_test(charge_collapses),
      cmocka_unit_test(floor_of_its_own_stiffness),
  };
  return cmocka_run_group_tests_name("disc void", tests, NULL, NULL);
}
