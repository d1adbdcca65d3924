/* json_crash.c: the document of a crash: what gives first, what each part carries, where it would
 * fail, how much travel is left after a touch. */
#include "tripwright/assess_crash.h"
#include "tripwright/constants.h"
#include "tripwright/documents.h"

#include <math.h>

static void put(json_t *object, const char *name, double value, const char *unit)
{
  json_object_set_new(object, name, tw_json_quantity(value, unit));
}

static json_t *number_if(bool known, double value)
{
  return known ? tw_json_number(value) : json_null();
}

/* ---- the rows of one direction --------------------------------------------------------------- */

static json_t *stages_of(const tw_course *c)
{
  json_t *rows = json_array();
  for (size_t i = 0; i < c->stages; i++) {
    const tw_course_stage *s = &c->stage[i];
    json_array_append_new(
        rows, json_pack("{s:s, s:s, s:o, s:o, s:o, s:o, s:o, s:o, s:b, s:o, s:o}", "name", s->name,
                        "field", s->field ? s->field : "", "gives_at", tw_json_number(s->gives_at),
                        "gives_at_travel", tw_json_number(s->gives_travel), "limit",
                        number_if(s->has_stop, s->limit), "limit_force",
                        number_if(s->has_stop, s->stop_force), "limit_travel",
                        number_if(s->has_stop && !s->far, s->stop_travel), "travel",
                        tw_json_number(s->travel), "stopped", s->stopped, "energy",
                        tw_json_number(s->energy), "kept", tw_json_number(s->kept)));
  }
  return rows;
}

static json_t *members_of(const tw_course *c)
{
  json_t *rows = json_array();
  for (size_t i = 0; i < c->members; i++) {
    const tw_course_member *m = &c->member[i];
    json_array_append_new(
        rows,
        json_pack("{s:s, s:s, s:o, s:o, s:o, s:o, s:o, s:o, s:b}", "name", m->name, "field",
                  m->field ? m->field : "", "load", tw_json_number(m->load), "stress",
                  tw_json_number(m->stress), "allowable", tw_json_number(m->allowable), "ratio",
                  tw_json_number(m->ratio), "fails_at_force", number_if(m->can_fail, m->fail_force),
                  "fails_at_travel", number_if(m->can_fail && !m->far, m->fail_travel), "fails",
                  m->can_fail && m->fail_travel <= c->travel));
  }
  return rows;
}

static json_t *order_of(const tw_course *c)
{
  json_t *rows = json_array();
  for (size_t i = 0; i < c->marks; i++) {
    const tw_course_mark *m = &c->mark[i];
    json_array_append_new(rows,
                          json_pack("{s:s, s:s, s:o, s:b}", "name", m->name, "field", m->field,
                                    "force", tw_json_number(m->force), "late", m->late));
  }
  return rows;
}

static json_t *curve_of(const tw_course *c)
{
  json_t *curve = json_object(), *travel = json_array(), *force = json_array(),
         *stages = json_object(), *members = json_object();
  for (size_t i = 0; i < c->rows; i++) {
    json_array_append_new(travel, tw_json_number(c->row_travel[i]));
    json_array_append_new(force, tw_json_number(c->row_force[i]));
  }
  for (size_t s = 0; s < c->stages; s++) {
    json_t *one = json_array();
    for (size_t i = 0; i < c->rows; i++) {
      json_array_append_new(one, tw_json_number(c->row_stage[s][i]));
    }
    json_object_set_new(stages, c->stage[s].name, one);
  }
  json_object_set_new(curve, "travel", travel);
  json_object_set_new(curve, "force", force);
  for (size_t m = 0; m < c->members; m++) {
    json_t *one = json_array();
    for (size_t i = 0; i < c->rows; i++) {
      json_array_append_new(one, tw_json_number(c->row_ratio[m][i]));
    }
    json_object_set_new(members, c->member[m].name, one);
  }
  json_object_set_new(curve, "stages", stages);
  json_object_set_new(curve, "members", members);
  return curve;
}

/* ---- one direction --------------------------------------------------------------------------- */

/* from the machine's standstill after a touch to the end of the crash travel, or to where the first
 * part fails if that comes earlier; below zero the machine does not stop in time */
