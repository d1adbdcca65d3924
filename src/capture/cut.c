/* cut.c: step, decay, ring and hum of one released weight, fitted through the instrument. */
#include "act.h"

#include <math.h>
#include <string.h>

#define DROPPED     0.4e-3 /* s to each side of the cut that the blunt fit leaves out */
#define POINTS_MOST 12000
#define RING_LEAST  150.0 /* Hz, where a mounted mode is sought */
#define HUM_SLACK   1.0   /* Hz off 50 or 60 */
#define HUM_LENGTH  0.03  /* s, shortest record in which hum is sought */
#define HUM_SIGMAS  8
#define HUM_KEPT    4
#define CUT_LEAST   0.02   /* of an interval: what a cut lasts at least */
#define USUAL_CUT   0.1e-3 /* s, scissors through a thread */
#define RING_FREE   1.15   /* a ring that need not start from rest must fit so much better */
#define AGREES      2.0    /* rms over the noise that a fit of the whole course may leave */

enum { P_SHAPE, P_RING, P_DAMPING, P_AT, P_CUT, P_HUM };

struct model {
  const tw_cut *cut;
  bool whole; /* the onset is part of the fit */
  bool ring, free_ring, hum;
  double hum_start;
  tw_course *course; /* of the p at hand */
};

static bool plant_of(const tw_cut *c, double p, tw_plant *plant)
{
  const double value = exp(p);
  if (!(value > 0) || !isfinite(value)) {
    return false;
  }
  if (c->coupled) {
    tw_plant_coupled(value, c->bias, c->input, c->coupling, plant);
  } else {
    tw_plant_direct(value, plant);
  }
  return isfinite(plant->weight[0]) && isfinite(plant->weight[1]);
}

static double cut_time(const tw_cut *c, double p)
{
  return c->cut_time > 0 ? c->cut_time : c->interval * (CUT_LEAST + exp(p));
}

/* within HUM_SLACK of the mains, smoothly, so that a walk never runs against a wall */
static double hum_hz(const struct model *m, const double *p)
{
  return m->hum_start + HUM_SLACK * tanh(p[P_HUM]);
}

static bool prepare(const double *p, const void *self)
{
  const struct model *m = self;
  const tw_cut *c = m->cut;
  tw_plant plant;
  const double w0 = TW_TWO_PI * exp(p[P_RING]), zeta = exp(p[P_DAMPING]);
  if (!plant_of(c, p[P_SHAPE], &plant) || !(zeta < 0.9) || fabs(p[P_AT]) > 1e4 || p[P_CUT] > 12 ||
      !isfinite(w0)) {
    return false;
  }
  tw_course_set(&plant, cut_time(c, p[P_CUT]), zeta * w0, w0 * sqrt(1 - zeta * zeta), m->course);
  return true;
}

/* columns: offset, step (with its ring when the ring starts from rest), ring twice, hum twice, tail
 */
static bool columns(double t, const double *p, double *row, const void *self)
{
  const struct model *m = self;
  const tw_course *o = m->course;
  double step, ring[2];
  tw_course_at(o, t - p[P_AT] * m->cut->interval + o->cut / 2, &step, ring);
  size_t k = 0;
  row[k++] = 1;
  /* from rest: 1 - e^-at (cos wt + a/w sin wt) */
  row[k++] = m->ring && !m->free_ring ? step - (ring[0] + o->a / o->w * ring[1]) : step;
  if (m->ring && m->free_ring) {
    row[k++] = ring[0];
    row[k++] = ring[1];
  }
  if (m->hum) {
    const double w = TW_TWO_PI * hum_hz(m, p);
    row[k++] = cos(w * t);
    row[k++] = sin(w * t);
  }
  if (m->cut->tail) {
    row[k++] = exp(-o->plant.rate[0] * t);
  }
  return isfinite(row[1]);
}

static size_t width_of(const struct model *m)
{
  return 2u + (m->ring && m->free_ring ? 2u : 0u) + (m->hum ? 2u : 0u) + (m->cut->tail ? 1u : 0u);
}

struct points {
  double *t, *v;
  size_t count;
};

static bool clipped(const tw_clip *clip, double v)
{
  return clip && (v >= clip->most || v <= clip->least);
}

/* the samples that a fit uses: not clipped, thinned when there are very many, without the onset
 * unless `whole` */
