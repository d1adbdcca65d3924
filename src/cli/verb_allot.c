/* verb_allot.c: which dimensions to hold and which to let go, at the least cost. */
#include "batch_in.h"

#include <string.h>

typedef struct allot {
  tw_cli_study s;
  tw_allot_ask ask;
  tw_allot_answer *answer;
  tw_field only[TW_ALLOT_DIMS];
  json_t *document;
} allot;

/* a value of a field in the unit that its table shows */
static void show(const allot *a, tw_field field, double value, char *out, size_t size)
{
  const tw_field_info *info = tw_field_of(field);
  tw_unit unit = {.name = "1", .scale = 1, .decimal = true};
  (void)tw_units_find(a->s.study->units, info->type == TW_TYPE_NUMBER ? "1" : info->unit, &unit,
                      NULL);
  tw_unit_shown(a->s.study->units, &unit, a->s.system, &unit);
  tw_number_print(value, &unit, 4, out, size);
}

/* a hold in the handiest unit: um for lengths */
static void show_hold(double value, const char *unit, char *out, size_t size)
{
  if (unit[0]) {
    tw_show(value, unit, out, size);
  } else {
    snprintf(out, size, "%.3g", value);
  }
}

static void print_hold(const allot *a)
{
  FILE *out = a->s.cli->out;
  const tw_allot_answer *r = a->answer;
  for (int let_go = 0; let_go < 2; let_go++) {
    size_t count = 0;
    for (size_t i = 0; i < r->problem.dims; i++) {
      char hold[40];
      if ((r->set.grade[i] == 0) != let_go) {
        continue;
      }
      show_hold(r->problem.dim[i].hold[r->set.grade[i]], a->s.study->input[r->field[i].input].si,
                hold, sizeof hold);
      fprintf(out, "%s%s ±%s",
              count++  ? ", "
              : let_go ? "Let go: "
                       : "Hold: ",
              r->problem.dim[i].name, hold);
    }
    fprintf(out, "%s", count ? ".\n" : "");
  }
}

static void print_step(FILE *out, bool is, double cost, double yield)
{
  if (is) {
    fprintf(out, "%+8.2f%+7.1f%%", tw_plain_zero(cost, 2), tw_plain_zero(100 * yield, 1));
  } else {
    fprintf(out, "%8s%8s", "-", "-");
  }
}

static void print_table(const allot *a)
{
  FILE *out = a->s.cli->out;
  const tw_allot_answer *r = a->answer;
  fprintf(out, "\n%-23s%9s%9s%7s%16s%16s\n", "", "now", "hold", "costs", "looser", "tighter");
  for (size_t i = 0; i < r->problem.dims; i++) {
    const tw_allot_dim *d = &r->problem.dim[i];
    const char *unit = a->s.study->input[r->field[i].input].si;
    const size_t g = r->set.grade[i];
    char now[40], hold[40];
    show_hold(r->field[i].now, unit, now, sizeof now);
    show_hold(d->hold[g], unit, hold, sizeof hold);
    fprintf(out, "%-23s%9s%9s%7.2f", d->name, now, hold, d->cost[g]);
    print_step(out, r->looser_is[i], r->looser_is[i] ? d->cost[g - 1] - d->cost[g] : 0,
               r->looser[i].share - r->table.share);
    print_step(out, r->tighter_is[i], r->tighter_is[i] ? d->cost[g + 1] - d->cost[g] : 0,
               r->tighter[i].share - r->table.share);
    fprintf(out, "\n");
  }
  fprintf(out,
          "looser, tighter by one grade: what changes in money and in the share that is good\n");
  for (size_t i = 0; i < r->problem.dims; i++) {
    char centre[60];
    if (r->field[i].moved) {
      show(a, r->field[i].field, r->field[i].centre, centre, sizeof centre);
      fprintf(out, "%s has a zone to one side: held about its middle, %s.\n",
              r->problem.dim[i].name, centre);
    }
  }
}

