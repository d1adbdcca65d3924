/* log_learn.c: what the log teaches: own processes, drift, the tool against the bench. */
#include "log_parts.h"

#include "tripwright/logbook_ask.h"

#include <math.h>
#include <string.h>

/* ---- own offset and scatter ------------------------------------------------------------------ */

json_t *tw_json_log_use(const tw_log_use *use)
{
  return json_pack(
      "{s:s, s:s, s:I, s:{s:f, s:f}, s:{s:f, s:f, s:f}, s:[f, f], s:[f, f], s:b, s:b, s:s}",
      "process", use->process, "kind", tw_way_words(use->way), "pieces", (json_int_t)use->own.n,
      "library", "offset", use->offset, "tolerance", use->tolerance, "own", "offset", use->own.mean,
      "tolerance", use->half, "scatter", use->own.scale, "offset_interval",
      use->own.mean_interval.low, use->own.mean_interval.high, "scatter_interval",
      use->own.scale_interval.low, use->own.scale_interval.high, "library_doubted",
      use->own.doubted, "gauge_hides_scatter", use->gauge_floored, "unit", "m");
}

void tw_log_say_use(FILE *out, const tw_log_use *use)
{
  char a[40], b[40], c[40], d[40];
  fprintf(out, "%s, %s: %zu pieces turn %s ± %s into %s ± %s\n", use->process,
          tw_way_words(use->way), use->own.n, tw_show(use->offset, "m", a, sizeof a),
          tw_show(use->tolerance, "m", b, sizeof b), tw_show(use->own.mean, "m", c, sizeof c),
          tw_show(use->half, "m", d, sizeof d));
  if (use->own.doubted) {
    fprintf(out, "  the pieces scatter more than the library says: its scatter counts little\n");
  }
  if (use->gauge_floored) {
    fprintf(out, "  the gauge scatters as much as the pieces: half of its own is taken\n");
  }
}

tw_exit tw_log_uses_of(tw_cli *cli, const char *file, const tw_design *design, tw_log_use **rows,
                       size_t *count)
{
  tw_logbook *log = NULL;
  tw_fault fault = {0};
  *rows = NULL;
  *count = 0;
  if (tw_logbook_open(file, &(tw_logbook_options){.write = false}, &log, &fault) != TW_OK) {
    return tw_cli_fault(cli, &fault);
  }
  const tw_status status = tw_logbook_use(log, design, rows, count, &fault);
  tw_logbook_close(log);
  return status == TW_OK ? TW_EXIT_DONE : tw_cli_fault(cli, &fault);
}

tw_exit tw_log_made_word(tw_cli *cli)
{
  tw_design *design = NULL;
  tw_log_use *row = NULL;
  size_t count = 0;
  tw_exit code = tw_cli_design(cli, tw_log_operand(cli, 0), TW_NEED_ALL, &design);
  if (code != TW_EXIT_DONE) {
    return code;
  }
  code = tw_log_uses_of(cli, tw_cli_log_file(cli), design, &row, &count);
  tw_design_free(design);
  if (code == TW_EXIT_DONE && tw_cli_has(cli, "json")) {
    json_t *document = tw_log_document(cli, "made"), *rows = json_array();
    for (size_t i = 0; i < count; i++) {
      json_array_append_new(rows, tw_json_log_use(&row[i]));
    }
    json_object_set_new(document, "processes", rows);
    code = tw_cli_print_json(cli, document);
  } else if (code == TW_EXIT_DONE) {
    for (size_t i = 0; i < count; i++) {
      tw_log_say_use(cli->out, &row[i]);
    }
    fprintf(cli->out, count ? "Use them with spread --log.\n"
                            : "The log has no dimension that a process of the shop file made.\n");
  }
  tw_free(row);
  return code;
}

/* ---- charts ---------------------------------------------------------------------------------- */

typedef struct chart {
  double *x, *value, *half;
  tw_individuals limits;
  tw_ewma ewma;
  double upper, lower;
  bool standard; /* x is z of foreseen against measured */
  size_t n, outside, ewma_outside;
} chart;

/* z where every piece has what was foreseen, else the figure itself */
static void fill(chart *c, const tw_log_pieces *p)
{
  c->standard = true;
  for (size_t i = 0; i < p->count; i++) {
    c->standard =
        c->standard && p->row[i].has_foreseen && hypot(p->row[i].u, p->row[i].u_foreseen) > 0.0;
  }
  for (size_t i = 0; i < p->count; i++) {
    const tw_log_piece *r = &p->row[i];
    c->x[i] = c->standard ? (r->value - r->foreseen) / hypot(r->u, r->u_foreseen) : r->value;
  }
}

