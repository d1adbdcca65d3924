/* motion.c: the machine's travel as cubics in time: approach, jerk-limited stop, retract. */
#include "engine.h"
#include <math.h>

/* T = v/a + a/j when v j >= a^2, else 2 sqrt(v/j); distance v T/2 by symmetry */
tw_status tw_touch_stopping(double feed, double acceleration, double jerk, tw_touch_stop *out,
                            tw_fault *fault)
{
  *out = (tw_touch_stop){0};
  if (!(feed >= 0.0) || !isfinite(feed)) {
    return tw_fail(fault, TW_BAD_INPUT, "machine.feed", "give a feed of 0 or more",
                   "the feed is not a number of 0 or more");
  }
  if (!(acceleration > 0.0) || !isfinite(acceleration)) {
    return tw_fail(fault, TW_BAD_INPUT, "machine.acceleration", "0.5 m/s2 is a small machine",
                   "the acceleration of the stop must be above zero");
  }
  if (!(jerk >= 0.0) || !isfinite(jerk)) {
    return tw_fail(fault, TW_BAD_INPUT, "machine.jerk", "0 means: not limited",
                   "the jerk must be 0 or more");
  }
  if (jerk == 0.0) {
    out->time = feed / acceleration;
  } else if (feed * jerk >= acceleration * acceleration) {
    out->time = feed / acceleration + acceleration / jerk;
  } else {
    out->time = 2.0 * sqrt(feed / jerk);
  }
  out->distance = 0.5 * feed * out->time;
  return TW_OK;
}

/* append a piece that begins where the one before ends */
static int append(segment *out, int n, double length, double a, double j)
{
  segment *s = &out[n];
  double x = 0.0;
  double v = 0.0;
  double ignored = 0.0;
  touch_body(&out[n - 1], out[n - 1].end, &x, &v, &ignored);
  *s = (segment){out[n - 1].end, out[n - 1].end + length, x, v, a, j, -1};
  return n + 1;
}

/* from speed v to rest, out[0] begins at (t, x); returns the number of pieces (0 when v = 0) */
int tw_touch_stop_segments(segment *out, double t, double x, double v, double a, double j)
{
  if (v <= 0.0) {
    return 0;
  }
  if (j <= 0.0) {
    out[0] = (segment){t, t + v / a, x, v, -a, 0.0, -1};
    return 1;
  }
  const bool flat = v * j >= a * a;
  const double ramp = flat ? a / j : sqrt(v / j);
  out[0] = (segment){t, t + ramp, x, v, 0.0, -j, -1};
  int n = 1;
  if (flat && v / a > ramp) {
    n = append(out, n, v / a - ramp, -a, 0.0);
  }
  return append(out, n, ramp, -j * ramp, j);
}

/* a move of signed distance at speed v, rest to rest, acceleration a without jerk limit */
int tw_touch_move_segments(segment *out, double t, double x, double distance, double v, double a)
{
  const double way = fabs(distance);
  const double sign = distance < 0.0 ? -1.0 : 1.0;
  if (way == 0.0) {
    return 0;
  }
  const double speed = fmin(v, sqrt(way * a));
  const double ramp = speed / a;
  out[0] = (segment){t, t + ramp, x, 0.0, sign * a, 0.0, -1};
  int n = 1;
  const double cruise = (way - speed * ramp) / speed;
  if (cruise > 0.0) {
    n = append(out, n, cruise, 0.0, 0.0);
  }
  return append(out, n, ramp, -sign * a, 0.0);
}

/* stand still from t on at x for `length` */
static int stand(segment *out, double t, double x, double length, int tag)
{
  out[0] = (segment){t, t + length, x, 0.0, 0.0, 0.0, tag};
  return 1;
}

/* up to second_feed and on: the second approach has no end of its own */
static int approach_again(segment *out, double t, double x, const tw_touch_motion *go)
{
  const double ramp = go->second_feed / go->retract_acceleration;
  out[0] = (segment){t, t + ramp, x, 0.0, go->retract_acceleration, 0.0, TW_EVENT_APPROACH};
  out[1] = (segment){t + ramp, INFINITY, x + 0.5 * go->second_feed * ramp, go->second_feed, 0.0,
                     0.0,      -1};
  return 2;
}

/* where and when the pieces so far end */
static void tail(const segment *s, double *t, double *x)
{
  double v = 0.0;
  double a = 0.0;
  *t = s->end;
  touch_body(s, s->end, x, &v, &a);
}

/* the whole schedule from the beginning of the stop at t */
void tw_touch_queue_after_stop(tw_touch_work *w, double t)
{
  const tw_touch_motion *go = &w->go;
  segment next[TW_SEGMENTS];
  double x = 0.0;
  double v = 0.0;
  double a = 0.0;
  touch_body(&w->queue[w->seg], t, &x, &v, &a);
  int n = tw_touch_stop_segments(next, t, x, v, go->acceleration, go->jerk);
  if (n > 0) {
    next[0].tag = TW_EVENT_STOP_START;
    tail(&next[n - 1], &t, &x);
  }
  n += stand(&next[n], t, x, go->dwell, TW_EVENT_STOP_END);
  t += go->dwell;
  const int back = tw_touch_move_segments(&next[n], t, x, -go->retract_distance, go->retract_feed,
                                          go->retract_acceleration);
  if (back > 0) {
    next[n].tag = TW_EVENT_RETRACT;
    n += back;
    tail(&next[n - 1], &t, &x);
  }
  const bool again = w->which == 0 && go->until == TW_UNTIL_SECOND;
  n += stand(&next[n], t, x, again ? go->pause : (double)INFINITY, TW_EVENT_RETRACTED);
  if (again) {
    n += approach_again(&next[n], t + go->pause, x, go);
  }
  for (int i = 0; i < n; i++) {
    w->queue[i] = next[i];
  }
  w->seg = 0;
  w->segs = n;
}

/* s without an edge after which an approach at this feed is no trip */
double tw_touch_patience(const tw_touch_motion *go, double feed)
{
  return go->search_travel > 0.0 ? go->search_travel / feed : go->give_up;
}
