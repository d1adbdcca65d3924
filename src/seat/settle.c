/* settle.c: rest, and what can be said of it: preload, its rate, gain, clearance. */
#include "making.h"

#include <math.h>
#include <string.h>

double tw_seat_tip(const tw_seat_model *m, const double *v, int axis)
{
  const int j = (axis + 1) % 3, k = (axis + 2) % 3;
  /* u + theta x r */
  return v[axis] + (v[3 + j] * m->tip[k] - v[3 + k] * m->tip[j]) / m->length;
}

double tw_seat_turn(const tw_seat_model *m, const double *v)
{
  return sqrt(v[3] * v[3] + v[4] * v[4] + v[5] * v[5]) / m->length;
}

double tw_seat_disc_load(const tw_seat_model *m, const tw_seat_work *w)
{
  double s = 0.0;
  for (size_t i = 0; i < m->grouped; i++) {
    s += m->contact[i].backing ? 0.0 : w->load[i];
  }
  for (size_t j = 0; j < m->springs; j++) {
    s += m->grouped == 0 && m->spring[j].charge != 0.0 ? w->spring[j] : 0.0;
  }
  return s;
}

double tw_seat_clearance(const tw_seat_model *m, const tw_seat_work *w)
{
  double least = -1.0;
  for (size_t i = 0; i < m->grouped; i++) {
    if (m->contact[i].backing && (least < 0.0 || w->gap[i] < least)) {
      least = fmax(w->gap[i], 0.0);
    }
  }
  for (size_t j = 0; j < m->springs; j++) {
    for (int k = 0; k < 2; k++) {
      const double left = m->spring[j].void_gap[k] - m->spring[j].void_give[k] * w->spring[j];
      least = m->spring[j].void_give[k] > 0.0 && (least < 0.0 || left < least) ? fmax(left, 0.0)
                                                                               : least;
    }
  }
  return fmax(least, 0.0);
}

double tw_seat_charge(const tw_seat_model *m, const tw_seat_work *w)
{
  double q = 0.0;
  for (size_t i = 0; i < m->contacts; i++) {
    q += m->contact[i].charge * (w->load[i] - w->reference[i]);
  }
  for (size_t j = 0; j < m->springs; j++) {
    q += m->spring[j].charge * (w->spring[j] - w->reference_spring[j]);
  }
  return q;
}

void tw_seat_set_reference(const tw_seat_model *m, tw_seat_work *w)
{
  memcpy(w->reference, w->load, m->contacts * sizeof w->load[0]);
  memcpy(w->reference_spring, w->spring, m->springs * sizeof w->spring[0]);
}

/* dP/d(closing) with the carrier free to follow */
static double preload_rate(const tw_seat_model *m, const double *jacobian)
{
  double k[SEAT_DOF * SEAT_DOF], b[SEAT_DOF], diagonal = 0.0;
  for (size_t i = 0; i < SEAT_DOF; i++) {
    for (size_t j = 0; j < SEAT_DOF; j++) {
      k[i * SEAT_DOF + j] = jacobian[i * SEAT_ALL + j];
    }
    b[i] = jacobian[i * SEAT_ALL + SEAT_DOF];
    diagonal = fmax(diagonal, fabs(k[i * SEAT_DOF + i]));
  }
  double rate = jacobian[SEAT_ALL * SEAT_ALL - 1];
  for (size_t i = 0; i < SEAT_DOF; i++) {
    k[i * SEAT_DOF + i] += SEAT_SHIFT * diagonal;
  }
  if (m->grouped > 0 && tw_seat_lu_solve(SEAT_DOF, k, b)) {
    for (size_t i = 0; i < SEAT_DOF; i++) {
      rate -= jacobian[SEAT_DOF * SEAT_ALL + i] * b[i];
    }
  }
  return rate;
}

/* charge per newton of load from the carrier when the group is closed a little further */
static double gain_of(const tw_seat_model *m, const seat_set *s)
{
  double charge = 0.0, load = 0.0;
  for (size_t i = 0; i < m->grouped; i++) {
    if ((s->mask >> i) & 1) {
      const double rate = -s->map[SEAT_ALL][i];
      charge += m->contact[i].charge * rate;
      load += m->contact[i].backing ? 0.0 : rate;
    }
  }
  return load != 0.0 ? charge / load : 0.0;
}

static void gains(const tw_seat_model *m, tw_seat_work *w, tw_seat_rest *a)
{
  if (m->grouped == 0) {
    for (size_t j = 0; j < m->springs; j++) {
      a->charge_gain += m->spring[j].charge;
      a->has_backing = a->has_backing || m->spring[j].void_give[0] > 0.0;
    }
    a->backed = a->has_backing && !(a->clearance > 0.0);
    a->charge_gain_free = a->charge_gain;
    return;
  }
  a->charge_gain = gain_of(m, w->set);
  a->charge_gain_free = a->charge_gain;
  uint64_t backing = 0;
  for (size_t i = 0; i < m->grouped; i++) {
    backing |= m->contact[i].backing ? UINT64_C(1) << i : 0;
  }
  a->has_backing = backing != 0;
  a->backed = (w->set->mask & backing) != 0;
  if (a->backed) {
    const seat_set *s = tw_seat_set_of(m, w, w->set->mask & ~backing);
    a->charge_gain_free = s != NULL ? gain_of(m, s) : 0.0;
  }
}

