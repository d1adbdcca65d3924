/* form_test.c: ring and sphere tests: form and size error, and what the artefact leaves open. */
#include "form_parts.h"

#include <math.h>
#include <string.h>

/* what the design of --foreseen says of the form error, before anything is measured: a ring goes
 * round the side, a sphere over all directions */
tw_exit tw_form_foresee(tw_form_job *j, bool ring)
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
static void put_foreseen(const tw_form_job *j, tw_record *r)
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
static tw_status put_record(tw_form_job *j, const tw_probing_error *e, const char *method,
                            tw_fault *fault)
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
    tw_form_put(j, "record", tw_json_record(r));
  }
  const bool whole = r && rose && tw_record_whole(r);
  tw_record_free(r);
  tw_free(rose);
  return whole ? TW_OK : tw_fail(fault, TW_NO_MEMORY, "", "use fewer points", "out of memory");
}

/* the artefact of --test: diameter given, the rest may be */
bool tw_form_artefact_of(tw_form_job *j, tw_artefact *out)
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
    tw_cli_usage(j->cli, tw_cli_has(j->cli, "diameter")
                             ? "--diameter: the certified diameter is above zero"
                             : "--test needs the certified --diameter of the ring or sphere");
    return false;
  }
  const struct {
    const char *name;
    double value;
  } positive[] = {{"diameter-u", out->diameter_u},
                  {"artefact-form", out->form},
                  {"artefact-form-u", out->form_u},
                  {"tip-diameter", j->tip}};
  for (size_t k = 0; k < sizeof positive / sizeof positive[0]; k++) {
    if (!(positive[k].value >= 0.0)) {
      tw_cli_usage(j->cli, "--%s is zero or above", positive[k].name);
      return false;
    }
  }
  if (tw_cli_has(j->cli, "artefact-form-u") && !tw_cli_has(j->cli, "artefact-form")) {
    tw_cli_usage(j->cli, "--artefact-form-u needs the form itself: --artefact-form");
    return false;
  }
  return true;
}

tw_status tw_form_put_test(tw_form_job *j, tw_form form, tw_fault *fault)
{
  tw_probing_error e;
  const bool ring = form == TW_CIRCLE;
  const tw_status status = ring ? tw_ring_test(j->point, j->n, &j->artefact, &e, fault)
                                : tw_sphere_test(j->point, j->n, &j->artefact, &e, fault);
  if (status != TW_OK) {
    return status;
  }
  /* what the certificate leaves open is the u of the test; the probe's own scatter is what is
   * tested (ISO/TS 23165, from memory) */
  const bool form_stated = tw_cli_has(j->cli, "artefact-form"),
             size_stated = tw_cli_has(j->cli, "diameter-u");
  /* recorded positions lack half the tip all round */
  e.size_error += ring ? j->tip : -j->tip;
  const char *method = ring ? "after the method of ISO 230-10, 2-D probing error"
                            : "after the method of ISO 10360-5, 25 points";
  if (put_record(j, &e, method, fault) != TW_OK) {
    return TW_NO_MEMORY;
  }
  tw_form_put(j, "test",
              json_pack("{s:s, s:o, s:o, s:o, s:o, s:b}", "method", method, "form_error",
                        tw_json_quantity(e.form_error, "m"), "size_error",
                        tw_json_quantity(e.size_error, "m"), "u_form",
                        tw_json_quantity(form_stated ? e.u_form : (double)NAN, "m"), "u_size",
                        tw_json_quantity(size_stated ? j->artefact.diameter_u : (double)NAN, "m"),
                        "pattern_kept", e.pattern_ok));
  if (tw_form_in_words(j)) {
    fprintf(j->cli->out, "\n%s test, after the method of %s\n", ring ? "Ring" : "Sphere",
            ring ? "ISO 230-10 (36 points)" : "ISO 10360-5 (25 points)");
    tw_form_say_um(j, "form error (range)", e.form_error);
    if (form_stated) {
      tw_form_say_um(j, "  u of the test", e.u_form);
    } else {
      tw_form_say_open(j, "  u of the test", "give --artefact-form, from the certificate");
    }
    if (j->foreseen->figure[0].has_foreseen) {
      tw_form_say_um(j, "  foreseen", j->foreseen->figure[0].foreseen);
    }
    tw_form_say_um(j, "size error, D - D cal", e.size_error);
    if (size_stated) {
      tw_form_say_um(j, "  u of the test", j->artefact.diameter_u);
    } else {
      tw_form_say_open(j, "  u of the test", "give --diameter-u, from the certificate");
    }
    if (!e.pattern_ok) {
      fprintf(j->cli->out,
              "  the points do not keep the method's pattern: say so with the result\n");
    }
  }
  return TW_OK;
}