static void pick(const tw_cut *c, bool whole, struct points *out)
{
  const size_t stride = (c->to - c->from) / POINTS_MOST + 1;
  out->count = 0;
  for (size_t i = c->from; i < c->to; i++) {
    const double t = ((double)i - (double)c->event) * c->interval;
    const bool near = fabs(t) < 4 * DROPPED;
    if (clipped(c->clip, c->v[i]) || (!whole && fabs(t) < DROPPED) ||
        (i % stride != 0 && !(whole && near))) {
      continue;
    }
    out->t[out->count] = t;
    out->v[out->count++] = c->v[i];
  }
}

static void set_up(tw_sep *s, const struct model *m, const struct points *pts, size_t free)
{
  s->points = pts->count;
  s->t = pts->t;
  s->v = pts->v;
  s->weight = NULL;
  s->linear = width_of(m);
  s->free = free;
  s->basis = columns;
  s->prepare = prepare;
  s->self = m;
}

/* ---- starts -----------------------------------------------------------------------------------
 */

/* the shape over a grid, step without ring */
static tw_status start_shape(tw_cut *c, struct model *m, const struct points *pts, tw_fault *fault)
{
  const double longest = (double)(c->to - c->event) * c->interval;
  double best = (double)INFINITY, shape = 0;
  tw_status last = TW_NO_ANSWER;
  m->ring = false;
  for (int k = 0; k < 36; k++) {
    const double tau = 4 * c->interval * pow(longest / c->interval, k / 35.0);
    c->fit.p[P_SHAPE] = log(c->coupled ? tau / c->input : tau);
    set_up(&c->fit, m, pts, 0);
    const tw_status status = tw_sep_linear(&c->fit, fault);
    if (status == TW_NO_MEMORY || status == TW_BAD_INPUT) {
      return status;
    }
    if (status == TW_OK && c->fit.rms < best) {
      best = c->fit.rms;
      shape = c->fit.p[P_SHAPE];
      last = TW_OK;
    }
  }
  c->fit.p[P_SHAPE] = shape;
  set_up(&c->fit, m, pts, 0);
  return last == TW_OK ? tw_sep_linear(&c->fit, fault) : last;
}

/* ring frequency: the largest line of what the step leaves */
static tw_status start_ring(tw_cut *c, struct model *m, tw_fault *fault)
{
  const size_t n = c->to - c->event;
  double *rest = tw_alloc(n, sizeof *rest);
  double hz = 0;
  if (!rest) {
    return tw_fail(fault, TW_NO_MEMORY, "", NULL, "out of memory");
  }
  /* the first eighth of the record or forty decays of the ring, whichever: there it is loudest */
  for (size_t i = 0; i < n; i++) {
    const double v = c->v[c->event + i];
    rest[i] = clipped(c->clip, v) ? 0 : v - tw_sep_at(&c->fit, (double)i * c->interval);
  }
  const size_t loud = n / 4 > 256 ? n / 4 : n;
  const bool fine = tw_line(rest, loud, c->interval, RING_LEAST, 0.45 / c->interval, &hz);
  tw_free(rest);
  if (!fine) {
    return tw_fail(fault, TW_NO_MEMORY, "", NULL, "out of memory");
  }
  m->ring = hz > 0;
  c->fit.p[P_RING] = log(hz > 0 ? hz : 1000);
  return TW_OK;
}

/* damping over a grid, ring free: both quadratures */
static tw_status start_damping(tw_cut *c, struct model *m, const struct points *pts,
                               tw_fault *fault)
{
  double best = (double)INFINITY, damping = log(0.02);
  m->free_ring = true;
  for (int k = 0; m->ring && k < 12; k++) {
    c->fit.p[P_DAMPING] = log(0.002) + k * 0.45;
    set_up(&c->fit, m, pts, 0);
    const tw_status status = tw_sep_linear(&c->fit, fault);
    if (status == TW_NO_MEMORY) {
      return status;
    }
    if (status == TW_OK && c->fit.rms < best) {
      best = c->fit.rms;
      damping = c->fit.p[P_DAMPING];
    }
  }
  c->fit.p[P_DAMPING] = damping;
  return TW_OK;
}

