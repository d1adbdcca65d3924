/* json_touch.c: the document of `touch`: one touch in time, with its trace; feeds; false trips. */
#include "tripwright/constants.h"
#include "tripwright/documents.h"
#include "tripwright/probe.h"

#include <math.h>

static void put(json_t *object, const char *name, double value, const char *unit)
{
  json_object_set_new(object, name, tw_json_quantity(value, unit));
}

/* ---- trace ----------------------------------------------------------------------------------- */

/* points that a trace keeps: a touch that takes long is told in wider steps, not in more points */
#define TRACE_MOST 8192

typedef struct trace {
  json_t *column[9];
  tw_touch_sink sink; /* `every` doubles whenever the columns are full */
  bool lost;
  /* what the comparator puts out at rest and tripped, and the pin with it: one of a pair that looks
   * at both signs waits the other way round, the pin does not */
  double own_rest, own_tripped, pin_rest, pin_tripped;
} trace;

static double pin_of(const trace *t, double own)
{
  return t->pin_rest +
         (t->pin_tripped - t->pin_rest) * (own - t->own_rest) / (t->own_tripped - t->own_rest);
}

static const char *const trace_names[9] = {"time", "travel", "force",  "carrier_force", "charge",
                                           "node", "signal", "output", "active"};
static const char *const trace_units[9] = {"s", "m", "N", "N", "C", "V", "V", "V", "1"};

/* every other point goes, and from now on only every other one comes */
static void thin_out(trace *t)
{
  for (int i = 0; i < 9; i++) {
    json_t *kept = json_array();
    for (size_t k = 0; k < json_array_size(t->column[i]); k += 2) {
      t->lost = json_array_append(kept, json_array_get(t->column[i], k)) != 0 || t->lost;
    }
    json_decref(t->column[i]);
    t->column[i] = kept;
  }
  t->sink.every *= 2;
}

static bool take_point(void *self, const tw_touch_point *p)
{
  trace *t = self;
  if (json_array_size(t->column[0]) >= TRACE_MOST) {
    thin_out(t);
  }
  const double value[9] = {p->time,   p->travel, p->force,  p->carrier_force,
                           p->charge, p->node,   p->signal, pin_of(t, p->output),
                           p->active};
  for (int i = 0; i < 9; i++) {
    t->lost = json_array_append_new(t->column[i], tw_json_number(value[i])) != 0 || t->lost;
  }
  return !t->lost;
}

static json_t *trace_json(trace *t)
{
  json_t *o = json_object(), *units = json_object();
  for (int i = 0; i < 9; i++) {
    json_object_set_new(o, trace_names[i], t->column[i]);
    json_object_set_new(units, trace_names[i], json_string(trace_units[i]));
  }
  json_object_set_new(o, "units", units);
  return o;
}

/* ---- result ---------------------------------------------------------------------------------- */

static void put_one(json_t *o, const tw_touch_one *one)
{
  const bool out = one->reached >= TW_REACHED_OUTPUT, stop = one->reached >= TW_REACHED_STOP_END;
  json_object_set_new(o, "state", json_string(tw_touch_state_name(one->state)));
  put(o, "feed", one->feed, "m/s");
  put(o, "t_threshold", one->reached >= TW_REACHED_THRESHOLD ? one->threshold : (double)NAN, "s");
  put(o, "t_output", out ? one->output : (double)NAN, "s");
  put(o, "t_sample", one->reached >= TW_REACHED_SAMPLE ? one->sample : (double)NAN, "s");
  put(o, "t_stop_start", one->reached >= TW_REACHED_STOP_START ? one->stop_start : (double)NAN,
      "s");
  put(o, "t_stop_end", stop ? one->stop_end : (double)NAN, "s");
  put(o, "pretravel", out ? one->pretravel : (double)NAN, "m");
  put(o, "overtravel", stop ? one->overtravel : (double)NAN, "m");
  put(o, "peak_force", one->peak_force, "N");
  put(o, "peak_carrier_force", one->peak_carrier, "N");
  put(o, "peak_node", one->peak_node, "V");
  json_object_set_new(o, "chatter", json_integer(one->chatter));
  json_object_set_new(o, "bounces", json_integer(one->bounces));
  if (one->state == TW_TOUCH_NO_TRIP) {
    put(o, "searched_time", one->searched_time, "s");
  }
}

