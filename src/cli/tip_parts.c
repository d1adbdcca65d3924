/* tip_parts.c: what a tip table takes from files of its own: the delay, the ball off the axis. */
#include "tip_parts.h"

#include <math.h>
#include <string.h>

/* columns by name, without options: for the two auxiliary files */
static tw_exit side_table(tw_cli *cli, const char *file, const tw_column *column, size_t columns,
                          tw_readings **out)
{
  const tw_readings_spec spec = {.column = column, .columns = columns};
  tw_messages *messages = tw_messages_new();
  const tw_status status = messages ? tw_readings_read(file, &spec, messages, out) : TW_NO_MEMORY;
  tw_cli_messages(cli, messages);
  tw_messages_free(messages);
  return tw_exit_of(status);
}

/* --delay-from FILE: columns feed_mm_min and error_um: the delay, and the feeds it holds for */
tw_exit tw_tip_add_delay(tw_cli *cli, tw_tip *tip)
{
  static const tw_column column[] = {{"feed_mm_min", "", TW_SPEED, false},
                                     {"error_um", "", TW_LENGTH, false}};
  const char *file = tw_cli_text(cli, "delay-from", NULL);
  tw_readings *t = NULL;
  tw_feed_error e;
  tw_fault fault = {0};
  if (!file) {
    return TW_EXIT_DONE;
  }
  tw_exit code = side_table(cli, file, column, 2, &t);
  if (code == TW_EXIT_DONE &&
      tw_feed_error_of(t->number[0], t->number[1], t->rows, 0.95, &e, &fault) != TW_OK) {
    code = tw_cli_fault(cli, &fault);
  }
  double low = t ? t->number[0][0] : 0.0, high = low;
  for (size_t i = 1; t && i < t->rows; i++) {
    low = fmin(low, t->number[0][i]);
    high = fmax(high, t->number[0][i]);
  }
  if (code == TW_EXIT_DONE && tw_tip_take_delay(tip, &e, low, high, &fault) != TW_OK) {
    code = tw_cli_fault(cli, &fault);
  }
  if (code == TW_EXIT_DONE && e.bent) {
    fprintf(cli->err,
            "warning: %s: the error is not a straight line over the feed (p %.2g): keep near the "
            "feed of the table\n",
            file, e.curved_p);
  }
  tw_readings_free(t);
  return code;
}

static const tw_column turned_columns[] = {{"spindle_deg", "", TW_ANGLE, false},
                                           {"x_mm", "", TW_LENGTH, false},
                                           {"y_mm", "", TW_LENGTH, false}};

/* x, y of each row in pairs; freed by the caller */
static double *pairs_of(const tw_readings *t)
{
  double *pair = tw_alloc(t->rows, 2 * sizeof *pair);
  for (size_t i = 0; pair && i < t->rows; i++) {
    pair[2 * i] = t->number[1][i];
    pair[2 * i + 1] = t->number[2][i];
  }
  return pair;
}

/* the ball off the axis: from centres (--offset-from), or from the touches (--offset-touches) */
tw_exit tw_tip_add_offset(tw_cli *cli, tw_tip *tip, bool touches)
{
  const char *file = tw_cli_text(cli, touches ? "offset-touches" : "offset-from", NULL);
  double u = 0.0;
  tw_readings *t = NULL;
  tw_offset o;
  tw_fault fault = {0};
  if (!file) {
    return TW_EXIT_DONE;
  }
  if (!tw_cli_quantity(cli, "centre-u", "mm", &u)) {
    return TW_EXIT_USAGE;
  }
  tw_exit code = side_table(cli, file, turned_columns, 3, &t);
  if (code != TW_EXIT_DONE) {
    return code;
  }
  const tw_feature feature =
      strcmp(tw_cli_text(cli, "feature", ""), "ring") == 0 ? TW_RING : TW_BOSS;
  double *pair = pairs_of(t);
  tw_status status = pair ? TW_OK : tw_fail(&fault, TW_NO_MEMORY, "", "", "out of memory");
  if (pair && touches) {
    status = tw_tip_offset_from_touches(tip, t->number[0], pair, t->rows, feature, &fault);
  } else if (pair) {
    status = tw_offset_of(t->number[0], pair, t->rows, u, &o, &fault);
  }
  if (status == TW_OK && !touches) {
    tw_tip_take_offset(tip, &o);
  }
  tw_free(pair);
  tw_readings_free(t);
  return status == TW_OK ? TW_EXIT_DONE : tw_cli_fault(cli, &fault);
}

void tw_tip_say_offset(const tw_cli *cli, const tw_tip *tip)
{
  const double hidden = tw_tip_hidden_by_four(tip);
  fprintf(cli->err, "stylus offset       x %.3f, y %.3f um, u %.3f um (runout %.3f um)\n",
          1e6 * tip->offset[0], 1e6 * tip->offset[1], 1e6 * tip->offset_u,
          2e6 * hypot(tip->offset[0], tip->offset[1]));
  fprintf(cli->err, "                    from the spindle axis to the ball, spindle at 0; --apply "
                    "adds it\n");
  if (tw_cli_has(cli, "offset-from") && hidden > tip->offset_u) {
    fprintf(cli->err,
            "note: a centre from four touches is off by up to %.3f um, as three lobes look like an "
            "offset\n  hint: touch twelve times at each angle, or give the touches themselves "
            "(--offset-touches)\n",
            1e6 * hidden);
  }
}

/* ---- one edge --------------------------------------------------------------------------------
 */

/* a ball is larger than its effective diameter, by tenths of a millimetre at the most */
#define TW_BALL_MORE 1e-3

bool tw_tip_edge_of(tw_cli *cli, const tw_tip *tip, tw_found_edge *edge)
{
  double ball = (double)NAN;
  tw_fault fault = {0};
  if (!tw_cli_quantity(cli, "ball", "mm", &ball)) {
    return false;
  }
  if (tw_cli_has(cli, "ball") && !(fabs(ball - tip->diameter) < TW_BALL_MORE)) {
    tw_cli_usage(cli, "--ball: a ball of %.4f mm cannot look like %.4f mm at the trip", 1e3 * ball,
                 1e3 * tip->diameter);
    return false;
  }
  if (tw_tip_edge(tip, ball, edge, &fault) != TW_OK) {
    tw_cli_fault(cli, &fault);
    return false;
  }
  return true;
}

void tw_tip_say_edge(const tw_cli *cli, const tw_tip *tip, const tw_found_edge *edge)
{
  fprintf(cli->err, "one edge            at %.6g mm/min right to +- %.2f um with this table",
          6e4 * tip->feed, 1e6 * edge->after);
  if (isfinite(edge->before)) {
    fprintf(cli->err, ", +- %.2f um with the ball's size alone", 1e6 * edge->before);
  }
  fprintf(cli->err, "\n");
}
