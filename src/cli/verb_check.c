/* verb_check.c: the main job: what the probe will do, held against its requirements. */
#include "verb.h"

#include "tripwright/assess.h"

#include <math.h>
#include <string.h>

/* everything of one `check` */
typedef struct check {
  tw_cli *cli;
  tw_design *design;
  tw_limits limits;
  tw_assessment result;
  tw_system system;
} check;

static void show(const check *c, tw_measure_id id, double value, char *out, size_t size)
{
  tw_unit unit, shown;
  tw_fault fault;
  /* a length is read beside the pretravel */
  const tw_measure *travel = &c->result.measure[TW_M_pretravel_side];
  if (strcmp(tw_measure_about(id)->unit, "m") == 0 && travel->state == TW_MEASURE_OK) {
    value = tw_shown_beside(value, travel->value);
  }
  if (tw_units_find(c->cli->units, tw_measure_about(id)->shown, &unit, &fault) != TW_OK) {
    snprintf(out, size, "%.3g", value);
    return;
  }
  tw_unit_shown(c->cli->units, &unit, c->system, &shown);
  const int way = tw_measure_rounds(id);
  tw_number_print(way ? tw_number_rounded(value, &shown, 3, way) : value, &shown, 3, out, size);
}

static void show_measure(const check *c, tw_measure_id id, char *out, size_t size)
{
  const tw_measure *m = &c->result.measure[id];
  if (m->state != TW_MEASURE_OK) {
    snprintf(out, size, "%s", m->endless ? "no signal" : tw_measure_state_words(m->state));
  } else if (m->word) {
    snprintf(out, size, "%s", m->word);
  } else {
    show(c, id, m->value, out, size);
  }
}

/* "dead zone 0.0750 N + friction 0.0320 N + threshold 0.0160 N" */
static void print_parts(const check *c, tw_measure_id id)
{
  const tw_measure *m = &c->result.measure[id];
  if (m->contributions == 0) {
    return;
  }
  fprintf(c->cli->out, "    made of ");
  for (int i = 0; i < m->contributions; i++) {
    char text[64];
    show(c, id, tw_shown_beside(m->contribution[i].value, m->value), text, sizeof text);
    fprintf(c->cli->out, "%s%s %s", i ? " + " : "", m->contribution[i].cause, text);
  }
  fprintf(c->cli->out, "\n");
}

static void print_reason(const check *c, tw_measure_id id)
{
  const tw_measure *m = &c->result.measure[id];
  if (m->state == TW_MEASURE_OK && m->has_fitted) {
    char text[64];
    show(c, id, m->fitted, text, sizeof text);
    fprintf(c->cli->out, "    %s: %s, and this is what is judged\n", m->note, text);
  }
  /* what a figure was computed for, or why there is none */
  if (m->note[0] && !(m->state == TW_MEASURE_OK && m->has_fitted)) {
    fprintf(c->cli->out, "    %s\n", m->note);
  }
  if (m->state == TW_MEASURE_NO_TRIP && m->searched_to > 0) {
    fprintf(c->cli->out, "    searched up to %.3g N\n", m->searched_to);
  }
}

/* "+28 %" of the limit to spare */
static void margin_text(const tw_measure *m, char *out, size_t size)
{
  if (m->state == TW_MEASURE_OK && !m->word) {
    snprintf(out, size, "%+.0f %%", 100 * m->margin);
  } else {
    out[0] = '\0';
  }
}

static void print_requirement(const check *c, tw_measure_id id)
{
  const tw_measure *m = &c->result.measure[id];
  char value[64], margin[32];
  show_measure(c, id, value, sizeof value);
  margin_text(m, margin, sizeof margin);
  fprintf(c->cli->out, "  %s %-24s %11s  %-15s %7s %s\n",
          m->met == TW_MET_YES ? "met    " : "NOT MET", tw_measure_about(id)->name, value,
          c->limits.of[id].text, margin, tw_basis_text(m->basis));
  print_parts(c, id);
  print_reason(c, id);
}

