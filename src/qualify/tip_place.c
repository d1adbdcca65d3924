/* tip_place.c: what else moves the recorded point: the ball off the axis, and the delay. */
#include "inner.h"
#include "tripwright/qualify_tip.h"

#include <math.h>
#include <string.h>

#define TW_TURNS_MOST 16 /* spindle angles of one offset test */
#define TW_SAME_TURN  (0.5 * TW_PI / 180.0)

/* ---- delay -----------------------------------------------------------------------------------
 */

tw_status tw_tip_take_delay(tw_tip *tip, const tw_feed_error *e, double low, double high,
                            tw_fault *fault)
{
  if (e->delay_interval.high < 0.0) {
    return tw_fail(fault, TW_BAD_INPUT, "delay",
                   "count the error along the travel, larger further into the work: after touches "
                   "towards -X, -Y or -Z turn its sign; near the slowest feed touch faster",
                   "the error falls as the feed rises (%.4g ms, at most %.4g): that is no delay",
                   1e3 * e->delay, 1e3 * e->delay_interval.high);
  }
  tip->delay = e->delay;
  tip->delay_u = e->delay_u;
  tip->feed_low = low;
  tip->feed_high = high;
  return TW_OK;
}

/* ---- ball off the axis -----------------------------------------------------------------------
 */

void tw_tip_take_offset(tw_tip *tip, const tw_offset *centres)
{
  /* the ball meets the ring where the ring is, so the spindle, and with it what is recorded, is
   * shifted by the ball's place the other way */
  tip->offset[0] = -centres->offset[0];
  tip->offset[1] = -centres->offset[1];
  tip->offset_u = centres->u;
}

/* touches sorted by the spindle angle that they were made at */
struct turns {
  size_t count, touches[TW_TURNS_MOST];
  double angle[TW_TURNS_MOST];
};

static size_t turn_of(const struct turns *t, double spindle)
{
  for (size_t k = 0; k < t->count; k++) {
    if (fabs(remainder(spindle - t->angle[k], 2.0 * TW_PI)) < TW_SAME_TURN) {
      return k;
    }
  }
  return t->count;
}

static tw_status sort(const double *spindle, size_t n, struct turns *t, tw_fault *fault)
{
  for (size_t i = 0; i < n; i++) {
    const size_t k = turn_of(t, spindle[i]);
    if (k == TW_TURNS_MOST) {
      return tw_fail(fault, TW_BAD_INPUT, "spindle", "two or four spindle angles are usual",
                     "more than %d spindle angles", TW_TURNS_MOST);
    }
    if (k == t->count) {
      t->angle[t->count++] = spindle[i];
    }
    t->touches[k]++;
  }
  for (size_t k = 0; k < t->count; k++) {
    if (t->touches[k] < 4) {
      return tw_fail(fault, TW_BAD_INPUT, "spindle", "touch the ring four times at each angle",
                     "%zu touches at the spindle angle of %g degrees", t->touches[k],
                     t->angle[k] * 180.0 / TW_PI);
    }
  }
  return TW_OK;
}

struct finding {
  const double *spindle, *point;
  size_t n;
  bool inside;
  struct turns turns;
  double *room; /* points of one angle as recorded, and corrected */
};

/* each touch moved by the effective radius in its direction lies on the ring, seen from the axis */
static bool without_lobes(const tw_tip *tip, const struct finding *f, size_t m, double spindle,
                          const tw_fit *about)
{
  for (size_t i = 0; i < m; i++) {
    const double *p = f->room + 2 * i;
    double *q = f->room + 2 * f->n + 2 * i;
    const double x = p[0] - about->centre[0], y = p[1] - about->centre[1];
    const double azimuth = f->inside ? atan2(-y, -x) : atan2(y, x);
    double radius, u;
    if (!tw_tip_radius(tip, azimuth - spindle, &radius, &u)) {
      return false;
    }
    q[0] = p[0] - radius * cos(azimuth);
    q[1] = p[1] - radius * sin(azimuth);
  }
  return true;
}