static tw_status compute(chart *c, const tw_log_pieces *p, tw_fault *fault)
{
  c->n = p->count;
  c->x = tw_alloc(3 * c->n, sizeof *c->x);
  if (!c->x) {
    return tw_fail(fault, TW_NO_MEMORY, "", NULL, "out of memory");
  }
  c->value = c->x + c->n;
  c->half = c->value + c->n;
  fill(c, p);
  tw_status status = tw_individuals_of(c->x, c->n, &c->limits, fault);
  if (status != TW_OK) {
    return status;
  }
  const bool few = c->n < TW_CHART_KNOWN;
  c->upper = few ? c->limits.t_upper : c->limits.upper;
  c->lower = few ? c->limits.t_lower : c->limits.lower;
  c->ewma = (tw_ewma){TW_EWMA_WEIGHT, TW_EWMA_LIMITS, c->limits.centre, c->limits.s,
                      c->n < TW_CHART_KNOWN ? c->n : 0};
  status = tw_ewma_of(&c->ewma, c->x, c->n, c->value, c->half, &c->ewma_outside, fault);
  for (size_t i = 0; i < c->n; i++) {
    c->outside += c->x[i] > c->upper || c->x[i] < c->lower;
  }
  return status;
}

static bool is_out(const chart *c, size_t i)
{
  return c->x[i] > c->upper || c->x[i] < c->lower;
}

static bool ewma_is_out(const chart *c, size_t i)
{
  return fabs(c->value[i] - c->ewma.target) > c->half[i];
}

static tw_exit chart_json(tw_cli *cli, const chart *c, const tw_log_pieces *p)
{
  json_t *document = tw_log_document(cli, "chart"), *rows = json_array();
  for (size_t i = 0; i < c->n; i++) {
    json_array_append_new(rows, json_pack("{s:s, s:f, s:f, s:f, s:b, s:b}", "piece",
                                          p->row[i].piece, "x", c->x[i], "ewma", c->value[i],
                                          "ewma_half", c->half[i], "outside", (int)is_out(c, i),
                                          "ewma_outside", (int)ewma_is_out(c, i)));
  }
  json_object_set_new(document, "measure", json_string(p->measure));
  json_object_set_new(document, "unit", json_string(c->standard ? "1" : p->unit));
  json_object_set_new(document, "standardised", json_boolean(c->standard));
  json_object_set_new(document, "limits",
                      json_pack("{s:f, s:f, s:f, s:f, s:f, s:f, s:f, s:f, s:s}", "centre",
                                c->limits.centre, "moving_range", c->limits.moving_range,
                                "moving_range_upper", c->limits.moving_range_upper, "upper",
                                c->limits.upper, "lower", c->limits.lower, "t_upper",
                                c->limits.t_upper, "t_lower", c->limits.t_lower, "s", c->limits.s,
                                "used", c->n < TW_CHART_KNOWN ? "t" : "moving_range"));
  json_object_set_new(document, "rows", rows);
  return tw_cli_print_json(cli, document);
}

static void chart_text(tw_cli *cli, const chart *c, const tw_log_pieces *p)
{
  const char *unit = c->standard ? "1" : p->unit;
  char a[40], b[40], d[40];
  fprintf(cli->out, "%s, %zu pieces in the order of making%s\n", p->measure, c->n,
          c->standard ? "; (measured - foreseen) in standard deviations" : "");
  fprintf(cli->out, "centre %s, limits %s .. %s (%s)\n",
          tw_show(c->limits.centre, unit, a, sizeof a), tw_show(c->lower, unit, b, sizeof b),
          tw_show(c->upper, unit, d, sizeof d),
          c->n < TW_CHART_KNOWN ? "t, under 40 pieces" : "three sigma by moving range");
  for (size_t i = 0; i < c->n; i++) {
    fprintf(cli->out, "%-8s %-10s moving average %-10s%s%s\n", p->row[i].piece,
            tw_show(c->x[i], unit, a, sizeof a), tw_show(c->value[i], unit, b, sizeof b),
            is_out(c, i) ? "  outside" : "", ewma_is_out(c, i) ? "  drifts" : "");
  }
  if (c->outside == 0 && c->ewma_outside == SIZE_MAX) {
    fprintf(cli->out, "No piece is outside and nothing drifts.\n");
  }
  fprintf(cli->out, "One chart of one figure: watch ten figures and one of them calls falsely ten "
                    "times as often.\n");
}

