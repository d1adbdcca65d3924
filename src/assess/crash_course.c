/* crash_course.c: what is told of a crash: stages, members, order, and the curve for a picture. */
#include "crash_parts.h"
#include "tripwright/numerics.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* a picture reaches past the first failure, or past the travel to one that is near, by these */
#define PAST_FAILURE 2.0
#define PAST_TRAVEL  1.5
/* N: a stage that gives from less is free from the first touch on; what is left of a sum */
#define FREE 1e-9
/* points from one corner of the curve to the next, closer together behind a corner */
enum { BETWEEN = 16, CORNERS = 2 * TW_CRASH_STAGES + TW_CRASH_MEMBERS + 2 };

/* the force up to which the travel of every stage is known */
static double known_to(const tw_crash_way *way)
{
  double most = INFINITY;
  for (size_t i = 0; i < way->stages; i++) {
    tw_crash_bounds bounds;
    if (way->open[i] && tw_crash_bounds_of(&way->stage[i], &bounds, NULL) == TW_OK) {
      most = fmin(most, bounds.stop_force);
    }
  }
  return most;
}

static tw_status tell_stages(const tw_crash_way *way, tw_course *out, tw_fault *fault)
{
  const tw_crash *r = &way->result;
  tw_status status = TW_OK;
  const double known = known_to(way);
  out->stages = out->first_stage = way->stages;
  for (size_t i = 0; i < way->stages && status == TW_OK; i++) {
    tw_course_stage *s = &out->stage[i];
    tw_crash_bounds bounds;
    status = tw_crash_bounds_of(&way->stage[i], &bounds, fault);
    *s = (tw_course_stage){.name = way->stage[i].name,
                           .field = way->stage[i].field,
                           .gives_at = bounds.gives_at,
                           .has_stop = bounds.has_stop && !way->open[i],
                           .travel = r->travel[i],
                           .stopped = r->stopped[i],
                           .energy = r->energy[i],
                           .kept = r->kept[i]};
    if (status == TW_OK) {
      status =
          tw_crash_travel(way->stage, way->stages, bounds.gives_at, NULL, &s->gives_travel, fault);
    }
    if (status == TW_OK && s->has_stop) {
      s->limit = bounds.limit;
      s->stop_force = bounds.stop_force;
      s->far = s->stop_force > known;
      status =
          tw_crash_travel(way->stage, way->stages, bounds.stop_force, NULL, &s->stop_travel, fault);
    }
    out->energy += r->energy[i];
    out->kept += r->kept[i];
    if (s->gives_at > FREE &&
        (out->first_stage == way->stages || s->gives_at < out->stage[out->first_stage].gives_at)) {
      out->first_stage = i;
    }
  }
  return status;
}

static void tell_members(const tw_crash_way *way, tw_course *out)
{
  const tw_crash *r = &way->result;
  const double known = known_to(way);
  out->members = way->members;
  for (size_t i = 0; i < way->members; i++) {
    const tw_crash_member *m = &way->member[i];
    out->member[i] = (tw_course_member){.name = m->name,
                                        .field = m->field,
                                        .load = tw_crash_load(way->stage, m, r->force),
                                        .stress = r->stress[i],
                                        .allowable = m->allowable,
                                        .ratio = r->ratio[i],
                                        .can_fail = r->can_fail[i],
                                        .fail_force = r->fail_force[i],
                                        .fail_travel = r->fail_travel[i],
                                        .far = r->can_fail[i] && r->fail_force[i] > known};
  }
  out->fails = r->fails;
  out->first = r->has_first ? r->first : way->members;
  out->crash_force = tw_crash_way_force(way);
}

static void tell_order(const tw_crash_way *way, tw_course *out)
{
  tw_crash_mark mark[TW_COURSE_MARKS];
  out->marks = tw_crash_way_marks(way, mark);
  for (size_t i = 0; i < out->marks; i++) {
    out->mark[i] = (tw_course_mark){mark[i].name, mark[i].field, mark[i].force,
                                    i > 0 && !(mark[i].force > mark[i - 1].force)};
  }
}

