/* expect_touch.c: checks on disc, seat and tip: capacitance, resonance, preload, weights. */
#include "expect.h"

#include <math.h>
#include <stdio.h>

/* a figure of the solved board */
#define FIGURE(member)                                                                             \
  static double member(const tw_circuit *c)                                                        \
  {                                                                                                \
    return c->member;                                                                              \
  }

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

FIGURE(time_constant)
FIGURE(resistance)
FIGURE(threshold_voltage)

/* one unit of those that are sound: over the nominal one the charge per newton, the capacitance
 * that it charges, the time constant, the threshold and the preload; and how much friction counts
 */
typedef struct corner {
  double charge, total, tau, threshold, preload, friction;
} corner;

static const corner nominal = {1.0, 1.0, 1.0, 1.0, 1.0, 1.0};

/* over the value, 1 where nothing is known */
static void ends_of(const tw_bench_figure *f, double *low, double *high)
{
  const bool known = f->known && f->value > 0.0;
  *low = known ? fmax(f->low / f->value, 0.0) : 1.0;
  *high = known ? f->high / f->value : 1.0;
}

/* what is known of the spread of each; charge and capacitance go together (disc.md 3a) */
typedef struct spreads {
  double c[3], left[2], exponent, share; /* capacitance, rest of the charge, disc's part of it */
  double leak[2], threshold[2], preload[2], friction[2];
} spreads;

static spreads spreads_of(const tw_bench_work *w)
{
  const tw_bench_inputs *in = w->in;
  const bool charge = w->board.kind == TW_BOARD_CHARGE;
  const tw_bench_figure t = tw_bench_range(w, threshold_voltage);
  const tw_bench_figure r = tw_bench_range(w, charge ? time_constant : resistance);
  spreads s = {.exponent = in->charge_exponent,
               .left = {in->charge_left[0], in->charge_left[1]},
               .friction = {1.0 - in->friction, 1.0 + in->friction}};
  s.c[1] = 1.0;
  if (charge) {
    /* the feedback capacitor in place of the disc's */
    const tw_value_bounds b = w->board.bounds[TW_VALUE_CHARGE_CAPACITANCE];
    s.share = 1.0;
    s.c[0] = 1.0 - b.minus / w->board.charge_capacitance;
    s.c[2] = 1.0 + b.plus / w->board.charge_capacitance;
  } else {
    ends_of(&in->capacitance_mounted, &s.c[0], &s.c[2]);
    s.share = fmin(1.0, w->board.disc_capacitance / w->solved.capacitance);
  }
  if (!(s.left[1] > 0.0) || charge) { /* the charge has ends of its own */
    ends_of(&in->charge_per_newton, &s.left[0], &s.left[1]);
    s.exponent = 0.0;
  }
  ends_of(&r, &s.leak[0], &s.leak[1]);
  ends_of(&t, &s.threshold[0], &s.threshold[1]);
  ends_of(&in->preload, &s.preload[0], &s.preload[1]);
  return s;
}

#define CORNERS 24

/* every end of capacitance, charge, leak and preload */
static int corners_of(const spreads *s, bool charge, corner out[CORNERS])
{
  int n = 0;
  for (int c = 0; c < 3; c++) {
    for (int i = 0; i < 8; i++) {
      const double total = 1.0 + (s->c[c] - 1.0) * s->share, leak = s->leak[i / 2 % 2];
      out[n++] = (corner){.charge = pow(s->c[c], s->exponent) * s->left[i % 2],
                          .total = total,
                          .tau = charge ? leak : leak * total,
                          .threshold = 1.0,
                          .preload = s->preload[i / 4],
                          .friction = 1.0};
    }
  }
  return n;
}

/* charge of a weight let off along the axis, against its force, from the table; without one
 * charge_per_newton for all forces */
static tw_bench_course release_course(const tw_bench_inputs *in)
{
  tw_bench_course c = {.rows = 1, .sign = 1};
  for (int i = 0; i < in->releases; i++) {
    c.force[c.rows] = in->release_force[i];
    c.charge[c.rows++] = in->release_charge[i];
  }
  if (in->releases == 0) {
    c.force[1] = 1.0;
    c.charge[1] = in->charge_per_newton.value;
    c.rows = 2;
  }
  return c;
}

/* V where the comparator sees it, of the peak on the way and at its end, of one sound unit.
 * Contacts and preload scale together, so a preload of p times gives p Q(F/p); a larger capacitance
 * shares the same charge. */
static tw_bench_left volts_of(const tw_bench_work *w, const tw_bench_course *course, double force,
                              bool off, const corner *at)
{
  const tw_circuit *c = &w->solved;
  const double p = at->preload > 0.0 ? at->preload : 1.0;
  const tw_bench_left left =
      tw_bench_ramp(course, force / p, off, w->with->hand_time, c->time_constant * at->tau);
  const double volts = c->charge_gain * c->gain * p * at->charge / at->total;
  return (tw_bench_left){left.peak * volts, left.end * volts};
}

