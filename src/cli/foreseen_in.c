/* foreseen_in.c: a design assessed for the few figures that a test has measured. */
#include "foreseen_in.h"

#include <string.h>

bool tw_cli_figure_named(const tw_figure_row *f, const char *name)
{
  const size_t length = strlen(f->name), wanted = strlen(name);
  return length >= wanted && strcmp(f->name + length - wanted, name) == 0 &&
         (length == wanted || f->name[length - wanted - 1] == ' ');
}

/* from which sides and how much is computed: only what the pairs name */
static tw_assess_options options_for(const tw_foreseen_pair *pair, size_t count,
                                     tw_measure_set *wanted)
{
  tw_assess_options options = tw_assess_defaults();
  options.map = options.timed = options.contributions = false;
  for (size_t k = 0; k < count; k++) {
    wanted->has[pair[k].measure] = true;
    options.map = options.map || tw_measure_about(pair[k].measure)->needs == TW_NEEDS_MAP;
    options.timed = options.timed || tw_measure_about(pair[k].measure)->needs == TW_NEEDS_TIMED;
  }
  options.wanted = wanted;
  return options;
}

/* is there such a figure */
static bool put_beside(tw_record *record, const tw_assessment *a, const tw_foreseen_pair *pair)
{
  const tw_measure *m = &a->measure[pair->measure];
  bool any = false;
  for (size_t i = 0; i < record->figures; i++) {
    tw_figure_row *f = &record->figure[i];
    if (!tw_cli_figure_named(f, pair->figure)) {
      continue;
    }
    any = true;
    f->has_foreseen = m->state == TW_MEASURE_OK;
    f->foreseen = m->state == TW_MEASURE_OK ? pair->times * m->value : 0.0;
  }
  return any;
}

/* how a figure of the design is to be read, or why it has none; told once a measure */
static void tell(tw_record *record, const tw_assessment *a, tw_measure_id id)
{
  const tw_measure *m = &a->measure[id];
  if (m->state != TW_MEASURE_OK || m->note[0]) {
    tw_record_note(record, "%s of the design%s: %s", tw_measure_about(id)->name,
                   m->state == TW_MEASURE_OK ? "" : " has no answer", m->note);
  }
}

tw_exit tw_cli_foreseen(tw_cli *cli, const tw_foreseen_pair *pair, size_t count, tw_record *record)
{
  const char *file = tw_cli_text(cli, "foreseen", NULL);
  if (!file) {
    return TW_EXIT_DONE;
  }
  tw_design *design = NULL;
  tw_assessment *a = NULL;
  tw_measure_set wanted = {.has = {false}};
  const tw_assess_options options = options_for(pair, count, &wanted);
  const tw_exit code = tw_cli_assessed(cli, file, &options, &design, &a);
  if (code == TW_EXIT_DONE) {
    char words[160];
    snprintf(words, sizeof words, "%.80s, %.60s", tw_design_name(design), file);
    tw_record_condition(record, "foreseen by", words);
    bool told[TW_MEASURE_COUNT] = {false};
    for (size_t k = 0; k < count; k++) {
      const tw_measure_id id = pair[k].measure;
      if (put_beside(record, a, &pair[k]) && !told[id]) {
        told[id] = true;
        tell(record, a, id);
      }
    }
  }
  tw_free(a);
  tw_design_free(design);
  return code;
}