/* ---- the curve ------------------------------------------------------------------------------- */

static void add_corner(double *corner, size_t *count, double force, double most)
{
  if (force > FREE && force < most && *count < CORNERS) {
    corner[(*count)++] = force;
  }
}

/* the force at the end of the picture */
static tw_status end_of_picture(const tw_crash_way *way, const tw_course *c, double *most,
                                tw_fault *fault)
{
  if (c->fails) {
    const double end = fmin(c->travel, PAST_FAILURE * c->member[c->first].fail_travel);
    return tw_crash_force(way->stage, way->stages, end, most, fault);
  }
  *most = c->force;
  for (size_t i = 0; i < c->members; i++) {
    if (c->member[i].can_fail && !c->member[i].far &&
        c->member[i].fail_travel <= PAST_TRAVEL * c->travel) {
      *most = fmax(*most, 1.02 * c->member[i].fail_force);
    }
  }
  return TW_OK;
}

static tw_status add_row(const tw_crash_way *way, double force, tw_course *out, tw_fault *fault)
{
  double each[TW_CRASH_STAGES];
  const size_t n = out->rows;
  if (n >= TW_COURSE_ROWS) {
    return TW_OK;
  }
  const tw_status status =
      tw_crash_travel(way->stage, way->stages, force, each, &out->row_travel[n], fault);
  if (status != TW_OK) {
    return status;
  }
  out->row_force[n] = force;
  for (size_t s = 0; s < way->stages; s++) {
    out->row_stage[s][n] = each[s];
  }
  for (size_t i = 0; i < way->members; i++) {
    const tw_crash_member *m = &way->member[i];
    out->row_ratio[i][n] =
        tw_crash_load(way->stage, m, force) * m->share * m->stress_per_newton / m->allowable;
  }
  out->rows++;
  return TW_OK;
}

/* forces at which the curve bends, then steps between them: travel follows from force in one
 * pass, and force rises along the row */
static tw_status draw(const tw_crash_way *way, tw_course *out, tw_fault *fault)
{
  double corner[CORNERS + 2], most = 0;
  size_t corners = 0;
  tw_status status = end_of_picture(way, out, &most, fault);
  corner[corners++] = 0;
  for (size_t i = 0; i < out->stages; i++) {
    add_corner(corner, &corners, out->stage[i].gives_at, most);
    add_corner(corner, &corners, out->stage[i].stop_force, most);
  }
  for (size_t i = 0; i < out->members; i++) {
    add_corner(corner, &corners, out->member[i].fail_force, most);
  }
  corner[corners++] = most;
  qsort(corner, corners, sizeof *corner, tw_compare_doubles);
  for (size_t k = 0; k + 1 < corners && status == TW_OK; k++) {
    const int steps = corner[k + 1] > corner[k] + FREE ? BETWEEN : 0;
    for (int i = 0; i < steps && status == TW_OK; i++) {
      const double share = (double)i / steps;
      status = add_row(way, corner[k] + (corner[k + 1] - corner[k]) * share * share, out, fault);
    }
  }
  return status == TW_OK ? add_row(way, most, out, fault) : status;
}

tw_status tw_crash_way_course(const tw_crash_way *way, tw_course *out, tw_fault *fault)
{
  memset(out, 0, sizeof *out);
  out->name = way->name;
  out->azimuth = way->azimuth;
  out->elevation = way->elevation;
  out->trip = way->trip;
  out->travel = way->travel;
  out->force = way->result.force;
  tw_status status = tell_stages(way, out, fault);
  if (status == TW_OK) {
    tell_members(way, out);
    tell_order(way, out);
    status = draw(way, out, fault);
  }
  out->known = status == TW_OK;
  return status;
}
