/* Quantiles and decisions against scipy.stats: chi-squared, Student's t, beta. Skipped, with a line
 * that says so, only where /usr/bin/python3 has no scipy. */
#include "near.h"
#include "quantile.h"
#include "tripwright/qualify_budget.h"
#include "tripwright/random.h"

#include <stdlib.h>
#include <string.h>
#include <unistd.h>

/* one line asked, one number answered */
static const char program[] =
    "import sys\n"
    "from scipy import stats as s\n"
    "f={'cl':lambda p,n,_:s.chi2.ppf(p,n),'ch':lambda p,n,_:s.chi2.isf(p,n),\n"
    "'th':lambda p,n,_:s.t.isf(p,n),'bl':lambda p,a,b:s.beta.ppf(p,a,b),\n"
    "'bh':lambda p,a,b:s.beta.isf(p,a,b),'ps':lambda r,n,_:s.chi2.sf(n*r*r,n),\n"
    "'pt':lambda z,n,_:s.t.cdf(z,n),'pb':lambda u,k,n:s.beta.cdf(u,k+1,n-k)}\n"
    "for l in sys.stdin:\n"
    "  w=l.split();print('%.17g'%f[w[0]](*map(float,w[1:])))\n";

static double probability(tw_figure_law law, double upper)
{
  tw_decision d;
  assert_int_equal(tw_decide_by(&law, -(double)INFINITY, upper, 0.95, &d, NULL), TW_OK);
  return d.probability;
}

static double mine(const char *what, const double v[3])
{
  const tw_figure_law scatter = {.kind = TW_LAW_SPREAD, .value = v[0], .dof = v[1]},
                      mean = {.kind = TW_LAW_STUDENT, .value = -v[0], .u = 1.0, .dof = v[1]},
                      count = {.kind = TW_LAW_SHARE, .events = (size_t)v[1], .n = (size_t)v[2]};
  return strcmp(what, "cl") == 0   ? tw_chi_squared_low(v[0], v[1])
         : strcmp(what, "ch") == 0 ? tw_chi_squared_high(v[0], v[1])
         : strcmp(what, "th") == 0 ? tw_student_high(v[0], v[1])
         : strcmp(what, "bl") == 0 ? tw_beta_low(v[0], v[1], v[2])
         : strcmp(what, "bh") == 0 ? tw_beta_high(v[0], v[1], v[2])
         : strcmp(what, "ps") == 0 ? probability(scatter, 1.0)
         : strcmp(what, "pt") == 0 ? probability(mean, 0.0)
                                   : probability(count, v[0]);
}

/* random question number i: the kind, then its three numbers */
static const char *ask(tw_random *random, int i, double v[3])
{
  static const char *const kinds[] = {"cl", "ch", "th", "bl", "bh", "ps", "pt", "pb"};
  const char *what = kinds[i % 8];
  const double many =
      floor(exp(11.5 * tw_random_uniform(random))) + 1; /* 1 to 1e5, evenly in log */
  v[0] = 0.0005 + 0.4 * tw_random_uniform(random);
  v[1] = many;
  v[2] = floor(exp(9.0 * tw_random_uniform(random))) + 1;
  if (strcmp(what, "ps") == 0) {
    v[0] = 1.0 + (2.0 * tw_random_uniform(random) - 1.0) / sqrt(many);
  } else if (strcmp(what, "pt") == 0) {
    v[0] = 4.0 * tw_random_uniform(random) - 2.0;
  } else if (strcmp(what, "pb") == 0) {
    v[2] = many + 1;
    v[1] = floor(v[0] * many);
    v[0] = (v[1] + 1) / (many + 2);
  }
  return what;
}

static void laws_are_scipys(void **state)
{
  (void)state;
  if (system("/usr/bin/python3 -c 'import scipy' 2>/dev/null") != 0) {
    print_message("SKIPPED: /usr/bin/python3 has no scipy\n");
    skip();
  }
  char in_name[] = "/tmp/tripwright_in_XXXXXX", out_name[] = "/tmp/tripwright_out_XXXXXX";
  close(mkstemp(in_name));
  close(mkstemp(out_name));
  const int questions = 4000;
  tw_random random;
  double v[3];
  FILE *in = fopen(in_name, "w");
  assert_non_null(in);
  tw_random_start(&random, 29, 0);
  for (int i = 0; i < questions; i++) {
    const char *what = ask(&random, i, v);
    fprintf(in, "%s %.17g %.17g %.17g\n", what, v[0], v[1], v[2]);
  }
  fclose(in);
  char command[1600];
  snprintf(command, sizeof command, "/usr/bin/python3 -c \"%s\" < %s > %s", program, in_name,
           out_name);
  assert_int_equal(system(command), 0);
  FILE *out = fopen(out_name, "r");
  assert_non_null(out);
  tw_random_start(&random, 29, 0);
  for (int i = 0; i < questions; i++) {
    const char *what = ask(&random, i, v);
    double theirs;
    assert_int_equal(fscanf(out, "%lf", &theirs), 1);
    const double own = mine(what, v);
    if (!(fabs(own - theirs) <= 2e-7 * fabs(theirs))) {
      print_error("%s %.17g %.17g %.17g: ", what, v[0], v[1], v[2]);
    }
    /* GSL's distributions carry about 1e-8 at 1e5 degrees of freedom */
    assert_rel(own, theirs, 2e-7);
  }
  fclose(out);
  unlink(out_name);
  unlink(in_name);
}

int main(void)
{
  const struct CMUnitTest tests[] = {cmocka_unit_test(laws_are_scipys)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
