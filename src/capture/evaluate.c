/* evaluate.c: which channel, in which unit; which act. */
#include "act.h"

#include <math.h>
#include <string.h>

#define ALIASED 0.01 /* share of the energy in the top octave */
#define LOUD    1024 /* samples round the largest in which the spectrum is judged */

/* ---- the channel ------------------------------------------------------------------------------
 */

static double scale_of(const tw_eval *job, const tw_capture_channel *c)
{
  const tw_capture_instrument *in = &job->setup->instrument;
  if (strcmp(c->unit, "1") == 0 && strcmp(job->record->kind, "zip") != 0) {
    return isfinite(in->full_scale) ? in->full_scale : 1;
  }
  return in->attenuation;
}

static tw_status pick_channel(tw_eval *job)
{
  const tw_capture_record *r = job->record;
  const long asked = job->setup->channel;
  if (asked < 0 || (size_t)asked > r->channels) {
    return tw_fail(job->fault, TW_BAD_INPUT, "", "count from 1",
                   "there is no channel %ld, only %zu", asked, r->channels);
  }
  job->channel = asked > 0 ? (size_t)asked - 1 : 0;
  /* without a word: the first that moves */
  while (asked == 0 && job->channel + 1 < r->channels &&
         !(r->channel[job->channel].most > r->channel[job->channel].least)) {
    job->channel++;
  }
  const tw_capture_channel *c = &r->channel[job->channel];
  if (!(c->most > c->least)) {
    return tw_fail(job->fault, TW_BAD_INPUT, "", "say --channel, or connect the lead",
                   "channel %zu (%s) does not move: %.6g in all rows", job->channel + 1, c->name,
                   c->least);
  }
  job->scale = scale_of(job, c);
  job->unit =
      strcmp(c->unit, "1") == 0 && isfinite(job->setup->instrument.full_scale) ? "V" : c->unit;
  job->n = r->samples;
  job->interval = r->interval;
  job->start = r->start;
  job->v = tw_alloc(job->n, sizeof *job->v);
  for (size_t i = 0; job->v && i < job->n; i++) {
    job->v[i] = job->scale * c->value[i];
  }
  return job->v ? TW_OK : tw_eval_memory(job);
}

typedef tw_status (*act_of)(tw_eval *job);
static const act_of acts[TW_CAPTURE_ACT_COUNT] = {
    [TW_CAPTURE_REST] = tw_act_rest,
    [TW_CAPTURE_THREAD_CUT] = tw_act_cut,
    [TW_CAPTURE_CARD_CUT] = tw_act_cut,
    [TW_CAPTURE_HAND_WEIGHT] = tw_act_hand,
    [TW_CAPTURE_WEIGHT_SERIES] = tw_act_series,
    [TW_CAPTURE_WEIGHT_TABLE] = tw_act_table,
    [TW_CAPTURE_RING_DOWN] = tw_act_ring,
    [TW_CAPTURE_SWEEP] = tw_act_sweep,
    [TW_CAPTURE_TONE] = tw_act_tone,
    [TW_CAPTURE_EDGE] = tw_act_edges,
    [TW_CAPTURE_BOUNCE] = tw_act_edges,
    [TW_CAPTURE_RAMP] = tw_act_ramp,
    [TW_CAPTURE_TOUCHES] = tw_act_touches,
    [TW_CAPTURE_METER_DECAY] = tw_act_meter,
    [TW_CAPTURE_DIRECTIONS] = tw_act_directions,
};

/* the axis that an act needs */
static tw_status fits_axis(const tw_eval *job, tw_capture_act act)
{
  const tw_capture_axis axis = job->record->axis;
  const bool time = axis == TW_AXIS_TIME || axis == TW_AXIS_STAMPS;
  const bool fine = act == TW_CAPTURE_DIRECTIONS     ? axis == TW_AXIS_ANGLE
                    : act == TW_CAPTURE_WEIGHT_TABLE ? axis == TW_AXIS_WEIGHT
                    : act == TW_CAPTURE_SWEEP ? axis == TW_AXIS_FREQUENCY || axis == TW_AXIS_TIME
                    : act == TW_CAPTURE_METER_DECAY ? time
                                                    : axis == TW_AXIS_TIME;
  static const char *const over[] = {"even time", "stamps that are not even", "frequency", "angle",
                                     "weight"};
  return fine ? TW_OK
              : tw_fail(job->fault, TW_BAD_INPUT, "",
                        "say what was done: --act; or record with an even rate",
                        "the rows are over %s, which does not suit %s", over[axis],
                        tw_capture_act_word(act));
}