/* is there hum? the larger of 50 and 60 Hz, if the fit is much better with it */
static tw_status start_hum(tw_cut *c, struct model *m, const struct points *pts, tw_fault *fault)
{
  static const double mains[] = {50, 60};
  double least = c->fit.rms, best = 0;
  if (!c->look_for_hum || (double)(c->to - c->from) * c->interval < HUM_LENGTH) {
    return TW_OK;
  }
  for (size_t k = 0; k < 2; k++) {
    m->hum = true;
    m->hum_start = mains[k];
    c->fit.p[P_HUM] = 0;
    set_up(&c->fit, m, pts, 0);
    const tw_status status = tw_sep_linear(&c->fit, fault);
    if (status == TW_NO_MEMORY) {
      return status;
    }
    const size_t at = width_of(m) - 2 - c->tail;
    const double size = hypot(c->fit.c[at], c->fit.c[at + 1]);
    if (status == TW_OK && c->fit.rms < least &&
        size > HUM_SIGMAS * c->fit.rms * sqrt(2.0 / (double)pts->count)) {
      least = c->fit.rms;
      best = mains[k];
    }
  }
  m->hum = best > 0;
  m->hum_start = best;
  return TW_OK;
}

/* ---- the fits ---------------------------------------------------------------------------------
 */

static tw_status fit_with(tw_cut *c, const struct model *m, const struct points *pts,
                          tw_fault *fault)
{
  set_up(&c->fit, m, pts, m->hum ? 6 : 5);
  if (!m->hum) {
    c->fit.p[P_HUM] = 0;
  }
  return tw_sep_fit(&c->fit, fault);
}

static void keep_answer(tw_cut *c, const struct model *m)
{
  const tw_sep *s = &c->fit;
  const double shape = exp(s->p[P_SHAPE]);
  c->offset = s->c[0];
  c->step = s->c[1];
  c->u_step = tw_sep_u_linear(s, 1);
  c->shape = shape;
  c->u_shape = shape * tw_sep_u_free(s, P_SHAPE);
  if (m->ring) {
    c->ring = exp(s->p[P_RING]);
    c->damping = exp(s->p[P_DAMPING]);
    c->u_ring = c->ring * tw_sep_u_free(s, P_RING);
    c->u_damping = c->damping * tw_sep_u_free(s, P_DAMPING);
  }
  c->at = s->p[P_AT] * c->interval;
  c->u_at = c->interval * tw_sep_u_free(s, P_AT);
  c->cut = cut_time(c, s->p[P_CUT]);
  c->free_ring = m->free_ring;
  if (m->hum) {
    const size_t at = s->linear - 2 - c->tail;
    const double x = s->c[at], y = s->c[at + 1];
    double slope[TW_SEP_ALL] = {0};
    c->hum = hypot(x, y);
    slope[at] = x / c->hum;
    slope[at + 1] = y / c->hum;
    c->u_hum = sqrt(tw_sep_variance(s, slope));
    c->hum_hz = hum_hz(m, s->p);
    c->u_hum_hz = HUM_SLACK / pow(cosh(s->p[P_HUM]), 2) * tw_sep_u_free(s, P_HUM);
  }
  c->used = s->points;
}

/* from a cut of a sample and from one of a usual length: the walk stays in the valley it starts in
 */
static tw_status fit_cuts(tw_cut *c, const struct model *m, const struct points *pts,
                          tw_fault *fault)
{
  double start[TW_SEP_FREE];
  memcpy(start, c->fit.p, sizeof start);
  const tw_status status = fit_with(c, m, pts, fault);
  if (status == TW_NO_MEMORY || c->cut_time > 0) {
    return status;
  }
  const tw_sep one = c->fit;
  memcpy(c->fit.p, start, sizeof start);
  c->fit.p[P_CUT] = log(USUAL_CUT / c->interval);
  const tw_status other = fit_with(c, m, pts, fault);
  if (other == TW_NO_MEMORY) {
    return other;
  }
  if (other != TW_OK || (status == TW_OK && one.rms <= c->fit.rms)) {
    c->fit = one;
    return status;
  }
  return TW_OK;
}

/* A ring from rest first: it ties the moment of the cut. A free ring where that does not hold. */
static tw_status fit_whole(tw_cut *c, struct model *m, const struct points *pts, tw_fault *fault)
{
  double start[TW_SEP_FREE];
  memcpy(start, c->fit.p, sizeof start);
  m->free_ring = false;
  tw_status status = fit_cuts(c, m, pts, fault);
  if (status == TW_NO_MEMORY || !m->ring || (status == TW_OK && c->fit.rms <= AGREES * c->noise)) {
    return status;
  }
  const tw_sep tied = c->fit;
  if (status != TW_OK) {
    memcpy(c->fit.p, start, sizeof start);
  }
  m->free_ring = true;
  const tw_status loose = fit_with(c, m, pts, fault);
  if (loose == TW_NO_MEMORY) {
    return loose;
  }
  if (status == TW_OK && (loose != TW_OK || c->fit.rms * RING_FREE > tied.rms)) {
    c->fit = tied;
    m->free_ring = false;
    return TW_OK;
  }
  return loose;
}