tw_exit tw_log_chart(tw_cli *cli)
{
  tw_log_pieces p;
  chart c = {.outside = 0};
  tw_fault fault = {0};
  tw_exit code = tw_log_pieces_of(cli, &p);
  if (code != TW_EXIT_DONE) {
    return code;
  }
  if (compute(&c, &p, &fault) != TW_OK) {
    code = tw_cli_fault(cli, &fault);
  } else if (tw_cli_has(cli, "json")) {
    code = chart_json(cli, &c, &p);
  } else {
    chart_text(cli, &c, &p);
  }
  tw_free(c.x);
  tw_free(p.row);
  return code;
}

/* ---- foreseen against measured --------------------------------------------------------------- */

static tw_exit agree_json(tw_cli *cli, const tw_log_pieces *p, const double *z,
                          const tw_agreement *a)
{
  json_t *document = tw_log_document(cli, "agree"), *rows = json_array();
  for (size_t i = 0; i < p->count; i++) {
    const tw_log_piece *r = &p->row[i];
    json_array_append_new(rows,
                          json_pack("{s:s, s:f, s:f, s:f, s:f, s:f}", "piece", r->piece, "measured",
                                    r->value, "foreseen", r->foreseen, "u_measured", r->u,
                                    "u_foreseen", r->u_foreseen, "z", z[i]));
  }
  json_object_set_new(document, "measure", json_string(p->measure));
  json_object_set_new(document, "unit", json_string(p->unit));
  json_object_set_new(
      document, "agreement",
      json_pack("{s:f, s:f, s:f, s:f, s:f, s:f, s:f, s:I, s:I, s:[f, f]}", "chi2", a->chi2, "p",
                a->p, "common_bias", a->bias, "u_bias", a->u_bias, "chi2_about_bias", a->chi2_about,
                "p_about_bias", a->p_about, "birge", a->birge, "pieces", (json_int_t)a->n, "within",
                (json_int_t)a->within, "within_share", a->within_share.low, a->within_share.high));
  json_object_set_new(document, "rows", rows);
  return tw_cli_print_json(cli, document);
}

static void agree_text(tw_cli *cli, const tw_log_pieces *p, const double *z, const tw_agreement *a)
{
  char x[40], y[40];
  fprintf(cli->out, "%s: measured against foreseen, %zu pieces\n", p->measure, a->n);
  for (size_t i = 0; i < p->count; i++) {
    fprintf(cli->out, "%-8s measured %-10s foreseen %-10s z %+.1f\n", p->row[i].piece,
            tw_show(p->row[i].value, p->unit, x, sizeof x),
            tw_show(p->row[i].foreseen, p->unit, y, sizeof y), z[i]);
  }
  fprintf(cli->out, "The model reads %s by %s ± %s (k = 2) in common", a->bias > 0 ? "low" : "high",
          tw_show(fabs(a->bias), p->unit, x, sizeof x),
          tw_show(2.0 * a->u_bias, p->unit, y, sizeof y));
  fprintf(cli->out, "%s.\n", fabs(a->bias) > 2.0 * a->u_bias ? "" : ", which may be none");
  fprintf(
      cli->out,
      "Scatter: chi2 %.3g on %zu without a common bias (p %.2g), %.3g on %zu about it (p %.2g).\n",
      a->chi2, a->n, a->p, a->chi2_about, a->n > 0 ? a->n - 1 : 0, a->p_about);
  fprintf(cli->out,
          "Within its own 2 u: %zu of %zu (95 %% promised; %.0f .. %.0f %% can be said).\n",
          a->within, a->n, 100.0 * a->within_share.low, 100.0 * a->within_share.high);
}

/* only pieces of which it was foreseen */
static void keep_foreseen(tw_log_pieces *p)
{
  size_t kept = 0;
  for (size_t i = 0; i < p->count; i++) {
    if (p->row[i].has_foreseen) {
      p->row[kept++] = p->row[i];
    }
  }
  p->count = kept;
}