static void print_figure(const check *c, tw_measure_id id)
{
  const tw_measure *m = &c->result.measure[id];
  const bool all = tw_cli_has(c->cli, "all");
  char value[64], extra[200] = "";
  show_measure(c, id, value, sizeof value);
  if (all && m->state == TW_MEASURE_OK && m->has_least) {
    char least[64];
    show(c, id, m->least, least, sizeof least);
    snprintf(extra, sizeof extra, "least %s; largest at %.0f deg", least, m->at_deg);
  } else if (m->state == TW_MEASURE_OK && m->has_fitted) {
    char text[64];
    show(c, id, m->fitted, text, sizeof text);
    snprintf(extra, sizeof extra, "as fitted %s", text);
  } else if (tw_measure_state_prevents_touch(c->result.state) && m->state == c->result.state) {
    extra[0] = '\0'; /* the first lines have said it */
  } else if (m->note[0] && (all || m->state != TW_MEASURE_OK)) {
    snprintf(extra, sizeof extra, "%s", m->note);
  }
  fprintf(c->cli->out, "  %-26s %13s   %-8s %s\n", tw_measure_about(id)->name, value,
          tw_basis_text(m->basis), extra);
  if (m->has_at) {
    print_reason(c, id);
  }
}

/* ---- the answer in three lines --------------------------------------------------------------- */

static int first_missed(const check *c)
{
  for (int i = 0; i < TW_MEASURE_COUNT; i++) {
    if (c->result.measure[i].met == TW_MET_NO && c->result.measure[i].state != TW_MEASURE_OK) {
      return i; /* a state is worse than any margin */
    }
  }
  return -1;
}

/* the requirement with the least margin; TW_MEASURE_COUNT when there is none with a figure */
static int worst_of(const check *c)
{
  int worst = first_missed(c);
  for (int i = 0; worst < 0 && i < TW_MEASURE_COUNT; i++) {
    worst = c->result.measure[i].met == TW_MET_NO && c->result.measure[i].word ? i : worst;
  }
  if (worst >= 0) {
    return worst;
  }
  worst = TW_MEASURE_COUNT;
  for (int i = 0; i < TW_MEASURE_COUNT; i++) {
    const tw_measure *m = &c->result.measure[i];
    const bool judged = m->met != TW_MET_NO_RULE && m->state == TW_MEASURE_OK && !m->word;
    if (judged && (worst == TW_MEASURE_COUNT || m->margin < c->result.measure[worst].margin)) {
      worst = i;
    }
  }
  return worst;
}

static void print_worst(const check *c)
{
  const int worst = worst_of(c);
  if (worst == TW_MEASURE_COUNT) {
    return;
  }
  const tw_measure *m = &c->result.measure[worst];
  char value[64], margin[64] = "";
  show_measure(c, (tw_measure_id)worst, value, sizeof value);
  if (m->state == TW_MEASURE_OK && !m->word) {
    const bool below = c->limits.of[worst].rule == TW_RULE_LEAST;
    snprintf(margin, sizeof margin, ", %.0f %% %s", 100 * fabs(m->margin),
             m->margin >= 0 ? "to spare"
             : below        ? "below it"
                            : "over it");
  }
  fprintf(c->cli->out, "%s: %s %s (asked %s)%s.\n", m->met == TW_MET_NO ? "Worst" : "Tightest",
          tw_measure_about((tw_measure_id)worst)->name, value, c->limits.of[worst].text, margin);
}

/* what to do next, from what was found */
static void print_next(const check *c)
{
  const tw_assessment *a = &c->result;
  const char *file = c->cli->operand[0];
  if (a->asked == 0) {
    return;
  }
  if (a->met < a->asked) {
    fprintf(c->cli->out, "Next: `tripwright remedy %s` looks for the smallest change.\n", file);
  } else if (a->warnings > 0) {
    fprintf(c->cli->out, "Next: %s, see the warnings.\n", a->warning[0].field);
  } else {
    fprintf(c->cli->out, "Next: `tripwright spread %s` says how many of a batch will be good.\n",
            file);
  }
}

static void print_verdict(const check *c)
{
  FILE *out = c->cli->out;
  const tw_assessment *a = &c->result;
  const char *revision = tw_design_revision(c->design);
  fprintf(out, "%s%s%s\n", tw_design_name(c->design), revision ? ", revision " : "",
          revision ? revision : "");
  char verdict[TW_ASSESS_SENTENCE];
  tw_assess_sentence(a, verdict, sizeof verdict);
  fprintf(out, "%s\n", verdict);
  print_worst(c);
  print_next(c);
}

/* ---- the figures in groups ------------------------------------------------------------------- */

