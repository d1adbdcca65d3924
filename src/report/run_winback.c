/* run_winback.c: what can still be set right when the parts are made, beside a batch. */
#include "tripwright/study_run.h"

static tw_status add_adjustments(tw_study *study, const tw_run_winback *w,
                                 const tw_winback_batch *batch, const tw_progress *progress,
                                 json_t *document, tw_fault *fault)
{
  tw_winback alone[TW_STUDY_ADJUSTMENTS], together;
  tw_status status = TW_OK;
  for (size_t k = 0; k < w->count && status == TW_OK; k++) {
    status = tw_winback_adjust(batch, &w->adjustment[k], 1, progress, &alone[k], fault);
  }
  if (status == TW_OK && w->count > 1) {
    status = tw_winback_adjust(batch, w->adjustment, w->count, progress, &together, fault);
  }
  if (status == TW_OK) {
    json_object_set_new(
        document, "win_back",
        tw_json_winback(study, w->adjustment, alone, w->count, w->count > 1 ? &together : NULL));
  }
  return status;
}

static tw_status add_pairing(tw_study *study, const tw_run_winback *w,
                             const tw_winback_batch *batch, const tw_progress *progress,
                             json_t *document, tw_fault *fault)
{
  bool disc[TW_FIELD_COUNT], resistors[TW_FIELD_COUNT];
  tw_winback pairing;
  if (!tw_study_pairs(study, disc, resistors)) {
    return tw_fail(fault, TW_BAD_INPUT, "",
                   "give the disc's values a tolerance, or lists with --pieces",
                   "pairing: disc or resistors do not vary, so there is nothing to pair");
  }
  tw_pair *pair = tw_alloc(batch->builds->count, sizeof *pair);
  tw_status status =
      pair ? tw_winback_pair_list(batch, disc, resistors, w->lot, progress, pair, &pairing, fault)
           : tw_fail(fault, TW_NO_MEMORY, "", NULL, "no memory for the pairs");
  if (status == TW_OK) {
    json_t *one = tw_json_pairing(study, disc, resistors, w->lot, &pairing);
    json_t *list = tw_json_pairs(study, batch->sampler, disc, resistors, pair, pairing.builds);
    if (!list) {
      status = tw_fail(fault, TW_NO_MEMORY, "", NULL, "no memory for the list of pairs");
    }
    json_object_set_new(one, "pairs", list);
    json_object_set_new(json_object_get(document, "win_back"), "pairing", one);
  }
  tw_free(pair);
  return status;
}

tw_status tw_run_winback_add(tw_study *study, const tw_run_winback *w, const tw_sampler *sampler,
                             const tw_builds *builds, const tw_progress *progress, json_t *document,
                             tw_fault *fault)
{
  const tw_study_model model = tw_study_as_model(study);
  const tw_winback_batch batch = {.model = &model,
                                  .sampler = sampler,
                                  .builds = builds,
                                  .goals = study->goal,
                                  .goal_count = study->goals,
                                  .threads = study->level.threads};
  if ((w->count == 0 && w->lot == 0) || study->goals == 0) {
    return TW_OK;
  }
  tw_status status = add_adjustments(study, w, &batch, progress, document, fault);
  if (status == TW_OK && w->lot > 0) {
    status = add_pairing(study, w, &batch, progress, document, fault);
  }
  return status;
}
