/* crash.c: things that give way one after the other, in series at the tip. */
#include "tripwright/constants.h"
#include "tripwright/numerics.h"
#include "tripwright/touch_crash.h"

#include "engine.h"
#include <math.h>
#include <string.h>

#define FORCE_MOST 1e7 /* N; beyond it nothing in a probe has a meaning */

/* halvings of a bracket; 50 use up the digits of a double */
#define HALVINGS 200

/* what a force or a travel is looked for by */
typedef struct wanted {
  const tw_crash_stage *stages;
  size_t count;
  const tw_crash_member *member;
  double value;
} wanted;

/* ---- one stage ---------------------------------------------------------------------------------
 */

static double end_of(const tw_crash_stage *s)
{
  double end = s->limit > 0.0 ? s->limit : (double)INFINITY;
  if (s->law == TW_CRASH_TABLE) {
    end = least(end, s->travel[s->count - 1]);
  } else if (s->law == TW_CRASH_EXACT && s->reach > 0.0) {
    end = least(end, s->reach);
  }
  return end;
}

/* force of the stage's own law at a travel within its end */
static double own_force(const tw_crash_stage *s, double x)
{
  switch (s->law) {
  case TW_CRASH_TABLE:
    return tw_touch_cubic_at(s->travel, s->force, s->count, x);
  case TW_CRASH_EXACT:
    return s->force_of(s->self, x);
  default:
    return s->gives_at + s->stiffness * x;
  }
}

static bool own_below(const void *self, double travel)
{
  const wanted *w = self;
  return own_force(w->stages, travel) < w->value;
}

/* travel of the stage under `force`; *stopped when it stands on its stop */
static double travel_under(const tw_crash_stage *s, double force, bool *stopped)
{
  const double end = end_of(s);
  *stopped = false;
  if (force <= own_force(s, 0.0)) {
    return 0.0;
  }
  if (isfinite(end)) {
    const double full = own_force(s, end);
    if (force >= full) {
      *stopped = true;
      return end + (force - full) / s->stop_stiffness;
    }
  }
  if (s->law == TW_CRASH_SPRING) {
    return (force - s->gives_at) / s->stiffness;
  }
  const wanted own = {.stages = s, .value = force};
  double low = 0.0;
  double high = isfinite(end) ? end : 1.0;
  tw_bisect(own_below, &own, 1e-15, HALVINGS, &low, &high);
  return 0.5 * (low + high);
}

static double total_under(const tw_crash_stage *s, size_t count, double force)
{
  double sum = 0.0;
  bool stopped = false;
  for (size_t i = 0; i < count; i++) {
    sum += travel_under(&s[i], force, &stopped);
  }
  return sum;
}

static bool total_below(const void *self, double force)
{
  const wanted *w = self;
  return total_under(w->stages, w->count, force) < w->value;
}

/* ---- checks ------------------------------------------------------------------------------------
 */

static tw_status check_table(const tw_crash_stage *s, tw_fault *fault)
{
  bool good = s->count >= 2 && s->travel && s->force && s->travel[0] == 0.0;
  for (size_t i = 0; good && i < s->count; i++) {
    good = isfinite(s->travel[i]) && isfinite(s->force[i]) && s->force[i] >= 0.0 &&
           (i == 0 || (s->travel[i] > s->travel[i - 1] && s->force[i] > s->force[i - 1])) &&
           (!s->unloading || (isfinite(s->unloading[i]) && s->unloading[i] <= s->force[i]));
  }
  return good ? TW_OK
              : tw_fail(fault, TW_BAD_INPUT, s->field,
                        "travel from 0 on and force rising in every row, unloading not above it",
                        "the force-travel table of %s is not usable", s->name);
}

static tw_status check_stage(const tw_crash_stage *s, tw_fault *fault)
{
  if (s->law == TW_CRASH_TABLE) {
    const tw_status status = check_table(s, fault);
    if (status != TW_OK) {
      return status;
    }
  } else if (s->law == TW_CRASH_SPRING && (!(s->gives_at >= 0.0) || !(s->stiffness > 0.0) ||
                                           !isfinite(s->gives_at) || !isfinite(s->stiffness))) {
    return tw_fail(fault, TW_BAD_INPUT, s->field, "give a stiffness above zero",
                   "%s has no usable stiffness or force at which it gives", s->name);
  }
  if (!(s->limit >= 0.0) || !isfinite(s->limit) ||
      (isfinite(end_of(s)) && !(s->stop_stiffness > 0.0 && isfinite(s->stop_stiffness)))) {
    return tw_fail(fault, TW_BAD_INPUT, s->field, "give the stiffness of the stop",
                   "%s can meet a stop whose stiffness is not known", s->name);
  }
  return TW_OK;
}

static tw_status check_all(const tw_crash_stage *stages, size_t count, double travel,
                           tw_fault *fault)
{
  if (count == 0 || count > TW_CRASH_STAGES) {
    return tw_fail(fault, TW_BAD_INPUT, "", "1 to 12 stages", "there are %zu stages", count);
  }
  if (!(travel >= 0.0) || !isfinite(travel)) {
    return tw_fail(fault, TW_BAD_INPUT, "housing.travel_side", "give 0 or more",
                   "the crash travel is not usable");
  }
  for (size_t i = 0; i < count; i++) {
    const tw_status status = check_stage(&stages[i], fault);
    if (status != TW_OK) {
      return status;
    }
  }
  return TW_OK;
}