static void print_verdict(const allot *a)
{
  FILE *out = a->s.cli->out;
  const tw_allot_answer *r = a->answer;
  const char *money = tw_text_of(a->document, "currency");
  if (!r->found) {
    fprintf(out,
            "No set of these grades makes %.4g %% of the units good; the best makes %.1f %%.\n"
            "%s is missed most. tripwright remedy FILE --yield says what to change instead.\n",
            100 * a->ask.target, 100 * r->table.share, r->problem.rule[r->limits].name);
  } else {
    fprintf(out, "%zu sets of grades; the cheapest with %.4g %% good costs %.2f %s a unit",
            r->screen.sets, 100 * a->ask.target, r->set.cost, money);
    if (r->now_cost >= 0) {
      fprintf(out, ",\nthe tolerances of the file %.2f", r->now_cost);
    }
    fprintf(out, ".\n");
  }
  fprintf(out,
          "Good: %.1f %% of %zu builds of the engine (%.1f .. %.1f), %.1f %% of %zu from tables;\n",
          100 * r->engine.share, r->engine.builds, 100 * r->engine.low, 100 * r->engine.high,
          100 * r->table.share, r->table.builds);
  fprintf(out, "with the tolerances of the file %.1f %%.\n", 100 * r->now.share);
}

static void print_others(const allot *a)
{
  FILE *out = a->s.cli->out;
  const tw_allot_answer *r = a->answer;
  fprintf(out, "\nOther ways to choose\n");
  if (r->equal_found) {
    fprintf(out, "  all at the same grade      %8.2f, %.1f %% good\n", r->equal.cost,
            100 * r->equal_table.share);
  } else {
    fprintf(out, "  all at the same grade          none reaches it\n");
  }
  const struct {
    const char *name;
    bool found;
    double cost;
  } sum[] = {{"root of sum of squares", r->squares_found, r->squares.cost},
             {"worst case", r->worst_found, r->worst.cost}};
  for (size_t k = 0; k < 2; k++) {
    if (sum[k].found) {
      fprintf(out, "  %-26s %8.2f\n", sum[k].name, sum[k].cost);
    } else {
      fprintf(out, "  %-26s     no set keeps every limit so\n", sum[k].name);
    }
  }
  const json_t *least = json_object_get(a->document, "least_per_good");
  if (json_is_object(least)) {
    fprintf(out, "  least cost of a good unit  %8.2f of grades, %.1f %% good: %.2f in all\n",
            tw_number_of(least, "cost"), 100 * tw_number_of(least, "yield"),
            tw_number_of(least, "cost_per_good"));
  }
}

/* ---- reading --------------------------------------------------------------------------------- */

static tw_exit prepare(allot *a)
{
  tw_cli *cli = a->s.cli;
  const char *path;
  long table = (long)a->ask.table_builds, builds = (long)a->ask.builds, seed = 1;
  if (!tw_cli_share(cli, "yield", &a->ask.target) || !tw_cli_share(cli, "own", &a->ask.own) ||
      !tw_cli_count(cli, "builds", 50, 1000000, &builds) ||
      !tw_cli_count(cli, "table", 500, 1000000, &table) ||
      !tw_cli_count(cli, "seed", 0, 2147483647, &seed) ||
      !tw_cli_quantity(cli, "other", "1", &a->ask.other_cost)) {
    return TW_EXIT_USAGE;
  }
  if (!(a->ask.target > 0 && a->ask.target < 1)) {
    return tw_cli_usage(cli, "--yield: a share between 0 and 100 %% is wanted, such as 90%%");
  }
  if (a->ask.other_cost < 0) {
    return tw_cli_usage(cli, "--other: a cost is not negative");
  }
  a->ask.table_builds = (size_t)table;
  a->ask.builds = (size_t)builds;
  a->ask.seed = (uint64_t)seed;
  for (int k = 0; (path = tw_cli_text_at(cli, "only", k)) != NULL; k++) {
    if (a->ask.onlys == TW_ALLOT_DIMS) {
      return tw_cli_usage(cli, "--only: more than %d dimensions", TW_ALLOT_DIMS);
    }
    a->only[a->ask.onlys] = tw_cli_field(cli, "only", path, strlen(path));
    if (a->only[a->ask.onlys++] == TW_FIELD_COUNT) {
      return TW_EXIT_USAGE;
    }
  }
  a->ask.only = a->only;
  return TW_EXIT_DONE;
}

/* ---- --apply --------------------------------------------------------------------------------- */

static tw_exit write_sets(allot *a, const tw_set *set, size_t count)
{
  tw_cli *cli = a->s.cli;
  tw_read_options options;
  tw_set *given = tw_alloc((size_t)cli->given_count + 1, sizeof *given);
  if (!given) {
    return TW_EXIT_INTERNAL;
  }
  const tw_exit code = tw_cli_read_options(cli, TW_NEED_ALL, given, &options);
  if (code != TW_EXIT_DONE) {
    tw_cli_free_sets(given, 0);
    return code;
  }
  tw_messages *messages = tw_messages_new();
  const tw_status status =
      messages ? tw_design_write(a->s.design, count, set, &options, messages) : TW_NO_MEMORY;
  tw_cli_messages(cli, messages);
  tw_messages_free(messages);
  for (size_t i = 0; i < count && status == TW_OK; i++) {
    fprintf(cli->err, "written to %s: %s: %s\n", tw_design_file(a->s.design), set[i].path,
            set[i].text);
  }
  tw_cli_free_sets(given, options.set_count);
  return tw_exit_of(status);
}

