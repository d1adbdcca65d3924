/* Against NumPy and SciPy on 40 random sets: circle, sphere, cylinder by least_squares on the true
 * distances, straight fits by SVD, moments and intervals by scipy.stats. Skipped, with a line that
 * says so, only where /usr/bin/python3 has no scipy. */
#include "near.h"
#include "tripwright/qualify.h"
#include "tripwright/random.h"

#include <stdlib.h>
#include <unistd.h>

static const char program[] =
    "import sys,numpy as np\n"
    "from scipy.optimize import least_squares\n"
    "from scipy import stats\n"
    "def circ(p):\n"
    "  d=p.shape[1]; c=p.mean(0); q=p-c\n"
    "  f=lambda v: np.linalg.norm(q-v[:d],axis=1)-v[d]\n"
    "  "
    "r=least_squares(f,np.append(np.zeros(d),np.linalg.norm(q,axis=1).mean()),method='lm',xtol=1e-"
    "15,ftol=1e-15,gtol=1e-15)\n"
    "  return list(r.x[:d]+c)+[r.x[d],2*r.cost]\n"
    "for line in sys.stdin:\n"
    "  w=line.split(); k=w[0]; v=np.array([float(t) for t in w[1:]])\n"
    "  if k=='circle': o=circ(v.reshape(-1,2))\n"
    "  elif k=='sphere': o=circ(v.reshape(-1,3))\n"
    "  elif k in('line','plane'):\n"
    "    p=v.reshape(-1,3); c=p.mean(0); u,s,t=np.linalg.svd(p-c); n=t[0] if k=='line' else t[2]\n"
    "    n=n*np.sign(n[np.argmax(abs(n))]); o=list(c)+list(n)+[(s[1:]**2).sum() if k=='line' else "
    "s[2]**2]\n"
    "  else:\n"
    "    n=len(v); s=v.std(ddof=1); "
    "o=[v.mean(),s]+list(stats.t.interval(.95,n-1,v.mean(),s/n**.5))+[s*((n-1)/"
    "stats.chi2.ppf(q,n-1))**.5 for q in(.975,.025)]\n"
    "  print(k,*['%.17g'%x for x in o])\n";

static double p[300];

static void make(FILE *in, tw_form form, tw_random *random, int n)
{
  const char *name = tw_form_name(form);
  fprintf(in, "%s", name);
  const int d = form == TW_CIRCLE ? 2 : 3;
  for (int i = 0; i < n; i++) {
    const double a = 5 * tw_random_uniform(random), b = 3 * tw_random_uniform(random);
    double x[3] = {10 * cos(a), 10 * sin(a), 0};
    if (form == TW_SPHERE) {
      x[2] = 10 * cos(b);
      x[0] *= sin(b);
      x[1] *= sin(b);
    } else if (form == TW_LINE) {
      x[0] = 20 * b;
      x[1] = 3 * b;
    } else if (form == TW_PLANE) {
      x[0] = 9 * b;
      x[1] = 7 * a;
    }
    for (int k = 0; k < d; k++) {
      p[d * i + k] = 100 * (k - 1) + x[k] + 0.01 * tw_random_normal(random);
      fprintf(in, " %.17g", p[d * i + k]);
    }
  }
  fprintf(in, "\n");
}

static void compare(const char *line, tw_form form, int n)
{
  char word[16];
  int used;
  assert_int_equal(sscanf(line, "%15s%n", word, &used), 1);
  assert_string_equal(word, tw_form_name(form));
  double o[8];
  size_t count = 0;
  char *end;
  for (const char *at = line + used; count < 8; at = end) {
    o[count] = strtod(at, &end);
    if (end == at) {
      break;
    }
    count++;
  }
  const size_t d = form == TW_CIRCLE ? 2 : 3;
  tw_fit f;
  assert_int_equal(tw_fit_form(form, p, (size_t)n, d, NULL, &f, NULL), TW_OK);
  for (size_t k = 0; k < d; k++) {
    /* least_squares stops where the sum of squares no longer falls: half the digits of its steps */
    assert_near(f.centre[k], o[k], 1e-7);
  }
  if (form == TW_CIRCLE || form == TW_SPHERE) {
    assert_near(f.radius, o[d], 1e-7);
    assert_true(f.squares <= o[d + 1] * (1 + 1e-10));
    assert_rel(f.squares, o[d + 1], 1e-9);
  } else {
    for (size_t k = 0; k < 3; k++) {
      assert_near(f.direction[k], o[3 + k], 1e-12);
    }
    assert_rel(f.squares, o[6], 1e-9);
  }
}

static void compare_moments(const char *line, int n)
{
  double o[6];
  assert_int_equal(
      sscanf(line, "moments %lf %lf %lf %lf %lf %lf", o, o + 1, o + 2, o + 3, o + 4, o + 5), 6);
  tw_moments m;
  assert_int_equal(tw_moments_of(p, (size_t)n, 0.95, &m, NULL), TW_OK);
  const double mine[6] = {
      m.mean, m.s, m.mean_interval.low, m.mean_interval.high, m.s_interval.low, m.s_interval.high};
  for (int k = 0; k < 6; k++) {
    assert_rel(mine[k], o[k], 1e-10);
  }
}

static void same_as_scipy(void **state)
{
  (void)state;
  if (system("/usr/bin/python3 -c 'import scipy' 2>/dev/null") != 0) {
    print_message("SKIPPED: /usr/bin/python3 has no scipy\n");
    skip();
  }
  static const tw_form forms[] = {TW_CIRCLE, TW_SPHERE, TW_LINE, TW_PLANE};
  char in_name[] = "/tmp/tripwright_in_XXXXXX", out_name[] = "/tmp/tripwright_out_XXXXXX";
  close(mkstemp(in_name));
  close(mkstemp(out_name));
  FILE *in = fopen(in_name, "w");
  assert_non_null(in);
  for (int pass = 0; pass < 2; pass++) {
    /* the first pass writes the sets, the second makes the same again and compares */
    FILE *out = pass ? fopen(out_name, "r") : NULL;
    tw_random random;
    tw_random_start(&random, 15, 0);
    for (int set = 0; set < 40; set++) {
      const int n = 12 + set;
      char line[1024];
      FILE *sink = pass ? fopen("/dev/null", "w") : in;
      make(sink, forms[set % 4], &random, n);
      if (pass) {
        assert_non_null(fgets(line, sizeof line, out));
        compare(line, forms[set % 4], n);
      }
      fprintf(sink, "moments");
      for (int i = 0; i < n; i++) {
        p[i] = 26.3 + 1e-3 * tw_random_normal(&random);
        fprintf(sink, " %.17g", p[i]);
      }
      fprintf(sink, "\n");
      if (pass) {
        assert_non_null(fgets(line, sizeof line, out));
        compare_moments(line, n);
        fclose(sink);
      }
    }
    if (!pass) {
      fclose(in);
      char command[2600];
      snprintf(command, sizeof command, "/usr/bin/python3 -c \"%s\" < %s > %s", program, in_name,
               out_name);
      assert_int_equal(system(command), 0);
    } else {
      fclose(out);
    }
  }
  unlink(in_name);
  unlink(out_name);
}

int main(void)
{
  const struct CMUnitTest tests[] = {cmocka_unit_test(same_as_scipy)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