static void put_left(json_t *o, const tw_course *c, const tw_measure *overtravel)
{
  const bool stops = overtravel->state == TW_MEASURE_OK;
  const double end = c->fails && c->first < c->members
                         ? fmin(c->travel, c->member[c->first].fail_travel)
                         : c->travel;
  put(o, "overtravel", stops ? overtravel->value : (double)NAN, "m");
  put(o, "travel_left", stops ? end - overtravel->value : (double)NAN, "m");
}

static json_t *direction_of(const tw_course *c, const tw_measure *overtravel)
{
  json_t *o = json_object();
  json_object_set_new(o, "name", json_string(c->name));
  json_object_set_new(o, "state", json_string(c->known ? "ok" : "no_answer"));
  if (!c->known) {
    json_object_set_new(o, "note", json_string(c->why));
    return o;
  }
  const bool gives = c->first_stage < c->stages, can_fail = c->first < c->members;
  put(o, "azimuth", c->azimuth / TW_DEGREE, "deg");
  put(o, "elevation", c->elevation / TW_DEGREE, "deg");
  put(o, "trip_force", c->trip > 0 ? c->trip : (double)NAN, "N");
  put(o, "travel", c->travel, "m");
  put(o, "force", c->force, "N");
  put(o, "crash_force", c->crash_force, "N");
  put(o, "energy", c->energy, "J");
  put(o, "kept", c->kept, "J");
  put_left(o, c, overtravel);
  json_object_set_new(o, "gives_first",
                      gives ? json_string(c->stage[c->first_stage].name) : json_null());
  json_object_set_new(o, "first_to_fail",
                      json_string(c->fails && can_fail ? c->member[c->first].name : "nothing"));
  json_object_set_new(o, "weakest", can_fail ? json_string(c->member[c->first].name) : json_null());
  json_object_set_new(o, "stages", stages_of(c));
  json_object_set_new(o, "members", members_of(c));
  json_object_set_new(o, "order", order_of(c));
  json_object_set_new(o, "curve", curve_of(c));
  return o;
}

/* what `check` says of a crash, to the same digit */
static json_t *measures_of(const tw_assessment *a, const tw_limits *limits)
{
  static const tw_measure_id of[] = {
      TW_M_crash_force,          TW_M_first_to_fail,    TW_M_stem_stress_ratio,
      TW_M_ceramic_stress_ratio, TW_M_reseat_offset,    TW_M_stack_clearance,
      TW_M_overtravel_side,      TW_M_overtravel_axial, TW_M_fastest_feed};
  json_t *o = json_object();
  for (size_t i = 0; i < sizeof of / sizeof of[0]; i++) {
    json_object_set_new(
        o, tw_measure_about(of[i])->name,
        tw_json_measure(of[i], &a->measure[of[i]], limits ? &limits->of[of[i]] : &(tw_limit){0}));
  }
  return o;
}

tw_status tw_document_crash(const tw_design *design, const tw_limits *limits,
                            const tw_progress *progress, json_t **out, tw_fault *fault)
{
  *out = NULL;
  tw_assess_options options = tw_assess_defaults();
  options.map = options.contributions = false;
  options.limits = limits;
  options.progress = progress;
  tw_assessment *a = tw_alloc(1, sizeof *a);
  tw_course *course = tw_alloc(2, sizeof *course);
  json_t *document = tw_document_new("crash");
  tw_status status = a && course && document
                         ? tw_crash_of(design, &options, a, course, fault)
                         : tw_fail(fault, TW_NO_MEMORY, NULL, NULL, "no memory for the crash");
  if (status == TW_OK) {
    json_t *ways = json_array();
    json_object_set_new(document, "design", tw_json_design(design));
    json_array_append_new(ways, direction_of(&course[0], &a->measure[TW_M_overtravel_side]));
    json_array_append_new(ways, direction_of(&course[1], &a->measure[TW_M_overtravel_axial]));
    json_object_set_new(document, "directions", ways);
    json_object_set_new(document, "units",
                        json_pack("{s:s, s:s, s:s, s:s, s:s, s:s, s:s}", "force", "N", "travel",
                                  "m", "limit", "m", "load", "N", "stress", "Pa", "energy", "J",
                                  "ratio", "1"));
    json_object_set_new(document, "measures", measures_of(a, limits));
    *out = document;
  } else {
    json_decref(document);
  }
  tw_free(course);
  tw_free(a);
  return status;
}
