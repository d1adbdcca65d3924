/* events.c: what may happen inside a step, where it happens, and what changes then.
 *
 * Each event is a function of the step's place theta that is positive while the present mode holds.
 * Only its sign at the step's end is looked at, except for the comparator, whose signal may dip
 * across the threshold and back within one step.
 */
#include "engine.h"
#include <math.h>

enum {
  EV_GAP,
  EV_CLAMP_HIGH,
  EV_CLAMP_LOW,
  EV_OPEN,
  EV_TRIP,
  EV_LEAVE,
  EV_RAIL,
  EV_LOGIC,
  EV_AMP_HIGH,
  EV_AMP_LOW,
  EV_COUNT
};

/* how far the tip is into the work; rigid: in contact the force, free the overlap */
double tw_touch_gap(tw_touch_work *w, double t, const double y[STATES])
{
  double X = 0.0;
  double V = 0.0;
  double A = 0.0;
  touch_body(&w->queue[w->seg], t, &X, &V, &A);
  if (w->m.contact.kind != TW_CONTACT_RIGID) {
    return X - y[P1] - y[XW];
  }
  const double overlap = X - y[XW] - y[P2];
  return w->contact ? w->m.tip.stiffness * overlap + w->m.tip.damping * (V - y[VW] - y[Q2])
                    : overlap;
}

/* +1 while the comparator's output rests high, -1 while it rests low */
static double rest_sign(const tw_touch_work *w)
{
  return w->m.comparator.rest_high ? 1.0 : -1.0;
}

/* distance of the signal to the trip level, > 0 before the trip */
static double to_trip(const tw_touch_work *w, double signal)
{
  const double o = w->m.comparator.rest_high ? w->m.comparator.high : w->m.comparator.low;
  return rest_sign(w) * tw_touch_lean(w, signal, o);
}

/* ---- one event as a function of state ----------------------------------------------------------
 */

static bool is_live(const tw_touch_work *w, int event)
{
  switch (event) {
  case EV_GAP:
    return true;
  case EV_CLAMP_HIGH:
  case EV_CLAMP_LOW:
    /* a charge amplifier that is in its range holds its node at the bias */
    return w->m.node.clamped && !(w->m.stage.kind == TW_STAGE_CHARGE && w->amp == AMP_EXACT);
  case EV_OPEN:
    return w->m.node.sense == TW_SENSE_OPENING;
  case EV_TRIP:
    return !w->tripped_input;
  case EV_LEAVE:
    return w->out != OUT_DYNAMIC;
  case EV_RAIL:
    return w->out == OUT_DYNAMIC && w->m.comparator.kind == TW_COMPARATOR_REGENERATIVE;
  case EV_LOGIC:
    return w->out == OUT_DYNAMIC;
  default:
    return w->amp != AMP_NONE && w->amp_high > w->amp_low;
  }
}

static double clamp_value(const tw_touch_work *w, int event, double volt)
{
  const tw_touch_node *n = &w->m.node;
  const double pin = volt + n->bias_current * n->series_resistance;
  if (event == EV_CLAMP_HIGH) {
    return w->clamp > 0 ? pin - n->clamp_high : n->clamp_high - pin;
  }
  return w->clamp < 0 ? n->clamp_low - pin : pin - n->clamp_low;
}

/* the comparator at a rail: live zone of a smooth one, else the sign of e */
static double leave_value(const tw_touch_work *w, double signal, double out)
{
  const double e = tw_touch_lean(w, signal, out);
  return (w->out == OUT_HIGH ? e : -e) - w->graze;
}

static double amp_value(const tw_touch_work *w, int event, double node, double amp)
{
  const double target = w->amp_target + w->amp_gain * node;
  if (event == EV_AMP_HIGH) {
    return w->amp == AMP_HIGH ? target - w->amp_high : w->amp_high - amp;
  }
  return w->amp == AMP_LOW ? w->amp_low - target : amp - w->amp_low;
}

static double value(tw_touch_work *w, int event, double t, const double y[STATES])
{
  const tw_touch_comparator *c = &w->m.comparator;
  switch (event) {
  case EV_GAP:
    return w->contact ? tw_touch_gap(w, t, y) : -tw_touch_gap(w, t, y);
  case EV_CLAMP_HIGH:
  case EV_CLAMP_LOW:
    return clamp_value(w, event, tw_touch_node_voltage(w, y[NODE], y[AMP]));
  case EV_OPEN:
    return w->open ? y[P2] - w->m.node.close_at : w->m.node.open_at - y[P2];
  case EV_TRIP:
    return to_trip(w, tw_touch_signal(w, y[NODE], y[AMP]));
  case EV_LEAVE:
    return leave_value(w, tw_touch_signal(w, y[NODE], y[AMP]), y[OUT]);
  case EV_RAIL:
    return least(y[OUT] - c->low, c->high - y[OUT]);
  case EV_LOGIC: {
    const bool above = w->raw != c->rest_high;
    return above ? y[OUT] - w->m.output.logic_level : w->m.output.logic_level - y[OUT];
  }
  default:
    return amp_value(w, event, y[NODE], y[AMP]);
  }
}

