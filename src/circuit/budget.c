/* budget.c: what tolerances, bias, drift and temperature take from the threshold.
 *
 * Every uncertain value is a knob with two ends. Each knob is turned alone to find its share and
 * its better and worse end; all knobs at their worse ends are a first worst case. The figures are
 * monotonic in each knob, but which end is worse can depend on the others (a supply that cancels at
 * the nominal values), so knobs are turned over one by one until none makes it worse.
 */
#include "inside.h"

#include <math.h>
#include <stddef.h>

/* knobs beyond the values: name, cause */
#define EXTRA_KNOBS(X)                                                                             \
  X(FRONT_OFFSET, OFFSET)                                                                          \
  X(COMPARATOR_OFFSET, OFFSET)                                                                     \
  X(FRONT_BIAS, BIAS)                                                                              \
  X(COMPARATOR_BIAS, BIAS)                                                                         \
  X(CLAMP_LEAKAGE, LEAKAGE)                                                                        \
  X(LEVEL_LOW, LEVELS)                                                                             \
  X(LEVEL_HIGH, LEVELS)                                                                            \
  X(FRONT_WARM, TEMPERATURE)                                                                       \
  X(COMPARATOR_WARM, TEMPERATURE)                                                                  \
  X(SLOW_DRIFT, DRIFT)

/* the values' tolerances, then the same resistors drifting with temperature, then the extras */
enum {
  KNOB_WARM = TW_VALUE_COUNT,
  KNOB_EXTRA = 2 * TW_VALUE_COUNT,
  KNOB_BEFORE = KNOB_EXTRA - 1,
#define X(name, cause) KNOB_##name,
  EXTRA_KNOBS(X)
#undef X
      KNOB_COUNT
};

static const size_t offset_of[TW_VALUE_COUNT] = {
#define X(name, member, field, cause) offsetof(tw_circuit_spec, member),
    TW_CIRCUIT_VALUES(X)
#undef X
};

static const tw_circuit_cause cause_of[TW_VALUE_COUNT] = {
#define X(name, member, field, cause) cause,
    TW_CIRCUIT_VALUES(X)
#undef X
};

static double *value_of(tw_circuit_spec *s, int i)
{
  return (double *)(void *)((char *)s + offset_of[i]);
}

static tw_circuit_cause cause_of_knob(int knob)
{
  static const tw_circuit_cause extra[] = {
#define X(name, cause) TW_CIRCUIT_CAUSE_##cause,
      EXTRA_KNOBS(X)
#undef X
  };
  return knob < KNOB_WARM    ? cause_of[knob]
         : knob < KNOB_EXTRA ? TW_CIRCUIT_CAUSE_TEMPERATURE
                             : extra[knob - KNOB_EXTRA];
}

static void turn_value(tw_circuit_spec *s, int i, int side)
{
  const tw_value_bounds b = s->bounds[i];
  *value_of(s, i) += side > 0 ? b.plus : -b.minus;
}

static void turn_warm(tw_circuit_spec *s, int i, int side)
{
  const bool resistor = cause_of[i] == TW_CIRCUIT_CAUSE_RESISTORS ||
                        (cause_of[i] == TW_CIRCUIT_CAUSE_GAIN && i != TW_VALUE_GAIN);
  const double part = s->resistor_drift * s->temperature_span;
  *value_of(s, i) *= resistor ? 1.0 + side * fmin(part, 0.9) : 1.0;
}

/* set the part's bias to the bound of this side; a bound inside the nominal value changes nothing
 */
static void turn_bias(tw_amplifier *part, int side)
{
  part->bias_current = side > 0 ? fmax(part->bias_current, part->bias_most)
                                : fmin(part->bias_current, part->bias_least);
}

static void turn_extra(tw_circuit_spec *s, double *stray, int knob, int side)
{
  tw_amplifier *front = &s->front, *comparator = &s->comparator;
  switch (knob) {
  case KNOB_FRONT_OFFSET:
    front->offset += side * front->offset_limit;
    break;
  case KNOB_COMPARATOR_OFFSET:
    comparator->offset += side * comparator->offset_limit;
    break;
  case KNOB_FRONT_BIAS:
    turn_bias(front, side);
    break;
  case KNOB_COMPARATOR_BIAS:
    turn_bias(comparator, side);
    break;
  case KNOB_CLAMP_LEAKAGE:
    *stray += s->clamped ? side * s->clamp_leakage : 0.0;
    break;
  case KNOB_LEVEL_LOW:
    if (side > 0) {
      comparator->low_drop = fmax(comparator->low_drop, comparator->low_drop_limit);
    }
    break;
  case KNOB_LEVEL_HIGH:
    if (side > 0) {
      comparator->high_drop = fmax(comparator->high_drop, comparator->high_drop_limit);
    }
    break;
  case KNOB_FRONT_WARM:
    front->offset += side * front->offset_drift * s->temperature_span;
    break;
  case KNOB_COMPARATOR_WARM:
    comparator->offset += side * comparator->offset_drift * s->temperature_span;
    break;
  default: /* KNOB_SLOW_DRIFT: charge that comes as the temperature moves, as a current */
    if (s->kind != TW_BOARD_CONTACT) {
      *stray += side * s->charge_per_kelvin * s->temperature_rate;
    }
  }
}

