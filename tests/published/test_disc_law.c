/* Charge and capacitance of a disc go together: the same disc in 24 published ceramics, ln of the
 * charge per newton against ln of the mounted capacitance (docs/models/disc.md 3a).
 *
 * Sources, read for this project: Noliac, Piezo ceramics, sheet Ver1203 (scribd 94530450 copy);
 * American Piezo, Physical and piezoelectric properties (americanpiezo.com); PI Ceramic, Piezo
 * material data (scribd 413108158 copy); CTS, PZT5A & 5H materials technical data (dtsheet.com
 * 1396950); Erturk and Inman 2011, table E.1 (PZT-5A and -5H, kp from its s12). s12 is not printed
 * elsewhere: from kp, kp^2 = 2 d31^2/(eps33 (s11 + s12)). Where Young's modulus is printed s11 is
 * its inverse. Left out: APC 860, PIC152 and PIC153 (no d31), and NCE55, whose permittivity of 5000
 * no bought disc shows (their capacitances stand for 1100 to 2000): it gives 40 % less charge than
 * the law. */
#include "disc_scenes.h"

#include <gsl/gsl_fit.h>
#include <gsl/gsl_statistics_double.h>

typedef struct published {
  const char *name;
  bool soft;
  double s11, d31, permittivity, kp; /* 1e-12 m2/N, 1e-12 C/N, 1, 1 */
} published;

static const published sheet[] = {
    {"NCE40", false, 13, 140, 1250, 0.58},          {"NCE41", false, 13, 130, 1350, 0.57},
    {"NCE46", false, 13, 130, 1300, 0.57},          {"NCE51", true, 16, 195, 1850, 0.65},
    {"NCE53", true, 16, 150, 1600, 0.56},           {"NCE56", true, 18, 250, 2900, 0.64},
    {"NCE57", true, 17, 170, 1800, 0.59},           {"NCE59", true, 17, 240, 2900, 0.64},
    {"NCE80", false, 11, 100, 1050, 0.55},          {"APC 840", false, 100 / 8.0, 125, 1275, 0.59},
    {"APC 841", false, 100 / 7.6, 109, 1375, 0.60}, {"APC 850", true, 100 / 6.3, 175, 1900, 0.63},
    {"APC 854", true, 100 / 6.0, 260, 2750, 0.66},  {"APC 855", true, 100 / 5.9, 276, 3300, 0.68},
    {"APC 880", false, 100 / 9.0, 95, 1050, 0.50},  {"PIC151", true, 15.0, 210, 2400, 0.62},
    {"PIC255", true, 16.1, 180, 1750, 0.62},        {"PIC155", true, 15.6, 165, 1450, 0.62},
    {"PZT-5A", true, 16.4, 171, 1700, 0.603},       {"PZT-5H", true, 16.5, 274, 3400, 0.6525},
    {"3195STD", true, 100 / 6.9, 175, 1800, 0.63},  {"3195HD", true, 100 / 6.7, 190, 1900, 0.65},
    {"3203STD", true, 100 / 6.3, 275, 3250, 0.69},  {"3203HD", true, 100 / 6.2, 320, 3800, 0.75},
};
enum { SHEETS = sizeof sheet / sizeof sheet[0] };
#define VACUUM 8.8541878128e-12 /* F/m, CODATA 2018 */

static tw_disc_ceramic ceramic_of(const published *p)
{
  tw_disc_ceramic c = TW_DISC_PZT_5A;
  const double sum = 2.0 * p->d31 * p->d31 * 1e-24 / (p->kp * p->kp * p->permittivity * VACUUM);
  c.s11 = p->s11 * 1e-12;
  c.s12 = sum - c.s11;
  c.s13 = -0.4 * c.s11; /* on no sheet; it plays no part in bending */
  c.d31 = -p->d31 * 1e-12;
  c.permittivity = p->permittivity;
  return c;
}

/* ln C and ln Q of the disc in one ceramic */
static void charge_of(const tw_disc_spec *disc, const published *p, double *c, double *q)
{
  tw_disc_spec s = *disc;
  tw_disc_measures m;
  s.ceramic = ceramic_of(p);
  tw_disc *solved = disc_solved(&s);
  assert_int_equal(tw_disc_measure_statics(solved, &m, NULL), TW_OK);
  *c = log(m.capacitance_mounted.value);
  *q = log(fabs(m.charge_per_newton.value));
  tw_disc_free(solved);
}

typedef struct law {
  double slope, correlation, rest, volts; /* rest: deviation about the line; volts: of ln V/N */
  double about;                           /* deviation about a line of the slope in disc.h */
} law;

static law regression(const tw_disc_spec *disc, bool soft_only)
{
  double c[SHEETS], q[SHEETS], volts[SHEETS], left[SHEETS], start, cov[3], squares;
  size_t n = 0;
  law l;
  for (size_t i = 0; i < SHEETS; i++) {
    if (sheet[i].soft || !soft_only) {
      charge_of(disc, &sheet[i], &c[n], &q[n]);
      volts[n] = q[n] - c[n];
      left[n] = q[n] - TW_DISC_CHARGE_EXPONENT * c[n];
      n++;
    }
  }
  gsl_fit_linear(c, 1, q, 1, n, &start, &l.slope, &cov[0], &cov[1], &cov[2], &squares);
  l.rest = sqrt(squares / (double)(n - 2));
  l.correlation = gsl_stats_correlation(c, 1, q, 1, n);
  l.volts = gsl_stats_sd(volts, 1, n);
  l.about = gsl_stats_sd(left, 1, n);
  print_message(
      "%zu ceramics: correlation %.3f, Q ~ C^%.3f +- %.3f, %.1f %% about it, %.1f %% about "
      "C^%.2f; V/N scatters %.1f %%\n",
      n, l.correlation, l.slope, sqrt(cov[2]), 100 * l.rest, 100 * l.about, TW_DISC_CHARGE_EXPONENT,
      100 * l.volts);
  return l;
}

static void charge_follows_capacitance(void **state)
{
  (void)state;
  static const char *const names[] = {"D20A", "D15A"};
  for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
    const tw_disc_spec disc = disc_named(names[i]);
    const law all = regression(&disc, false), soft = regression(&disc, true);
    assert_near(all.correlation, 0.969, 0.005);
    assert_near(all.slope, TW_DISC_CHARGE_EXPONENT, 0.03);
    assert_near(all.rest, 0.081, 0.005); /* one hard ceramic, APC 841, lies 22 % below */
    assert_near(all.volts, 0.099, 0.005);
    /* bought discs are soft ceramics */
    assert_near(soft.about, TW_DISC_CHARGE_REST, 0.01);
    assert_true(soft.correlation > 0.97);
  }
}

int main(void)
{
  const struct CMUnitTest tests[] = {cmocka_unit_test(charge_follows_capacitance)};
  return cmocka_run_group_tests_name("disc law", tests, NULL, NULL);
}