FIGURE(rest)
FIGURE(rest_node)

/* V that the signal may move either way before clamp or stage hold it, at a rest level of stage and
 * node */
static double room_at(const tw_bench_work *w, double rest, double node)
{
  const tw_circuit *c = &w->solved;
  double up = (double)INFINITY, down = (double)INFINITY;
  if (w->board.kind == TW_BOARD_GAIN || w->board.kind == TW_BOARD_CHARGE) {
    up = c->front_high - rest;
    down = rest - c->front_low;
  }
  if (w->board.kind != TW_BOARD_CHARGE && w->board.clamped) {
    up = fmin(up, (w->board.clamp_high - node) * c->gain);
    down = fmin(down, (node - w->board.clamp_low) * c->gain);
  }
  return fmin(up, down);
}

/* the same, with what the spread of the rest level makes of it */
static tw_bench_figure room_of(const tw_bench_work *w)
{
  const tw_bench_figure r = tw_bench_range(w, rest), n = tw_bench_range(w, rest_node);
  const double value = room_at(w, w->solved.rest, w->solved.rest_node);
  return r.known && n.known
             ? tw_bench_figure_of(value, room_at(w, r.low, n.low), room_at(w, r.high, n.high))
             : tw_bench_figure_of(value, value, value);
}

static double room(const tw_bench_work *w)
{
  return room_at(w, w->solved.rest, w->solved.rest_node);
}

/* the smallest weight whose peak is three times the threshold; if that runs into a limit, the
 * smallest that trips with a little to spare */