static void turn(tw_circuit_spec *s, double *stray, int knob, int side)
{
  if (knob < KNOB_WARM) {
    turn_value(s, knob, side);
  } else if (knob < KNOB_EXTRA) {
    turn_warm(s, knob - KNOB_WARM, side);
  } else {
    turn_extra(s, stray, knob, side);
  }
}

/* ---- figures watched while the knobs turn ------------------------------------------------------
 */

static double threshold_figure(const tw_circuit *c)
{
  return c->threshold_voltage;
}

static double rearm_figure(const tw_circuit *c)
{
  return c->rearm_voltage;
}

static double trip_figure(const tw_circuit *c)
{
  return c->trip;
}

/* change of one figure at both ends of each knob */
typedef struct shares {
  double d[KNOB_COUNT][2];
} shares;

/* the figure with every knob at its end in `side` (0: not turned) */
static tw_status at_ends(const tw_circuit_spec *s, const signed char *side,
                         tw_circuit_figure figure, double *value, tw_fault *fault)
{
  tw_circuit_spec turned = *s;
  double stray = 0.0;
  tw_circuit c;
  for (int knob = 0; knob < KNOB_COUNT; knob++) {
    if (side[knob] != 0) {
      turn(&turned, &stray, knob, side[knob]);
    }
  }
  const tw_status status = tw_board_solve(&turned, stray, &c, fault);
  if (status == TW_OK) {
    *value = figure(&c);
  }
  return status;
}

static tw_status find_shares(const tw_circuit_spec *s, tw_circuit_figure figure, shares *out,
                             tw_fault *fault)
{
  signed char side[KNOB_COUNT] = {0};
  double nominal = 0.0;
  tw_status status = at_ends(s, side, figure, &nominal, fault);
  for (int knob = 0; knob < KNOB_COUNT && status == TW_OK; knob++) {
    for (int end = 0; end < 2 && status == TW_OK; end++) {
      double now = 0.0;
      side[knob] = end ? 1 : -1;
      status = at_ends(s, side, figure, &now, fault);
      out->d[knob][end] = now - nominal;
    }
    side[knob] = 0;
  }
  return status;
}

/* the farthest that the figure goes towards `sign` */
static tw_status corner(const tw_circuit_spec *s, const shares *share, tw_circuit_figure figure,
                        double sign, double *value, tw_fault *fault)
{
  signed char side[KNOB_COUNT];
  for (int knob = 0; knob < KNOB_COUNT; knob++) {
    const double low = sign * share->d[knob][0], high = sign * share->d[knob][1];
    side[knob] = (signed char)(low == 0.0 && high == 0.0 ? 0 : high > low ? 1 : -1);
  }
  tw_status status = at_ends(s, side, figure, value, fault);
  bool better = true;
  for (int pass = 0; pass < 8 && better && status == TW_OK; pass++) {
    better = false;
    for (int knob = 0; knob < KNOB_COUNT && status == TW_OK; knob++) {
      if (side[knob] != 0) {
        double other = 0.0;
        side[knob] = (signed char)-side[knob];
        status = at_ends(s, side, figure, &other, fault);
        if (status == TW_OK && sign * other > sign * *value) {
          *value = other;
          better = true;
        } else {
          side[knob] = (signed char)-side[knob];
        }
      }
    }
  }
  return status;
}

/* both ends of a figure, with its shares */
static tw_status range_of(const tw_circuit_spec *s, tw_circuit_figure figure, shares *share,
                          double *low, double *high, tw_fault *fault)
{
  tw_status status = find_shares(s, figure, share, fault);
  if (status == TW_OK) {
    status = corner(s, share, figure, -1.0, low, fault);
  }
  return status == TW_OK ? corner(s, share, figure, 1.0, high, fault) : status;
}

