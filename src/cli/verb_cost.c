/* verb_cost.c: what one good unit of a batch costs in money and hours, and when it is ready. */
#include "batch_in.h"

#include <math.h>
#include <string.h>

static double seconds_of(const json_t *object, const char *key)
{
  return tw_number_of(json_object_get(object, key), "value");
}

static void print_steps(FILE *out, const json_t *d)
{
  const json_t *steps = json_object_get(d, "steps");
  fprintf(out, "\n%-22s%7s%8s%8s%9s%10s%12s\n", "step", "enter", "pass", "good", "by hand", "costs",
          "a good one");
  for (size_t i = 0; i < json_array_size(steps); i++) {
    const json_t *s = json_array_get(steps, i);
    const double hand = seconds_of(s, "attended") + seconds_of(s, "test");
    fprintf(out, "%-22.22s%7.0f%7.1f%%%7.1f%%%5.0f min%10.2f%12.2f\n", tw_text_of(s, "step"),
            tw_number_of(s, "enter"), 100 * tw_number_of(s, "passes"),
            100 * tw_number_of(s, "yield"), hand / 60, tw_number_of(s, "cost"),
            tw_number_of(s, "cost_per_good"));
  }
  fprintf(out,
          "\ncosts: of a unit that enters the step, with its parts; a good one: all that a\n"
          "unit has cost that is good after it, with the share of those that were scrapped.\n");
}

static void print_sums(FILE *out, const json_t *d)
{
  const char *money = tw_text_of(d, "currency");
  const double direct = tw_number_of(d, "direct_per_good"),
               over = tw_number_of(d, "overhead_per_good");
  const json_t *lot = json_object_get(d, "lot");
  fprintf(out, "\nOne good unit\n  %-32s%10.2f %s\n", "without set-ups",
          tw_number_of(d, "cost_per_good"), money);
  fprintf(out, "  %-32s%10.2f %s  (%.2f a lot)\n", "set-ups",
          direct - tw_number_of(d, "cost_per_good"), money, tw_number_of(d, "setups"));
  fprintf(out, "  %-32s%10.2f %s\n", "direct", direct, money);
  if (over > 0) {
    fprintf(out, "  %-32s%10.2f %s\n  %-32s%10.2f %s\n", "overhead", over, money, "with overhead",
            direct + over, money);
  }
  fprintf(out, "  %-32s%10.2f h    (set-ups: %.2f h a lot)\n", "work by hand",
          seconds_of(d, "attended_per_good") / 3600, seconds_of(d, "setup_time") / 3600);
  fprintf(out, "  %-32s%10.2f h\n", "machines", seconds_of(d, "machine_per_good") / 3600);
  fprintf(out, "\nThis lot: %.0f start, %.0f to %.0f good (90 %%), about %.0f; %.2f %s in all.\n",
          tw_number_of(d, "starts"), tw_number_of(lot, "low"), tw_number_of(lot, "high"),
          tw_number_of(lot, "middle"), tw_number_of(lot, "cost"), money);
  fprintf(out, "Over many such lots a good unit costs less: one alone %.2f %s, %.1f %% more.\n",
          tw_number_of(lot, "cost_per_good_one_lot"), money,
          100 * (tw_number_of(lot, "cost_per_good_one_lot") / direct - 1));
}

/* for each test: what leaving it out saves and lets through */
static void print_tests(FILE *out, const json_t *d)
{
  const json_t *steps = json_object_get(d, "steps");
  const double now = tw_number_of(d, "cost_per_truly_good");
  bool any = false;
  for (size_t i = 0; i < json_array_size(steps); i++) {
    const json_t *without = json_object_get(json_array_get(steps, i), "without_test");
    if (!json_is_object(without)) {
      continue;
    }
    fprintf(out, "%s", any ? "" : "\nIs each test worth its time?\n");
    any = true;
    const double cost = tw_number_of(without, "cost_per_truly_good");
    fprintf(out, "  without %-22s%+9.2f a truly good unit, %5.2f %% bad sold\n",
            tw_text_of(json_array_get(steps, i), "step"), cost - now,
            100 * tw_number_of(without, "bad_sold"));
  }
  if (any) {
    fprintf(out, "  with all%30.2f a truly good unit, %5.2f %% bad sold\n", now,
            100 * tw_number_of(d, "bad_sold"));
  }
}

static double days(const json_t *d, const char *which, const char *key)
{
  return seconds_of(json_object_get(d, which), key) / 86400;
}

static void print_ready(FILE *out, const json_t *d)
{
  const json_t *tasks = json_object_get(d, "tasks");
  const double least = days(d, "ready_all", "at_least"), most = days(d, "ready_all", "at_most");
  fprintf(out, "\nReady: the first unit after %.3g days, the lot after ",
          days(d, "ready_first", "at_most"));
  if (most > least * (1 + 1e-9)) {
    fprintf(out, "%.3g to %.3g days", least, most);
  } else {
    fprintf(out, "%.3g days", most);
  }
  fprintf(out, " by one person\n(%.3g with hands enough). Nothing of this may slip: ",
          days(d, "ready_all", "network"));
  bool any = false;
  for (size_t i = 0; i < json_array_size(tasks); i++) {
    const json_t *t = json_array_get(tasks, i);
    if (json_is_true(json_object_get(t, "critical"))) {
      fprintf(out, "%s%s", any ? ", " : "", tw_text_of(t, "task"));
      any = true;
    }
  }
  fprintf(out, ".\n");
}

static tw_exit run(tw_cli *cli)
{
  tw_cli_batch b = {0};
  tw_exit code = tw_cli_batch_open(cli, &b);
  if (code == TW_EXIT_DONE) {
    json_t *d = tw_document_cost(b.s.design, b.batch, &b.basis);
    if (tw_cli_has(cli, "json")) {
      code = tw_cli_print_json(cli, d);
    } else {
      tw_cli_study_left_out(cli->out, &b.s.study->nominal, "");
      tw_cli_batch_head(cli->out, d);
      print_steps(cli->out, d);
      print_sums(cli->out, d);
      print_tests(cli->out, d);
      print_ready(cli->out, d);
      tw_cli_batch_idle(cli->out, d);
      json_decref(d);
    }
  }
  tw_cli_batch_close(&b);
  return code;
}

static const tw_option options[] = {
    TW_BATCH_OPTIONS,
    TW_STUDY_OPTIONS,
    {NULL, NULL, NULL, false},
};

const tw_verb tw_verb_cost = {
    .name = "cost",
    .operands = "FILE",
    .least = 1,
    .most = 1,
    .summary = "what one good unit costs in money and hours, and when the lot is ready",
    .details = "Times, prices and tests stand in the shop file under steps, parts and processes "
               "(tripwright fields steps parts processes); costs.hour is the rate of the bench. "
               "Scrap counts where it is found: the requirements that a step reads fail as often "
               "as in builds of the batch. Without steps each part is a step of its own. Money is "
               "never converted; tax is left out.",
    .options = options,
    .takes = TW_TAKES_JSON | TW_TAKES_DESIGN,
    .run = run,
};