static tw_status agreement(const tw_log_pieces *p, double *x, tw_agreement *out, tw_fault *fault)
{
  const size_t n = p->count;
  for (size_t i = 0; i < n; i++) {
    x[n + i] = p->row[i].value;
    x[2 * n + i] = p->row[i].foreseen;
    x[3 * n + i] = p->row[i].u;
    x[4 * n + i] = p->row[i].u_foreseen;
  }
  return tw_agreement_of(x + n, x + 2 * n, x + 3 * n, x + 4 * n, n, x, out, fault);
}

tw_exit tw_log_agree(tw_cli *cli)
{
  tw_log_pieces p;
  tw_agreement a;
  tw_fault fault = {0};
  tw_exit code = tw_log_pieces_of(cli, &p);
  if (code != TW_EXIT_DONE) {
    return code;
  }
  keep_foreseen(&p);
  double *x = tw_alloc(5 * (p.count + 1), sizeof *x);
  const tw_status status =
      x ? agreement(&p, x, &a, &fault) : tw_fail(&fault, TW_NO_MEMORY, "", NULL, "out of memory");
  if (status != TW_OK) {
    code = tw_cli_fault(cli, &fault);
  } else if (tw_cli_has(cli, "json")) {
    code = agree_json(cli, &p, x, &a);
  } else {
    agree_text(cli, &p, x, &a);
  }
  tw_free(x);
  tw_free(p.row);
  return code;
}

/* ---- a lot of discs -------------------------------------------------------------------------- */

/* do two figures go together from piece to piece of a lot? */
static size_t pair_up(const tw_log_pieces *a, const tw_log_pieces *b, double *x, double *y)
{
  size_t n = 0;
  for (size_t i = 0; i < a->count; i++) {
    for (size_t k = 0; k < b->count; k++) {
      if (strcmp(a->row[i].piece, b->row[k].piece) == 0) {
        x[n] = a->row[i].value;
        y[n++] = b->row[k].value;
      }
    }
  }
  return n;
}

static tw_exit pieces_of(tw_cli *cli, int operand, tw_log_pieces *out)
{
  tw_logbook *log = NULL;
  tw_fault fault = {0};
  *out = (tw_log_pieces){.measure = tw_log_operand(cli, operand)};
  const tw_log_filter filter = {.measure = out->measure, .lot = tw_cli_text(cli, "lot", NULL)};
  const tw_exit code = tw_cli_log_open(cli, false, &log);
  if (code != TW_EXIT_DONE) {
    return code;
  }
  const tw_status status = tw_logbook_pieces(log, &filter, &out->row, &out->count, &fault);
  tw_logbook_close(log);
  return status == TW_OK ? TW_EXIT_DONE : tw_cli_fault(cli, &fault);
}

static tw_exit say_together(tw_cli *cli, const char *a, const char *b, const tw_going_together *g)
{
  if (tw_cli_has(cli, "json")) {
    json_t *document = tw_log_document(cli, "together");
    json_object_set_new(document, "measures", json_pack("[s, s]", a, b));
    json_object_set_new(document, "pieces", json_integer((json_int_t)g->n));
    json_object_set_new(document, "r", json_real(g->r));
    json_object_set_new(document, "interval",
                        json_pack("[f, f]", g->interval.low, g->interval.high));
    json_object_set_new(document, "shown", json_boolean(g->shown));
    return tw_cli_print_json(cli, document);
  }
  fprintf(cli->out, "%s and %s of %zu pieces: r %.2f (%.2f .. %.2f, 95 %%)\n%s\n", a, b, g->n, g->r,
          g->interval.low, g->interval.high,
          g->shown ? "They go together: give spread --correlate with this r."
                   : "0 lies within: leave --correlate out.");
  return TW_EXIT_DONE;
}

tw_exit tw_log_together(tw_cli *cli)
{
  tw_log_pieces a = {.count = 0}, b = {.count = 0};
  tw_going_together g;
  tw_fault fault = {0};
  tw_exit code = pieces_of(cli, 0, &a);
  code = code == TW_EXIT_DONE ? pieces_of(cli, 1, &b) : code;
  if (code == TW_EXIT_DONE) {
    double *x = tw_alloc(2 * (a.count + 1), sizeof *x);
    const size_t n = x ? pair_up(&a, &b, x, x + a.count + 1) : 0;
    code = tw_going_together_of(x, x ? x + a.count + 1 : NULL, n, &g, &fault) == TW_OK
               ? say_together(cli, a.measure, b.measure, &g)
               : tw_cli_fault(cli, &fault);
    tw_free(x);
  }
  tw_free(a.row);
  tw_free(b.row);
  return code;
}
