/* The board's exported netlist, which holds its real parts, run by an outside circuit simulator
 * (ngspice) on boards drawn at random: where it rests after five time constants, that a ramp of
 * 0.97 of the slowest one never trips it, and when a ramp of 1.5 times does. Six boards; with
 * TW_PROVE=1 sixty. Skipped, with a line that says so, only where ngspice is not installed. */
#include "ngspice.h"

#include "random_boards.h"
#include "tripwright/circuit_in_time.h"

#include <stdlib.h>
#include <string.h>
#include <unistd.h>

/* what the simulator measured; NaN: nothing */
typedef struct measured {
  double rest, threshold, trip;
} measured;

/* quiet for five time constants, then a constant current until `end` */
static measured simulate(const tw_circuit_spec *s, const tw_circuit *c, bool rest_high,
                         double current, double after)
{
  char path[64], command[160], line[512];
  const double quiet = 5.0 * c->time_constant, end = quiet + after;
  snprintf(path, sizeof path, "%s/a.cir", folder);
  FILE *file = fopen(path, "w");
  assert_non_null(file);
  fprintf(file, "board\nVi i 0 pwl(0 0 %.12g 0 %.12g %.12g)\n", quiet, quiet * 1.000001,
          current * 1e6);
  const double level = tw_circuit_netlist(s, c, rest_high, file);
  fprintf(file,
          ".options reltol=1e-5 abstol=1e-15 vntol=1e-9 method=gear\n.tran %.6g %.9g 0 %.6g uic\n"
          ".meas tran rest find v(sig) at=%.12g\n.meas tran trip when v(o)=%.17g td=%.12g cross=1\n"
          ".meas tran threshold when v(sig)=%.17g td=%.12g cross=1\n.end\n",
          after / 500, end, after / 500, 0.999 * quiet,
          0.5 * (c->comparator_low + c->comparator_high), 0.01 * quiet, level, 0.01 * quiet);
  assert_int_equal(fclose(file), 0);
  snprintf(command, sizeof command, "cd %s && timeout 20 ngspice -b a.cir 2>&1", folder);
  measured m = {NAN, NAN, NAN};
  FILE *pipe = popen(command, "r");
  assert_non_null(pipe);
  while (fgets(line, sizeof line, pipe)) {
    const char *equals = strchr(line, '=');
    if (equals && strncmp(line, "rest ", 5) == 0) {
      m.rest = strtod(equals + 1, NULL);
    } else if (equals && strncmp(line, "threshold ", 10) == 0) {
      m.threshold = strtod(equals + 1, NULL) - quiet;
    } else if (equals && strncmp(line, "trip ", 5) == 0) {
      m.trip = strtod(equals + 1, NULL) - quiet;
    }
  }
  (void)pclose(pipe); /* a trip that never comes counts as a failed measurement there */
  return m;
}

/* a simulator that has not come to an end in 20 s says nothing */
static int given_up;

static void check_board(int i, const tw_circuit_spec *s, const tw_circuit *c)
{
  const bool falls = s->polarity == TW_SEES_FALLING;
  const bool rest_high = (s->reference.topology == TW_INVERTING) != falls;
  const double slowest = c->threshold_voltage / c->resistance, sign = falls ? -1.0 : 1.0;
  const double fast = 1.5 * slowest;
  double expected = 0.0;
  assert_int_equal(tw_feed_trip_time(fast, slowest, c->time_constant, &expected, NULL), TW_OK);
  const measured trips = simulate(s, c, rest_high, sign * fast, 1.3 * expected + 2e-4);
  if (isnan(trips.rest)) {
    given_up++;
    return;
  }
  print_message(
      "board %d, kind %d, sees %d: rest %.6f V (%+.1f uV), threshold %.4f ms (%+.2f %%), output "
      "%.4f ms\n",
      i, s->kind, s->polarity, c->rest, (trips.rest - c->rest) * 1e6, expected * 1e3,
      (trips.threshold / expected - 1) * 100, trips.trip * 1e3);
  assert_near(trips.rest, c->rest, 1e-3 * c->threshold_voltage * c->gain + 2e-5);
  /* a loop that decides at once may turn the node round before the simulator sees it pass */
  const double lag = c->front_pole > 0.0 ? 0.5 / c->front_pole : 0.0; /* s, of the stage */
  const bool seen = isfinite(trips.threshold);
  assert_near(seen ? trips.threshold : trips.trip, expected, 2e-3 * expected + 5e-6 + lag);
  assert_true(trips.trip >= 0.99 * expected - 1e-5);
  const measured never = simulate(s, c, rest_high, sign * 0.97 * slowest, 6.0 * c->time_constant);
  assert_true(isnan(never.trip));
}

static void test_netlists(void **state)
{
  (void)state;
  if (!have_ngspice) {
    skip();
  }
  const int wanted = getenv("TW_PROVE") ? 60 : 6;
  random_boards_start(3);
  int used = 0;
  for (int i = 0; used < wanted; i++) {
    const tw_circuit_spec s = random_board(i);
    tw_circuit c;
    if (tw_circuit_solve(&s, &c, NULL) != TW_OK || c.rearm != TW_REARM_CLEAN || !c.can_trip ||
        c.threshold_voltage < 5e-3 || c.flags[TW_FLAG_FRONT_LIMIT]) {
      continue;
    }
    used++;
    check_board(i, &s, &c);
  }
  print_message("%d of %d boards were not simulated to the end\n", given_up, used);
  assert_true(given_up <= used / 10);
}

int main(void)
{
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_netlists)};
  return cmocka_run_group_tests(tests, open_folder, close_folder);
}