/* the groups by the section of the result table, in the order in which a touch happens */
static const struct {
  const char *section, *title;
} groups[] = {
    {"seat.md", "Seat and touch"},
    {"disc.md", "Disc"},
    {"circuit.md", "Circuit"},
    {"touch.md", "Touches in time"},
    {"false-trips.md", "False trips"},
    {"stylus.md", "Stylus"},
    {"crash.md", "Crash"},
    {"links.md", "Link"},
    {"qualify.md", "Tip and edge"},
};

/* what is asked of a probe in most workshops stands without --all: what is better small or large */
static bool listed(const check *c, int i)
{
  const tw_measure *m = &c->result.measure[i];
  return m->met == TW_MET_NO_RULE && m->state != TW_MEASURE_NOT_COMPUTED &&
         (m->state != TW_MEASURE_NOT_APPLICABLE || m->endless);
}

static bool in_short(int i)
{
  return tw_measure_about((tw_measure_id)i)->better != TW_BETTER_NONE;
}

static int print_group(const check *c, size_t g)
{
  int left_out = 0;
  bool headed = false;
  for (int i = 0; i < TW_MEASURE_COUNT; i++) {
    if (!listed(c, i) ||
        strcmp(tw_measure_about((tw_measure_id)i)->section, groups[g].section) != 0) {
      continue;
    }
    if (!tw_cli_has(c->cli, "all") && !in_short(i)) {
      left_out++;
      continue;
    }
    fprintf(c->cli->out, "%s%s%s", headed ? "" : "\n", headed ? "" : groups[g].title,
            headed ? "" : "\n");
    headed = true;
    print_figure(c, (tw_measure_id)i);
  }
  return left_out;
}

/* a word in short, the reasons with --all */
static void print_not_judged(const check *c)
{
  FILE *out = c->cli->out;
  const bool all = tw_cli_has(c->cli, "all");
  tw_not_judged each[TW_NOT_JUDGED];
  const size_t count = tw_assess_not_judged(c->design, each);
  fprintf(out, all ? "\nNot judged\n" : "\nNot judged: ");
  for (size_t i = 0; i < count; i++) {
    if (all) {
      fprintf(out, "  - %s: %s\n", each[i].what, each[i].why);
    } else {
      fprintf(out, "%s%s", i ? ", " : "", each[i].what);
    }
  }
  fprintf(out, "%s", all ? "" : " (--all says why).\n");
}

/* the guesses on which figures rest, each once, with the figure that it moves most */
static void print_guesses(const check *c)
{
  const char *before = "State these to know better: ";
  for (int f = 0; f < TW_FIELD_COUNT; f++) {
    const char *path = tw_field_of((tw_field)f)->path;
    const tw_measure *most = NULL;
    int which = 0;
    for (int i = 0; i < TW_MEASURE_COUNT; i++) {
      const tw_measure *m = &c->result.measure[i];
      if (m->assumes && strcmp(m->assumes, path) == 0 &&
          (!most || m->assumes_share > most->assumes_share)) {
        most = m;
        which = i;
      }
    }
    if (most && isfinite(most->assumes_share) && most->assumes_share > 0) {
      fprintf(c->cli->out, "%s%s (moves %s by %.0f %%)", before, path,
              tw_measure_about((tw_measure_id)which)->name, 100 * most->assumes_share);
      before = ", ";
    } else if (most) {
      fprintf(c->cli->out, "%s%s", before, path);
      before = ", ";
    }
  }
  fprintf(c->cli->out, "%s", before[0] == ',' ? ".\n" : "");
}

static void print_text(const check *c)
{
  FILE *out = c->cli->out;
  const tw_assessment *a = &c->result;
  print_verdict(c);
  fprintf(out, "\nRequirements\n");
  for (int i = 0; i < TW_MEASURE_COUNT; i++) {
    if (a->measure[i].met != TW_MET_NO_RULE) {
      print_requirement(c, (tw_measure_id)i);
    }
  }
  fprintf(out, "%s", a->warnings ? "\nWarnings\n" : "");
  for (int i = 0; i < a->warnings; i++) {
    fprintf(out, "  - %s\n    change: %s\n", a->warning[i].text, a->warning[i].field);
  }
  int left_out = 0;
  for (size_t g = 0; g < sizeof groups / sizeof groups[0]; g++) {
    left_out += print_group(c, g);
  }
  if (left_out > 0) {
    fprintf(out, "\n%d more figures, and notes to these: --all\n", left_out);
  }
  print_not_judged(c);
  fprintf(out, "\nassumed: rests on a guess of the program; library: on figures from the library "
               "or the file; measured: on a measurement of this unit. A probe is never a safety "
               "device.\n");
  print_guesses(c);
}

