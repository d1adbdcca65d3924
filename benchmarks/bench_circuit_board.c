/* How long a board takes: solved, with its error budget, all warnings, and a search for a value. */
#include "../tests/support/circuit_cases.h"

#include <stdio.h>
#include <time.h>

static double now(void)
{
  struct timespec t;
  clock_gettime(CLOCK_MONOTONIC, &t);
  return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static tw_status force_of(void *self, double value, double *result, tw_fault *fault)
{
  tw_circuit_spec s = *(const tw_circuit_spec *)self;
  tw_circuit c;
  s.gain = value;
  const tw_status status = tw_circuit_solve(&s, &c, fault);
  *result = status == TW_OK ? c.threshold_charge / s.charge_per_newton : 0.0;
  return status;
}

int main(void)
{
  enum { SOLVES = 200000, BUDGETS = 5000 };
  tw_circuit_spec s = case_gain();
  tw_circuit_tolerances(&s, 0.01, 0.05, 0.05, 0.01);
  s.front.bias_most = 35e-9;
  s.front.voltage_noise = 40e-9;
  s.resistor_drift = 1e-4;
  s.temperature_span = 10;
  tw_circuit c;
  tw_circuit_budget budget;
  bool flags[TW_FLAG_COUNT];
  double sum = 0.0;
  printf("what,count,microseconds_each\n");
  double start = now();
  for (int i = 0; i < SOLVES; i++) {
    s.bias_resistance = 1e6 + i;
    sum += tw_circuit_solve(&s, &c, NULL) == TW_OK ? c.threshold_voltage : 1e9;
  }
  printf("board,%d,%.3f\n", SOLVES, 1e6 * (now() - start) / SOLVES);
  start = now();
  for (int i = 0; i < BUDGETS; i++) {
    s.bias_resistance = 1e6 + i;
    sum += tw_circuit_budget_of(&s, &budget, NULL) == TW_OK ? budget.rss : 1e9;
  }
  printf("error budget,%d,%.1f\n", BUDGETS, 1e6 * (now() - start) / BUDGETS);
  start = now();
  for (int i = 0; i < BUDGETS; i++) {
    sum += tw_circuit_warn(&s, 5.0, flags, NULL) == TW_OK ? flags[0] : 1e9;
  }
  printf("all warnings,%d,%.1f\n", BUDGETS, 1e6 * (now() - start) / BUDGETS);
  tw_want_answer answer;
  const tw_want want = {.measure = force_of,
                        .self = &s,
                        .target = 0.1,
                        .low = 1,
                        .high = 1e4,
                        .series = 24,
                        .rows = 5};
  start = now();
  for (int i = 0; i < BUDGETS; i++) {
    sum += tw_want_solve(&want, &answer, NULL) == TW_OK ? answer.root[0] : 1e9;
  }
  printf("search for a value (%d trials),%d,%.1f\n", answer.trials, BUDGETS,
         1e6 * (now() - start) / BUDGETS);
  return sum < 1e9 ? 0 : 1;
}
