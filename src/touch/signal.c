/* signal.c: what the comparator sees of the node. */
#include "engine.h"

double tw_touch_signal(const tw_touch_work *w, double node, double amp)
{
  if (w->amp != AMP_NONE) {
    return amp;
  }
  if (w->m.stage.kind == TW_STAGE_NONE) {
    return w->pin_0 + w->pin_gain * node;
  }
  /* a stage without a bandwidth follows at once */
  const double target = w->amp_target + w->amp_gain * node;
  return w->amp_high > w->amp_low ? most(w->amp_low, least(w->amp_high, target)) : target;
}

double tw_touch_node_voltage(const tw_touch_work *w, double node, double amp)
{
  if (w->m.stage.kind != TW_STAGE_CHARGE) {
    return node;
  }
  return w->amp == AMP_NONE ? w->kappa * w->amp_target : node + w->kappa * amp;
}

double tw_touch_lean(const tw_touch_work *w, double signal, double out)
{
  const tw_touch_comparator *c = &w->m.comparator;
  return c->reference + c->input_weight * signal + c->output_weight * out;
}
