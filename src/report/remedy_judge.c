/* remedy_judge.c: the last word on a way: the file with it, read and assessed as `check` does. */
#include "remedy_judge.h"

#include <ctype.h>
#include <string.h>

/* so much of a warning, without its figures, tells which one it is */
enum { KIND_SIZE = 40 };

static void kind_of(const tw_warning *warning, char kind[KIND_SIZE])
{
  size_t n = 0;
  for (const char *c = warning->text; *c && n < KIND_SIZE - 1; c++) {
    if (!isdigit((unsigned char)*c) && *c != '.' && *c != '-') {
      kind[n++] = *c;
    }
  }
  kind[n] = '\0';
}

static bool has_warning(const tw_assessment *a, const tw_warning *warning)
{
  char own[KIND_SIZE], other[KIND_SIZE];
  kind_of(warning, own);
  for (int i = 0; i < a->warnings; i++) {
    kind_of(&a->warning[i], other);
    if (strcmp(a->warning[i].field, warning->field) == 0 && strcmp(own, other) == 0) {
      return true;
    }
  }
  return false;
}

static void count_new(const tw_assessment *before, const tw_assessment *after, tw_remedy *remedy)
{
  remedy->warnings = 0;
  remedy->warning[0] = '\0';
  for (int i = 0; i < after->warnings; i++) {
    if (!has_warning(before, &after->warning[i])) {
      if (remedy->warnings++ == 0) {
        memcpy(remedy->warning, after->warning[i].text, sizeof remedy->warning);
      }
    }
  }
}

tw_status tw_remedy_assess(const tw_design *design, const tw_limits *limits,
                           const tw_progress *progress, tw_assessment *out, tw_fault *fault)
{
  tw_assess_options options = tw_assess_defaults();
  options.contributions = false;
  options.limits = limits;
  options.progress = progress;
  return tw_assess(design, &options, out, fault);
}

tw_status tw_remedy_judge_new(const tw_study *study, const tw_levers *levers,
                              const tw_run_remedy *how, tw_remedy_judge *out, tw_fault *fault)
{
  *out = (tw_remedy_judge){.study = study, .levers = levers, .how = how};
  if (!how->read_sets) {
    return TW_OK;
  }
  out->before = tw_alloc(1, sizeof *out->before);
  out->after = tw_alloc(1, sizeof *out->after);
  if (!out->before || !out->after) {
    tw_remedy_judge_free(out);
    return tw_fail(fault, TW_NO_MEMORY, NULL, NULL, "no memory for the search");
  }
  return tw_remedy_assess(study->design, study->limits, NULL, out->before, fault);
}

void tw_remedy_judge_free(tw_remedy_judge *judge)
{
  tw_free(judge->before);
  tw_free(judge->after);
  *judge = (tw_remedy_judge){0};
}

/* a file that cannot be read with the change, or not computed, contradicts itself: no way */
static tw_status as_refusal(tw_status status)
{
  return status == TW_BAD_INPUT || status == TW_NO_ANSWER ? TW_OK : status;
}

tw_status tw_remedy_judge_way(void *self, tw_remedy *remedy, bool *good, tw_fault *fault)
{
  tw_remedy_judge *judge = self;
  tw_remedy_words words;
  tw_design *design = NULL;
  *good = false;
  if (remedy->changes == 0) {
    *good = tw_assess_verdict_of(judge->before) == TW_ASSESS_MET;
    return TW_OK;
  }
  if (!tw_remedy_words_make(judge->study, judge->levers, remedy, &words)) {
    return tw_fail(fault, TW_NO_MEMORY, NULL, NULL, "a change cannot be written");
  }
  tw_status status = judge->how->read_sets(judge->how->reader, words.set, words.count, &design);
  if (status == TW_OK) {
    status = tw_remedy_assess(design, judge->study->limits, NULL, judge->after, fault);
    *good = status == TW_OK && tw_assess_verdict_of(judge->after) == TW_ASSESS_MET;
  }
  if (*good) {
    count_new(judge->before, judge->after, remedy);
  }
  tw_design_free(design);
  tw_remedy_words_free(&words);
  return as_refusal(status);
}

tw_status tw_run_remedy_level(const tw_design *design, const tw_limits *limits,
                              tw_study_level *level, tw_fault *fault)
{
  tw_assessment *a = tw_alloc(1, sizeof *a);
  if (!a) {
    return tw_fail(fault, TW_NO_MEMORY, NULL, NULL, "no memory for the search");
  }
  const tw_status status = tw_remedy_assess(design, limits, NULL, a, fault);
  for (int i = 0; i < TW_MEASURE_COUNT && status == TW_OK; i++) {
    const tw_needs needs = tw_measure_about((tw_measure_id)i)->needs;
    const bool missed = a->measure[i].met == TW_MET_NO;
    level->timed = level->timed || (missed && needs == TW_NEEDS_TIMED);
    level->map = level->map || (missed && needs == TW_NEEDS_MAP);
  }
  tw_free(a);
  return status;
}