/* the states that events look at, inside the step */
static double value_at(tw_touch_work *w, int event, double theta)
{
  static const int used[] = {P1, P2, Q2, NODE, OUT, XW, VW};
  double y[STATES] = {0.0};
  for (size_t i = 0; i < sizeof used / sizeof *used; i++) {
    y[used[i]] = tw_touch_at(w, used[i], theta);
  }
  y[AMP] = w->amp == AMP_NONE ? 0.0 : tw_touch_amp_at(w, theta);
  return value(w, event, w->t + theta * w->step, y);
}

/* ---- where --------------------------------------------------------------------------------------
 */

/* root of a sign change between a (positive) and b (not): false position with halving (Illinois) */
static double locate(tw_touch_work *w, int event, double a, double fa, double b, double fb)
{
  int side = 0;
  for (int i = 0; i < 80 && b - a > TW_EVENT_PLACE; i++) {
    double c = (a * fb - b * fa) / (fb - fa);
    if (!(c > a && c < b) || i % 8 == 7) {
      c = 0.5 * (a + b);
    }
    const double fc = value_at(w, event, c);
    if (fc > 0.0) {
      a = c;
      fa = fc;
      fb *= side == 1 ? 0.5 : 1.0;
      side = 1;
    } else {
      b = c;
      fb = fc;
      fa *= side == -1 ? 0.5 : 1.0;
      side = -1;
      if (fc == 0.0) {
        break;
      }
    }
  }
  return b;
}

/* rate of the signal at the beginning (end = 0) or the end of the step */
static double signal_rate(const tw_touch_work *w, int end)
{
  const double *f = w->k[end ? 6 : 0];
  const double *y = end ? w->y1 : w->y;
  if (w->amp == AMP_NONE) {
    return (w->m.stage.kind == TW_STAGE_NONE ? w->pin_gain : w->amp_gain) * f[NODE];
  }
  return w->amp == AMP_EXACT ? w->wa * (w->amp_target + w->amp_gain * y[NODE] - y[AMP]) : f[AMP];
}

/* a dip of the comparator's lead within the step: the lowest place, or -1 */
static double dip(tw_touch_work *w, int event, double f0, double f1)
{
  const double way = w->out == OUT_HIGH || event == EV_TRIP ? 1.0 : -1.0;
  const double sign = (event == EV_TRIP ? rest_sign(w) : way) * w->m.comparator.input_weight;
  const double s0 = sign * signal_rate(w, 0) * w->step;
  const double s1 = sign * signal_rate(w, 1) * w->step;
  if (!(s0 < 0.0 && s1 > 0.0)) {
    return -1.0;
  }
  /* the lowest the ends' tangents allow: nothing to do when even that stays positive */
  const double cross = (f1 - f0 - s1) / (s0 - s1);
  if (f0 + s0 * least(most(cross, 0.0), 1.0) > 0.0) {
    return -1.0;
  }
  double a = 0.0;
  double b = 1.0;
  for (int i = 0; i < 40; i++) { /* golden section */
    const double c = a + 0.381966011250105 * (b - a);
    const double d = a + 0.618033988749895 * (b - a);
    if (value_at(w, event, c) < value_at(w, event, d)) {
      b = d;
    } else {
      a = c;
    }
  }
  return 0.5 * (a + b);
}

int tw_touch_find_event(tw_touch_work *w, double *theta)
{
  int found = -1;
  *theta = 1.0;
  for (int e = 0; e < EV_COUNT; e++) {
    if (!is_live(w, e)) {
      continue;
    }
    const double f1 = value(w, e, w->t + w->step, w->y1);
    const bool may_dip = e == EV_TRIP || e == EV_LEAVE;
    if (f1 >= 0.0 && !may_dip) {
      continue;
    }
    const double f0 = value(w, e, w->t, w->y);
    double at = 1.0;
    if (f1 < 0.0) {
      /* a mode that begins on its own boundary has the whole step to get away from it */
      at = f0 > 0.0 ? locate(w, e, 0.0, f0, 1.0, f1) : 1.0;
    } else {
      const double low = f0 > 0.0 ? dip(w, e, f0, f1) : -1.0;
      const double depth = low > 0.0 ? value_at(w, e, low) : 1.0;
      if (depth >= 0.0) {
        continue;
      }
      at = locate(w, e, 0.0, f0, low, depth);
    }
    if (found < 0 || at < *theta) {
      found = e;
      *theta = at;
    }
  }
  return found;
}