static tw_status centre_at(const tw_tip *tip, const struct finding *f, size_t turn,
                           double centre[2], double *u, tw_fault *fault)
{
  size_t m = 0;
  for (size_t i = 0; i < f->n; i++) {
    if (turn_of(&f->turns, f->spindle[i]) == turn) {
      memcpy(f->room + 2 * m++, f->point + 2 * i, 2 * sizeof *f->room);
    }
  }
  tw_fit fit, better;
  tw_status status = tw_fit_form(TW_CIRCLE, f->room, m, 2, NULL, &fit, fault);
  if (status == TW_OK && !without_lobes(tip, f, m, f->turns.angle[turn], &fit)) {
    return tw_fail(fault, TW_NO_ANSWER, "azimuth", "touch the ring of the table all round",
                   "the table does not cover a direction in which the offset was touched");
  }
  status = status == TW_OK ? tw_fit_form(TW_CIRCLE, f->room + 2 * f->n, m, 2, NULL, &better, fault)
                           : status;
  if (status == TW_OK) {
    memcpy(centre, better.centre, 2 * sizeof *centre);
    *u = fmax(better.centre_u[0], better.centre_u[1]);
  }
  return status;
}

static tw_status offset_with(const tw_tip *tip, const struct finding *f, tw_offset *out,
                             tw_fault *fault)
{
  double centre[2 * TW_TURNS_MOST], squares = 0.0;
  for (size_t k = 0; k < f->turns.count; k++) {
    double u = 0.0;
    const tw_status status = centre_at(tip, f, k, centre + 2 * k, &u, fault);
    if (status != TW_OK) {
      return status;
    }
    squares += u * u;
  }
  /* two centres leave nothing to tell their scatter by: the touches do */
  const double stated = f->turns.count == 2 ? sqrt(0.5 * squares) : 0.0;
  return tw_offset_of(f->turns.angle, centre, f->turns.count, stated, out, fault);
}

/* what the table's own uncertainty makes of the offset: each row moved by its u, one at a time */
static tw_status table_share(tw_tip *tip, const struct finding *f, const tw_offset *o, double *u,
                             tw_fault *fault)
{
  double sum[2] = {0.0, 0.0};
  tw_status status = TW_OK;
  for (size_t i = 0; i < 2 * tip->count && status == TW_OK; i++) {
    tw_tip_row *row = &tip->row[i / 2];
    const bool none = i % 2 == 1 && (tip->kind == TW_TIP_BINS || row->order == 0);
    if (none) {
      continue;
    }
    double *part = i % 2 ? &row->b : &row->a;
    const double kept = *part;
    tw_offset moved;
    *part += row->u;
    status = offset_with(tip, f, &moved, fault);
    *part = kept;
    for (int k = 0; k < 2 && status == TW_OK; k++) {
      sum[k] += (moved.offset[k] - o->offset[k]) * (moved.offset[k] - o->offset[k]);
    }
  }
  *u = sqrt(fmax(sum[0], sum[1]));
  return status;
}

tw_status tw_tip_offset_from_touches(tw_tip *tip, const double *spindle, const double *point,
                                     size_t n, tw_feature feature, tw_fault *fault)
{
  struct finding f = {.spindle = spindle, .point = point, .n = n, .inside = feature == TW_RING};
  tw_offset o;
  double u = 0.0;
  tw_status status = tw_all_finite(spindle, n, "spindle", fault);
  status = status == TW_OK ? tw_all_finite(point, 2 * n, "point", fault) : status;
  status = status == TW_OK ? sort(spindle, n, &f.turns, fault) : status;
  f.room = status == TW_OK ? tw_alloc(n, 4 * sizeof *f.room) : NULL;
  if (!f.room) {
    return status == TW_OK ? tw_no_memory(fault) : status;
  }
  status = offset_with(tip, &f, &o, fault);
  status = status == TW_OK ? table_share(tip, &f, &o, &u, fault) : status;
  tw_free(f.room);
  if (status == TW_OK) {
    o.u = hypot(o.u, u);
    tw_tip_take_offset(tip, &o);
  }
  return status;
}

double tw_tip_hidden_by_four(const tw_tip *tip)
{
  double sum = 0.0;
  for (size_t i = 0; i < tip->count && tip->kind == TW_TIP_HARMONICS; i++) {
    const tw_tip_row *r = &tip->row[i];
    if (r->order == 3 || r->order == 5) {
      sum += hypot(r->a, r->b);
    }
  }
  return sum;
}
