/* verb_form.c: an ideal shape through measured points, roundness, ring and sphere tests. */
#include "foreseen_in.h"
#include "readings_in.h"

#include <math.h>
#include <string.h>

/* residuals of more points than that are shown only in the CSV */
#define TW_RESIDUALS 100000

/* what stands between reading and printing */
struct job {
  tw_cli *cli;
  const char *kind;
  double *point, *residual;
  size_t n, dimensions;
  tw_artefact artefact; /* of --test */
  double tip;           /* effective diameter, 0 if the points are corrected already */
  tw_record *foreseen;  /* of --test: one figure, with what --foreseen says of it */
  json_t *document;
};

static bool zone_named(const char *name, tw_zone *out)
{
  static const struct {
    const char *name;
    tw_zone zone;
  } zones[] = {{"minimum-zone", TW_ZONE_MINIMUM},
               {"circumscribed", TW_ZONE_CIRCUMSCRIBED},
               {"inscribed", TW_ZONE_INSCRIBED}};
  for (size_t i = 0; i < sizeof zones / sizeof zones[0]; i++) {
    if (strcmp(zones[i].name, name) == 0) {
      *out = zones[i].zone;
      return true;
    }
  }
  return false;
}

static bool in_words(const struct job *j)
{
  return !tw_cli_has(j->cli, "json") && !tw_cli_has(j->cli, "csv");
}

static void put(struct job *j, const char *key, json_t *value)
{
  json_object_set_new(j->document, key, value);
}

static void put_quantity(struct job *j, const char *key, double value, const char *unit)
{
  put(j, key, tw_json_quantity(value, unit));
}

/* six figures of the position are a micrometre in a metre: positions are shown to 0.01 um, sizes
 * too, forms to 0.1 nm */
static void say_mm(const struct job *j, const char *what, double value)
{
  fprintf(j->cli->out, "  %-22s %15.6f mm\n", what, 1e3 * value);
}

static void say_um(const struct job *j, const char *what, double value)
{
  fprintf(j->cli->out, "  %-22s %15.4f um\n", what, 1e6 * value);
}

static void say_vector(const struct job *j, const char *what, const double *v, size_t n, double per,
                       const char *unit)
{
  fprintf(j->cli->out, "  %-22s", what);
  for (size_t k = 0; k < n; k++) {
    fprintf(j->cli->out, " %15.*f", per == 1.0 ? 9 : 6, per * v[k]);
  }
  fprintf(j->cli->out, " %s\n", unit);
}

/* ---- harmonics
 * ----------------------------------------------------------------------------------- */

static tw_status put_harmonics(struct job *j, const double *centre, const double *radius,
                               tw_fault *fault)
{
  long orders = 0;
  if (!tw_cli_count(j->cli, "harmonics", 1, TW_HARMONIC_MOST, &orders)) {
    return TW_CANCELLED;
  }
  double *angle = tw_alloc(j->n, sizeof *angle);
  if (!angle) {
    return TW_NO_MEMORY;
  }
  for (size_t i = 0; i < j->n; i++) {
    angle[i] = atan2(j->point[2 * i + 1] - centre[1], j->point[2 * i] - centre[0]);
  }
  tw_harmonics h;
  const tw_status status = tw_harmonics_of(angle, radius, j->n, (size_t)orders, &h, fault);
  tw_free(angle);
  if (status != TW_OK) {
    return status;
  }
  double order[TW_HARMONIC_MOST], phase[TW_HARMONIC_MOST];
  for (size_t k = 0; k < h.orders; k++) {
    order[k] = (double)(k + 1);
    phase[k] = h.phase[k + 1] * 57.295779513082321;
    /* the first is the place of the centre: rounding is all that is left of it */
    if (in_words(j) && k > 0) {
      fprintf(j->cli->out, "  harmonic %-13zu %15.4f um at %6.1f deg, u %.4f um\n", k + 1,
              1e6 * h.amplitude[k + 1], phase[k], 1e6 * h.u[k + 1]);
    }
  }
  put(j, "harmonics",
      json_pack("{s:s, s:o, s:o, s:o, s:o}", "unit", "m", "order", tw_json_numbers(order, h.orders),
                "amplitude", tw_json_numbers(h.amplitude + 1, h.orders), "phase_deg",
                tw_json_numbers(phase, h.orders), "u", tw_json_numbers(h.u + 1, h.orders)));
  return TW_OK;
}