/* ---- what changes ------------------------------------------------------------------------------
 */

static void change_contact(tw_touch_work *w)
{
  w->contact = !w->contact;
  if (w->contact) {
    tw_touch_new_contact(w);
    return;
  }
  tw_touch_record(w, TW_EVENT_CONTACT_LOST, w->t);
  w->lost_at = w->t;
}

static void change_clamp(tw_touch_work *w, int side)
{
  w->clamp = w->clamp == side ? 0 : side;
  tw_touch_record(w, w->clamp ? TW_EVENT_CLAMP_ON : TW_EVENT_CLAMP_OFF, w->t);
}

static void change_opening(tw_touch_work *w)
{
  w->open = !w->open;
  tw_touch_record(w, w->open ? TW_EVENT_OPENED : TW_EVENT_CLOSED, w->t);
  if (!w->open) {
    w->y[NODE] = w->m.node.closed_voltage;
  }
}

/* what begins slowly must not be stepped over: a tenth of its growth time, or of its lag */
static double first_decision_step(const tw_touch_work *w)
{
  const tw_touch_comparator *c = &w->m.comparator;
  if (c->kind == TW_COMPARATOR_SMOOTH) {
    return 0.1 * c->time_constant;
  }
  const double growth = w->wo * c->output_weight;
  return 0.1 / (growth > 0.0 ? growth : w->wo);
}

static void leave_rail(tw_touch_work *w)
{
  const tw_touch_comparator *c = &w->m.comparator;
  if (c->kind == TW_COMPARATOR_DELAY) {
    w->flip_high = w->out == OUT_LOW;
    w->flip_at = least(w->flip_at, w->t + c->delay);
    w->out = OUT_DYNAMIC; /* decided, on its way */
    return;
  }
  w->out = OUT_DYNAMIC;
  w->h = least(w->h, first_decision_step(w));
  if (w->amp == AMP_EXACT) {
    w->amp = AMP_DYNAMIC;
  }
}

static void reach_rail(tw_touch_work *w)
{
  const tw_touch_comparator *c = &w->m.comparator;
  w->out = w->y[OUT] - c->low < c->high - w->y[OUT] ? OUT_LOW : OUT_HIGH;
  w->y[OUT] = w->out == OUT_LOW ? c->low : c->high;
  if ((w->out == OUT_HIGH) == c->rest_high) {
    w->tripped_input = to_trip(w, tw_touch_signal(w, w->y[NODE], w->y[AMP])) <= 0.0;
  }
}

static void change_amp(tw_touch_work *w, amp_mode side)
{
  if (w->amp == side) { /* free again: it starts from the limit */
    w->amp = AMP_DYNAMIC;
    tw_touch_record(w, TW_EVENT_STAGE_FREE, w->t);
    return;
  }
  w->amp = side;
  w->y[AMP] = side == AMP_HIGH ? w->amp_high : w->amp_low;
  tw_touch_record(w, TW_EVENT_STAGE_LIMIT, w->t);
}

void tw_touch_apply_event(tw_touch_work *w, int event)
{
  switch (event) {
  case EV_GAP:
    change_contact(w);
    break;
  case EV_CLAMP_HIGH:
    change_clamp(w, 1);
    break;
  case EV_CLAMP_LOW:
    change_clamp(w, -1);
    break;
  case EV_OPEN:
    change_opening(w);
    break;
  case EV_TRIP:
    w->tripped_input = true;
    tw_touch_record(w, TW_EVENT_THRESHOLD, w->t);
    if (w->graze == 0.0 && w->out == (w->m.comparator.rest_high ? OUT_HIGH : OUT_LOW)) {
      leave_rail(w); /* the same instant: nothing to look for again */
    }
    break;
  case EV_LEAVE:
    leave_rail(w);
    break;
  case EV_RAIL:
    reach_rail(w);
    break;
  case EV_LOGIC:
    tw_touch_raw_edge(w, !w->raw);
    break;
  case EV_AMP_HIGH:
    change_amp(w, AMP_HIGH);
    break;
  default:
    change_amp(w, AMP_LOW);
    break;
  }
  tw_touch_set_modes(w);
}