/* every dimension with its hold, as the file would say it */
static tw_exit apply(allot *a)
{
  const tw_allot_answer *r = a->answer;
  char text[TW_ALLOT_DIMS][120];
  tw_set set[TW_ALLOT_DIMS];
  if (!r->found) {
    return tw_cli_usage(a->s.cli,
                        "--apply: no set of grades reaches the yield, so none is written");
  }
  for (size_t i = 0; i < r->problem.dims; i++) {
    const tw_field_info *info = tw_field_of(r->field[i].field);
    const double hold = r->problem.dim[i].hold[r->set.grade[i]];
    tw_unit unit = {.name = "1", .scale = 1, .decimal = true};
    const tw_quantity q = {
        r->field[i].centre,
        {true, tw_design_tolerance(a->s.design, r->field[i].field).spread, hold, hold}};
    (void)tw_units_find(a->s.study->units, info->type == TW_TYPE_NUMBER ? "1" : info->unit, &unit,
                        NULL);
    tw_quantity_print(&q, &unit, 6, text[i], sizeof text[i]);
    set[i] = (tw_set){info->path, text[i]};
  }
  return write_sets(a, set, r->problem.dims);
}

/* ---- the verb -------------------------------------------------------------------------------- */

static tw_exit answer(allot *a)
{
  tw_cli *cli = a->s.cli;
  tw_exit code = a->answer->found ? TW_EXIT_DONE : TW_EXIT_NOT_MET;
  a->document = tw_document_allot(a->s.study, &a->ask, a->answer);
  if (tw_cli_has(cli, "json")) {
    const tw_exit printed = tw_cli_print_json(cli, json_incref(a->document));
    code = printed == TW_EXIT_DONE ? code : printed;
  } else {
    print_hold(a);
    fprintf(cli->out, "\n");
    print_verdict(a);
    print_table(a);
    print_others(a);
  }
  return tw_cli_has(cli, "apply") ? apply(a) : code;
}

static tw_exit run(tw_cli *cli)
{
  allot *a = tw_alloc(1, sizeof *a);
  if (!a) {
    return TW_EXIT_INTERNAL;
  }
  tw_fault fault = {0};
  a->ask = tw_allot_ask_defaults();
  tw_exit code = tw_cli_study_open(cli, cli->operand[0], &a->s);
  if (code == TW_EXIT_DONE) {
    code = prepare(a);
  }
  if (code == TW_EXIT_DONE) {
    const tw_status status =
        tw_allot_design(a->s.study, &a->ask, &a->s.progress, &a->answer, &fault);
    code = status == TW_OK          ? answer(a)
           : status == TW_CANCELLED ? TW_EXIT_INTERRUPTED
                                    : tw_cli_fault(cli, &fault);
  }
  json_decref(a->document);
  tw_free(a->answer);
  tw_cli_study_close(&a->s);
  tw_free(a);
  return code;
}

static const tw_option options[] = {
    {"yield", "SHARE", "of the units that must be good (90%)", false},
    {"own", "SHARE", "that must keep each requirement alone", false},
    {"only", "PATH", "choose for this dimension only (all that have grades)", true},
    {"other", "MONEY", "what a unit costs besides: shows the least cost of a good unit too", false},
    {"builds", "N", "builds of the engine for the answer (1000)", false},
    {"table", "N", "builds from tables for each set that is counted (10000)", false},
    {"seed", "N", "another seed is another batch (1)", false},
    {"apply", NULL, "write the tolerances into the file", false},
    TW_STUDY_OPTIONS,
    {NULL, NULL, NULL, false},
};

const tw_verb tw_verb_allot = {
    .name = "allot",
    .operands = "FILE",
    .least = 1,
    .most = 1,
    .summary = "which dimensions to hold and which to let go, at the least cost",
    .details = "The tolerances that can be held and their prices stand in the shop file: "
               "processes.NAME.grades for the lengths of parts made so, grades.PATH for one field; "
               "a hold is half the zone, IT7 an ISO grade. Sets are screened by slopes and second "
               "differences, counted from tables that the engine makes, and the answer is built by "
               "the engine.",
    .options = options,
    .takes = TW_TAKES_JSON | TW_TAKES_DESIGN,
    .run = run,
};