/* ---- fits
 * ---------------------------------------------------------------------------------------- */

static void say_fit(const struct job *j, const tw_fit *f)
{
  const bool round = f->form == TW_CIRCLE || f->form == TW_SPHERE || f->form == TW_CYLINDER;
  fprintf(j->cli->out, "Least-squares %s through %zu points of %s\n\n", j->kind, j->n,
          j->cli->operand[1]);
  say_vector(j, "centre", f->centre, j->dimensions, 1e3, "mm");
  if (f->form != TW_CIRCLE && f->form != TW_SPHERE) {
    say_vector(j, f->form == TW_PLANE ? "normal" : "direction", f->direction, j->dimensions, 1.0,
               "");
  }
  if (round) {
    say_mm(j, "radius", f->radius);
    say_um(j, "  its u (by scatter)", f->radius_u);
  }
  say_um(j, "form (range)", f->form_error);
  say_um(j, "residual, rms", f->rms);
  fprintf(j->cli->out, "  %-22s %15zu and %zu\n", "lowest, highest point", f->least_at + 1,
          f->greatest_at + 1);
}

static void put_fit(struct job *j, const tw_fit *f)
{
  const bool round = f->form == TW_CIRCLE || f->form == TW_SPHERE || f->form == TW_CYLINDER;
  put(j, "centre", tw_json_vector(f->centre, j->dimensions, "m"));
  if (f->form != TW_CIRCLE && f->form != TW_SPHERE) {
    put(j, "direction", tw_json_vector(f->direction, j->dimensions, "1"));
  }
  if (round) {
    put_quantity(j, "radius", f->radius, "m");
    put_quantity(j, "radius_u", f->radius_u, "m");
    put(j, "centre_u", tw_json_vector(f->centre_u, j->dimensions, "m"));
  }
  put_quantity(j, "form", f->form_error, "m");
  put_quantity(j, "residual_rms", f->rms, "m");
  put_quantity(j, "residual_squares", f->squares, "m2");
  if (j->residual && j->n <= TW_RESIDUALS) {
    put(j, "residual", tw_json_vector(j->residual, j->n, "m"));
  }
}

/* what the design of --foreseen says of the form error, before anything is measured: a ring goes
 * round the side, a sphere over all directions */
static tw_exit foresee(struct job *j, bool ring)
{
  const tw_foreseen_pair pair = {
      "form error", ring ? TW_M_pretravel_variation_side : TW_M_pretravel_variation_3d, 1.0};
  j->foreseen = tw_record_new("");
  if (!j->foreseen || !tw_record_figure(j->foreseen, pair.figure, 0, "m", "um", 1e6, "")) {
    return TW_EXIT_INTERNAL;
  }
  return tw_cli_foreseen(j->cli, &pair, 1, j->foreseen);
}

/* the same in the record of the test */
static void put_foreseen(const struct job *j, tw_record *r)
{
  const tw_record *f = j->foreseen;
  for (size_t i = 0; i < f->conditions; i++) {
    tw_record_condition(r, f->condition[i].key, f->condition[i].words);
  }
  for (size_t i = 0; i < f->notes; i++) {
    tw_record_note(r, "%s", f->note[i]);
  }
  if (r->figures > 0) {
    r->figure[0].has_foreseen = f->figure[0].has_foreseen;
    r->figure[0].foreseen = f->figure[0].foreseen;
  }
}