/* where the signal is largest, less a little: elsewhere the top octave holds the noise's half */
static size_t loudest(const tw_eval *job)
{
  size_t best = 0;
  double mean = 0;
  for (size_t i = 0; i < job->n; i++) {
    mean += job->v[i] / (double)job->n;
  }
  for (size_t i = 0; i < job->n; i++) {
    best = fabs(job->v[i] - mean) > fabs(job->v[best] - mean) ? i : best;
  }
  return best > LOUD / 8 ? best - LOUD / 8 : 0;
}

/* what the recording as such is like, whatever was done */
static tw_status judge_recording(tw_eval *job)
{
  double share = 0;
  const tw_capture_record *r = job->record;
  if (r->axis == TW_AXIS_TIME && job->result->act != TW_CAPTURE_EDGE &&
      job->result->act != TW_CAPTURE_BOUNCE && job->result->act != TW_CAPTURE_REST &&
      job->result->act != TW_CAPTURE_RAMP) {
    const size_t from = loudest(job);
    const size_t n = job->n - from < LOUD ? job->n - from : LOUD;
    if (!tw_top_octave(job->v + from, n, &share)) {
      return tw_eval_memory(job);
    }
    if (share > ALIASED) {
      tw_put_concern(job->result, "aliasing", "record with a higher rate",
                     "%.0f %% of the energy lies in the top octave: the rate may be too low.",
                     100 * share);
    }
  }
  if (r->gaps > 0) {
    tw_put_concern(job->result, "gaps", "record again without pauses",
                   "%llu gap%s of more than one and a half intervals.", (unsigned long long)r->gaps,
                   r->gaps == 1 ? "" : "s");
  }
  if (r->samples < r->rows) {
    tw_put_concern(job->result, "window", "cut out the part that matters",
                   "Long: %llu rows; the features come from %zu round the event.",
                   (unsigned long long)r->rows, r->samples);
  }
  if (r->told_rows > (double)r->rows) {
    tw_put_concern(job->result, "cut_file", "export the recording again",
                   "The head promises %.0f rows, %llu are there.", r->told_rows,
                   (unsigned long long)r->rows);
  }
  return TW_OK;
}

static tw_status judge_instrument(tw_eval *job)
{
  const double told = job->record->told_attenuation, a = job->setup->instrument.attenuation;
  if (told > 1 && a > 1) {
    tw_put_concern(
        job->result, "attenuation", "leave --attenuation out if the numbers are volts at the tip",
        "The head says that a %g:1 probe was set; --attenuation %g is applied on top.", told, a);
  }
  return TW_OK;
}

tw_status tw_capture_evaluate(const tw_capture_record *record, const tw_capture_setup *setup,
                              tw_capture_result **out, tw_fault *fault)
{
  *out = NULL;
  tw_capture_result *result = tw_alloc(1, sizeof *result);
  if (!result) {
    return tw_fail(fault, TW_NO_MEMORY, "", NULL, "out of memory");
  }
  tw_eval job = {.record = record, .setup = setup, .result = result, .fault = fault};
  result->recognised = setup->act == TW_CAPTURE_UNKNOWN;
  result->act = result->recognised ? tw_capture_guess(record) : setup->act;
  result->weight = setup->weights ? setup->weight[0] : (double)NAN;
  result->azimuth = setup->azimuth;
  result->elevation = setup->elevation;
  result->feed = setup->feed;
  result->push = setup->push || result->act == TW_CAPTURE_HAND_WEIGHT;
  tw_status status = acts[result->act] ? TW_OK
                                       : tw_fail(fault, TW_BAD_INPUT, "",
                                                 "say it: --act thread_cut, rest, tap ...",
                                                 "what was done is not said and cannot be seen");
  status = status == TW_OK ? fits_axis(&job, result->act) : status;
  status = status == TW_OK ? pick_channel(&job) : status;
  status = status == TW_OK ? judge_recording(&job) : status;
  status = status == TW_OK ? judge_instrument(&job) : status;
  status = status == TW_OK ? acts[result->act](&job) : status;
  result->channel = job.channel;
  tw_free(job.v);
  if (status != TW_OK) {
    tw_free(result);
    return status;
  }
  *out = result;
  return TW_OK;
}
