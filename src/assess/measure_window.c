/* measure_window.c: the feeds between which a touch trips and the machine stops in time. */
#include "timed.h"
#include "tripwright/constants.h"

#include <math.h>

static const tw_measure_id OF_WINDOW[] = {TW_M_slowest_feed, TW_M_fastest_feed};

bool tw_timed_wants_window(const tw_timed *t)
{
  return tw_wants(t->run, OF_WINDOW, 2);
}

static const char *name_of(int w)
{
  return w == TW_TIMED_AXIS ? "axial" : "side";
}

tw_status tw_timed_window(tw_timed *t, int w, tw_touch_work *work, tw_fault *fault)
{
  return tw_probe_window(t->run->design, t->run->probe, t->way[w],
                         w == TW_TIMED_AXIS ? TW_PI / 2 : 0, work, &t->window[w], fault);
}

/* the end of one way that decides, and why */
typedef struct end {
  double feed;
  tw_window_reason why;
  int way;
} end;

static void put_end(tw_timed *t, tw_measure_id id, const end *e)
{
  tw_put(t->run->out, id, e->feed);
  if (e->why == TW_WINDOW_OVERTRAVEL) {
    const tw_probe_touch *touch = t->way[e->way];
    tw_put_note(t->run->out, id, "%s: %s of %.0f um (%s)", name_of(e->way),
                tw_window_reason_text(e->why), 1e6 * touch->room, touch->room_why);
  } else {
    tw_put_note(t->run->out, id, "%s: %s", name_of(e->way), tw_window_reason_text(e->why));
  }
}

/* no feed at which every way trips and the machine stops in time */
static void put_no_range(tw_timed *t, const end *slow, const end *fast)
{
  if (fast->feed > 0) {
    tw_warn(t->run->out, "machine.feed",
            "No feed suits both ways: %s needs %.3g mm/min or more (%s), %s allows %.3g mm/min at "
            "most (%s).",
            name_of(slow->way), slow->feed * 6e4, tw_window_reason_text(slow->why),
            name_of(fast->way), fast->feed * 6e4, tw_window_reason_text(fast->why));
  }
  tw_put_state(t->run->out, TW_M_fastest_feed, TW_MEASURE_NO_TRIP, "no feed is good: %s: %s",
               name_of(fast->way), tw_window_reason_text(fast->why));
}

static void warn_gap(const tw_timed *t, int w)
{
  const tw_window *window = &t->window[w];
  if (t->way[w] && window->gap) {
    tw_warn(t->run->out, "machine.feed",
            "The range of feeds has a gap (%s): between %.3g and %.3g mm/min not every feed is "
            "good: %s.",
            name_of(w), window->gap_low * 6e4, window->gap_high * 6e4,
            tw_window_reason_text(window->gap_reason));
  }
}

void tw_timed_put_window(tw_timed *t)
{
  end slow = {0, TW_WINDOW_NEVER, 0}, fast = {INFINITY, TW_WINDOW_NEVER, 0};
  for (int w = 0; w < TW_TIMED_WAYS; w++) {
    const tw_window *window = &t->window[w];
    if (!t->way[w]) {
      continue;
    }
    if (!window->trips) {
      for (int i = 0; i < 2; i++) {
        tw_put_state(t->run->out, OF_WINDOW[i], TW_MEASURE_NO_TRIP, "no feed trips it (%s)",
                     name_of(w));
      }
      return;
    }
    slow = window->slowest > slow.feed ? (end){window->slowest, window->slow_reason, w} : slow;
    fast = window->fastest < fast.feed ? (end){window->fastest, window->fast_reason, w} : fast;
    warn_gap(t, w);
  }
  put_end(t, TW_M_slowest_feed, &slow);
  if (fast.feed >= slow.feed) {
    put_end(t, TW_M_fastest_feed, &fast);
  } else {
    put_no_range(t, &slow, &fast);
  }
}
