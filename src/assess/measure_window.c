/* measure_window.c: the feeds between which a touch trips and the machine stops in time. */
#include "timed.h"

#include <math.h>

static double number(const tw_timed *t, tw_field field, double otherwise)
{
  return tw_design_number_or(t->run->design, field, otherwise);
}

/* ---- how far the machine may run on ---------------------------------------------------------- */

/* with a hold-down the housing's travel; without, along the axis what the ceramic stands */
static double room_along_axis(const tw_timed *t)
{
  const tw_probe *probe = t->run->probe;
  const double travel = number(t, TW_F_housing_travel_axial, 3e-3);
  tw_disc_stress row[TW_DISC_STRESS_ROWS];
  size_t rows = 0;
  if (tw_design_choice(t->run->design, TW_F_holddown_kind) != TW_HOLDDOWN_NONE ||
      !probe->has_disc ||
      tw_disc_stresses(probe->disc, probe->disc_measures.contact_radius, row, &rows, NULL) !=
          TW_OK) {
    return travel;
  }
  double tension = 0;
  for (size_t i = 0; i < rows; i++) {
    tension = row[i].layer == TW_DISC_LAYER_CERAMIC ? fmax(tension, row[i].peak_tension) : tension;
  }
  const double allowed = probe->disc_spec.ceramic.allowable_tension;
  if (!(tension > 0) || !(allowed > 0)) {
    return travel;
  }
  const double force = fmax(allowed / tension - probe->rest.preload, 0);
  const double give = 1 / probe->disc_measures.stiffness_short.value +
                      1 / tw_stylus_along(&probe->stylus, acos(-1.0) / 2);
  return fmin(travel, fmax(force * give, 1e-6));
}

static double room_sideways(const tw_timed *t)
{
  const double travel = number(t, TW_F_housing_travel_side, 5e-3);
  if (tw_design_choice(t->run->design, TW_F_holddown_kind) != TW_HOLDDOWN_NONE ||
      !tw_design_has(t->run->design, TW_F_seat_swivel_limit)) {
    return travel;
  }
  return fmin(travel, number(t, TW_F_stylus_reach, 0) * tan(number(t, TW_F_seat_swivel_limit, 0)));
}

/* ---- feeds ----------------------------------------------------------------------------------- */

static const tw_measure_id OF_WINDOW[] = {TW_M_slowest_feed, TW_M_fastest_feed};

bool tw_timed_wants_window(const tw_timed *t)
{
  return tw_wants(t->run, OF_WINDOW, 2);
}

void tw_timed_rooms(tw_timed *t)
{
  t->room[TW_TIMED_SIDE] = room_sideways(t);
  t->room[TW_TIMED_AXIS] = room_along_axis(t);
}

static const char *name_of(int w)
{
  return w == TW_TIMED_SIDE ? "side" : "axial";
}

tw_status tw_timed_window(tw_timed *t, int w, tw_touch_work *work, tw_fault *fault)
{
  const tw_window_ask ask = {.motion = &t->motion,
                             .feed_least = 1.0 / 60000,
                             .feed_most = fmax(number(t, TW_F_machine_rapid, 0.05), t->approach),
                             .threshold_margin = 0.2,
                             .bias_most = t->run->probe->board.comparator.bias_most,
                             .jitter = t->link.latency_jitter,
                             .within = 0.1};
  const tw_window_way way = {name_of(w), &t->way[w]->model, t->room[w]};
  return tw_touch_window(&way, &ask, work, &t->window[w], fault);
}

void tw_timed_put_window(tw_timed *t)
{
  double slowest = 0, fastest = INFINITY;
  const char *slow_why = "", *fast_why = "";
  for (int w = 0; w < TW_TIMED_WAYS; w++) {
    const tw_window *window = &t->window[w];
    if (!t->way[w]) {
      continue;
    }
    if (!window->trips) {
      for (int i = 0; i < 2; i++) {
        tw_put_state(t->run->out, OF_WINDOW[i], TW_MEASURE_NO_TRIP, "no feed trips it (%s)",
                     name_of(w));
      }
      return;
    }
    if (window->slowest > slowest) {
      slowest = window->slowest;
      slow_why = tw_window_reason_text(window->slow_reason);
    }
    if (window->fastest < fastest) {
      fastest = window->fastest;
      fast_why = tw_window_reason_text(window->fast_reason);
    }
  }
  tw_put(t->run->out, TW_M_slowest_feed, slowest);
  tw_put_note(t->run->out, TW_M_slowest_feed, "%s", slow_why);
  tw_put(t->run->out, TW_M_fastest_feed, fastest);
  tw_put_note(t->run->out, TW_M_fastest_feed, "%s", fast_why);
}
