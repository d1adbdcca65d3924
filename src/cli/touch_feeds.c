/* touch_feeds.c: the feeds between which a direction works, and the delay its readings show. */
#include "touch_feeds.h"

#include <math.h>

static double of(const json_t *o, const char *key)
{
  const json_t *v = json_object_get(json_object_get(o, key), "value");
  return json_is_number(v) ? json_number_value(v) : (double)NAN;
}

bool tw_cli_print_never(FILE *out, const json_t *document)
{
  char force[32];
  if (!json_object_get(document, "searched_to")) {
    return false;
  }
  fprintf(out,
          "  It does not trip in this direction, pushed up to %s.\n"
          "  `tripwright check` says why; `tripwright seat` shows the directions that do.\n",
          tw_show(of(document, "searched_to"), "N", force, sizeof force));
  return true;
}

/* a feed in mm/min of three digits, rounded to the side on which it still works */
static double feed_of(const json_t *o, const char *key, int way)
{
  static const tw_unit mm_min = {.name = "mm/min", .scale = 1e-3 / 60};
  return 6e4 * tw_number_rounded(of(o, key), &mm_min, 3, way);
}

static void print_gap(FILE *out, const json_t *gap)
{
  if (gap) {
    fprintf(out, "  a gap: between %.3g and %.3g mm/min not every feed is good (%s)\n",
            feed_of(gap, "from", -1), feed_of(gap, "to", 1),
            json_string_value(json_object_get(gap, "why")));
  }
}

static void print_window(FILE *out, const json_t *window)
{
  const char *slow = json_string_value(json_object_get(window, "slow_end")),
             *fast = json_string_value(json_object_get(window, "fast_end"));
  if (!json_is_true(json_object_get(window, "trips"))) {
    fprintf(out, "\n  no range of feeds: %s\n", slow);
    return;
  }
  fprintf(out, "\n  in this direction (tripwright check looks at the sides and the axis):\n");
  fprintf(out, "  slowest feed  %8.3g mm/min  (%s)\n", feed_of(window, "slowest_feed", 1), slow);
  if (of(window, "slowest_feed_with_margin") > 0) {
    fprintf(out, "    with 20 %% on the threshold and the bias current's bound: %.3g mm/min\n",
            feed_of(window, "slowest_feed_with_margin", 1));
  } else {
    fprintf(out, "    with 20 %% on the threshold and the bias current's bound: no feed trips\n");
  }
  if (of(window, "fastest_feed") > 0) {
    fprintf(out, "  fastest feed  %8.0f mm/min  (%s)\n", feed_of(window, "fastest_feed", -1), fast);
  } else {
    fprintf(out, "  no range of feeds: it trips, but no feed is good (%s)\n", fast);
  }
  print_gap(out, json_object_get(window, "gap"));
  fprintf(out,
          "  calibrate at  %8.3g mm/min or faster: from there the pretravel stays within 10 %%\n",
          6e4 * of(window, "calibrate_at"));
}

static void print_delay(FILE *out, const json_t *document)
{
  const json_t *feeds = json_object_get(document, "apparent_delay_feeds");
  char d[32];
  if (feeds) {
    fprintf(out,
            "  apparent delay %s: what a constant delay looks like in the readings\n"
            "    over %lld feeds from %.0f to %.0f mm/min\n",
            tw_show(of(document, "apparent_delay"), "s", d, sizeof d),
            (long long)json_integer_value(json_object_get(feeds, "count")), 6e4 * of(feeds, "from"),
            6e4 * of(feeds, "to"));
  } else {
    fprintf(out, "  apparent delay unknown:\n    %s\n", tw_text_of(document, "apparent_delay_why"));
  }
}

void tw_cli_print_feeds(FILE *out, const json_t *document)
{
  const json_t *rows = json_object_get(document, "rows"),
               *window = json_object_get(document, "window");
  if (json_object_get(document, "searched_to") == NULL && tw_cli_print_state(out, document, "")) {
    return;
  }
  if (tw_cli_print_never(out, document)) {
    return;
  }
  fprintf(out, "  %12s %12s %12s %12s  %s\n", "feed", "pretravel", "latched", "overtravel",
          "state");
  for (size_t i = 0; i < json_array_size(rows); i++) {
    const json_t *r = json_array_get(rows, i);
    const bool ok = json_is_number(json_object_get(r, "pretravel"));
    char p[32] = "-", l[32] = "-", o[32] = "-";
    if (ok) {
      tw_show(json_number_value(json_object_get(r, "pretravel")), "m", p, sizeof p);
      tw_show(json_number_value(json_object_get(r, "latched")), "m", l, sizeof l);
      tw_show(json_number_value(json_object_get(r, "overtravel")), "m", o, sizeof o);
    }
    fprintf(out, "  %5.0f mm/min %12s %12s %12s  %s\n",
            6e4 * json_number_value(json_object_get(r, "feed")), p, l, o,
            json_string_value(json_object_get(r, "state")));
  }
  print_window(out, window);
  print_delay(out, document);
}