static void preload_of(const tw_seat_model *m, const tw_seat_work *w, tw_seat_rest *a)
{
  if (m->grouped > 0) {
    a->preload = tw_seat_disc_load(m, w);
    return;
  }
  for (size_t i = 0; i < m->contacts; i++) {
    a->preload += w->load[i] * fabs(m->contact[i].row[2]);
  }
}

static void describe(const tw_seat_model *m, tw_seat_work *w, tw_seat_rest *a)
{
  const double *v = w->now.v;
  preload_of(m, w, a);
  a->closing = v[SEAT_DOF];
  for (int k = 0; k < 3; k++) {
    a->tip[k] = tw_seat_tip(m, v, k);
  }
  for (size_t i = 0; i < m->contacts; i++) {
    if (!m->contact[i].backing) {
      a->contacts++;
      a->open += m->bilateral || w->load[i] > SEAT_LOADED * m->force_scale ? 0 : 1;
    }
  }
  for (size_t i = 0; i < m->contacts; i++) {
    if (m->contact[i].senses) {
      a->least_sensing = a->sensing > 0 ? fmin(a->least_sensing, w->load[i]) : w->load[i];
      a->sensing++;
    }
  }
  for (size_t i = 0; i < m->grouped; i++) {
    a->complementarity = fmax(a->complementarity, fabs(tw_seat_pair(m, w, i)));
  }
  a->clearance = tw_seat_clearance(m, w);
  a->residual = w->residual;
  gains(m, w, a);
}

tw_status tw_seat_model_settle(tw_seat_model *m, bool closing_free, tw_fault *fault)
{
  tw_seat_work *w = tw_seat_work_new(m);
  if (w == NULL) {
    return tw_fail(fault, TW_NO_MEMORY, "", "", "no memory to settle the seat");
  }
  tw_status status = tw_seat_find_rest(m, w, closing_free, fault);
  if (status == TW_OK) {
    const seat_drive none = {.wall = false};
    double residual[SEAT_ALL], jacobian[SEAT_ALL * SEAT_ALL];
    /* once more, for loads, gaps and rates at the very place; cannot fail where it just worked */
    (void)tw_seat_residual(m, w, &none, w->now.v, 0.0, residual);
    tw_seat_jacobian(m, w, &none, jacobian);
    /* slips free of stress: s = slide v */
    for (size_t i = 0; i < m->contacts; i++) {
      for (size_t k = 0; k < 2; k++) {
        double s = 0.0;
        for (size_t j = 0; j < SEAT_DOF; j++) {
          s += m->contact[i].slide[k][j] * w->now.v[j];
        }
        w->now.slip[i][k] = s;
      }
    }
    m->rest = w->now;
    memcpy(m->rest_load, w->load, sizeof m->rest_load);
    describe(m, w, &m->answer);
    m->answer.preload_rate = preload_rate(m, jacobian);
  }
  tw_seat_work_free(w);
  return status;
}

void tw_seat_rest_of(const tw_seat_model *model, tw_seat_rest *out)
{
  *out = model->answer;
}

tw_seat_work *tw_seat_work_new(const tw_seat_model *model)
{
  tw_seat_work *w = tw_alloc(1, sizeof *w);
  if (w != NULL) {
    w->model = model;
    tw_seat_work_reset(model, w);
  }
  return w;
}

void tw_seat_work_free(tw_seat_work *work)
{
  tw_free(work);
}

/* back to rest after assembly, so that a direction does not depend on those before it */
void tw_seat_work_reset_state(const tw_seat_model *m, tw_seat_work *w)
{
  const seat_drive none = {.wall = false};
  double residual[SEAT_ALL];
  w->now = m->rest;
  w->failure = SEAT_NO_FAILURE;
  w->sticks = SEAT_STICKS;
  w->has_before = false;
  w->residual = m->answer.residual;
  (void)tw_seat_residual(m, w, &none, m->rest.v, 0.0, residual);
  tw_seat_set_reference(m, w);
}

void tw_seat_work_reset(const tw_seat_model *m, tw_seat_work *w)
{
  w->solves = w->iterations = w->bisections = 0;
  tw_seat_work_reset_state(m, w);
}

size_t tw_seat_disc_loads(const tw_seat_model *model, const tw_seat_work *work, double *radius,
                          double *azimuth, double *load)
{
  for (size_t i = 0; i < model->grouped; i++) {
    radius[i] = model->disc_radius[i];
    azimuth[i] = model->disc_azimuth[i];
    load[i] = model->contact[i].backing ? -work->load[i] : work->load[i];
  }
  return model->grouped;
}
