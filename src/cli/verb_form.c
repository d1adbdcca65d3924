/* verb_form.c: an ideal shape through measured points, roundness, ring and sphere tests. */
#include "form_parts.h"
#include "log_enter.h"

#include "tripwright/constants.h"

#include <math.h>
#include <string.h>

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

/* ---- harmonics
 * ----------------------------------------------------------------------------------- */

static tw_status put_harmonics(tw_form_job *j, const double *centre, const double *radius,
                               tw_fault *fault)
{
  double *angle = tw_alloc(j->n, sizeof *angle);
  if (!angle) {
    return tw_fail(fault, TW_NO_MEMORY, "", "use fewer points", "out of memory");
  }
  for (size_t i = 0; i < j->n; i++) {
    angle[i] = atan2(j->point[2 * i + 1] - centre[1], j->point[2 * i] - centre[0]);
  }
  tw_harmonics h;
  const tw_status status = tw_harmonics_of(angle, radius, j->n, (size_t)j->orders, &h, fault);
  tw_free(angle);
  if (status != TW_OK) {
    return status;
  }
  /* as many waves as points: nothing is left over to judge them by */
  const bool spare = j->n > 2 * h.orders + 1;
  double order[TW_HARMONIC_MOST], phase[TW_HARMONIC_MOST];
  for (size_t k = 0; k < h.orders; k++) {
    order[k] = (double)(k + 1);
    phase[k] = h.phase[k + 1] * TW_RADIAN;
    /* the first is the place of the centre: rounding is all that is left of it */
    if (tw_form_in_words(j) && k > 0) {
      fprintf(j->cli->out, "  harmonic %-13zu %15.4f um at %6.1f deg, u ", k + 1,
              1e6 * h.amplitude[k + 1], phase[k]);
      fprintf(j->cli->out, spare ? "%.4f um\n" : "not stated\n", 1e6 * h.u[k + 1]);
    }
  }
  tw_form_put(j, "harmonics",
              json_pack("{s:s, s:o, s:o, s:o, s:o}", "unit", "m", "order",
                        tw_json_numbers(order, h.orders), "amplitude",
                        tw_json_numbers(h.amplitude + 1, h.orders), "phase_deg",
                        tw_json_numbers(phase, h.orders), "u",
                        spare ? tw_json_numbers(h.u + 1, h.orders) : json_null()));
  return TW_OK;
}

/* ---- fits
 * ---------------------------------------------------------------------------------------- */

static void say_fit(const tw_form_job *j, const tw_fit *f)
{
  const bool round = f->form == TW_CIRCLE || f->form == TW_SPHERE || f->form == TW_CYLINDER;
  fprintf(j->cli->out, "Least-squares %s through %zu points of %s\n\n", j->kind, j->n,
          j->cli->operand[1]);
  tw_form_say_vector(j, "centre", f->centre, j->dimensions, 1e3, "mm");
  if (f->form != TW_CIRCLE && f->form != TW_SPHERE) {
    tw_form_say_vector(j, f->form == TW_PLANE ? "normal" : "direction", f->direction, j->dimensions,
                       1.0, "");
  }
  if (round) {
    tw_form_say_mm(j, "radius", f->radius);
  }
  if (f->spare == 0) {
    tw_form_say_open(j, "form, u", "so few points always fit; take one more at the least");
    return;
  }
  if (round) {
    tw_form_say_um(j, "  its u (by scatter)", f->radius_u);
  }
  tw_form_say_um(j, "form (range)", f->form_error);
  tw_form_say_um(j, "residual, rms", f->rms);
  fprintf(j->cli->out, "  %-22s %15zu and %zu\n", "lowest, highest point", f->least_at + 1,
          f->greatest_at + 1);
}

