/* verb_tip.c: a tip table from touches of a ring or boss, and points corrected with it. */
#include "tip_parts.h"
#include "tripwright/constants.h"

#include <math.h>
#include <string.h>

/* ---- making a table
 * -------------------------------------------------------------------------------- */

static void copy_text(const tw_cli *cli, const char *option, char *out, size_t size)
{
  snprintf(out, size, "%s", tw_cli_text(cli, option, ""));
}

static void say_tip(const tw_cli *cli, const tw_tip *tip)
{
  FILE *out = cli->err;
  fprintf(out, "effective diameter  %.5f mm, u %.5f mm\n", 1e3 * tip->diameter,
          1e3 * tip->diameter_u);
  double low = (double)INFINITY, high = -(double)INFINITY;
  for (int a = 0; a < 360; a++) {
    double r, u;
    if (tw_tip_radius(tip, a / TW_RADIAN, &r, &u)) {
      low = fmin(low, r);
      high = fmax(high, r);
    }
  }
  fprintf(out, "lobing              %.3f um from lowest to highest direction\n",
          1e6 * (high - low));
  fprintf(out, "scatter left        %.3f um (s)\n", 1e6 * tip->residual_s);
  if (tip->feed_high > tip->feed_low) {
    fprintf(out, "delay               %.4f ms, u %.4f ms, from %.6g to %.6g mm/min\n",
            1e3 * tip->delay, 1e3 * tip->delay_u, 6e4 * tip->feed_low, 6e4 * tip->feed_high);
    fprintf(out, "                    recorded points lie further along the travel, the faster the "
                 "touch\n");
  }
  if (tw_cli_has(cli, "offset-from") || tw_cli_has(cli, "offset-touches")) {
    tw_tip_say_offset(cli, tip);
  }
}

static json_t *tip_json(const tw_tip *tip, const tw_found_edge *edge)
{
  json_t *d = tw_document_new("tip"), *rows = json_array();
  for (size_t i = 0; i < tip->count; i++) {
    const tw_tip_row *r = &tip->row[i];
    const double row[4] = {tip->kind == TW_TIP_BINS ? r->azimuth * TW_RADIAN : r->order, r->a, r->b,
                           r->u};
    json_array_append_new(rows, tw_json_numbers(row, 4));
  }
  json_object_set_new(d, "diameter", tw_json_quantity(tip->diameter, "m"));
  json_object_set_new(d, "diameter_u", tw_json_quantity(tip->diameter_u, "m"));
  json_object_set_new(d, "feed", tw_json_quantity(tip->feed, "m/s"));
  json_object_set_new(d, "approach", tw_json_quantity(tip->approach, "m"));
  json_object_set_new(d, "delay", tw_json_quantity(tip->delay, "s"));
  json_object_set_new(d, "delay_u", tw_json_quantity(tip->delay_u, "s"));
  json_object_set_new(d, "offset", tw_json_vector(tip->offset, 2, "m"));
  json_object_set_new(d, "offset_u", tw_json_quantity(tip->offset_u, "m"));
  json_object_set_new(d, "offset_is", json_string("spindle axis to ball centre, spindle at 0"));
  json_object_set_new(d, "edge_before_table", tw_json_quantity(edge->before, "m"));
  json_object_set_new(d, "edge_after_table", tw_json_quantity(edge->after, "m"));
  json_object_set_new(d, "scatter", tw_json_quantity(tip->residual_s, "m"));
  json_object_set_new(d, "kind", json_string(tip->kind == TW_TIP_BINS ? "bins" : "harmonics"));
  json_object_set_new(d, "rows",
                      json_pack("{s:[s,s,s,s], s:s, s:o}", "columns",
                                tip->kind == TW_TIP_BINS ? "azimuth_deg" : "order", "a", "b", "u",
                                "unit", "m", "values", rows));
  return d;
}

static bool conditions(tw_cli *cli, tw_tip *tip)
{
  copy_text(cli, "stylus", tip->stylus, sizeof tip->stylus);
  copy_text(cli, "date", tip->date, sizeof tip->date);
  copy_text(cli, "filter", tip->filter, sizeof tip->filter);
  snprintf(tip->from, sizeof tip->from, "%s %s", tw_cli_text(cli, "feature", ""),
           tw_cli_text(cli, "size", ""));
  if (!tw_cli_quantity(cli, "feed", "mm/min", &tip->feed) ||
      !tw_cli_quantity(cli, "approach", "mm", &tip->approach)) {
    return false;
  }
  if (!(tip->feed > 0.0) || !(tip->approach > 0.0) || !tip->stylus[0]) {
    tw_cli_usage(cli, "a tip table holds for its conditions: give --stylus, --feed and --approach");
    return false;
  }
  return true;
}

