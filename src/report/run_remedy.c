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

/* ---- judged in whole ------------------------------------------------------------------------- */

/* what is missed first, or was not answered */
static const char *first_missed(const tw_assessment *a)
{
  for (int i = 0; i < TW_MEASURE_COUNT; i++) {
    if (a->measure[i].met == TW_MET_NO) {
      return tw_measure_about((tw_measure_id)i)->name;
    }
  }
  return "";
}

typedef struct whole {
  tw_study *study;
  const tw_progress *progress;
  tw_assessment *assessment;
} whole;

/* does the design at x meet every requirement by the judgement of `check`? An impossible design
 * does not. */
static tw_status stands(const whole *w, const double *x, bool *ok, tw_fault *fault)
{
  tw_fault why = {0};
  *w->assessment = (tw_assessment){0};
  const tw_status status = tw_study_judge_whole(w->study, x, w->progress, w->assessment, &why);
  *ok = status == TW_OK && tw_assess_verdict_of(w->assessment) == TW_ASSESS_MET;
  if (status == TW_OK || status == TW_NO_ANSWER || status == TW_BAD_INPUT) {
    return TW_OK;
  }
  if (fault) {
    *fault = why;
  }
  return status;
}

static tw_status keep_what_stands(const whole *w, const tw_levers *levers, tw_remedies *out,
                                  tw_fault *fault)
{
  double x[TW_FIELD_COUNT];
  size_t kept = 0;
  tw_status status = TW_OK;
  for (size_t r = 0; r < out->count && status == TW_OK; r++) {
    const tw_remedy *remedy = &out->remedy[r];
    bool ok = false;
    memcpy(x, w->study->now, sizeof x);
    for (size_t i = 0; i < remedy->changes; i++) {
      x[levers->lever[remedy->change[i].lever].input] = remedy->change[i].to;
    }
    status = stands(w, x, &ok, fault);
    if (status == TW_OK && ok) {
      out->remedy[kept++] = *remedy;
    } else if (status == TW_OK) {
      out->dropped++;
      out->dropped_for = out->dropped_for ? out->dropped_for : first_missed(w->assessment);
    }
  }
  out->count = kept;
  return status;
}

/* Nothing that the search did not compute counts as met: what it found is judged once more, as
 * `check` judges it. */
static tw_status judge_whole(const whole *w, const tw_levers *levers, tw_remedies *out,
                             tw_fault *fault)
{
  tw_status status = TW_OK;
  if (out->met) {
    status = stands(w, w->study->now, &out->met, fault);
    out->met_in_part = !out->met;
    if (status == TW_OK && out->met_in_part) {
      tw_assess_sentence(w->assessment, out->note, sizeof out->note);
      out->dropped_for = first_missed(w->assessment);
    }
  } else if (!out->judged) { /* else each way has had the whole check's word in the search */
    status = keep_what_stands(w, levers, out, fault);
  }
  out->whole = status == TW_OK;
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
  if (status == TW_OK) {
    whole w = {study, tw_run_progress(watch), tw_alloc(1, sizeof *w.assessment)};
    status = w.assessment ? judge_whole(&w, levers, out, fault)
                          : tw_fail(fault, TW_NO_MEMORY, NULL, NULL, "no memory for the check");
    tw_free(w.assessment);
  }
  tw_sampler_free(sampler);
  return status;
}
