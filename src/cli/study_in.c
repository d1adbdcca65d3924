/* study_in.c: what the verbs of studies share. */
#include "study_in.h"

#include "log_parts.h"

#include <string.h>

static bool read_level(tw_cli *cli, tw_study_level *level)
{
  long azimuths = 8, threads = 0;
  if (!tw_cli_count(cli, "azimuths", 3, 360, &azimuths) ||
      !tw_cli_count(cli, "threads", 1, 64, &threads)) {
    return false;
  }
  *level = (tw_study_level){.azimuths = (int)azimuths,
                            .map = tw_cli_has(cli, "map"),
                            .timed = tw_cli_has(cli, "timed"),
                            .threads = (int)threads};
  return true;
}

static tw_exit read_limits(tw_cli_study *s)
{
  tw_messages *messages = tw_messages_new();
  if (!messages) {
    return TW_EXIT_INTERNAL;
  }
  const tw_status status = tw_limits_read(s->design, s->cli->units, messages, &s->limits);
  tw_cli_messages(s->cli, messages);
  tw_messages_free(messages);
  return tw_exit_of(status);
}

/* a requirement that this level leaves out is never passed over in silence */
static void say_left_out(const tw_cli_study *s)
{
  for (int i = 0; i < TW_MEASURE_COUNT; i++) {
    if (s->limits.of[i].given && tw_study_output(s->study, (tw_measure_id)i) == SIZE_MAX) {
      fprintf(s->cli->err, "warning: requirements.%s: not computed here%s\n",
              tw_measure_about((tw_measure_id)i)->name,
              tw_measure_about((tw_measure_id)i)->needs == TW_NEEDS_MAP     ? "; add --map"
              : tw_measure_about((tw_measure_id)i)->needs == TW_NEEDS_TIMED ? "; add --timed"
                                                                            : "");
    }
  }
}

void tw_cli_study_left_out(FILE *out, const tw_assessment *a, const char *lead)
{
  bool any = false;
  for (int i = 0; i < TW_MEASURE_COUNT; i++) {
    if (a->measure[i].left_out) {
      const tw_measure_info *about = tw_measure_about((tw_measure_id)i);
      fprintf(out, "%s%s%s%s", any ? ", " : lead, any ? "" : "Not judged: ", about->name,
              about->needs == TW_NEEDS_MAP     ? " (add --map)"
              : about->needs == TW_NEEDS_TIMED ? " (add --timed)"
                                               : "");
      any = true;
    }
  }
  fprintf(out, "%s", any ? ".\n" : "");
}

/* builds are evaluated for the measures that are asked for; without any, or with --all, for all */
static const tw_measure_set *asked_for(const tw_cli_study *s, tw_measure_set *set)
{
  bool any = false;
  for (int i = 0; i < TW_MEASURE_COUNT; i++) {
    /* a requirement is judged whatever is listed */
    set->has[i] = tw_cli_wanted(s, (tw_measure_id)i) || s->limits.of[i].given;
    any = any || set->has[i];
  }
  return any && !tw_cli_has(s->cli, "all") ? set : NULL;
}

/* with --log: the processes as the shop's own log knows them */
static tw_exit learn(tw_cli_study *s)
{
  const char *file = tw_cli_text(s->cli, "log", NULL);
  tw_fault fault = {0};
  if (!file || !file[0]) { /* none, or the switch of vary */
    return TW_EXIT_DONE;
  }
  const tw_exit code = tw_log_uses_of(s->cli, file, s->design, &s->learned, &s->learned_count);
  if (code != TW_EXIT_DONE) {
    return code;
  }
  if (s->learned_count == 0) {
    fprintf(s->cli->err,
            "note: %s has no dimension that a process of this design made; its figures stay\n",
            file);
  }
  return tw_log_use_apply(s->design, s->learned, s->learned_count, &fault) == TW_OK
             ? TW_EXIT_DONE
             : tw_cli_fault(s->cli, &fault);
}

static tw_exit open_study(tw_cli *cli, const char *file, bool judged, tw_cli_study *s)
{
  tw_study_level level;
  tw_measure_set set;
  tw_fault fault = {0};
  *s = (tw_cli_study){.cli = cli};
  if (!tw_cli_system(cli, &s->system) || !read_level(cli, &level) || !tw_cli_measures_exist(cli)) {
    return TW_EXIT_USAGE;
  }
  tw_exit code = tw_cli_design(cli, file, TW_NEED_ALL, &s->design);
  code = code == TW_EXIT_DONE ? learn(s) : code;
  if (code == TW_EXIT_DONE) {
    code = read_limits(s);
  }
  if (code != TW_EXIT_DONE) {
    return code;
  }
  if (judged && tw_run_remedy_level(s->design, &s->limits, &level, &fault) != TW_OK) {
    return tw_cli_fault(cli, &fault);
  }
  level.wanted = asked_for(s, &set);
  if (tw_study_new(s->design, cli->units, &s->limits, &level, &s->study, &fault) != TW_OK) {
    return tw_cli_fault(cli, &fault);
  }
  if (!judged) {
    say_left_out(s);
  }
  s->progress = tw_cli_progress(cli);
  return TW_EXIT_DONE;
}

tw_exit tw_cli_study_open(tw_cli *cli, const char *file, tw_cli_study *s)
{
  return open_study(cli, file, false, s);
}