static json_t *events_of(const tw_touch_result *r)
{
  json_t *rows = json_array();
  for (int i = 0; i < r->event_count; i++) {
    json_array_append_new(rows, json_pack("{s:s, s:o, s:o}", "event",
                                          tw_touch_event_name(r->events[i].kind), "time",
                                          tw_json_number(r->events[i].time), "travel",
                                          tw_json_number(r->events[i].travel)));
  }
  return rows;
}

static json_t *levels_of(const tw_touch_model *model)
{
  tw_touch_levels levels;
  json_t *o = json_object();
  if (tw_touch_levels_of(model, &levels, NULL) == TW_OK) {
    put(o, "rest", levels.rest, "V");
    put(o, "trip", levels.trip, "V");
    put(o, "release", levels.release, "V");
    put(o, "threshold_voltage", levels.threshold, "V");
    put(o, "logic_level", model->output.logic_level, "V");
  }
  return o;
}

static tw_status run(const tw_design *design, const tw_probe *probe, const tw_touch_ask *ask,
                     const tw_probe_touch *touch, json_t *document, tw_fault *fault)
{
  tw_touch_motion motion;
  tw_status status = tw_probe_motion(design, probe, ask->feed, &motion, fault);
  tw_touch_work *work = tw_touch_work_new();
  if (status != TW_OK || !work) {
    tw_touch_work_free(work);
    return status != TW_OK ? status : TW_NO_MEMORY;
  }
  motion.until = ask->second ? TW_UNTIL_SECOND : TW_UNTIL_READY;
  tw_probe_search(probe, touch, &motion);
  const tw_touch_comparator *own = &touch->model.comparator;
  trace t = {.sink = {.point = take_point, .self = &t, .every = ask->every},
             .own_rest = own->rest_high ? own->high : own->low,
             .own_tripped = own->rest_high ? own->low : own->high,
             .pin_rest = probe->circuit.output_rest,
             .pin_tripped = probe->circuit.output_tripped};
  for (int i = 0; i < 9; i++) {
    t.column[i] = json_array();
  }
  tw_touch_result r;
  status = tw_touch_run(&touch->model, &motion, work, ask->every > 0 ? &t.sink : NULL, &r, fault);
  tw_touch_work_free(work);
  if (status == TW_OK) {
    put_one(document, &r.first);
    put(document, "output_end", r.ended ? r.output_end : (double)NAN, "s");
    put(document, "output_hold_time", r.ended ? r.output_hold_time : (double)NAN, "s");
    if (r.ended) {
      json_object_set_new(document, "output_end_pressed", json_boolean(r.ended_pressed));
    }
    put(document, "ready_time", r.ready ? r.ready_time : (double)NAN, "s");
    if (r.has_second) {
      json_t *second = json_object();
      put_one(second, &r.second);
      json_object_set_new(document, "second", second);
    }
    json_object_set_new(document, "levels", levels_of(&touch->model));
    json_object_set_new(document, "events", events_of(&r));
    put(document, "steps", (double)r.steps, "1");
  }
  json_t *traced = trace_json(&t);
  if (status == TW_OK && ask->every > 0) {
    json_object_set(document, "trace", traced);
  }
  json_decref(traced);
  return status;
}

/* ---- the probe, its work and one direction --------------------------------------------------- */

typedef struct opened {
  tw_probe *probe;
  tw_seat_work *work;
  tw_probe_touch *touch;
  tw_measure_state state; /* why it cannot be run, when the status is TW_NO_ANSWER */
} opened;

static void close_opened(opened *o)
{
  tw_free(o->touch);
  tw_seat_work_free(o->work);
  tw_probe_free(o->probe);
}

