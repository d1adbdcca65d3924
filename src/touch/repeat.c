/* repeat.c: the scatter of the trip from causes that can be counted. */
#include "engine.h"
#include "tripwright/touch_judge.h"
#include <math.h>

static const char *const texts[] = {
#define X(name, text, formula) text,
    TW_REPEAT_CAUSES(X)
#undef X
};
static const char *const formulas[] = {
#define X(name, text, formula) formula,
    TW_REPEAT_CAUSES(X)
#undef X
};

const char *tw_repeat_text(tw_repeat_cause cause)
{
  return cause >= 0 && cause < TW_REPEAT_COUNT ? texts[cause] : "unknown";
}

const char *tw_repeat_formula(tw_repeat_cause cause)
{
  return cause >= 0 && cause < TW_REPEAT_COUNT ? formulas[cause] : "unknown";
}

static tw_status travel_at(const tw_touch_model *m, const tw_touch_motion *go, tw_touch_work *work,
                           double *travel, tw_fault *fault)
{
  tw_touch_result r;
  tw_touch_motion edge = *go;
  edge.until = TW_UNTIL_EDGE;
  const tw_status status = tw_touch_run(m, &edge, work, NULL, &r, fault);
  *travel = r.first.pretravel;
  if (status == TW_OK && r.first.state != TW_TOUCH_OK) {
    return tw_fail(fault, TW_NO_ANSWER, "machine.feed", "choose a feed inside the feed window",
                   "at %.4g mm/s the touch does not trip (%s)", go->feed * 1e3,
                   tw_touch_state_name(r.first.state));
  }
  return status;
}

static bool is_usable(double x)
{
  return x >= 0.0 && isfinite(x);
}

tw_status tw_touch_repeat(const tw_touch_model *model, const tw_touch_motion *motion,
                          const tw_repeat_ask *ask, tw_touch_work *work, tw_repeat *out,
                          tw_fault *fault)
{
  const double by = 0.01;
  tw_touch_levels levels;
  double near = 0.0;
  double far = 0.0;
  *out = (tw_repeat){0};
  if (!is_usable(ask->noise) || !is_usable(ask->jitter) || !is_usable(ask->friction_range) ||
      !is_usable(ask->resolution) || !is_usable(ask->stated)) {
    return tw_fail(fault, TW_BAD_INPUT, "requirements", "give 0 or more for every cause",
                   "a cause of scatter is negative or not a number");
  }
  tw_status status = tw_touch_levels_of(model, &levels, fault);
  if (status == TW_OK) {
    status = travel_at(model, motion, work, &out->pretravel, fault);
  }
  if (status == TW_OK) {
    const tw_touch_model m = tw_touch_shifted(model, &levels, -by);
    status = travel_at(&m, motion, work, &near, fault);
  }
  if (status == TW_OK) {
    const tw_touch_model m = tw_touch_shifted(model, &levels, by);
    status = travel_at(&m, motion, work, &far, fault);
  }
  if (status != TW_OK) {
    *out = (tw_repeat){0};
    return status;
  }
  const double uniform = sqrt(1.0 / 12.0);
  out->travel_per_volt = (far - near) / (2.0 * by * levels.threshold);
  out->s[TW_REPEAT_NOISE] = ask->noise * fabs(out->travel_per_volt);
  out->s[TW_REPEAT_SAMPLING] = motion->feed * motion->sample_time * uniform;
  out->s[TW_REPEAT_LINK] = motion->feed * ask->jitter * uniform;
  out->s[TW_REPEAT_FRICTION] = ask->friction_range * uniform;
  out->s[TW_REPEAT_RESOLUTION] = ask->resolution * uniform;
  out->s[TW_REPEAT_STATED] = ask->stated;
  double squares = 0.0;
  for (int i = 0; i < TW_REPEAT_COUNT; i++) {
    squares += out->s[i] * out->s[i];
  }
  out->total = sqrt(squares);
  out->two_s = 2.0 * out->total;
  return TW_OK;
}
