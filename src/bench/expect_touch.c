/* expect_touch.c: checks on disc, seat and tip: capacitance, resonance, preload, weights. */
#include "expect.h"

#include <math.h>
#include <stdio.h>

/* ---- disc and seat
 * -------------------------------------------------------------------------------- */

static void add_figure(tw_bench_work *w, tw_bench_id id, const tw_bench_figure *figure,
                       const char *setting)
{
  tw_bench_check *check = tw_bench_add(w, id);
  check->expect = *figure;
  snprintf(check->setting, sizeof check->setting, "%s", setting);
}

void tw_bench_add_disc(tw_bench_work *w)
{
  const tw_bench_inputs *in = w->in;
  if (!in->has_disc) {
    return;
  }
  add_figure(w, TW_BENCH_CAPACITANCE_FREE, &in->capacitance_free,
             "about 1 kHz, under 1 V, leads subtracted");
  add_figure(w, TW_BENCH_RESONANCE_FREE, &in->resonance_free,
             "sweep slowly over half to twice the value, 1 V or less");
  add_figure(w, TW_BENCH_CAPACITANCE_MOUNTED, &in->capacitance_mounted,
             "about 1 kHz, under 1 V, leads subtracted");
  add_figure(w, TW_BENCH_RESONANCE_MOUNTED, &in->resonance_mounted,
             "sweep slowly over half to twice the value, 1 V or less");
  add_figure(w, TW_BENCH_RESONANCE_LOADED, &in->resonance_loaded,
             "single shot, a few milliseconds; count the periods");
}

void tw_bench_add_preload(tw_bench_work *w)
{
  if (w->in->has_preload_scale) {
    add_figure(w, TW_BENCH_PRELOAD, &w->in->preload,
               "pull along the axis, slowly; read at the first gap (lamp behind, or contact lost)");
  }
}

/* ---- signal of a weight
 * --------------------------------------------------------------------------- */

/* part of a step that is left when the force comes over `t` instead of at once */
static double ramp_part(double tau, double t)
{
  const double z = t / tau;
  return z < 1e-6 ? 1.0 - 0.5 * z : -expm1(-z) / z;
}

/* charge of a weight lifted off along the axis: the table's straight pieces from 0 on, its last one
 * continued; without a table charge_per_newton */
static double charge_of(const tw_bench_inputs *in, double force)
{
  if (in->releases == 0) {
    return in->charge_per_newton.value * force;
  }
  double f0 = 0.0, q0 = 0.0, f1 = in->release_force[0], q1 = in->release_charge[0];
  for (int i = 1; i < in->releases && force > f1; i++) {
    f0 = f1;
    q0 = q1;
    f1 = in->release_force[i];
    q1 = in->release_charge[i];
  }
  return fmax(0.0, q0 + (q1 - q0) * (force - f0) / (f1 - f0));
}

/* V where the comparator sees it when all of that charge comes at once. Contacts and preload scale
 * together, so a preload of p times gives p Q(F/p); a larger capacitance shares the same charge. */
static tw_bench_figure volts_of(const tw_bench_work *w, double force)
{
  const tw_circuit *c = &w->solved;
  const tw_bench_inputs *in = w->in;
  if (!in->charge_per_newton.known || !(in->charge_per_newton.value > 0.0)) {
    return in->charge_per_newton.known ? tw_bench_unknown("the disc gives no charge for a push")
                                       : in->charge_per_newton;
  }
  const double per_coulomb = c->charge_gain * c->gain;
  const bool charge = w->board.kind == TW_BOARD_CHARGE;
  const double total = charge ? w->board.charge_capacitance : c->capacitance;
  const tw_value_bounds b =
      w->board.bounds[charge ? TW_VALUE_CHARGE_CAPACITANCE : TW_VALUE_DISC_CAPACITANCE];
  const double q = in->charge_per_newton.value;
  const double low = in->charge_per_newton.low / q * total / (total + b.plus);
  const double high = in->charge_per_newton.high / q * total / (total - b.minus);
  double least = charge_of(in, force), most = least;
  const tw_bench_figure *p = &in->preload;
  if (p->known && p->value > 0.0 && p->low > 0.0) {
    const double ends[] = {p->low / p->value, p->high / p->value};
    for (int i = 0; i < 2; i++) {
      const double there = ends[i] * charge_of(in, force / ends[i]);
      least = fmin(least, there);
      most = fmax(most, there);
    }
  }
  return tw_bench_figure_of(charge_of(in, force) * per_coulomb, least * low * per_coulomb,
                            most * high * per_coulomb);
}

