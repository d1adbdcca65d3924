/* verb_touch.c: one touch in time: when it trips, when the machine stands, what it looks like. */
#include "touch_crash.h"
#include "touch_feeds.h"
#include "tripwright/files.h"

#include <errno.h>
#include <math.h>
#include <string.h>

static double of(const json_t *o, const char *key)
{
  const json_t *v = json_object_get(json_object_get(o, key), "value");
  return json_is_number(v) ? json_number_value(v) : (double)NAN;
}

static void figure(FILE *out, const json_t *o, const char *key, const char *says)
{
  char text[48];
  const char *unit = json_string_value(json_object_get(json_object_get(o, key), "unit"));
  fprintf(out, "  %-22s %12s  %s\n", key, tw_show(of(o, key), unit ? unit : "", text, sizeof text),
          says);
}

/* ---- the trace ------------------------------------------------------------------------------- */

static double cell(const json_t *trace, const char *name, size_t i)
{
  return json_number_value(json_array_get(json_object_get(trace, name), i));
}

static size_t points(const json_t *trace)
{
  return json_array_size(json_object_get(trace, "time"));
}

static void print_csv(FILE *out, const json_t *trace)
{
  static const char *const name[] = {"time", "travel", "force",  "carrier_force", "charge",
                                     "node", "signal", "output", "active"};
  fprintf(out,
          "time_s,travel_m,force_N,carrier_force_N,charge_C,node_V,signal_V,output_V,active\n");
  for (size_t i = 0; i < points(trace); i++) {
    for (size_t k = 0; k < sizeof name / sizeof name[0]; k++) {
      fprintf(out, "%s%.9g", k ? "," : "", cell(trace, name[k], i));
    }
    fprintf(out, "\n");
  }
}

enum { PLOT_ROWS = 7, PLOT_COLUMNS = 64 };

/* one strip: a column of the trace from 0 to `end` s, with a line at `level` if it is finite */
static void strip(FILE *out, const json_t *trace, const char *name, const char *unit, double end,
                  double level, const char *level_name)
{
  double low = isfinite(level) ? level : (double)INFINITY;
  double high = isfinite(level) ? level : -(double)INFINITY;
  const size_t n = points(trace);
  for (size_t i = 0; i < n && cell(trace, "time", i) <= end; i++) {
    low = fmin(low, cell(trace, name, i));
    high = fmax(high, cell(trace, name, i));
  }
  const double most = fmax(fabs(low), fabs(high));
  low = tw_shown_beside(low, most);
  high = tw_shown_beside(high, most);
  if (!(high > low)) {
    high = low + 1;
  }
  char grid[PLOT_ROWS][PLOT_COLUMNS + 1];
  for (int r = 0; r < PLOT_ROWS; r++) {
    memset(grid[r], ' ', PLOT_COLUMNS);
    grid[r][PLOT_COLUMNS] = '\0';
  }
  if (isfinite(level)) {
    memset(grid[(int)lround((PLOT_ROWS - 1) * (high - level) / (high - low))], '-', PLOT_COLUMNS);
  }
  for (size_t i = 0; i < n && cell(trace, "time", i) <= end; i++) {
    const int c = (int)((PLOT_COLUMNS - 1) * cell(trace, "time", i) / end);
    const int r = (int)lround((PLOT_ROWS - 1) * (high - cell(trace, name, i)) / (high - low));
    grid[r][c] = '*';
  }
  char a[32], b[32];
  fprintf(out, "\n%s", name);
  if (isfinite(level)) {
    fprintf(out, "; dashed: %s, %s", level_name, tw_show(level, unit, a, sizeof a));
  }
  fprintf(out, "\n");
  for (int r = 0; r < PLOT_ROWS; r++) {
    fprintf(out, "%11s |%s\n",
            r == 0               ? tw_show(high, unit, a, sizeof a)
            : r == PLOT_ROWS - 1 ? tw_show(low, unit, b, sizeof b)
                                 : "",
            grid[r]);
  }
}

static void print_strips(FILE *out, const json_t *document)
{
  const json_t *trace = json_object_get(document, "trace"),
               *levels = json_object_get(document, "levels");
  const double stop = of(document, "t_stop_end"), edge = of(document, "t_output");
  const size_t n = points(trace);
  if (n < 2) {
    return;
  }
  const double end = isfinite(stop)   ? 1.2 * stop
                     : isfinite(edge) ? 1.2 * edge
                                      : cell(trace, "time", n - 1);
  char text[32];
  strip(out, trace, "force", "N", end, (double)NAN, "");
  strip(out, trace, "signal", "V", end, of(levels, "trip"), "the threshold");
  strip(out, trace, "output", "V", end, (double)NAN, "");
  fprintf(out, "            0 .. %s after first contact\n", tw_show(end, "s", text, sizeof text));
}

