/* contradictions.h: what the figures of one design may never say together. Each row of the table
 * is one sentence; a check returns false when the figures contradict it. The checks read what a
 * user reads: measures with their states, requirements met, the circuit's levels, and the touch in
 * time at printed feeds. */
#ifndef TW_TEST_CONTRADICTIONS_H
#define TW_TEST_CONTRADICTIONS_H

#include "tripwright/assess.h"
#include "tripwright/probe.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

typedef struct said {
  const tw_design *design;
  const tw_assessment *all;
  const tw_direction *direction; /* sides, then the axis */
  size_t sides;
  const tw_probe *probe; /* the parts solved once more, by themselves */
} said;

static inline const tw_measure *said_of(const said *s, tw_measure_id id)
{
  return &s->all->measure[id];
}

static inline bool said_ok(const said *s, tw_measure_id id)
{
  return said_of(s, id)->state == TW_MEASURE_OK;
}

static inline double said_value(const said *s, tw_measure_id id)
{
  return said_of(s, id)->value;
}

static inline bool said_sides_trip(const said *s)
{
  for (size_t i = 0; i < s->sides; i++) {
    if (!s->direction[i].tripped) {
      return false;
    }
  }
  return true;
}

/* equal to a share of the larger; 0 equals 0 */
static inline bool said_same(double a, double b, double share)
{
  return fabs(a - b) <= share * fmax(fabs(a), fabs(b));
}

/* ---- the sentences --------------------------------------------------------------------------- */

static inline bool finite_figures(const said *s)
{
  for (int i = 0; i < TW_MEASURE_COUNT; i++) {
    const tw_measure *m = &s->all->measure[i];
    if (!isfinite(m->value) || !isfinite(m->margin) || !isfinite(m->least) ||
        (m->has_band && !(isfinite(m->band[0]) && isfinite(m->band[1])))) {
      return false;
    }
  }
  return true;
}

static inline bool band_holds_value(const said *s)
{
  for (int i = 0; i < TW_MEASURE_COUNT; i++) {
    const tw_measure *m = &s->all->measure[i];
    const double slack = 1e-9 * fabs(m->value);
    if (m->state == TW_MEASURE_OK && m->has_band &&
        !(m->band[0] <= m->value + slack && m->value <= m->band[1] + slack)) {
      return false;
    }
  }
  return true;
}

static inline bool states_have_sentences(const said *s)
{
  for (int i = 0; i < TW_MEASURE_COUNT; i++) {
    const tw_measure *m = &s->all->measure[i];
    /* the map is left out for most designs, on request */
    const bool asked = tw_measure_about((tw_measure_id)i)->needs != TW_NEEDS_MAP;
    if (asked && m->state != TW_MEASURE_OK && !m->note[0]) {
      return false;
    }
  }
  return true;
}

static inline bool met_is_computed(const said *s)
{
  for (int i = 0; i < TW_MEASURE_COUNT; i++) {
    const tw_measure *m = &s->all->measure[i];
    if (m->met == TW_MET_YES && m->state != TW_MEASURE_OK && !m->endless) {
      return false;
    }
  }
  return true;
}

/* feeds are those of the directions that trip: their note names which */
static inline bool untripped_side_meets_nothing(const said *s)
{
  static const tw_measure_id of_sides[] = {TW_M_trip_force_side, TW_M_pretravel_side,
                                           TW_M_pretravel_variation_side, TW_M_return_offset,
                                           TW_M_void_clearance_at_trip};
  for (size_t i = 0; !said_sides_trip(s) && i < sizeof of_sides / sizeof *of_sides; i++) {
    if (said_of(s, of_sides[i])->met == TW_MET_YES) {
      return false;
    }
  }
  return true;
}

static inline bool least_under_largest(const said *s)
{
  static const tw_measure_id both[] = {TW_M_trip_force_side, TW_M_pretravel_side};
  for (size_t i = 0; i < 2; i++) {
    const tw_measure *m = said_of(s, both[i]);
    if (m->state == TW_MEASURE_OK && m->has_least && m->least > m->value * (1 + 1e-9)) {
      return false;
    }
  }
  return true;
}

static inline bool largest_covers_directions(const said *s)
{
  for (size_t i = 0; said_ok(s, TW_M_trip_force_side) && i < s->sides; i++) {
    if (s->direction[i].tripped &&
        s->direction[i].force > said_value(s, TW_M_trip_force_side) * (1 + 1e-9)) {
      return false;
    }
  }
  return true;
}

static inline bool parts_add_up(const said *s)
{
  for (int i = 0; i < TW_MEASURE_COUNT; i++) {
    const tw_measure *m = &s->all->measure[i];
    double sum = 0, size = fabs(m->value);
    for (int k = 0; k < m->contributions; k++) {
      sum += m->contribution[k].value;
      size = fmax(size, fabs(m->contribution[k].value));
    }
    if (m->state == TW_MEASURE_OK && m->contributions > 0 && fabs(sum - m->value) > 1e-9 * size) {
      return false;
    }
  }
  return true;
}

static inline bool slowest_above_its_bound(const said *s)
{
  return !said_ok(s, TW_M_slowest_feed) || !said_ok(s, TW_M_slowest_feed_static) ||
         said_value(s, TW_M_slowest_feed) >= said_value(s, TW_M_slowest_feed_static) * (1 - 0.02);
}

static inline bool window_is_a_range(const said *s)
{
  return !said_ok(s, TW_M_slowest_feed) || !said_ok(s, TW_M_fastest_feed) ||
         said_value(s, TW_M_slowest_feed) <= said_value(s, TW_M_fastest_feed);
}