static void put_fit(tw_form_job *j, const tw_fit *f)
{
  const bool round = f->form == TW_CIRCLE || f->form == TW_SPHERE || f->form == TW_CYLINDER;
  tw_form_put(j, "centre", tw_json_vector(f->centre, j->dimensions, "m"));
  if (f->form != TW_CIRCLE && f->form != TW_SPHERE) {
    tw_form_put(j, "direction", tw_json_vector(f->direction, j->dimensions, "1"));
  }
  if (round) {
    tw_form_put_quantity(j, "radius", f->radius, "m");
    tw_form_put_quantity(j, "radius_u", f->spare ? f->radius_u : (double)NAN, "m");
    tw_form_put(j, "centre_u",
                f->spare ? tw_json_vector(f->centre_u, j->dimensions, "m") : json_null());
  }
  tw_form_put_quantity(j, "form", f->spare ? f->form_error : (double)NAN, "m");
  tw_form_put_quantity(j, "residual_rms", f->rms, "m");
  tw_form_put_quantity(j, "residual_squares", f->squares, "m2");
  if (j->residual && j->n <= TW_RESIDUALS) {
    tw_form_put(j, "residual", tw_json_vector(j->residual, j->n, "m"));
  }
}

static tw_status fit(tw_form_job *j, tw_form form, tw_fault *fault)
{
  tw_fit f;
  tw_status status = tw_fit_form(form, j->point, j->n, j->dimensions, j->residual, &f, fault);
  if (status != TW_OK) {
    return status;
  }
  put_fit(j, &f);
  if (tw_form_in_words(j)) {
    say_fit(j, &f);
  }
  if (form == TW_CIRCLE && tw_cli_has(j->cli, "harmonics")) {
    status = put_harmonics(j, f.centre, j->residual, fault);
  }
  if (status == TW_OK && tw_cli_has(j->cli, "test")) {
    status = tw_form_put_test(j, form, fault);
  }
  return status == TW_OK && f.spare ? tw_form_say_odd(j, j->residual, fault) : status;
}

/* ---- zones
 * ---------------------------------------------------------------------------------------- */

/* one point far off pulls the zone half the way towards itself: it shows against least squares */
static tw_status say_odd_of_zone(tw_form_job *j, tw_fault *fault)
{
  tw_fit f;
  double *residual = tw_alloc(j->n, sizeof *residual);
  if (!residual) {
    return tw_fail(fault, TW_NO_MEMORY, "", "use fewer points", "out of memory");
  }
  /* three points have a zone, but no fit that could be off */
  const bool fits =
      tw_fit_form(TW_CIRCLE, j->point, j->n, 2, residual, &f, NULL) == TW_OK && f.spare > 0;
  const tw_status status = fits ? tw_form_say_odd(j, residual, fault) : TW_OK;
  tw_free(residual);
  return status;
}

static tw_status zone(tw_form_job *j, tw_zone kind, tw_fault *fault)
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
  tw_form_put(j, "centre", tw_json_vector(z.centre, 2, "m"));
  tw_form_put_quantity(j, "radius", z.radius, "m");
  tw_form_put_quantity(j, "form", z.roundness, "m");
  tw_form_put_quantity(j, "inner_radius", z.inner, "m");
  tw_form_put_quantity(j, "outer_radius", z.outer, "m");
  tw_form_put_quantity(j, "residual_rms", sqrt(squares / (double)j->n), "m");
  if (j->n <= TW_RESIDUALS) {
    tw_form_put(j, "residual", tw_json_vector(j->residual, j->n, "m"));
  }
  tw_form_put(j, "support", tw_json_numbers(support, z.supports));
  if (tw_form_in_words(j)) {
    fprintf(j->cli->out, "%s circle of %zu points of %s\n\n", j->kind, j->n, j->cli->operand[1]);
    tw_form_say_vector(j, "centre", z.centre, 2, 1e3, "mm");
    tw_form_say_mm(j, "radius", z.radius);
    tw_form_say_um(j, "roundness", z.roundness);
    fprintf(j->cli->out, "  %-22s", "held by points");
    for (size_t i = 0; i < z.supports; i++) {
      fprintf(j->cli->out, " %zu %s%s", z.support[i] + 1, z.support_outer[i] ? "outside" : "inside",
              i + 1 < z.supports ? "," : "\n");
    }
  }
  return say_odd_of_zone(j, fault);
}

/* ---- verb
 * ----------------------------------------------------------------------------------------- */

