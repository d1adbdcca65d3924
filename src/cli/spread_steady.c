/* spread_steady.c: `spread --until-steady`. */
#include "spread_steady.h"

#include <string.h>

tw_exit tw_cli_steady_read(tw_cli_study *s, size_t most, tw_cli_steady *out)
{
  long digits = 0, batch = 0;
  *out = (tw_cli_steady){0};
  if (!tw_cli_count(s->cli, "until-steady", 1, 2, &digits) ||
      !tw_cli_count(s->cli, "batch", 20, 1000000, &batch)) {
    return TW_EXIT_USAGE;
  }
  if (digits == 0) {
    return batch == 0 ? TW_EXIT_DONE
                      : tw_cli_usage(s->cli, "--batch belongs to --until-steady DIGITS");
  }
  for (size_t j = 0; j < s->study->outputs; j++) {
    const tw_measure_id id = s->study->measure[j];
    if (tw_cli_wanted(s, id) && strcmp(tw_measure_about(id)->unit, "word") != 0) {
      out->output[out->plan.count++] = j;
    }
  }
  if (out->plan.count == 0) {
    return tw_cli_usage(s->cli, "--until-steady: name a --measure NAME whose figures are watched");
  }
  out->asked = true;
  out->plan.outputs = out->output;
  out->plan.digits = (int)digits;
  out->plan.batch = (size_t)batch;
  out->plan.most = most;
  return TW_EXIT_DONE;
}

static void figure(const tw_cli_study *s, const json_t *one, const char *key, char *out,
                   size_t size)
{
  const char *name = json_string_value(json_object_get(one, "name"));
  tw_cli_figure(s, tw_measure_find(name ? name : ""), json_object_get(one, key), out, size);
}

void tw_cli_steady_print(const tw_cli_study *s, const json_t *steady)
{
  FILE *out = s->cli->out;
  const json_t *list = json_object_get(steady, "measures");
  const long long digits = (long long)json_integer_value(json_object_get(steady, "digits"));
  fprintf(out,
          "\n%s after %lld builds, in %lld batches of %lld: %lld figure%s of the deviation (JCGM "
          "101, 7.9)\n",
          json_is_true(json_object_get(steady, "steady")) ? "Steady" : "Not yet steady",
          (long long)json_integer_value(json_object_get(steady, "builds")),
          (long long)json_integer_value(json_object_get(steady, "batches")),
          (long long)json_integer_value(json_object_get(steady, "batch")), digits,
          digits == 1 ? "" : "s");
  fprintf(out, "  %-26s %-12s %-12s %-26s %s\n", "", "mean", "deviation", "95 % lie between",
          "sure within");
  for (size_t k = 0; k < json_array_size(list); k++) {
    const json_t *one = json_array_get(list, k);
    char mean[64], deviation[64], low[64], high[64], within[64], both[140];
    const char *name = json_string_value(json_object_get(one, "name"));
    const bool known = json_is_object(json_object_get(one, "mean"));
    if (!known) {
      fprintf(out, "  %-26s %s\n", name, "has too few numbers for one batch");
      continue;
    }
    figure(s, one, "mean", mean, sizeof mean);
    figure(s, one, "deviation", deviation, sizeof deviation);
    figure(s, one, "low", low, sizeof low);
    figure(s, one, "high", high, sizeof high);
    figure(s, one, "tolerance", within, sizeof within);
    snprintf(both, sizeof both, "%s .. %s", low, high);
    fprintf(out, "  %-26s %-12s %-12s %-26s %s%s\n", name, mean, deviation, both, within,
            json_is_true(json_object_get(one, "steady")) ? "" : ", not yet");
  }
}