/* a crash that breaks nothing leaves every part under what it stands, and the reverse */
static inline bool crash_and_stress_agree(const said *s)
{
  const tw_measure *first = said_of(s, TW_M_first_to_fail);
  if (first->state != TW_MEASURE_OK || !first->word) {
    return true;
  }
  double worst = 0;
  for (int i = 0; i < 2; i++) {
    const tw_measure_id id = i ? TW_M_stem_stress_ratio : TW_M_ceramic_stress_ratio;
    worst = said_ok(s, id) ? fmax(worst, said_value(s, id)) : worst;
  }
  const bool nothing = strcmp(first->word, "nothing") == 0;
  return nothing ? worst <= 1 + 1e-9 : true;
}

static inline bool tripped_at_rest_meets_no_touch(const said *s)
{
  if (s->probe->circuit.rearm == TW_REARM_CLEAN) {
    return true;
  }
  const tw_measure *m = said_of(s, TW_M_trip_force_side);
  return s->probe->circuit.rearm == TW_REARM_STUCK ? s->all->met < s->all->asked
                                                   : m->met != TW_MET_YES;
}

static inline bool node_dilutes(const said *s)
{
  return !said_ok(s, TW_M_voltage_per_newton) || !said_ok(s, TW_M_voltage_per_newton_open) ||
         tw_design_choice(s->design, TW_F_circuit_kind) == TW_CIRCUIT_CHARGE ||
         fabs(said_value(s, TW_M_voltage_per_newton)) <=
             fabs(said_value(s, TW_M_voltage_per_newton_open)) * (1 + 1e-9);
}

static inline bool clearance_shrinks(const said *s)
{
  return !said_ok(s, TW_M_void_clearance_rest) || !said_ok(s, TW_M_void_clearance_at_trip) ||
         tw_design_choice(s->design, TW_F_seat_kind) == TW_SEAT_PLATE ||
         said_value(s, TW_M_void_clearance_at_trip) <=
             said_value(s, TW_M_void_clearance_rest) + 0.2e-6;
}

static inline bool threshold_is_the_circuits(const said *s)
{
  return !said_ok(s, TW_M_threshold_voltage) ||
         said_same(said_value(s, TW_M_threshold_voltage), s->probe->circuit.threshold_voltage,
                   1e-9);
}

/* rest level, threshold and leak of the circuit are those that the touch in time runs with */
static inline bool touch_has_the_circuits_node(const said *s)
{
  if (!s->probe->seat || !s->probe->has_disc || s->probe->trouble.status != TW_OK) {
    return true;
  }
  tw_fault fault = {0};
  tw_seat_work **works = tw_probe_works(s->probe, 1);
  tw_probe_touch *touch = works ? tw_alloc(1, sizeof *touch) : NULL;
  bool good = true;
  if (touch && tw_probe_touch_of(s->design, s->probe, works[0], s->direction[0].azimuth, 0, touch,
                                 &fault) == TW_OK) {
    tw_touch_levels at;
    good = tw_touch_levels_of(&touch->model, &at, &fault) == TW_OK &&
           said_same(at.rest_node, s->probe->circuit.rest_node, 1e-6) &&
           said_same(at.rest, s->probe->circuit.rest, 1e-3) &&
           said_same(at.threshold, s->probe->circuit.threshold_voltage, 0.02) &&
           said_same(at.resistance,
                     s->probe->circuit.resistance - s->probe->circuit.follow_resistance, 0.02);
  }
  tw_free(touch);
  tw_probe_free_works(works, 1);
  return good;
}

static inline bool no_false_trip_without_carrier(const said *s)
{
  static const tw_measure_id margin[] = {TW_M_false_trip_margin_x, TW_M_false_trip_margin_y,
                                         TW_M_false_trip_margin_z};
  for (int i = 0; i < 3; i++) {
    if (said_ok(s, margin[i]) && !(said_value(s, margin[i]) >= 0)) {
      return false;
    }
  }
  return true;
}

/* "full" says that friction lets the carrier come back: then it comes back to its friction's own
 * small rest, not to a tenth of the overtravel of 0.1 mm */
static inline bool full_seat_returns(const said *s)
{
  const tw_measure *seat = said_of(s, TW_M_seating_regime);
  return seat->state != TW_MEASURE_OK || strcmp(seat->word, "full") != 0 ||
         !said_ok(s, TW_M_return_offset) || said_value(s, TW_M_return_offset) < 20e-6;
}

typedef struct contradiction {
  const char *sentence;
  bool (*holds)(const said *s);
} contradiction;

static const contradiction contradictions[] = {
    {"every figure is a finite number", finite_figures},
    {"a band holds its value", band_holds_value},
    {"a figure that is not there says why", states_have_sentences},
    {"what counts as met was computed", met_is_computed},
    {"a side that does not trip meets no requirement on touches", untripped_side_meets_nothing},
    {"the smallest is not above the largest", least_under_largest},
    {"no direction needs more than the largest force", largest_covers_directions},
    {"contributions add up to their figure", parts_add_up},
    {"the slowest feed is not under its own bound", slowest_above_its_bound},
    {"the slowest feed is not above the fastest", window_is_a_range},
    {"a crash that breaks nothing leaves stresses under their limits", crash_and_stress_agree},
    {"a probe tripped at rest or stuck does not meet everything", tripped_at_rest_meets_no_touch},
    {"cable and input never raise the voltage", node_dilutes},
    {"pushing does not widen the gap under the disc", clearance_shrinks},
    {"the threshold is the circuit's", threshold_is_the_circuits},
    {"the touch in time has the circuit's rest, threshold and leak", touch_has_the_circuits_node},
    {"a false-trip margin is not negative", no_false_trip_without_carrier},
    {"a seat that is full comes back", full_seat_returns},
};
#define CONTRADICTIONS (sizeof contradictions / sizeof *contradictions)

#endif