/* V that the signal may move either way before clamp or stage hold it */
static double room(const tw_bench_work *w)
{
  const tw_circuit *c = &w->solved;
  double up = INFINITY, down = INFINITY;
  if (w->board.kind == TW_BOARD_GAIN || w->board.kind == TW_BOARD_CHARGE) {
    up = c->front_high - c->rest;
    down = c->rest - c->front_low;
  }
  if (w->board.kind != TW_BOARD_CHARGE && w->board.clamped) {
    up = fmin(up, (w->board.clamp_high - c->rest_node) * c->gain);
    down = fmin(down, (c->rest_node - w->board.clamp_low) * c->gain);
  }
  return fmin(up, down);
}

/* the smallest weight whose peak is three times the threshold; if that runs into a limit, the
 * smallest that trips with a little to spare */
static double choose_weight(const tw_bench_work *w)
{
  const double *list = w->with->weights;
  const double threshold = fabs(w->solved.trip - w->solved.rest);
  const double part = ramp_part(w->solved.time_constant, w->with->hand_time);
  double enough = 0.0, least = 0.0, last = list[0];
  for (int i = 0; i < TW_BENCH_WEIGHTS && list[i] > 0.0; i++) {
    const double volts = volts_of(w, list[i] * TW_BENCH_GRAVITY).value * part;
    last = list[i];
    if (least == 0.0 && volts >= 1.2 * threshold) {
      least = list[i];
    }
    if (enough == 0.0 && volts >= 3.0 * threshold && volts <= 0.8 * room(w)) {
      enough = list[i];
    }
  }
  return enough > 0.0 ? enough : least > 0.0 ? least : last;
}

/* the scope on the node itself takes a part of the charge and a part of the time */
static void load_by_scope(const tw_bench_work *w, tw_bench_check *check, double hand)
{
  const tw_circuit *c = &w->solved;
  if (w->board.kind != TW_BOARD_COMPARATOR) {
    return;
  }
  const double share = c->capacitance / (c->capacitance + w->with->scope_capacitance);
  const double r = tw_bench_loaded(c->resistance, c->resistance, w->with->scope_resistance);
  const double tau = r * (c->capacitance + w->with->scope_capacitance);
  char text[160];
  snprintf(text, sizeof text,
           "the probe (%.3g Mohm, %.3g pF) hangs on the node of %.3g Mohm, %.3g nF",
           w->with->scope_resistance * 1e-6, w->with->scope_capacitance * 1e12,
           c->resistance * 1e-6, c->capacitance * 1e9);
  if (check->id == TW_BENCH_DECAY) {
    tw_bench_load_scale(check, tau / c->time_constant, text);
  } else {
    tw_bench_load_scale(check, share * ramp_part(tau, hand) / ramp_part(c->time_constant, hand),
                        text);
  }
}

static void add_sign(tw_bench_work *w)
{
  tw_bench_check *check = tw_bench_add(w, TW_BENCH_PUSH_SIGN);
  const bool turned = w->board.kind == TW_BOARD_CHARGE;
  snprintf(check->setting, sizeof check->setting,
           "alternating input, 50 mV a division, press the tip lightly along the axis");
  if (w->in->push_sign == 0) {
    check->expect = tw_bench_unknown("the disc's poling is not known: note the sign that a push "
                                     "gives and write it as disc.poling");
  } else {
    check->expect.known = true;
    check->word = (w->in->push_sign > 0) != turned ? "+" : "-";
  }
  if (w->board.polarity != TW_SEES_BOTH) {
    snprintf(check->note, sizeof check->note, "this circuit trips on %s only",
             w->board.polarity == TW_SEES_RISING ? "+" : "-");
  }
}

static double time_constant(const tw_circuit *c)
{
  return c->time_constant;
}

static void add_peak(tw_bench_work *w, const tw_bench_figure *volts, double weight)
{
  const double hand = w->with->hand_time;
  const double part = ramp_part(w->solved.time_constant, hand);
  tw_bench_check *check = tw_bench_add(w, TW_BENCH_LIFT_PEAK);
  const tw_bench_figure tau = tw_bench_range(w, time_constant);
  const double least = tau.known ? ramp_part(tau.low, hand) : part;
  const double most = tau.known ? ramp_part(tau.high, hand) : part;
  check->expect = tw_bench_times(volts, part, least, most);
  snprintf(check->setting, sizeof check->setting,
           "tip up, %.3g g resting on the ball, lifted off straight in %.3g ms", weight * 1e3,
           hand * 1e3);
  if (check->expect.known && check->expect.value > room(w)) {
    snprintf(check->note, sizeof check->note,
             "even this weight runs into the clamp or the stage's limit at %.3g V: the peak is cut "
             "there",
             room(w));
  } else if (check->expect.known) {
    snprintf(check->note, sizeof check->note,
             "magnitude, against the sign of a push; lifted at once it would be %.3g V",
             volts->value);
  }
  load_by_scope(w, check, hand);
}