/* the test as a record with its rose of residuals, for page and report */
static void put_record(struct job *j, const tw_probing_error *e, const char *method)
{
  tw_record *r = tw_record_new(j->kind);
  double *rose = tw_alloc(j->n, 2 * sizeof *rose);
  if (r && rose) {
    tw_record_condition(r, "readings", j->cli->operand[1]);
    tw_record_condition(r, "method", method);
    tw_record_figure(r, "form error", e->form_error, "m", "um", 1e6,
                     "range of the distances from the least-squares centre, no point left out");
    tw_record_figure(r, "size error", e->size_error, "m", "um", 1e6,
                     "fitted diameter, tip taken out, less the certified one");
    if (!e->pattern_ok) {
      tw_record_note(r, "the points do not keep the method's pattern");
    }
    put_foreseen(j, r);
    tw_record_caution(r, "the result holds for this stylus, feed, approach and filter");
    for (size_t i = 0; i < j->n; i++) {
      const double *p = j->point + j->dimensions * i;
      rose[2 * i] = atan2(p[1] - e->fit.centre[1], p[0] - e->fit.centre[0]);
      rose[2 * i + 1] = j->residual[i];
    }
    tw_record_plot(r, "rose of residuals", "azimuth, rad", "residual, m", true, rose, j->n);
    put(j, "record", tw_json_record(r));
  }
  tw_record_free(r);
  tw_free(rose);
}

/* the artefact of --test: diameter given, the rest may be */
static bool artefact_of(struct job *j, tw_artefact *out)
{
  *out = (tw_artefact){.diameter = (double)NAN};
  if (!tw_cli_quantity(j->cli, "diameter", "mm", &out->diameter) ||
      !tw_cli_quantity(j->cli, "diameter-u", "mm", &out->diameter_u) ||
      !tw_cli_quantity(j->cli, "artefact-form", "mm", &out->form) ||
      !tw_cli_quantity(j->cli, "artefact-form-u", "mm", &out->form_u) ||
      !tw_cli_quantity(j->cli, "tip-diameter", "mm", &j->tip)) {
    return false;
  }
  if (!(out->diameter > 0.0)) {
    tw_cli_usage(j->cli, "--test needs the certified --diameter of the ring or sphere");
    return false;
  }
  return true;
}

static tw_status put_test(struct job *j, tw_form form, tw_fault *fault)
{
  tw_probing_error e;
  const bool ring = form == TW_CIRCLE;
  const tw_status status = ring ? tw_ring_test(j->point, j->n, &j->artefact, &e, fault)
                                : tw_sphere_test(j->point, j->n, &j->artefact, &e, fault);
  if (status != TW_OK) {
    return status;
  }
  /* recorded positions lack half the tip all round */
  e.size_error += ring ? j->tip : -j->tip;
  const char *method = ring ? "after the method of ISO 230-10, 2-D probing error"
                            : "after the method of ISO 10360-5, 25 points";
  put_record(j, &e, method);
  put(j, "test",
      json_pack("{s:s, s:o, s:o, s:o, s:b}", "method", method, "form_error",
                tw_json_quantity(e.form_error, "m"), "size_error",
                tw_json_quantity(e.size_error, "m"), "u_form", tw_json_quantity(e.u_form, "m"),
                "pattern_kept", e.pattern_ok));
  if (in_words(j)) {
    fprintf(j->cli->out, "\n%s test, after the method of %s\n", ring ? "Ring" : "Sphere",
            ring ? "ISO 230-10 (36 points)" : "ISO 10360-5 (25 points)");
    say_um(j, "form error (range)", e.form_error);
    say_um(j, "  u of the test", e.u_form);
    if (j->foreseen->figure[0].has_foreseen) {
      say_um(j, "  foreseen", j->foreseen->figure[0].foreseen);
    }
    say_um(j, "size error, D - D cal", e.size_error);
    if (!e.pattern_ok) {
      fprintf(j->cli->out,
              "  the points do not keep the method's pattern: say so with the result\n");
    }
  }
  return TW_OK;
}