static double choose_weight(const tw_bench_work *w, const tw_bench_course *course)
{
  const double *list = w->with->weights;
  const double threshold = fabs(w->solved.trip - w->solved.rest);
  double enough = 0.0, least = 0.0, last = list[0];
  if (w->with->test_weight > 0.0) {
    return w->with->test_weight;
  }
  for (int i = 0; i < TW_BENCH_WEIGHTS && list[i] > 0.0; i++) {
    const double volts = volts_of(w, course, list[i] * TW_GRAVITY, true, &nominal).peak;
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

static tw_bench_figure peak_of(const tw_bench_work *w, const tw_bench_course *course, double force)
{
  const spreads s = spreads_of(w);
  const tw_bench_figure most = room_of(w);
  const double value = volts_of(w, course, force, true, &nominal).peak;
  double low = value, high = value;
  corner at[CORNERS];
  const int n = corners_of(&s, w->board.kind == TW_BOARD_CHARGE, at);
  for (int i = 0; i < n; i++) {
    const double v = volts_of(w, course, force, true, &at[i]).peak;
    low = fmin(low, v);
    high = fmax(high, v);
  }
  /* clamp or stage cut it there */
  return tw_bench_figure_of(fmin(value, most.value), fmin(low, most.low), fmin(high, most.high));
}

static void add_peak(tw_bench_work *w, const tw_bench_course *course, double weight)
{
  const double hand = w->with->hand_time, force = weight * TW_GRAVITY;
  tw_bench_check *check = tw_bench_add(w, TW_BENCH_LIFT_PEAK);
  snprintf(check->setting, sizeof check->setting,
           "tip up, %.3g g resting on the ball, lifted off straight in %.3g ms", weight * 1e3,
           hand * 1e3);
  if (!w->in->charge_per_newton.known || !(w->in->charge_per_newton.value > 0.0)) {
    check->expect = w->in->charge_per_newton.known
                        ? tw_bench_unknown("the disc gives no charge for a push")
                        : w->in->charge_per_newton;
    return;
  }
  check->expect = peak_of(w, course, force);
  if (!(volts_of(w, course, force, true, &nominal).peak < room(w))) {
    snprintf(check->note, sizeof check->note,
             "even this weight runs into the clamp or the stage's limit at %.3g V: the peak is cut "
             "there",
             room(w));
  } else {
    tw_bench_work at_once = *w;
    tw_bench_instruments quick = *w->with;
    quick.hand_time = 0.0;
    at_once.with = &quick;
    snprintf(check->note, sizeof check->note,
             "magnitude, against the sign of a push; lifted at once it would be %.3g V",
             fmin(volts_of(&at_once, course, force, true, &nominal).peak, room(w)));
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

/* s from the end of the ramp until the output falls back, of one sound unit */
static tw_status hold_of(const tw_bench_work *w, const tw_bench_course *course, double force,
                         const corner *at, double *seconds, tw_fault *fault)
{
  const tw_circuit *c = &w->solved;
  const double volts = volts_of(w, course, force, false, at).end / c->gain;
  const tw_status status = tw_circuit_hold_time(c, fmax(volts, 0.0), seconds, fault);
  *seconds *= at->tau;
  return status;
}

static void add_hold(tw_bench_work *w, const tw_bench_course *course, double weight)
{
  const tw_circuit *c = &w->solved;
  const double force = weight * TW_GRAVITY;
  tw_bench_check *check = tw_bench_add(w, TW_BENCH_HOLD);
  snprintf(check->setting, sizeof check->setting,
           "%.3g g set on the ball in %.3g ms and left there", weight * 1e3,
           w->with->hand_time * 1e3);
  if (!w->in->charge_per_newton.known || !(w->in->charge_per_newton.value > 0.0)) {
    check->expect = w->in->charge_per_newton.known
                        ? tw_bench_unknown("the disc gives no charge for a push")
                        : w->in->charge_per_newton;
    return;
  }
  if (volts_of(w, course, force, false, &nominal).end < c->threshold_voltage * c->gain) {
    check->expect = tw_bench_unknown("this weight does not trip when a hand sets it down");
    return;
  }
  const spreads s = spreads_of(w);
  corner at[CORNERS + 1] = {nominal};
  const int n = 1 + corners_of(&s, w->board.kind == TW_BOARD_CHARGE, at + 1);
  double value = 0.0, low = INFINITY, high = 0.0, seconds = 0.0;
  for (int i = 0; i < n; i++) {
    tw_fault fault = {0};
    if (hold_of(w, course, force, &at[i], &seconds, &fault) != TW_OK) {
      check->expect = tw_bench_unknown("%.150s", fault.text);
      return;
    }
    value = i == 0 ? seconds : value;
    low = fmin(low, seconds);
    high = fmax(high, seconds);
  }
  check->expect = tw_bench_figure_of(value, low, high);
  snprintf(check->note, sizeof check->note,
           "a piezo output is a pulse: free again is no sign that the tip is free");
}

void tw_bench_add_signal(tw_bench_work *w)
{
  if (!w->in->has_disc || w->board.kind == TW_BOARD_CONTACT) {
    return;
  }
  const tw_bench_course course = release_course(w->in);
  const double weight = w->card->test_weight = choose_weight(w, &course);
  add_sign(w);
  add_peak(w, &course, weight);
  add_decay(w);
  add_hold(w, &course, weight);
}

/* ---- weights that trip
 * ----------------------------------------------------------------------------- */

/* N up to which a weight is looked for */
#define FORCE_MOST 20.0

/* kg that trip one sound unit in `time` s; INFINITY: none */
static double weight_of(const tw_bench_work *w, const tw_bench_pull *pull, const corner *at,
                        double time)
{
  const double p = at->preload > 0.0 ? at->preload : 1.0;
  double force[2];
  const tw_bench_course *both[] = {&pull->rubbed, &pull->smooth};
  for (int i = 0; i < 2; i++) {
    if (both[i]->rows < 2) {
      force[i] = both[i]->opens;
    } else {
      const tw_circuit *c = &w->solved;
      const double threshold = c->threshold_charge * at->threshold * at->total / at->charge;
      force[i] = tw_bench_least_force(both[i], threshold / p, FORCE_MOST, time,
                                      time > 0.0 ? c->time_constant * at->tau : (double)INFINITY);
    }
  }
  /* friction counts once: what it adds goes with it */
  return p * fmax(force[1] + (force[0] - force[1]) * at->friction, 0.0) / TW_GRAVITY;
}

/* where the smallest (end 0) or the largest weight is needed, at one end of the capacitance */
static corner weight_corner(const spreads *s, bool charge, int end, int c)
{
  const double total = 1.0 + (s->c[c] - 1.0) * s->share, leak = s->leak[1 - end];
  return (corner){.charge = pow(s->c[c], s->exponent) * s->left[1 - end],
                  .total = total,
                  .tau = charge ? leak : leak * total,
                  .threshold = s->threshold[end],
                  .preload = s->preload[end],
                  .friction = s->friction[end]};
}

static tw_bench_figure weights_of(const tw_bench_work *w, const tw_bench_pull *pull, double time)
{
  const spreads s = spreads_of(w);
  const double value = weight_of(w, pull, &nominal, time);
  double ends[2] = {value, value};
  if (!isfinite(value)) {
    return tw_bench_unknown("no weight trips when it comes in %.3g ms: the charge leaks away",
                            time * 1e3);
  }
  for (int end = 0; end < 2; end++) {
    for (int c = 0; c < 3; c++) {
      const corner at = weight_corner(&s, w->board.kind == TW_BOARD_CHARGE, end, c);
      const double kg = weight_of(w, pull, &at, time);
      ends[0] = fmin(ends[0], kg);
      ends[1] = fmax(ends[1], kg);
    }
  }
  return tw_bench_figure_of(value, ends[0], fmin(ends[1], FORCE_MOST / TW_GRAVITY));
}

/* a slow hand loses charge on the way: what it then takes, along the seat's own course */
static void load_by_hand(const tw_bench_work *w, tw_bench_check *check, const tw_bench_pull *pull)
{
  const tw_bench_figure shown = weights_of(w, pull, w->with->hand_time);
  if (!shown.known) {
    check->expect = shown;
    return;
  }
  if (!(fabs(shown.value / check->expect.value - 1.0) > 1e-3)) {
    return;
  }
  check->loads = true;
  check->shown = shown.value;
  check->shown_low = shown.low;
  check->shown_high = shown.high;
  snprintf(check->loading, sizeof check->loading,
           "a hand takes about %.3g ms, in which the charge leaks away (time constant %.3g ms)",
           w->with->hand_time * 1e3, w->solved.time_constant * 1e3);
  snprintf(check->note, sizeof check->note,
           "the value itself is for a weight that comes at once; cut a thread, or read the force "
           "on a gauge at touching feed");
}

/* the trip force as a weight, one ramp for the whole of it: when no course is known */
static void add_plain_weight(tw_bench_work *w, tw_bench_check *check, const tw_bench_figure *force)
{
  const double kg = 1.0 / TW_GRAVITY;
  char text[160];
  check->expect = tw_bench_times(force, kg, kg, kg);
  if (w->board.kind == TW_BOARD_CONTACT || !w->in->has_disc) {
    return;
  }
  snprintf(text, sizeof text,
           "a hand takes about %.3g ms, in which the charge leaks away (time constant %.3g ms)",
           w->with->hand_time * 1e3, w->solved.time_constant * 1e3);
  tw_bench_load_scale(check, 1.0 / ramp_part(w->solved.time_constant, w->with->hand_time), text);
}

/* Of the time constant: within it the leak takes less than 5 % while a carrier tips (held against
 * an integration over random designs, tests/reference/test_bench_paces.c). */
#define TURNING_WITHIN 0.07

static void add_weight(tw_bench_work *w, tw_bench_pull_id id, const tw_bench_figure *force,
                       const char *setting)
{
  const tw_bench_pull *pull = &w->in->pull[id];
  if (w->with->without[id]) {
    return;
  }
  tw_bench_check *check = tw_bench_add(w, TW_BENCH_WEIGHT_SIDE + id);
  snprintf(check->setting, sizeof check->setting, "%s", setting);
  if (pull->known && pull->rubbed.rows >= 2 &&
      pull->turning > TURNING_WITHIN * w->solved.time_constant) {
    check->expect = tw_bench_unknown(
        "the carrier takes some %.2g ms to tip, in which the charge leaks away (time "
        "constant %.3g ms): a weight does not tell; touch at a known feed",
        pull->turning * 1e3, w->solved.time_constant * 1e3);
  } else if (pull->known) {
    check->expect = weights_of(w, pull, 0.0);
    if (check->expect.known && pull->rubbed.rows >= 2) {
      load_by_hand(w, check, pull);
    }
  } else if (pull->why[0]) {
    check->expect = tw_bench_unknown("%s", pull->why);
  } else {
    add_plain_weight(w, check, force);
  }
}

/* checks and pulls stand in the same order */
_Static_assert(TW_BENCH_WEIGHT_SIDE + TW_BENCH_PULL_LEAST == (int)TW_BENCH_WEIGHT_SIDE_LEAST &&
                   TW_BENCH_WEIGHT_SIDE + TW_BENCH_PULL_AXIAL == (int)TW_BENCH_WEIGHT_AXIAL,
               "the weights of the card in the order of the pulls");

void tw_bench_add_weights(tw_bench_work *w)
{
  const tw_bench_inputs *in = w->in;
  if (w->with->without_weights) {
    return;
  }
  char setting[160];
  if (in->has_azimuth) {
    snprintf(setting, sizeof setting,
             "probe level, thread round the ball, pulling so that the work would push at %.3g deg",
             in->azimuth_deg);
  } else {
    snprintf(setting, sizeof setting, "probe level, thread round the ball, each direction in turn");
  }
  add_weight(w, TW_BENCH_PULL_SIDE, &in->trip_force_side, setting);
  if (in->trip_force_least.known && in->trip_force_least.value < 0.99 * in->trip_force_side.value) {
    add_weight(w, TW_BENCH_PULL_LEAST, &in->trip_force_least,
               "the same, turned until the smallest weight trips");
  }
  add_weight(w, TW_BENCH_PULL_AXIAL, &in->trip_force_axial, "tip up, weight on the ball's top");
}