/* ---- the row -----------------------------------------------------------------------------------
 */

tw_status tw_crash_force(const tw_crash_stage *stages, size_t count, double travel, double *force,
                         tw_fault *fault)
{
  *force = 0.0;
  const tw_status status = check_all(stages, count, travel, fault);
  if (status != TW_OK || travel == 0.0) {
    return status;
  }
  double high = 1e-3;
  while (total_under(stages, count, high) < travel) {
    high *= 2.0;
    if (high > FORCE_MOST) {
      return tw_fail(fault, TW_NO_ANSWER, stages[0].field, "give something that gives way",
                     "nothing gives way by %.4g mm", travel * 1e3);
    }
  }
  const wanted total = {.stages = stages, .count = count, .value = travel};
  double low = 0.0;
  tw_bisect(total_below, &total, 1e-15, HALVINGS, &low, &high);
  *force = 0.5 * (low + high);
  return TW_OK;
}

tw_status tw_crash_travel(const tw_crash_stage *stages, size_t count, double force, double *each,
                          double *total, tw_fault *fault)
{
  *total = 0.0;
  tw_status status = check_all(stages, count, 0.0, fault);
  if (status == TW_OK && !(force >= 0.0 && force <= FORCE_MOST)) {
    status = tw_fail(fault, TW_BAD_INPUT, stages[0].field, "give 0 or more",
                     "the force of the crash is not usable");
  }
  for (size_t i = 0; i < count && status == TW_OK; i++) {
    bool stopped = false;
    const double x = travel_under(&stages[i], force, &stopped);
    *total += x;
    if (each) {
      each[i] = x;
    }
  }
  return status;
}

tw_status tw_crash_bounds_of(const tw_crash_stage *stage, tw_crash_bounds *out, tw_fault *fault)
{
  *out = (tw_crash_bounds){0};
  const tw_status status = check_stage(stage, fault);
  if (status == TW_OK) {
    const double end = end_of(stage);
    out->gives_at = own_force(stage, 0.0);
    out->has_stop = (bool)isfinite(end);
    out->limit = out->has_stop ? end : 0.0;
    out->stop_force = out->has_stop ? own_force(stage, end) : 0.0;
  }
  return status;
}

/* integral of a stage's own force over 0..x by Gauss-Legendre on panels: between a table's rows,
 * where the cubics join, or even ones */
static double work_over(const tw_crash_stage *s, const double *force, double x)
{
  static const double at[3] = {0.1127016653792583, 0.5, 0.8872983346207417};
  static const double weight[3] = {5.0 / 18.0, 8.0 / 18.0, 5.0 / 18.0};
  const bool table = s->law == TW_CRASH_TABLE;
  const size_t panels = table ? s->count - 1 : 64;
  double sum = 0.0;
  for (size_t i = 0; i < panels; i++) {
    const double a = table ? s->travel[i] : x * (double)i / (double)panels;
    const double b = table ? least(s->travel[i + 1], x) : x * (double)(i + 1) / (double)panels;
    for (int k = 0; k < 3 && b > a; k++) {
      const double p = a + (b - a) * at[k];
      sum += (b - a) * weight[k] *
             (force ? tw_touch_cubic_at(s->travel, force, s->count, p) : own_force(s, p));
    }
  }
  return sum;
}

static void fill_energy(const tw_crash_stage *s, double x, double force, double *taken,
                        double *kept)
{
  const double end = end_of(s);
  const double own = least(x, end);
  *kept = 0.0;
  if (s->law == TW_CRASH_SPRING) {
    *taken = own * (s->gives_at + 0.5 * s->stiffness * own);
  } else {
    *taken = work_over(s, NULL, own);
    if (s->law == TW_CRASH_TABLE && s->unloading) {
      *kept = *taken - work_over(s, s->unloading, own);
    }
  }
  if (x > end) { /* the stop on top */
    *taken += (x - end) * 0.5 * (own_force(s, end) + force);
  }
}

double tw_crash_load(const tw_crash_stage *stages, const tw_crash_member *m, double force)
{
  const tw_crash_stage *s = &stages[m->stage];
  bool stopped = false;
  const double x = least(travel_under(s, force, &stopped), end_of(s));
  double load = force;
  if (m->load_under) {
    load = m->load_under(m->self, force);
  } else if (m->load_of) {
    load = m->load_of(m->self, x);
  } else if (!m->whole && stopped) {
    load = own_force(s, x);
  }
  return load;
}

static double stress_under(const tw_crash_stage *stages, const tw_crash_member *m, double force)
{
  return m->stress_per_newton * tw_crash_load(stages, m, force) * m->share;
}

static bool stress_below(const void *self, double force)
{
  const wanted *w = self;
  return stress_under(w->stages, w->member, force) < w->member->allowable;
}