static tw_exit read_tip(tw_cli *cli, tw_tip *tip)
{
  const char *word = tw_cli_text(cli, "feature", "");
  double size = 0.0, size_u = 0.0, *point;
  long orders = tw_cli_has(cli, "bins") ? 0 : 6, bins = 0;
  size_t n, dimensions;
  tw_fault fault = {0};
  if (strcmp(word, "ring") != 0 && strcmp(word, "boss") != 0) {
    return tw_cli_usage(
        cli, "--feature: ring (touched from inside) or boss (pin or ball, from outside)");
  }
  if (!tw_cli_quantity(cli, "size", "mm", &size) ||
      !tw_cli_quantity(cli, "size-u", "mm", &size_u) ||
      !tw_cli_count(cli, "harmonics", 2, TW_HARMONIC_MOST, &orders) ||
      !tw_cli_count(cli, "bins", 4, TW_TIP_ROWS, &bins)) {
    return TW_EXIT_USAGE;
  }
  const tw_exit code = tw_cli_points(cli, cli->operand[0], tw_cli_text(cli, "columns", NULL), 2, 2,
                                     &point, &n, &dimensions);
  if (code != TW_EXIT_DONE) {
    return code;
  }
  const tw_status status =
      tw_tip_from_points(point, n, strcmp(word, "ring") == 0 ? TW_RING : TW_BOSS, size, size_u,
                         (size_t)orders, (size_t)bins, tip, &fault);
  tw_free(point);
  return status == TW_OK ? TW_EXIT_DONE : tw_cli_fault(cli, &fault);
}

static tw_exit make_table(tw_cli *cli, tw_tip *tip)
{
  if (tw_cli_has(cli, "offset-from") && tw_cli_has(cli, "offset-touches")) {
    return tw_cli_usage(cli, "--offset-from or --offset-touches: give one of the two");
  }
  tw_exit code = read_tip(cli, tip);
  if (code == TW_EXIT_DONE && !conditions(cli, tip)) {
    code = TW_EXIT_USAGE;
  }
  code = code == TW_EXIT_DONE ? tw_tip_add_delay(cli, tip) : code;
  code = code == TW_EXIT_DONE ? tw_tip_add_offset(cli, tip, false) : code;
  code = code == TW_EXIT_DONE ? tw_tip_add_offset(cli, tip, true) : code;
  if (code != TW_EXIT_DONE) {
    return code;
  }
  tw_found_edge edge;
  if (!tw_tip_edge_of(cli, tip, &edge)) {
    return TW_EXIT_USAGE;
  }
  if (tw_cli_has(cli, "json")) {
    return tw_cli_print_json(cli, tip_json(tip, &edge));
  }
  char *text = NULL;
  tw_fault fault = {0};
  if (tw_tip_write(tip, &text, &fault) != TW_OK) {
    return tw_cli_fault(cli, &fault);
  }
  say_tip(cli, tip);
  tw_tip_say_edge(cli, tip, &edge);
  return tw_cli_write(cli, "out", text);
}

/* ---- correcting points
 * ------------------------------------------------------------------------------ */

enum { X, Y, Z, AZIMUTH, FEED, SPINDLE, COLUMNS };
static const tw_wanted wanted[COLUMNS] = {
    {"x", TW_LENGTH, false},      {"y", TW_LENGTH, false},          {"z", TW_LENGTH, false},
    {"azimuth", TW_ANGLE, false}, {"feed-column", TW_SPEED, false}, {"spindle", TW_ANGLE, false},
};

static double at_or(const tw_recording *in, size_t column, size_t row, double otherwise)
{
  const double *x = tw_recording_number(in, column);
  return x ? x[row] : otherwise;
}

static tw_exit correct(tw_cli *cli, const tw_tip *tip, const tw_recording *in, double u,
                       json_t *rows)
{
  const bool json = tw_cli_has(cli, "json");
  if (!json) {
    fprintf(cli->out, "x_mm,y_mm,z_mm,u_um\n");
  }
  for (size_t i = 0; i < in->table->rows; i++) {
    const tw_touched t = {.at = {at_or(in, X, i, 0), at_or(in, Y, i, 0), at_or(in, Z, i, 0)},
                          .azimuth = at_or(in, AZIMUTH, i, 0),
                          .feed = at_or(in, FEED, i, tip->feed),
                          .spindle = at_or(in, SPINDLE, i, 0),
                          .u = u};
    tw_surface s;
    tw_fault fault = {0};
    if (tw_tip_apply(tip, &t, &s, &fault) != TW_OK) {
      fprintf(cli->err, "%s:%u: ", in->file, (unsigned)in->table->line[i]);
      return tw_cli_fault(cli, &fault);
    }
    if (json) {
      const double row[4] = {s.at[0], s.at[1], s.at[2], s.u};
      json_array_append_new(rows, tw_json_numbers(row, 4));
    } else {
      fprintf(cli->out, "%.6f,%.6f,%.6f,%.3f\n", 1e3 * s.at[0], 1e3 * s.at[1], 1e3 * s.at[2],
              1e6 * s.u);
    }
  }
  return TW_EXIT_DONE;
}