tw_status tw_circuit_range(const tw_circuit_spec *spec, tw_circuit_figure figure, double *low,
                           double *high, tw_fault *fault)
{
  shares share;
  const tw_status status = tw_circuit_check(spec, fault);
  return status == TW_OK ? range_of(spec, figure, &share, low, high, fault) : status;
}

static void add_causes(const shares *share, tw_circuit_budget *out)
{
  double squares = 0.0;
  for (int knob = 0; knob < KNOB_COUNT; knob++) {
    const double a = share->d[knob][0], b = share->d[knob][1];
    const double down = fmax(0.0, -fmin(a, b)), up = fmax(0.0, fmax(a, b));
    const tw_circuit_cause cause = cause_of_knob(knob);
    out->down[cause] += down;
    out->up[cause] += up;
    squares += fmax(down, up) * fmax(down, up);
  }
  out->rss = sqrt(squares);
}

static bool within_supply(const tw_circuit_spec *s, const tw_amplifier *part)
{
  const tw_value_bounds b = s->bounds[TW_VALUE_SUPPLY];
  return s->supply - b.minus >= part->supply_least && s->supply + b.plus <= part->supply_most;
}

tw_status tw_circuit_budget_of(const tw_circuit_spec *spec, tw_circuit_budget *out, tw_fault *fault)
{
  *out = (tw_circuit_budget){0};
  tw_circuit nominal;
  tw_status status = tw_circuit_solve(spec, &nominal, fault);
  if (status != TW_OK) {
    return status;
  }
  shares share, other;
  double rearm_high;
  status = range_of(spec, rearm_figure, &other, &out->rearm_low, &rearm_high, fault);
  if (status == TW_OK) {
    status = range_of(spec, trip_figure, &other, &out->trip_low, &out->trip_high, fault);
  }
  if (status == TW_OK) {
    status = range_of(spec, threshold_figure, &share, &out->worst_low, &out->worst_high, fault);
  }
  if (status != TW_OK) {
    *out = (tw_circuit_budget){0};
    return status;
  }
  add_causes(&share, out);
  out->nominal = nominal.threshold_voltage;
  out->least_margin = out->nominal != 0.0 ? out->worst_low / fabs(out->nominal) : 0.0;
  if (spec->kind != TW_BOARD_CONTACT) {
    out->drift_voltage = nominal.resistance * spec->charge_per_kelvin * spec->temperature_rate;
  }
  const bool two = spec->kind == TW_BOARD_GAIN || spec->kind == TW_BOARD_CHARGE;
  out->supply_within =
      tw_board_is_bare_contact(spec) ||
      (within_supply(spec, &spec->comparator) && (!two || within_supply(spec, &spec->front)));
  return TW_OK;
}

const char *tw_circuit_cause_text(tw_circuit_cause cause)
{
  static const char *const text[TW_CIRCUIT_CAUSE_COUNT] = {
      "offset", "bias current", "clamp leakage", "resistors",   "gain",       "capacitance",
      "supply", "reference",    "output levels", "temperature", "slow drift", "gate's thresholds",
  };
  return (unsigned)cause < TW_CIRCUIT_CAUSE_COUNT ? text[cause] : "";
}

/* ---- sensitivity of the comparator's own network ----------------------------------------------
 */

tw_status tw_schmitt_sensitivity(const tw_reference *reference, const tw_switching *at,
                                 double *rise, double *fall, tw_fault *fault)
{
  static const size_t resistors[] = {
      offsetof(tw_reference, top),      offsetof(tw_reference, bottom),
      offsetof(tw_reference, feedback), offsetof(tw_reference, input),
      offsetof(tw_reference, ground),   offsetof(tw_reference, resistance)};
  const double h = 1e-5; /* central difference: error h^2/6 of the third derivative, 1e-10 */
  double squares_rise = 0.0, squares_fall = 0.0;
  for (size_t i = 0; i < sizeof resistors / sizeof resistors[0]; i++) {
    tw_thresholds t[2];
    for (int side = 0; side < 2; side++) {
      tw_reference moved = *reference;
      double *r = (double *)(void *)((char *)&moved + resistors[i]);
      *r *= side ? exp(h) : exp(-h);
      const tw_status status = tw_schmitt(&moved, at, &t[side], fault);
      if (status != TW_OK) {
        return status;
      }
    }
    const double d_rise = (t[1].rise - t[0].rise) / (2.0 * h);
    const double d_fall = (t[1].fall - t[0].fall) / (2.0 * h);
    squares_rise += d_rise * d_rise;
    squares_fall += d_fall * d_fall;
  }
  *rise = sqrt(squares_rise);
  *fall = sqrt(squares_fall);
  return TW_OK;
}