/* ---- text ------------------------------------------------------------------------------------ */

static void print_one(FILE *out, const json_t *o)
{
  fprintf(out, "  %-22s %12s\n", "state", json_string_value(json_object_get(o, "state")));
  figure(out, o, "t_threshold", "the signal reaches the threshold");
  figure(out, o, "t_output", "the controller's input changes over");
  figure(out, o, "t_sample", "the controller sees it");
  figure(out, o, "t_stop_end", "the machine has stopped");
  figure(out, o, "pretravel", "machine travel at the edge");
  figure(out, o, "overtravel", "machine travel at standstill");
  figure(out, o, "peak_force", "between tip and work");
  fprintf(out, "  %-22s %12lld  further edges before the retract ends\n", "chatter",
          (long long)json_integer_value(json_object_get(o, "chatter")));
}

/* a pulse that ends by itself while the machine still rests on the work */
static void print_end(FILE *out, const json_t *document)
{
  char hold[32], says[96];
  snprintf(says, sizeof says, "falls back after %s, still pressed",
           tw_show(of(document, "output_hold_time"), "s", hold, sizeof hold));
  figure(out, document, "output_end",
         json_is_true(json_object_get(document, "output_end_pressed")) ? says
                                                                       : "the output falls back");
}

static void print_text(FILE *out, const json_t *document)
{
  char feed[32];
  fprintf(out, "Touch at azimuth %.0f, elevation %.0f deg, feed %s (%.0f mm/min)\n",
          of(document, "azimuth"), of(document, "elevation"),
          tw_show(of(document, "feed"), "m/s", feed, sizeof feed), 6e4 * of(document, "feed"));
  if (tw_cli_print_never(out, document)) {
    return;
  }
  if (tw_cli_print_state(out, document, "  ")) {
    return;
  }
  print_one(out, document);
  print_end(out, document);
  figure(out, document, "ready_time", "from loss of contact until the next touch can be seen");
  const json_t *second = json_object_get(document, "second");
  if (second) {
    fprintf(out, "\nSecond touch at %.0f mm/min\n", 6e4 * of(second, "feed"));
    print_one(out, second);
  }
  print_strips(out, document);
}

/* ---- false trips ----------------------------------------------------------------------------- */

/* "    7.71", or that there is no signal to have a margin against */
static const char *margin_text(const json_t *part, char out[16])
{
  const double margin = of(part, "margin");
  snprintf(out, 16, isfinite(margin) ? "%8.3g" : "no signal", margin);
  return out;
}

static void print_axes(FILE *out, const char *title, const json_t *axes)
{
  if (!axes) {
    return;
  }
  fprintf(out, "\n%s\n", title);
  const char *axis;
  json_t *a;
  json_object_foreach((json_t *)(uintptr_t)axes, axis, a)
  {
    char node[32], more[32], margin[16];
    fprintf(out, "  %s  node %10s  margin %s%s", axis,
            tw_show(of(a, "node"), "V", node, sizeof node), margin_text(a, margin),
            json_is_true(json_object_get(a, "contact_opens")) ? "  a contact opens" : "");
    if (of(a, "margin") < 2 && json_object_get(a, "acceleration_for_margin_2")) {
      fprintf(out, "  margin 2 at %s",
              tw_show(of(a, "acceleration_for_margin_2"), "m/s2", more, sizeof more));
    }
    if (of(a, "margin") < 2 && json_object_get(a, "threshold_for_margin_2")) {
      fprintf(out, ", or with a threshold of %s",
              tw_show(of(a, "threshold_for_margin_2"), "V", more, sizeof more));
    }
    fprintf(out, "\n");
  }
}

static void print_single(FILE *out, const json_t *document, const char *key, const char *title)
{
  const json_t *o = json_object_get(document, key);
  char node[32], margin[16];
  if (o) {
    fprintf(out, "\n%s\n     node %10s  margin %s\n", title,
            tw_show(of(o, "node"), "V", node, sizeof node), margin_text(o, margin));
  }
}