/* is hum in what is left? then once more with it, kept when it stands well above its own u */
static tw_status fit_hum(tw_cut *c, struct model *m, const struct points *pts, tw_fault *fault)
{
  const tw_sep without = c->fit;
  tw_status status = start_hum(c, m, pts, fault);
  if (status == TW_OK && m->hum) {
    status = fit_with(c, m, pts, fault);
    if (status == TW_NO_MEMORY) {
      return status;
    }
    const size_t at = c->fit.linear - 2 - c->tail;
    const double size = hypot(c->fit.c[at], c->fit.c[at + 1]);
    const double u = hypot(tw_sep_u_linear(&c->fit, at), tw_sep_u_linear(&c->fit, at + 1));
    m->hum = status == TW_OK && c->fit.rms < without.rms && size > HUM_KEPT * u;
  }
  if (!m->hum) {
    c->fit = without;
    return status == TW_NO_MEMORY ? status : TW_OK;
  }
  return TW_OK;
}

/* Steps of the converter that noise does not spread: where the decay runs into one code all samples
 * err the same way. What the mean of a quantised value is off by at most, for a step q and normal
 * noise s: q/pi exp(-2 pi^2 (s/q)^2), the first term of the quantiser's Fourier series (B. Widrow,
 * "Statistical analysis of amplitude-quantized sampled-data systems", 1961, from memory). */
static void coarse(tw_cut *c)
{
  if (c->code > 0 && c->step != 0) {
    const double own = c->quiet * c->quiet - c->code * c->code / 12;
    const double ratio = own > 0 ? sqrt(own) / c->code : 0;
    const double off = c->code / TW_PI * exp(-2 * TW_PI * TW_PI * ratio * ratio);
    const double share = off / fabs(c->coupled ? c->step / c->shape : c->step);
    c->u_step = hypot(c->u_step, share * fabs(c->step));
    c->u_shape = hypot(c->u_shape, share * c->shape);
  }
}

/* the curve is asked for after the model here is gone: its choices go into the cut */
static struct model model_of(const tw_cut *c, tw_course *course)
{
  return (struct model){.cut = c,
                        .whole = true,
                        .ring = c->ring > 0,
                        .free_ring = c->free_ring,
                        .hum = c->hum_hz > 0,
                        .hum_start =
                            c->hum_hz > 0 ? c->hum_hz - HUM_SLACK * tanh(c->fit.p[P_HUM]) : 0,
                        .course = course};
}

double tw_cut_at(const tw_cut *c, double t)
{
  tw_course course;
  const struct model m = model_of(c, &course);
  double row[TW_SEP_LINEAR], value = 0;
  if (!prepare(c->fit.p, &m) || !columns(t, c->fit.p, row, &m)) {
    return (double)NAN;
  }
  for (size_t j = 0; j < c->fit.linear; j++) {
    value += c->fit.c[j] * row[j];
  }
  return value;
}

static tw_status starts(tw_cut *c, struct model *m, struct points *pts, tw_fault *fault)
{
  c->fit.p[P_AT] = 0;
  c->fit.p[P_CUT] = 0;
  c->fit.p[P_RING] = log(1000.0);
  c->fit.p[P_DAMPING] = log(0.02);
  pick(c, false, pts);
  tw_status status = start_shape(c, m, pts, fault);
  status = status == TW_OK ? start_ring(c, m, fault) : status;
  status = status == TW_OK ? start_damping(c, m, pts, fault) : status;
  return status;
}

tw_status tw_cut_fit(tw_cut *cut, tw_fault *fault)
{
  tw_course course;
  struct model m = {.cut = cut, .course = &course};
  const size_t n = cut->to - cut->from + 1;
  struct points pts = {.t = tw_alloc(n, sizeof(double)), .v = tw_alloc(n, sizeof(double))};
  tw_status status = pts.t && pts.v ? starts(cut, &m, &pts, fault)
                                    : tw_fail(fault, TW_NO_MEMORY, "", NULL, "out of memory");
  if (status == TW_OK) {
    pick(cut, true, &pts);
    m.whole = true;
    status = fit_whole(cut, &m, &pts, fault);
    status = status == TW_OK ? fit_hum(cut, &m, &pts, fault) : status;
  }
  if (status == TW_OK) {
    keep_answer(cut, &m);
    coarse(cut);
  }
  tw_free(pts.t);
  tw_free(pts.v);
  cut->fit.t = cut->fit.v = NULL;
  cut->fit.self = NULL;
  cut->fit.basis = NULL;
  return status;
}
