/* Reading and fitting a million points, and the same by NumPy and SciPy in the same run.
 * Processor seconds, one thread; CSV: what, ours, theirs, ratio. */
/* popen, mkstemp */
#include "tripwright/qualify.h"
#include "tripwright/random.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <time.h>
#include <unistd.h>

#define POINTS 1000000

static double now(void)
{
  struct timespec t;
  clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
  return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

/* a ring of 50 mm and a ball of 25 mm, scatter 2 um, printed to 0.1 nm */
static bool write_points(const char *path, int dimensions)
{
  FILE *file = fopen(path, "w");
  if (!file) {
    return false;
  }
  tw_random random;
  tw_random_start(&random, 6, (uint64_t)dimensions);
  fprintf(file, dimensions == 2 ? "x_mm,y_mm\n" : "x_mm,y_mm,z_mm\n");
  for (int i = 0; i < POINTS; i++) {
    double d[3] = {tw_random_normal(&random), tw_random_normal(&random),
                   dimensions == 3 ? tw_random_normal(&random) : 0.0};
    const double r = (dimensions == 2 ? 25.0 : 12.5) + 2e-3 * tw_random_normal(&random);
    const double scale = r / sqrt(d[0] * d[0] + d[1] * d[1] + d[2] * d[2]);
    for (int k = 0; k < dimensions; k++) {
      fprintf(file, "%s%.7f", k ? "," : "", 100.0 * (k + 1) + scale * d[k]);
    }
    fprintf(file, "\n");
  }
  return fclose(file) == 0;
}

static tw_readings *read_points(const char *path, const char *columns, double *seconds)
{
  tw_column column[3];
  size_t count;
  tw_messages *m = tw_messages_new();
  tw_readings *t = NULL;
  if (m && tw_columns_named(columns, TW_LENGTH, column, 3, &count, NULL) == TW_OK) {
    const tw_readings_spec spec = {.column = column, .columns = count};
    const double start = now();
    tw_readings_read(path, &spec, m, &t);
    *seconds = now() - start;
  }
  tw_messages_free(m);
  return t;
}

static double seconds_to_fit(tw_form form, const tw_readings *t, tw_fit *fit)
{
  const size_t d = t->columns;
  double *point = malloc(t->rows * d * sizeof *point);
  if (!point) {
    return -1.0;
  }
  for (size_t i = 0; i < t->rows; i++) {
    for (size_t k = 0; k < d; k++) {
      point[d * i + k] = t->number[k][i];
    }
  }
  const double start = now();
  const tw_status status = tw_fit_form(form, point, t->rows, d, NULL, fit, NULL);
  const double seconds = now() - start;
  free(point);
  return status == TW_OK ? seconds : -1.0;
}

/* seconds that NumPy takes to read and SciPy to fit; centre and radius for comparison */
static bool ask_python(const char *path, int dimensions, double *read, double *fit, double *radius)
{
  char command[1600];
  snprintf(
      command, sizeof command,
      "/usr/bin/python3 -c \"\nimport time,numpy as np\nfrom scipy.optimize import least_squares\n"
      "t=time.process_time(); p=np.loadtxt('%s',delimiter=',',skiprows=1)*1e-3; "
      "a=time.process_time()-t\n"
      "t=time.process_time(); c=p.mean(0); q=p-c; r0=np.sqrt((q*q).sum(1)).mean()\n"
      "f=lambda v: np.sqrt(((q-v[:%d])**2).sum(1))-v[%d]\n"
      "def j(v):\n d=q-v[:%d]; return "
      "np.column_stack([-d/np.sqrt((d*d).sum(1))[:,None],-np.ones(len(q))])\n"
      "s=least_squares(f,np.append(np.zeros(%d),r0),jac=j,method='lm',xtol=1e-15,ftol=1e-15,gtol="
      "1e-15); b=time.process_time()-t\n"
      "print(repr(a),repr(b),repr(s.x[%d]))\" 2>/dev/null",
      path, dimensions, dimensions, dimensions, dimensions, dimensions);
  FILE *pipe = popen(command, "r");
  const int got = pipe ? fscanf(pipe, "%lf %lf %lf", read, fit, radius) : 0;
  if (pipe) {
    pclose(pipe);
  }
  return got == 3;
}

static void row(const char *what, double ours, double theirs)
{
  if (theirs > 0.0) {
    printf("\"%s\",%.3f,%.3f,%.1f\n", what, ours, theirs, theirs / ours);
  } else {
    printf("\"%s\",%.3f,,\n", what, ours);
  }
}

static int bench(int dimensions)
{
  char path[] = "/tmp/tripwright_points_XXXXXX";
  const int file = mkstemp(path);
  if (file < 0 || !write_points(path, dimensions)) {
    return 1;
  }
  close(file);
  double read = 0.0, their_read = 0.0, their_fit = 0.0, their_radius = 0.0;
  tw_readings *t = read_points(path, dimensions == 2 ? "x_mm,y_mm" : "x_mm,y_mm,z_mm", &read);
  if (!t) {
    return 1;
  }
  struct rusage usage;
  getrusage(RUSAGE_SELF, &usage);
  const double megabytes = (double)t->bytes / 1e6;
  const long memory = usage.ru_maxrss;
  tw_fit fit;
  const double seconds = seconds_to_fit(dimensions == 2 ? TW_CIRCLE : TW_SPHERE, t, &fit);
  const bool python = ask_python(path, dimensions, &their_read, &their_fit, &their_radius);
  tw_readings_free(t);
  unlink(path);
  char what[80];
  snprintf(what, sizeof what, "read 1e6 points of %d (%.0f MB/s, peak %ld kB)", dimensions,
           megabytes / read, memory);
  row(what, read, their_read);
  row(dimensions == 2 ? "fit circle" : "fit sphere", seconds, their_fit);
  if (python && fabs(fit.radius - their_radius) > 1e-12) {
    fprintf(stderr, "radius %.15g, SciPy %.15g\n", fit.radius, their_radius);
    return 1;
  }
  return seconds < 0.0;
}

int main(void)
{
  printf("what,ours_s,python_s,ratio\n");
  /* three coordinates first: the peak of memory is that of the whole process so far */
  const int sphere = bench(3);
  return sphere | bench(2);
}