/* names of the parts in a state, with the longest wait among them; returns how many */
static int list_parts(const check *c, tw_part_state state, const char *lead, const char *last)
{
  int count = 0;
  double wait = 0;
  for (size_t i = 0; i < tw_design_parts(c->design); i++) {
    const tw_part *part = tw_design_part(c->design, i);
    if (part->state == state) {
      fprintf(c->cli->out, "%s%s", count++ ? ", " : lead, part->name);
      wait = part->lead_time > wait ? part->lead_time : wait;
    }
  }
  if (count > 0 && wait > 0 && state == TW_PART_ORDERED) {
    fprintf(c->cli->out, " (up to %.0f days)", wait / 86400);
  }
  fprintf(c->cli->out, "%s", count ? last : "");
  return count;
}

/* one line: what is waited for, what can be settled meanwhile */
static void print_parts_line(const check *c)
{
  if (tw_design_parts(c->design) > 0) {
    fprintf(c->cli->out, "\n");
    list_parts(c, TW_PART_ORDERED, "Waited for: ", ". ");
    list_parts(c, TW_PART_OPEN, "Can be settled meanwhile: ", ".");
    fprintf(c->cli->out, "\n");
  }
}

static bool put_out(void *self, const char *text, size_t length)
{
  return fwrite(text, 1, length, self) == length;
}

static tw_exit assess_and_print(check *c)
{
  tw_messages *messages = tw_messages_new();
  if (!messages) {
    return TW_EXIT_INTERNAL;
  }
  const tw_status read = tw_limits_read(c->design, c->cli->units, messages, &c->limits);
  tw_cli_messages(c->cli, messages);
  tw_messages_free(messages);
  if (read != TW_OK) {
    return tw_exit_of(read);
  }
  const tw_progress progress = tw_cli_progress(c->cli);
  tw_assess_options options = tw_assess_defaults();
  options.limits = &c->limits;
  options.progress = &progress;
  options.map = options.timed = !tw_cli_has(c->cli, "quick");
  tw_fault fault = {0};
  const tw_status status = tw_assess(c->design, &options, &c->result, &fault);
  if (status != TW_OK) {
    return tw_cli_fault(c->cli, &fault);
  }
  if (tw_cli_has(c->cli, "json")) {
    const tw_exit code =
        tw_cli_print_json(c->cli, tw_document_check(c->design, &c->result, &c->limits));
    return code == TW_EXIT_DONE ? tw_cli_verdict(&c->result) : code;
  }
  print_text(c);
  print_parts_line(c);
  return tw_cli_verdict(&c->result);
}

static tw_exit run(tw_cli *cli)
{
  check *c = tw_alloc(1, sizeof *c);
  if (!c) {
    return TW_EXIT_INTERNAL;
  }
  c->cli = cli;
  tw_exit code = tw_cli_system(cli, &c->system) ? TW_EXIT_DONE : TW_EXIT_USAGE;
  if (code == TW_EXIT_DONE) {
    code = tw_cli_design(cli, cli->operand[0], TW_NEED_ALL, &c->design);
  }
  if (code == TW_EXIT_DONE && tw_cli_has(cli, "flat")) {
    const tw_sink sink = {put_out, cli->out};
    code = tw_exit_of(tw_design_print_flat(c->design, cli->units, c->system, &sink));
  } else if (code == TW_EXIT_DONE) {
    code = assess_and_print(c);
  }
  tw_design_free(c->design);
  tw_free(c);
  return code;
}

static const tw_option options[] = {
    {"flat", NULL, "print the merged file with the origin of each value instead", false},
    {"all", NULL, "every figure, with its notes", false},
    {"quick", NULL, "leave out the map of all directions and the touches in time", false},
    {NULL, NULL, NULL, false},
};

const tw_verb tw_verb_check = {
    .name = "check",
    .operands = "FILE",
    .least = 1,
    .most = 1,
    .summary = "foresee what a probe will do and hold it against its requirements",
    .details = "Prints each requirement with the value foreseen, its margin and what it is made "
               "of; then warnings in plain words with the field to change; then all other figures.",
    .options = options,
    .takes = TW_TAKES_JSON | TW_TAKES_DESIGN,
    .run = run,
};