static tw_status open_direction(const tw_design *design, double azimuth, double elevation,
                                opened *o, tw_fault *fault)
{
  *o = (opened){0};
  tw_status status = tw_probe_new(design, &o->probe, fault);
  o->state = o->probe ? o->probe->state : TW_MEASURE_NO_ANSWER;
  if (status == TW_OK && o->state != TW_MEASURE_OK) {
    *fault = o->probe->trouble;
    return fault->status;
  }
  if (status == TW_OK) {
    o->work = tw_seat_work_new(o->probe->seat);
    o->touch = tw_alloc(1, sizeof *o->touch);
    status = o->work && o->touch ? TW_OK : tw_fail(fault, TW_NO_MEMORY, NULL, NULL, "no memory");
  }
  if (status == TW_OK) {
    status = tw_probe_touch_of(design, o->probe, o->work, azimuth, elevation, o->touch, fault);
    o->state = o->touch->state;
  }
  return status;
}

tw_status tw_document_touch(const tw_design *design, const tw_touch_ask *ask, json_t **out,
                            tw_fault *fault)
{
  *out = NULL;
  opened o;
  tw_status status = open_direction(design, ask->azimuth, ask->elevation, &o, fault);
  /* a direction that does not trip however slowly it is pushed is an answer; so is a probe that
   * cannot be touched */
  const bool never = status == TW_NO_ANSWER && o.state != TW_MEASURE_NO_ANSWER;
  json_t *document = status == TW_OK || never ? tw_document_new("touch") : NULL;
  if (document) {
    json_object_set_new(document, "design", tw_json_design(design));
    put(document, "azimuth", ask->azimuth / TW_DEGREE, "deg");
    put(document, "elevation", ask->elevation / TW_DEGREE, "deg");
    if (never) {
      const tw_touch_one none = {.state = TW_TOUCH_NO_TRIP, .feed = ask->feed};
      put_one(document, &none);
      tw_json_put_state(document, o.state, fault);
      /* a board that no signal can trip was not searched at all */
      if (o.state == TW_MEASURE_NO_TRIP && o.touch) {
        put(document, "searched_to", o.touch->searched, "N");
      }
      status = TW_OK;
    } else {
      status = run(design, o.probe, ask, o.touch, document, fault);
    }
  }
  close_opened(&o);
  if (status != TW_OK || !document) {
    json_decref(document);
    return status != TW_OK ? status : tw_fail(fault, TW_NO_MEMORY, NULL, NULL, "no memory");
  }
  *out = document;
  return TW_OK;
}

/* s that the net must run: past the output's edge, or as long as the touch itself looks for one */
static tw_status netlist_end(const tw_touch_model *model, const tw_touch_motion *motion,
                             double *end, tw_fault *fault)
{
  const double beyond = 1.2, at_least = 2e-3; /* s: the whole of a fast edge */
  tw_touch_work *work = tw_touch_work_new();
  if (!work) {
    return tw_fail(fault, TW_NO_MEMORY, NULL, NULL, "no memory for a touch");
  }
  tw_touch_motion go = *motion;
  tw_touch_result r;
  go.until = TW_UNTIL_EDGE;
  const tw_status status = tw_touch_run(model, &go, work, NULL, &r, fault);
  *end = beyond * (r.first.state == TW_TOUCH_OK ? r.first.output : go.give_up) + at_least;
  tw_touch_work_free(work);
  return status;
}

tw_status tw_touch_write_netlist(const tw_design *design, const tw_touch_ask *ask, FILE *file,
                                 tw_fault *fault)
{
  const double least_steps = 5e3, step_most = 1e-6; /* s */
  opened o;
  tw_touch_motion motion;
  double end = 0;
  tw_status status = open_direction(design, ask->azimuth, ask->elevation, &o, fault);
  status = status == TW_OK ? tw_probe_motion(design, o.probe, ask->feed, &motion, fault) : status;
  if (status == TW_OK) {
    motion.give_up = fmax(motion.give_up, 4 * o.touch->pretravel / ask->feed);
    status = netlist_end(&o.touch->model, &motion, &end, fault);
  }
  if (status == TW_OK) {
    const bool drawn = o.probe->board.kind != TW_BOARD_CONTACT;
    status = tw_touch_netlist_of(&o.touch->model, &motion, drawn ? &o.probe->board : NULL,
                                 drawn ? &o.probe->circuit : NULL, end,
                                 fmin(step_most, end / least_steps), file, fault);
  }
  close_opened(&o);
  return status;
}