/* force that brings a member to its allowable; false: none does */
static bool failing_force(const tw_crash_stage *stages, const tw_crash_member *m, double *force)
{
  double high = 1e-3;
  while (stress_under(stages, m, high) < m->allowable) {
    high *= 2.0;
    if (high > FORCE_MOST) {
      return false;
    }
  }
  const wanted stress = {.stages = stages, .member = m};
  double low = 0.0;
  tw_bisect(stress_below, &stress, 1e-14, HALVINGS, &low, &high);
  *force = high;
  return true;
}

static tw_status fill_members(const tw_crash_stage *stages, size_t stage_count,
                              const tw_crash_member *members, size_t count, double travel,
                              tw_crash *out, tw_fault *fault)
{
  for (size_t i = 0; i < count; i++) {
    const tw_crash_member *m = &members[i];
    if (m->stage >= stage_count || !(m->allowable > 0.0) || !(m->stress_per_newton > 0.0) ||
        !(m->share > 0.0) || !isfinite(m->allowable + m->stress_per_newton + m->share)) {
      return tw_fail(fault, TW_BAD_INPUT, m->field, "give stress per newton and allowable",
                     "%s has no usable stress or allowable", m->name);
    }
    out->stress[i] = stress_under(stages, m, out->force);
    out->ratio[i] = out->stress[i] / m->allowable;
    out->can_fail[i] = failing_force(stages, m, &out->fail_force[i]);
    if (!out->can_fail[i]) {
      out->fail_force[i] = 0.0;
      continue;
    }
    out->fail_travel[i] = total_under(stages, stage_count, out->fail_force[i]);
    if (!out->has_first || out->fail_force[i] < out->fail_force[out->first]) {
      out->first = i;
      out->has_first = true;
    }
    out->fails = out->fails || out->fail_travel[i] <= travel;
  }
  return TW_OK;
}

tw_status tw_crash_run(const tw_crash_stage *stages, size_t stage_count,
                       const tw_crash_member *members, size_t member_count, double travel,
                       tw_crash *out, tw_fault *fault)
{
  memset(out, 0, sizeof *out);
  if (member_count > TW_CRASH_MEMBERS) {
    return tw_fail(fault, TW_BAD_INPUT, "", "at most 12", "there are %zu members", member_count);
  }
  tw_status status = tw_crash_force(stages, stage_count, travel, &out->force, fault);
  if (status == TW_OK) {
    status = fill_members(stages, stage_count, members, member_count, travel, out, fault);
  }
  if (status != TW_OK) {
    memset(out, 0, sizeof *out);
    return status;
  }
  for (size_t i = 0; i < stage_count; i++) {
    out->travel[i] = travel_under(&stages[i], out->force, &out->stopped[i]);
    fill_energy(&stages[i], out->travel[i], out->force, &out->energy[i], &out->kept[i]);
    out->total += out->energy[i];
  }
  return TW_OK;
}

/* ---- order -------------------------------------------------------------------------------------
 */

size_t tw_crash_order_warn(const char *direction, const tw_crash_mark *marks, size_t count,
                           tw_messages *messages)
{
  size_t wrong = 0;
  for (size_t i = 1; i < count; i++) {
    if (marks[i].force > marks[i - 1].force) {
      continue;
    }
    wrong++;
    if (messages) {
      tw_messages_add(
          messages, TW_WARNING, (tw_place){0}, marks[i].field, NULL,
          "raise it, or lower what should come before it",
          "In a crash %s: %s at %.4g N, before %s at %.4g N. The better order is the reverse.",
          direction, marks[i].name, marks[i].force, marks[i - 1].name, marks[i - 1].force);
    }
  }
  return wrong;
}

double tw_crash_stem_stress(double length, double diameter)
{
  return 32.0 * length / (TW_PI * diameter * diameter * diameter);
}

/* ---- after it ----------------------------------------------------------------------------------
 */

tw_status tw_crash_reseat_of(tw_crash_locating locating, double play, double friction,
                             double holddown, double lateral_stiffness, tw_crash_reseat *out,
                             tw_fault *fault)
{
  *out = (tw_crash_reseat){0};
  if (!(play >= 0.0) || !(friction >= 0.0) || !(holddown >= 0.0) ||
      !isfinite(play + friction + holddown)) {
    return tw_fail(fault, TW_BAD_INPUT, "holddown.play", "give 0 or more",
                   "play, friction or hold-down is not usable");
  }
  if (!(lateral_stiffness >= 0.0) || !isfinite(lateral_stiffness)) {
    return tw_fail(fault, TW_BAD_INPUT, "holddown.lateral_stiffness", "give 0 or more",
                   "the stiffness that pulls the holder back is not usable");
  }
  if (locating == TW_CRASH_KINEMATICALLY) {
    return TW_OK;
  }
  /* it is pulled back until friction holds it; the hole's edge holds it at the latest */
  out->play = play;
  out->by_friction = lateral_stiffness > 0.0 ? friction * holddown / lateral_stiffness : play;
  out->offset = least(out->play, out->by_friction);
  out->tram_again = out->offset > 0.0;
  return TW_OK;
}