tw_exit tw_cli_study_open_judged(tw_cli *cli, const char *file, tw_cli_study *s)
{
  return open_study(cli, file, true, s);
}

void tw_cli_study_close(tw_cli_study *s)
{
  tw_free(s->learned);
  tw_study_free(s->study);
  tw_design_free(s->design);
}

/* ---- fields and ranges --------------------------------------------------------------------- */

tw_field tw_cli_field(const tw_cli *cli, const char *option, const char *path, size_t length)
{
  char name[80];
  snprintf(name, sizeof name, "%.*s", (int)(length < sizeof name ? length : sizeof name - 1), path);
  const tw_field field = tw_field_find(name);
  if (field == TW_FIELD_COUNT) {
    const char *near = tw_field_nearest(name);
    tw_cli_usage(cli, "--%s: there is no field \"%s\"%s%s%s", option, name,
                 near ? "; did you mean " : "", near ? near : "", near ? "?" : "");
  }
  return field;
}

bool tw_cli_range(tw_cli *cli, const char *option, const char *text, tw_field *field, double *from,
                  double *to)
{
  tw_fault fault = {0};
  if (!tw_cli_units(cli)) {
    return false;
  }
  if (tw_run_range_read(cli->units, text, field, from, to, &fault) != TW_OK) {
    tw_cli_usage(cli, "--%s: %s%s%s", option, fault.text, fault.hint[0] ? "; " : "", fault.hint);
    return false;
  }
  return true;
}

/* ---- other rows of the library -------------------------------------------------------------- */

tw_status tw_cli_read_with(void *self, const char *path, const char *word, tw_design **out)
{
  const tw_set set = {path, word};
  return tw_cli_read_sets(self, &set, 1, out);
}

tw_status tw_cli_read_sets(void *self, const tw_set *more, size_t count, tw_design **out)
{
  tw_cli *cli = self;
  tw_read_options options;
  tw_set *sets = tw_alloc((size_t)cli->given_count + 1 + count, sizeof *sets);
  tw_messages *messages = tw_messages_new();
  tw_status status = sets && messages ? TW_OK : TW_NO_MEMORY;
  size_t own = 0;
  *out = NULL;
  if (status == TW_OK && tw_cli_read_options(cli, TW_NEED_ALL, sets, &options) != TW_EXIT_DONE) {
    status = TW_BAD_INPUT;
  } else if (status == TW_OK) {
    own = options.set_count;
    for (size_t i = 0; i < count; i++) {
      sets[options.set_count++] = more[i];
    }
    status = tw_design_read(cli->operand[0], &options, messages, out);
  }
  tw_messages_free(messages);
  tw_cli_free_sets(sets, own);
  return status;
}

/* ---- measures ------------------------------------------------------------------------------ */

bool tw_cli_measures_exist(const tw_cli *cli)
{
  const char *name;
  for (int k = 0; (name = tw_cli_text_at(cli, "measure", k)) != NULL; k++) {
    if (tw_measure_find(name) == TW_MEASURE_COUNT) {
      tw_cli_usage(cli, "--measure: there is no measure \"%s\"", name);
      return false;
    }
  }
  return true;
}

bool tw_cli_wanted(const tw_cli_study *s, tw_measure_id id)
{
  const char *name;
  int k = 0;
  for (; (name = tw_cli_text_at(s->cli, "measure", k)) != NULL; k++) {
    if (tw_measure_find(name) == id) {
      return true;
    }
  }
  return k == 0 && s->limits.of[id].given;
}

void tw_cli_figure(const tw_cli_study *s, tw_measure_id id, const json_t *value, char *out,
                   size_t size)
{
  const json_t *number = json_is_object(value) ? json_object_get(value, "value") : value;
  const char *state = json_string_value(json_object_get(value, "state"));
  tw_unit unit, shown;
  if (json_is_boolean(number)) {
    snprintf(out, size, "%s", json_is_true(number) ? "yes" : "no");
  } else if (json_is_string(number) || (!json_is_number(number) && state)) {
    snprintf(out, size, "%s", state ? state : json_string_value(number));
    for (char *c = out; *c; c++) {
      *c = *c == '_' ? ' ' : *c;
    }
  } else if (!json_is_number(number)) {
    snprintf(out, size, "-");
  } else if (tw_units_find(s->cli->units, tw_measure_about(id)->shown, &unit, NULL) != TW_OK) {
    snprintf(out, size, "%.3g", json_number_value(number));
  } else {
    tw_unit_shown(s->cli->units, &unit, s->system, &shown);
    tw_number_print(json_number_value(number), &shown, 3, out, size);
  }
}

tw_exit tw_cli_study_verdict(const tw_cli_study *s)
{
  return tw_cli_verdict(&s->study->nominal);
}

void tw_cli_print_assumed(FILE *out, const tw_study *study)
{
  bool any = false;
  for (size_t k = 0; k < study->inputs; k++) {
    const tw_study_input *in = &study->input[k];
    if (in->assumed) {
      fprintf(out, "%s  %-33s %s\n",
              any ? "" : "\nScatter that is assumed (write your own tolerance into the file)\n",
              in->path, tw_study_assumed_text(study, k));
      any = true;
    }
  }
}