static void add_decay(tw_bench_work *w)
{
  tw_bench_check *check = tw_bench_add(w, TW_BENCH_DECAY);
  check->expect = tw_bench_range(w, time_constant);
  snprintf(check->setting, sizeof check->setting, "same shot, %.3g ms a division",
           0.5e3 * w->solved.time_constant);
  load_by_scope(w, check, 0.0);
}

static void add_hold(tw_bench_work *w, const tw_bench_figure *volts, double weight)
{
  const tw_circuit *c = &w->solved;
  tw_bench_check *check = tw_bench_add(w, TW_BENCH_HOLD);
  snprintf(check->setting, sizeof check->setting,
           "%.3g g set on the ball in %.3g ms and left there", weight * 1e3,
           w->with->hand_time * 1e3);
  if (!volts->known) {
    check->expect = *volts;
    return;
  }
  const double part = ramp_part(c->time_constant, w->with->hand_time) / c->gain;
  const double at[] = {volts->value * part, volts->low * part, volts->high * part};
  double seconds[3];
  for (int i = 0; i < 3; i++) {
    tw_fault fault = {0};
    if (tw_circuit_hold_time(c, at[i], &seconds[i], &fault) != TW_OK) {
      check->expect = tw_bench_unknown("%.150s", fault.text);
      return;
    }
  }
  if (at[0] < c->threshold_voltage) {
    check->expect = tw_bench_unknown("this weight does not trip when a hand sets it down");
    return;
  }
  check->expect = tw_bench_figure_of(seconds[0], seconds[1], seconds[2]);
  snprintf(check->note, sizeof check->note,
           "a piezo output is a pulse: free again is no sign that the tip is free");
}

void tw_bench_add_signal(tw_bench_work *w)
{
  if (!w->in->has_disc || w->board.kind == TW_BOARD_CONTACT) {
    return;
  }
  const double weight = choose_weight(w);
  const tw_bench_figure volts = volts_of(w, weight * TW_BENCH_GRAVITY);
  add_sign(w);
  add_peak(w, &volts, weight);
  add_decay(w);
  add_hold(w, &volts, weight);
}

/* ---- weights that trip
 * ----------------------------------------------------------------------------- */

static void add_weight(tw_bench_work *w, tw_bench_id id, const tw_bench_figure *force,
                       const char *setting)
{
  tw_bench_check *check = tw_bench_add(w, id);
  check->expect =
      tw_bench_times(force, 1.0 / TW_BENCH_GRAVITY, 1.0 / TW_BENCH_GRAVITY, 1.0 / TW_BENCH_GRAVITY);
  snprintf(check->setting, sizeof check->setting, "%s", setting);
  if (w->board.kind == TW_BOARD_CONTACT || !w->in->has_disc) {
    return;
  }
  /* a slow hand loses charge on the way: the weight must be heavier by the same factor */
  char text[160];
  snprintf(text, sizeof text,
           "a hand takes about %.3g ms, in which the charge leaks away (time constant %.3g ms)",
           w->with->hand_time * 1e3, w->solved.time_constant * 1e3);
  tw_bench_load_scale(check, 1.0 / ramp_part(w->solved.time_constant, w->with->hand_time), text);
  if (check->loads) {
    snprintf(check->note, sizeof check->note,
             "the value itself is for a weight that comes at once; cut a thread, or read the force "
             "on a gauge at touching feed");
  }
}

void tw_bench_add_weights(tw_bench_work *w)
{
  const tw_bench_inputs *in = w->in;
  char setting[160];
  if (in->has_azimuth) {
    snprintf(setting, sizeof setting,
             "probe level, thread round the ball, pulling so that the work would push at %.3g deg",
             in->azimuth_deg);
  } else {
    snprintf(setting, sizeof setting, "probe level, thread round the ball, each direction in turn");
  }
  add_weight(w, TW_BENCH_WEIGHT_SIDE, &in->trip_force_side, setting);
  if (in->trip_force_least.known && in->trip_force_least.value < 0.99 * in->trip_force_side.value) {
    add_weight(w, TW_BENCH_WEIGHT_SIDE_LEAST, &in->trip_force_least,
               "the same, turned until the smallest weight trips");
  }
  add_weight(w, TW_BENCH_WEIGHT_AXIAL, &in->trip_force_axial, "tip up, weight on the ball's top");
}
