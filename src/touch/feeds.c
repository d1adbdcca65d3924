/* feeds.c: pretravel and overtravel against the feed, and the delay that a straight line through
 * them looks like. */
#include "engine.h"
#include "stopping.h"
#include <math.h>

/* the stop after a look of the controller that has just missed the edge */
tw_status tw_touch_worst_stop(const tw_touch_model *model, const tw_touch_motion *motion,
                              double jitter, double feed, tw_touch_work *work, tw_touch_one *out,
                              tw_fault *fault)
{
  tw_touch_motion go = *motion;
  tw_touch_result r;
  go.feed = feed;
  go.until = TW_UNTIL_STOP;
  go.latency += jitter;
  go.just_missed = true;
  const tw_status status = tw_touch_run(model, &go, work, NULL, &r, fault);
  *out = r.first;
  return status;
}

tw_status tw_touch_feeds(const tw_touch_model *model, const tw_touch_motion *motion, double jitter,
                         tw_touch_work *work, tw_window_row *rows, size_t count, tw_fault *fault)
{
  for (size_t i = 0; i < count; i++) {
    tw_window_row *row = &rows[i];
    const double feed = row->feed;
    tw_touch_one one;
    *row = (tw_window_row){.feed = feed};
    const tw_status status = tw_touch_worst_stop(model, motion, jitter, feed, work, &one, fault);
    if (status != TW_OK) {
      return status;
    }
    row->state = one.state;
    if (one.reached >= TW_REACHED_OUTPUT) {
      row->output = one.output;
      row->pretravel = one.pretravel;
      row->latched =
          one.pretravel + feed * (0.5 * motion->sample_time + motion->latency + 0.5 * jitter);
      row->overtravel = one.overtravel;
    }
  }
  return TW_OK;
}

tw_status tw_touch_delay(const tw_window_row *rows, size_t count, double lowest,
                         tw_apparent_delay *out, tw_fault *fault)
{
  double n = 0.0;
  double mean_v = 0.0;
  double mean_x = 0.0;
  *out = (tw_apparent_delay){0};
  for (size_t i = 0; i < count; i++) {
    if (rows[i].state == TW_TOUCH_OK && rows[i].feed >= lowest) {
      n += 1.0;
      out->from = n > 1.0 ? least(out->from, rows[i].feed) : rows[i].feed;
      out->to = most(out->to, rows[i].feed);
      mean_v += (rows[i].feed - mean_v) / n;
      mean_x += (rows[i].latched - mean_x) / n;
    }
  }
  out->rows = (size_t)n;
  double vv = 0.0;
  double vx = 0.0;
  for (size_t i = 0; i < count; i++) {
    if (rows[i].state == TW_TOUCH_OK && rows[i].feed >= lowest) {
      vv += (rows[i].feed - mean_v) * (rows[i].feed - mean_v);
      vx += (rows[i].feed - mean_v) * (rows[i].latched - mean_x);
    }
  }
  if (n < 2.0 || !(vv > 0.0)) {
    return tw_fail(fault, TW_NO_ANSWER, "machine.feeds", "give two feeds or more that trip",
                   "a slope needs two different feeds that trip; there are %.0f", n);
  }
  out->seconds = vx / vv;
  out->intercept = mean_x - out->seconds * mean_v;
  for (size_t i = 0; i < count; i++) {
    if (rows[i].state == TW_TOUCH_OK && rows[i].feed >= lowest) {
      out->residual =
          most(out->residual, fabs(rows[i].latched - out->intercept - out->seconds * rows[i].feed));
    }
  }
  return TW_OK;
}