/* form and size of the document, and of a test what was foreseen, into the log */
static tw_exit enter(tw_form_job *j)
{
  static const char *const keys[] = {"form", "radius", "size_error"};
  tw_log_entering *e = tw_cli_log_begin(j->cli);
  const json_t *test = json_object_get(j->document, "test");
  for (size_t k = 0; k < sizeof keys / sizeof keys[0]; k++) {
    const json_t *q = json_object_get(k < 2 ? j->document : test, keys[k]);
    char name[64];
    snprintf(name, sizeof name, "form %.20s %s", j->kind, keys[k]);
    json_t *body = json_is_object(q) ? tw_cli_log_figure(e, name, tw_number_of(q, "value"),
                                                         tw_text_of(q, "unit"), 0.0)
                                     : NULL;
    if (body && k == 0 && test && j->foreseen && j->foreseen->figure[0].has_foreseen) {
      json_object_set_new(body, "foreseen", json_real(j->foreseen->figure[0].foreseen));
      json_object_set_new(body, "u_foreseen", json_real(0.0));
    }
  }
  return tw_cli_log_enter(j->cli, e, j->cli->operand[1]);
}

static tw_exit finish(tw_form_job *j, tw_status status, tw_fault *fault)
{
  if (status == TW_OK && j->lost) {
    status = tw_fail(fault, TW_NO_MEMORY, "", "use fewer points", "out of memory");
  }
  tw_cli *cli = j->cli;
  tw_exit code = TW_EXIT_DONE;
  if (status != TW_OK) {
    code = tw_cli_fault(cli, fault);
  } else if (tw_cli_has(cli, "json")) {
    code = tw_cli_print_json(cli, json_incref(j->document));
  } else if (tw_cli_has(cli, "csv")) {
    fprintf(cli->out, "point,residual_m\n");
    for (size_t i = 0; i < j->n; i++) {
      fprintf(cli->out, "%zu,%.17g\n", i + 1, j->residual[i]);
    }
  }
  code = code == TW_EXIT_DONE ? enter(j) : code;
  json_decref(j->document);
  tw_record_free(j->foreseen);
  tw_free(j->point);
  tw_free(j->residual);
  return code;
}

/* options that say nothing where they stand, or say it wrongly */
static tw_exit check_options(tw_form_job *j, bool circle)
{
  tw_cli *cli = j->cli;
  static const char *const of_test[] = {"foreseen",     "diameter",      "diameter-u",
                                        "tip-diameter", "artefact-form", "artefact-form-u"};
  for (size_t k = 0; k < sizeof of_test / sizeof of_test[0]; k++) {
    if (tw_cli_has(cli, of_test[k]) && !tw_cli_has(cli, "test")) {
      return tw_cli_usage(cli, "--%s belongs to --test ring or --test sphere", of_test[k]);
    }
  }
  if (tw_cli_has(cli, "harmonics") && !circle) {
    return tw_cli_usage(cli, "--harmonics belongs to form circle");
  }
  return tw_cli_count(cli, "harmonics", 1, TW_HARMONIC_MOST, &j->orders) ? TW_EXIT_DONE
                                                                         : TW_EXIT_USAGE;
}

static tw_exit run(tw_cli *cli)
{
  tw_form_job j = {.cli = cli, .kind = cli->operand[0]};
  tw_form form = TW_CIRCLE;
  tw_zone kind = TW_ZONE_LEAST_SQUARES;
  if (!tw_cli_log_options(cli)) {
    return TW_EXIT_USAGE;
  }
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
  if (test && !tw_form_artefact_of(&j, &j.artefact)) {
    return TW_EXIT_USAGE;
  }
  const tw_exit fits = check_options(&j, form == TW_CIRCLE && !zoned);
  if (fits != TW_EXIT_DONE) {
    return fits;
  }
  tw_exit code = test ? tw_form_foresee(&j, form == TW_CIRCLE) : TW_EXIT_DONE;
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
  tw_form_put(&j, "kind", json_string(j.kind));
  tw_form_put(&j, "points", json_integer((json_int_t)j.n));
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
    TW_LOG_ENTER_OPTIONS,
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
