/* study_engine.c: one build of a study through the whole assessment, and its outputs. */
#include "choices.h"
#include "inside.h"

#include <string.h>

const tw_limit *tw_study_limit(const tw_study *study, tw_measure_id id)
{
  static const tw_limit none;
  return study->limits ? &study->limits->of[id] : &none;
}

void tw_study_take(const tw_study *study, const tw_assessment *a, double *y, unsigned char *outcome)
{
  static const unsigned char of_state[] = {[TW_MEASURE_OK] = TW_OUTCOME_OK,
                                           [TW_MEASURE_NO_TRIP] = TW_OUTCOME_NO_TRIP,
                                           [TW_MEASURE_NOT_APPLICABLE] = TW_OUTCOME_NOT_APPLICABLE,
                                           [TW_MEASURE_NOT_COMPUTED] = TW_OUTCOME_NO_ANSWER,
                                           [TW_MEASURE_NO_ANSWER] = TW_OUTCOME_NO_ANSWER,
                                           [TW_MEASURE_TRIPPED_AT_REST] =
                                               TW_OUTCOME_TRIPPED_AT_REST,
                                           [TW_MEASURE_STUCK] = TW_OUTCOME_STUCK,
                                           [TW_MEASURE_NO_REARM] = TW_OUTCOME_NO_REARM};
  for (size_t j = 0; j < study->outputs; j++) {
    const tw_measure *m = &a->measure[study->measure[j]];
    /* a margin that nothing bounds keeps the number that stands for it: larger than all asked for
     */
    outcome[j] = m->endless ? TW_OUTCOME_OK : of_state[m->state];
    if (m->word) {
      y[j] = strcmp(m->word, tw_study_limit(study, study->measure[j])->word) == 0;
    } else {
      y[j] = tw_measure_compared(study->measure[j], tw_measure_judged(m));
    }
  }
}

tw_assess_options tw_study_assess_options(const tw_study *study)
{
  return (tw_assess_options){.azimuths = study->level.azimuths,
                             .seat_steps = TW_STUDY_SEAT_STEPS,
                             .map = study->level.map,
                             .timed = study->level.timed};
}

static void put(tw_design *own, tw_field field, double number)
{
  if (field == TW_F_seat_friction) {
    tw_design_put(own, TW_F_seat_friction_socket, number);
    tw_design_put(own, TW_F_seat_friction_flat, number);
  } else {
    tw_design_put(own, field, number);
  }
}

tw_status tw_study_engine(tw_study *study, int worker, const double *x, tw_direction *directions,
                          const tw_assessment **result, tw_fault *fault)
{
  tw_study_worker *w = &study->worker[worker];
  tw_design_copy(w->own, study->design);
  const bool chosen = tw_study_choose(study, x, w->own);
  tw_study_put_links(study, x, &w->links, w->own);
  for (size_t k = 0; k < study->inputs; k++) {
    const tw_study_input *in = &study->input[k];
    /* an untouched value stays exactly as the file has it */
    if (x[k] != study->now[k] && !in->choice && !in->cell) {
      put(w->own, in->field, chosen ? tw_study_moved(study, k, x[k], w->own) : x[k]);
    }
  }
  tw_assess_options options = tw_study_assess_options(study);
  options.wanted = &study->wanted;
  options.directions = directions;
  *result = &w->result;
  return tw_assess(w->own, &options, &w->result, fault);
}
