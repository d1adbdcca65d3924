/* run_remedy.c: the search for the smallest change, told while ways are found. */
#include "remedy_judge.h"
#include "run_watch.h"

#include <string.h>

/* the margin that ways aim at when nobody asks for one: a value made a little off still keeps the
 * limit (common practice, no source) */
#define SAFETY 0.05

tw_run_remedy tw_run_remedy_defaults(void)
{
  return (tw_run_remedy){.builds = 60, .budget = 1500, .wanted = 1, .safety = SAFETY};
}

bool tw_run_part_known(const tw_design *design, const char *name)
{
  bool known = tw_design_part_named(design, name) != NULL;
  for (int i = 0; i < TW_FIELD_COUNT && !known; i++) {
    const tw_field_info *about = tw_field_of((tw_field)i);
    known = strcmp(about->part, name) == 0 || strcmp(about->path, name) == 0;
  }
  return known;
}

typedef struct search {
  tw_study *study;
  const tw_levers *levers;
  const tw_run_remedy *how;
  const tw_sampler *sampler;
  const tw_remedies *found;
  size_t told; /* evaluations of the ways that were told last */
  tw_run_pace pace;
  tw_remedy_judge judge;
} search;

/* the way's warnings and verdict, for the search */
static tw_status judge_way(void *self, tw_remedy *remedy, bool *good, tw_fault *fault)
{
  search *s = self;
  return tw_remedy_judge_way(&s->judge, remedy, good, fault);
}

/* The ways change only between two loops, on this thread, and this thread is the first worker: so
 * the margins of what stands there can be worked out here. */
static bool tick(void *self, double done, const char *what)
{
  search *s = self;
  if (s->found->count > 0 && s->found->evaluations != s->told && tw_run_due(&s->pace)) {
    s->told = s->found->evaluations;
    tw_run_tell(&s->pace, tw_document_remedy(s->study, s->levers, s->found));
  }
  return tw_progress_tick(tw_run_progress(s->pace.watch), done, what);
}

/* share of good builds when the tolerances stand around x instead of the design */
static tw_status yield_at(void *self, const double *x, double *yield, tw_fault *fault)
{
  search *s = self;
  tw_study *study = s->study;
  const tw_study_model model = tw_study_as_model(study);
  const size_t n = s->how->builds, in = study->inputs, out = study->outputs;
  double *draws = tw_alloc(n * in, sizeof *draws), *y = tw_alloc(n * out, sizeof *y);
  unsigned char *outcome = tw_alloc(n * out, 1);
  tw_status status = draws && y && outcome ? TW_OK : TW_NO_MEMORY;
  for (size_t i = 0; i < n && status == TW_OK; i++) {
    tw_sampler_draw(s->sampler, i, draws + i * in);
    for (size_t k = 0; k < in; k++) {
      draws[i * in + k] += x[k] - study->now[k];
    }
  }
  if (status == TW_OK) {
    status = tw_study_points(&model, n, draws, y, outcome, study->level.threads,
                             tw_run_progress(s->pace.watch), fault);
  }
  size_t good = 0;
  for (size_t i = 0; i < n && status == TW_OK; i++) {
    good += tw_goals_margin(study->goal, study->goals, y + i * out, outcome + i * out, NULL) >= 0;
  }
  *yield = (double)good / (double)n;
  tw_free(draws);
  tw_free(y);
  tw_free(outcome);
  return status;
}

tw_status tw_run_remedy_make(tw_study *study, const tw_levers *levers, const tw_run_remedy *how,
                             const tw_run_watch *watch, tw_remedies *out, tw_fault *fault)
{
  tw_sampler *sampler = NULL;
  tw_status status = TW_OK;
  *out = (tw_remedies){0};
  if (how->yield > 0) {
    status = tw_study_add_toleranced(study, fault);
    if (status == TW_OK) {
      status = tw_study_sampler(study, NULL, 0, 1, &sampler, fault);
    }
  }
  if (status == TW_OK) {
    const tw_study_model model = tw_study_as_model(study);
    search s = {study, levers, how, sampler, out, 0, {.watch = watch}, {0}};
    status = tw_remedy_judge_new(study, levers, how, &s.judge, fault);
    const tw_progress progress = {tick, &s};
    const tw_remedy_problem problem = {.model = &model,
                                       .x0 = study->now,
                                       .levers = levers->lever,
                                       .lever_count = levers->count,
                                       .remakes = levers->remake,
                                       .remake_count = levers->remakes,
                                       .limits = study->goal,
                                       .limit_count = study->goals,
                                       .safety = how->safety};
    const tw_remedy_options options = {.threads = study->level.threads,
                                       .budget = how->budget,
                                       .wanted = how->wanted,
                                       .yield = sampler ? yield_at : NULL,
                                       .self = &s,
                                       .yield_wanted = how->yield,
                                       .judge = s.judge.before ? judge_way : NULL,
                                       .allowance = how->strict ? 0 : how->safety};
    if (status == TW_OK) {
      status = tw_remedy_search(&problem, &options, &progress, out, fault);
    }
    tw_remedy_judge_free(&s.judge);
  }
  tw_sampler_free(sampler);
  return status;
}