static void print_shake(FILE *out, const json_t *document)
{
  fprintf(out, "False trips: threshold over the largest change of the node\n");
  print_axes(out, "The machine's own moves", json_object_get(document, "moves"));
  print_axes(out, "Vibration", json_object_get(document, "vibration"));
  print_axes(out, "Shock", json_object_get(document, "shock"));
  print_axes(out, "Spectrum (4 times its effective value)", json_object_get(document, "spectrum"));
  if (json_object_get(document, "spectrum_why")) {
    fprintf(out, "\nSpectrum: %s\n", tw_text_of(document, "spectrum_why"));
  }
  const json_t *trace = json_object_get(document, "trace");
  print_axes(out, "Recorded trace", json_object_get(trace, "axes"));
  if (json_is_true(json_object_get(trace, "coarse"))) {
    fprintf(out, "  (fewer than four samples a period of the resonance: record faster)\n");
  }
  print_single(out, document, "mains", "Mains through the stray capacitance");
  print_single(out, document, "cable_motion", "A metre of cable, bent once");
}

static tw_exit run_shake(tw_cli *cli, const tw_design *design)
{
  const char *path = tw_cli_text(cli, "trace", NULL);
  FILE *trace = NULL;
  json_t *document = NULL;
  tw_fault fault = {0};
  if (path && tw_file_open(path, &fault, &trace) != TW_OK) {
    return tw_cli_fault(cli, &fault);
  }
  const tw_progress progress = tw_cli_progress(cli);
  const tw_status status = tw_document_shake(design, trace, path, &progress, &document, &fault);
  if (trace) {
    fclose(trace);
  }
  if (status != TW_OK) {
    return tw_cli_fault(cli, &fault);
  }
  const tw_exit code = tw_cli_state_exit(json_string_value(json_object_get(document, "state")));
  if (tw_cli_has(cli, "json")) {
    const tw_exit printed = tw_cli_print_json(cli, document);
    return printed == TW_EXIT_DONE ? code : printed;
  }
  if (!tw_cli_print_state(cli->out, document, "")) {
    print_shake(cli->out, document);
  }
  json_decref(document);
  return code;
}

/* ---- run ------------------------------------------------------------------------------------- */

/* mm/min: the limits of machine.feed; a thousandth of a slow touch takes minutes and says nothing
 */
#define FEED_LEAST (0.1 * (1 - 1e-12))
#define FEED_MOST  (1e5 * (1 + 1e-12))

static bool read_ask(tw_cli *cli, const tw_design *design, tw_touch_ask *ask)
{
  *ask = (tw_touch_ask){.feed = tw_design_number(design, TW_F_machine_feed), .every = 2e-4};
  if (!tw_cli_quantity(cli, "azimuth", "deg", &ask->azimuth) ||
      !tw_cli_quantity(cli, "elevation", "deg", &ask->elevation) ||
      !tw_cli_quantity(cli, "feed", "mm/min", &ask->feed) ||
      !tw_cli_quantity(cli, "every", "ms", &ask->every)) {
    return false;
  }
  if (!(ask->elevation >= 0 && ask->elevation <= 1.5707963267949)) {
    tw_cli_usage(cli, "--elevation lies from 0 (sideways) to 90 deg (along the axis)");
    return false;
  }
  ask->second = tw_cli_has(cli, "second");
  if (!(6e4 * ask->feed >= FEED_LEAST) || !(6e4 * ask->feed <= FEED_MOST)) {
    tw_cli_usage(cli, "--feed lies from 0.1 to 100000 mm/min, as machine.feed does");
    return false;
  }
  if (!(ask->every >= 1e-7)) {
    tw_cli_usage(cli, "--every lies at 0.1 us or more");
    return false;
  }
  return true;
}

static tw_exit run_netlist(tw_cli *cli, const tw_design *design, const tw_touch_ask *ask)
{
  const char *path = tw_cli_text(cli, "netlist", NULL);
  tw_fault fault = {0};
  FILE *file = fopen(path, "w");
  if (!file) {
    fprintf(cli->err, "error: %s: %s\n", path, strerror(errno));
    return TW_EXIT_FILE;
  }
  tw_status status = tw_touch_write_netlist(design, ask, file, &fault);
  const bool broken = ferror(file) != 0;
  if ((fclose(file) != 0 || broken) && status == TW_OK) {
    status = tw_fail(&fault, TW_NO_FILE, "", "is the disk full?", "%s could not be written", path);
  }
  if (status != TW_OK) {
    remove(path);
    return tw_cli_fault(cli, &fault);
  }
  fprintf(cli->out, "%s is written; run it with a SPICE simulator (ngspice -b %s)\n", path, path);
  return TW_EXIT_DONE;
}