static tw_status fit(struct job *j, tw_form form, tw_fault *fault)
{
  tw_fit f;
  tw_status status = tw_fit_form(form, j->point, j->n, j->dimensions, j->residual, &f, fault);
  if (status != TW_OK) {
    return status;
  }
  put_fit(j, &f);
  if (in_words(j)) {
    say_fit(j, &f);
  }
  if (form == TW_CIRCLE && tw_cli_has(j->cli, "harmonics")) {
    status = put_harmonics(j, f.centre, j->residual, fault);
  }
  if (status == TW_OK && tw_cli_has(j->cli, "test")) {
    status = put_test(j, form, fault);
  }
  return status;
}

/* ---- zones
 * ---------------------------------------------------------------------------------------- */

static tw_status zone(struct job *j, tw_zone kind, tw_fault *fault)
{
  tw_zone_fit z;
  const tw_status status = tw_fit_zone(kind, j->point, j->n, &z, fault);
  if (status != TW_OK) {
    return status;
  }
  double squares = 0.0, support[TW_SUPPORT_MOST];
  for (size_t i = 0; i < j->n; i++) {
    j->residual[i] =
        hypot(j->point[2 * i] - z.centre[0], j->point[2 * i + 1] - z.centre[1]) - z.radius;
    squares += j->residual[i] * j->residual[i];
  }
  for (size_t i = 0; i < z.supports; i++) {
    support[i] = (double)(z.support[i] + 1);
  }
  put(j, "centre", tw_json_vector(z.centre, 2, "m"));
  put_quantity(j, "radius", z.radius, "m");
  put_quantity(j, "form", z.roundness, "m");
  put_quantity(j, "inner_radius", z.inner, "m");
  put_quantity(j, "outer_radius", z.outer, "m");
  put_quantity(j, "residual_rms", sqrt(squares / (double)j->n), "m");
  if (j->n <= TW_RESIDUALS) {
    put(j, "residual", tw_json_vector(j->residual, j->n, "m"));
  }
  put(j, "support", tw_json_numbers(support, z.supports));
  if (in_words(j)) {
    fprintf(j->cli->out, "%s circle of %zu points of %s\n\n", j->kind, j->n, j->cli->operand[1]);
    say_vector(j, "centre", z.centre, 2, 1e3, "mm");
    say_mm(j, "radius", z.radius);
    say_um(j, "roundness", z.roundness);
    fprintf(j->cli->out, "  %-22s", "held by points");
    for (size_t i = 0; i < z.supports; i++) {
      fprintf(j->cli->out, " %zu %s%s", z.support[i] + 1, z.support_outer[i] ? "outside" : "inside",
              i + 1 < z.supports ? "," : "\n");
    }
  }
  return TW_OK;
}

/* ---- verb
 * ----------------------------------------------------------------------------------------- */

static tw_exit finish(struct job *j, tw_status status, const tw_fault *fault)
{
  tw_cli *cli = j->cli;
  tw_exit code = TW_EXIT_DONE;
  if (status == TW_CANCELLED) {
    code = TW_EXIT_USAGE;
  } else if (status != TW_OK) {
    code = tw_cli_fault(cli, fault);
  } else if (tw_cli_has(cli, "json")) {
    code = tw_cli_print_json(cli, json_incref(j->document));
  } else if (tw_cli_has(cli, "csv")) {
    fprintf(cli->out, "point,residual_m\n");
    for (size_t i = 0; i < j->n; i++) {
      fprintf(cli->out, "%zu,%.17g\n", i + 1, j->residual[i]);
    }
  }
  json_decref(j->document);
  tw_record_free(j->foreseen);
  tw_free(j->point);
  tw_free(j->residual);
  return code;
}