static tw_exit apply(tw_cli *cli, tw_tip *tip)
{
  double u = 0.0;
  tw_recording in;
  if (!tw_cli_has(cli, "x") || !tw_cli_has(cli, "y") || !tw_cli_has(cli, "azimuth")) {
    return tw_cli_usage(
        cli, "--apply: name the columns of the points: --x x_mm --y y_mm --azimuth force_deg");
  }
  if (!tw_cli_quantity(cli, "point-u", "mm", &u)) {
    return TW_EXIT_USAGE;
  }
  tw_messages *messages = tw_messages_new();
  const tw_status status = messages ? tw_tip_read(cli->operand[0], messages, tip) : TW_NO_MEMORY;
  tw_cli_messages(cli, messages);
  tw_messages_free(messages);
  if (status != TW_OK) {
    return tw_exit_of(status);
  }
  tw_exit code = tw_cli_recording(cli, tw_cli_text(cli, "apply", NULL), wanted, COLUMNS, &in);
  if (code != TW_EXIT_DONE) {
    return code;
  }
  json_t *rows = json_array();
  code = rows ? correct(cli, tip, &in, u, rows) : TW_EXIT_INTERNAL;
  tw_readings_free(in.table);
  if (code != TW_EXIT_DONE || !tw_cli_has(cli, "json")) {
    json_decref(rows);
    return code;
  }
  json_t *d = tw_document_new("tip");
  json_object_set_new(d, "points",
                      json_pack("{s:[s,s,s,s], s:s, s:o}", "columns", "x", "y", "z", "u", "unit",
                                "m", "values", rows));
  return tw_cli_print_json(cli, d);
}

/* ---- verb
 * ------------------------------------------------------------------------------------------- */

static tw_exit run(tw_cli *cli)
{
  tw_tip *tip = tw_alloc(1, sizeof *tip);
  if (!tip) {
    return TW_EXIT_INTERNAL;
  }
  const tw_exit code = tw_cli_has(cli, "apply") ? apply(cli, tip) : make_table(cli, tip);
  tw_free(tip);
  return code;
}

static const tw_option options[] = {
    {"columns", "LIST", "columns of the touches: x_mm,y_mm", false},
    {"feature", "ring|boss", "touched from inside, or from outside", false},
    {"size", "LENGTH", "certified diameter", false},
    {"size-u", "LENGTH", "its standard uncertainty", false},
    {"harmonics", "ORDERS", "direction table by harmonics 2 to this (default 6)", false},
    {"bins", "N", "direction table by N equal sectors instead", false},
    {"stylus", "TEXT", "conditions that the table holds for", false},
    {"feed", "SPEED", "the same: feed of the touches", false},
    {"approach", "LENGTH", "the same: distance run before the touch", false},
    {"filter", "TEXT", "the same", false},
    {"date", "TEXT", "the same", false},
    {"delay-from", "FILE",
     "columns feed_mm_min,error_um: touches of one point at several feeds; the error counts along "
     "the travel, larger further into the work",
     false},
    {"offset-from", "FILE",
     "columns spindle_deg,x_mm,y_mm: centres recorded at several spindle angles", false},
    {"offset-touches", "FILE",
     "the same columns: the touches of the ring or boss, four or more at each spindle angle",
     false},
    {"centre-u", "LENGTH", "uncertainty of such a centre (needed with two angles)", false},
    {"ball", "LENGTH", "the ball's own diameter: how right an edge is without the table", false},
    {"out", "FILE", "write the table there", false},
    {"apply", "POINTS", "correct the points of this file with the table FILE", false},
    {"x", "COLUMN", "with --apply: recorded position", false},
    {"y", "COLUMN", "the same", false},
    {"z", "COLUMN", "the same", false},
    {"azimuth", "COLUMN", "with --apply: of the force on the tip (the machine moves the other way)",
     false},
    {"feed-column", "COLUMN", "with --apply: feed of each touch (default: that of the table)",
     false},
    {"spindle", "COLUMN",
     "with --apply: spindle angle, from +X towards +Y (default 0, where the table was made)",
     false},
    {"point-u", "LENGTH", "with --apply: standard uncertainty of a recorded coordinate", false},
    TW_TABLE_OPTIONS,
    {NULL, NULL, NULL, false},
};

const tw_verb tw_verb_tip = {
    .name = "tip",
    .operands = "FILE",
    .least = 1,
    .most = 1,
    .summary =
        "effective tip: size, direction table, delay, stylus offset; points corrected with it",
    .details =
        "Without --apply FILE holds touches all round a ring or boss, and the answer is a tip "
        "table. "
        "With --apply FILE is a tip table, and the answer the points on the surface with their "
        "uncertainty. A table holds for its stylus, feed, approach and filter.",
    .options = options,
    .takes = TW_TAKES_JSON,
    .run = run,
};