static tw_exit run_feeds(tw_cli *cli, const tw_design *design, const tw_touch_ask *ask)
{
  json_t *document = NULL;
  tw_fault fault = {0};
  if (tw_document_feeds(design, ask->azimuth, ask->elevation, &document, &fault) != TW_OK) {
    return tw_cli_fault(cli, &fault);
  }
  const bool never = json_object_get(document, "searched_to") != NULL;
  const tw_exit code =
      never ? TW_EXIT_NOT_MET
            : tw_cli_state_exit(json_string_value(json_object_get(document, "state")));
  if (tw_cli_has(cli, "json")) {
    const tw_exit printed = tw_cli_print_json(cli, document);
    return printed == TW_EXIT_DONE ? code : printed;
  }
  tw_cli_print_feeds(cli->out, document);
  json_decref(document);
  return code;
}

static tw_exit run_touch(tw_cli *cli, const tw_design *design, const tw_touch_ask *ask)
{
  json_t *document = NULL;
  tw_fault fault = {0};
  if (tw_document_touch(design, ask, &document, &fault) != TW_OK) {
    return tw_cli_fault(cli, &fault);
  }
  const char *state = json_string_value(json_object_get(document, "state"));
  const tw_exit code = strcmp(state, "ok") == 0 ? TW_EXIT_DONE : TW_EXIT_NOT_MET;
  if (tw_cli_has(cli, "json")) {
    const tw_exit printed = tw_cli_print_json(cli, document);
    return printed == TW_EXIT_DONE ? code : printed;
  }
  if (tw_cli_has(cli, "csv")) {
    print_csv(cli->out, json_object_get(document, "trace"));
  } else {
    print_text(cli->out, document);
  }
  json_decref(document);
  return code;
}

static tw_exit run(tw_cli *cli)
{
  tw_design *design = NULL;
  tw_touch_ask ask;
  tw_exit code = tw_cli_design(cli, cli->operand[0], TW_NEED_ALL, &design);
  if (code == TW_EXIT_DONE && !read_ask(cli, design, &ask)) {
    code = TW_EXIT_USAGE;
  } else if (code == TW_EXIT_DONE && (tw_cli_has(cli, "false-trips") || tw_cli_has(cli, "trace"))) {
    code = run_shake(cli, design);
  } else if (code == TW_EXIT_DONE && tw_cli_has(cli, "crash")) {
    code = tw_cli_crash(cli, design);
  } else if (code == TW_EXIT_DONE && tw_cli_has(cli, "netlist")) {
    code = run_netlist(cli, design, &ask);
  } else if (code == TW_EXIT_DONE) {
    code = tw_cli_has(cli, "feeds") ? run_feeds(cli, design, &ask) : run_touch(cli, design, &ask);
  }
  tw_design_free(design);
  return code;
}

static const tw_option options[] = {
    {"azimuth", "ANGLE", "of the force on the tip, from +X towards +Y (default 0 deg)", false},
    {"elevation", "ANGLE",
     "angle of the force above the XY plane; 90 deg = along the axis (default 0 deg)", false},
    {"feed", "FEED", "such as 200mm/min (default machine.feed)", false},
    {"second", NULL, "go on: retract, and a second touch at machine.feed", false},
    {"every", "TIME", "between points of the trace (default 0.2 ms)", false},
    {"feeds", NULL, "instead: pretravel against the feeds of machine.feeds, and the window", false},
    {"false-trips", NULL, "instead: what moves, vibration, mains and cables do to the node", false},
    {"trace", "FILE", "the same with a recorded trace: CSV with time_s and x_m_s2, y_g ...", false},
    {"crash", NULL, "instead: what gives way in a crash, what each part carries, where it fails",
     false},
    {"netlist", "FILE", "instead: write the touch as a netlist for a SPICE simulator", false},
    {NULL, NULL, NULL, false},
};

const tw_verb tw_verb_touch = {
    .name = "touch",
    .operands = "FILE",
    .least = 1,
    .most = 1,
    .summary = "one touch in time: trip, sample, stop, retract; or the usable range of feeds",
    .options = options,
    .takes = TW_TAKES_JSON | TW_TAKES_CSV | TW_TAKES_DESIGN,
    .run = run,
};