static tw_exit run(tw_cli *cli)
{
  struct job j = {.cli = cli, .kind = cli->operand[0]};
  tw_form form = TW_CIRCLE;
  tw_zone kind = TW_ZONE_LEAST_SQUARES;
  const bool zoned = zone_named(j.kind, &kind);
  if (!zoned && !tw_form_named(j.kind, &form)) {
    return tw_cli_usage(cli,
                        "\"%s\" is not line, plane, circle, sphere, cylinder, minimum-zone, "
                        "circumscribed or inscribed",
                        j.kind);
  }
  const char *test = tw_cli_text(cli, "test", NULL);
  if (test && !(strcmp(test, "ring") == 0 && form == TW_CIRCLE && !zoned) &&
      !(strcmp(test, "sphere") == 0 && form == TW_SPHERE)) {
    return tw_cli_usage(cli, "--test is ring with form circle, sphere with form sphere");
  }
  if (test && !artefact_of(&j, &j.artefact)) {
    return TW_EXIT_USAGE;
  }
  if (!test && tw_cli_has(cli, "foreseen")) {
    return tw_cli_usage(cli, "--foreseen belongs to --test ring or --test sphere");
  }
  tw_exit code = test ? foresee(&j, form == TW_CIRCLE) : TW_EXIT_DONE;
  if (code != TW_EXIT_DONE) {
    tw_record_free(j.foreseen);
    return code;
  }
  const size_t most = form == TW_CIRCLE ? 2 : 3, least = form == TW_LINE ? 2 : most;
  code = tw_cli_points(cli, cli->operand[1], tw_cli_text(cli, "columns", NULL), least, most,
                       &j.point, &j.n, &j.dimensions);
  if (code != TW_EXIT_DONE) {
    tw_record_free(j.foreseen);
    return code;
  }
  tw_fault fault = {0};
  const bool wanted = j.n <= TW_RESIDUALS || zoned || test || tw_cli_has(cli, "csv") ||
                      tw_cli_has(cli, "harmonics");
  j.residual = wanted ? tw_alloc(j.n, sizeof *j.residual) : NULL;
  j.document = tw_document_new("form");
  if ((wanted && !j.residual) || !j.document) {
    return finish(&j, tw_fail(&fault, TW_NO_MEMORY, "", "", "out of memory"), &fault);
  }
  put(&j, "kind", json_string(j.kind));
  put(&j, "points", json_integer((json_int_t)j.n));
  const tw_status status = zoned ? zone(&j, kind, &fault) : fit(&j, form, &fault);
  return finish(&j, status, &fault);
}

static const tw_option options[] = {
    {"columns", "LIST", "columns with the coordinates, such as x_mm,y_mm or x:mm,y:mm", false},
    {"harmonics", "ORDERS", "circle: also the lobes up to this order", false},
    {"test", "ring|sphere", "also as a ring test or a 25-point sphere test", false},
    {"diameter", "LENGTH", "certified diameter of the ring or sphere", false},
    {"diameter-u", "LENGTH", "its standard uncertainty", false},
    {"tip-diameter", "LENGTH", "effective tip, when the points are recorded tip positions", false},
    {"artefact-form", "LENGTH", "certified form of the ring or sphere", false},
    {"artefact-form-u", "LENGTH", "its standard uncertainty", false},
    TW_FORESEEN_OPTION,
    TW_TABLE_OPTIONS,
    {NULL, NULL, NULL, false},
};

const tw_verb tw_verb_form = {
    .name = "form",
    .operands = "KIND FILE",
    .least = 2,
    .most = 2,
    .summary = "line, plane, circle, sphere or cylinder through measured points; roundness zones",
    .details = "KIND is line, plane, circle, sphere or cylinder (least squares on the true "
               "distances), or minimum-zone, circumscribed or inscribed (circles). No point is "
               "left out. Columns and units are named, never guessed. --json lists the residuals "
               "of up to 100000 "
               "points.",
    .options = options,
    .takes = TW_TAKES_JSON | TW_TAKES_CSV,
    .run = run,
};
