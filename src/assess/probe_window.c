/* probe_window.c: the feeds between which one direction of a probe works on its machine. */
#include "tripwright/constants.h"
#include "tripwright/probe.h"

#include <math.h>

/* nothing slower is searched: a millimetre takes a minute */
#define MM_MIN           (1e-3 / 60) /* m/s */
#define SLOWEST_SEARCHED (1 * MM_MIN)
/* how much higher the threshold may lie for the slowest feed with margin (own choice) */
#define THRESHOLD_MARGIN 0.2
/* share of the pretravel that counts as constant for `calibrate` (own choice) */
#define CONSTANT_WITHIN 0.1

tw_status tw_probe_window(const tw_design *design, const tw_probe *probe,
                          const tw_probe_touch *touch, double elevation, tw_touch_work *work,
                          tw_window *out, tw_fault *fault)
{
  tw_touch_motion motion;
  tw_link_spec spec;
  tw_link link;
  const double approach = tw_design_number(design, TW_F_machine_approach_feed);
  tw_status status = tw_probe_motion(design, probe, approach, &motion, fault);
  status = status == TW_OK ? tw_link_from_design(design, &spec, fault) : status;
  status = status == TW_OK ? tw_link_of(&spec, &probe->board, 0, &link, fault) : status;
  if (status != TW_OK) {
    return status;
  }
  tw_probe_search(probe, touch, &motion);
  const tw_window_ask ask = {.motion = &motion,
                             .feed_least = SLOWEST_SEARCHED,
                             .feed_most =
                                 fmax(tw_design_number(design, TW_F_machine_rapid), approach),
                             .threshold_margin = THRESHOLD_MARGIN,
                             .bias_most = tw_circuit_bias_bound(&probe->board),
                             .bias_spread = tw_circuit_bias_spread(&probe->board),
                             .jitter = link.latency_jitter,
                             .within = CONSTANT_WITHIN};
  const tw_window_way way = {elevation > TW_PI / 4 ? "axial" : "side", &touch->model, touch->room};
  return tw_touch_window(&way, &ask, work, out, fault);
}

/* ---- feeds of the design ------------------------------------------------------------------------
 */

size_t tw_probe_feeds(const tw_design *design, tw_window_row row[TW_PROBE_FEEDS])
{
  const tw_table *table = tw_design_table(design, TW_F_machine_feeds);
  size_t count = 0;
  for (size_t i = 0; table && i < table->rows && count < TW_PROBE_FEEDS; i++) {
    row[count++] = (tw_window_row){.feed = table->cells[i * table->columns].number};
  }
  return count;
}

/* A feed near the slowest one trips late for its own reason, the leak: such a row in the line makes
 * the delay too short, even negative. */
tw_status tw_probe_delay(const tw_design *design, const tw_probe_touch *touch,
                         const tw_window_row *row, size_t count, tw_apparent_delay *out,
                         tw_fault *fault)
{
  tw_touch_levels levels;
  double constant = 0;
  *out = (tw_apparent_delay){0};
  tw_status status = tw_touch_levels_of(&touch->model, &levels, fault);
  status = status == TW_OK ? tw_touch_calibrate(levels.slowest, CONSTANT_WITHIN, &constant, fault)
                           : status;
  if (status != TW_OK) {
    return status;
  }
  const double from = fmax(0.5 * tw_design_number(design, TW_F_machine_feed), constant);
  status = tw_touch_delay(row, count, from, out, fault);
  return status != TW_NO_ANSWER
             ? status
             : tw_fail(fault, status, "machine.feeds", "add faster feeds to machine.feeds",
                       "it takes two feeds of machine.feeds from %.0f mm/min up, where the "
                       "pretravel is steady; %zu trip there",
                       from / MM_MIN, out->rows);
}
