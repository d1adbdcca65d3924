/* identify.c: readings checked, the unit fitted, the answer put together. */
#include "inner.h"

#include <gsl/gsl_cdf.h>

#include <math.h>
#include <string.h>

/* a reading without a stated uncertainty: 1 % of it (docs/models/bench.md) */
#define READING_SHARE 0.01
/* a parameter that moves no check of the card by this share of what an instrument is off is none */
#define MOVES 0.02
/* spread as a factor, and so wide that the normal picture may fail: its ends come from a profile */
#define WIDE 0.5
/* a reading that stands out against a fit that hardly heeds it */
#define STANDS_OUT 3.0
/* below this probability it is asked which reading disagrees (common practice, no source) */
#define DOUBTFUL 0.05
/* fewer readings than this cannot outvote one among them (own choice) */
#define VOTERS 4

/* everything of one identification */
typedef struct job {
  unit_model m;
  const tw_bench_reading *reading;
  size_t readings;
  rows r;
  size_t row_of[TW_BENCH_COUNT]; /* of each reading; SIZE_MAX: a word */
  shown drawn;
  fit f, other;
} job;

/* ---- readings ------------------------------------------------------------------------------ */

static tw_status check_reading(const tw_bench_card *card, const tw_bench_reading *reading, size_t i,
                               tw_fault *fault)
{
  const tw_bench_check *c = tw_bench_find(card, reading[i].id);
  for (size_t k = 0; k < i; k++) {
    if (reading[k].id == reading[i].id) {
      return tw_fail(fault, TW_BAD_INPUT, "", "give each check once", "one check is read twice");
    }
  }
  if ((size_t)reading[i].id == TW_IDENTIFY_CHARGE && reading[i].kind == TW_READ_NUMBER) {
    return TW_OK; /* of a recording: no check of the card, but a figure behind it */
  }
  if (!c) {
    return tw_fail(fault, TW_BAD_INPUT, "", "see tripwright expect for what can be read",
                   "the card of this design does not have one of the checks");
  }
  if ((reading[i].kind == TW_READ_WORD) != (c->word != NULL) && reading[i].kind != TW_READ_NONE) {
    return tw_fail(fault, TW_BAD_INPUT, c->name,
                   c->word ? "write high, low, + or -" : "give a number", "%s: the reading is %s",
                   c->name, c->word ? "no word" : "a word, not a number");
  }
  return TW_OK;
}

/* volts may lie on either side of 0 and are compared as they are; what is always positive is
 * compared as a ratio */
static tw_status take_readings(job *j, tw_identified *out, tw_fault *fault)
{
  tw_status status = j->readings <= TW_BENCH_COUNT
                         ? TW_OK
                         : tw_fail(fault, TW_BAD_INPUT, "", "give each check once",
                                   "there are more readings than checks");
  for (size_t i = 0; i < j->readings && status == TW_OK; i++) {
    const tw_bench_reading *r = &j->reading[i];
    status = check_reading(&out->card, j->reading, i, fault);
    j->row_of[i] = SIZE_MAX;
    if (status == TW_OK && r->kind == TW_READ_NUMBER) {
      const tw_bench_check *c = tw_bench_find(&out->card, r->id);
      const size_t at = j->r.count++;
      j->row_of[i] = at;
      j->r.what[at] = r->id;
      j->r.value[at] = r->value;
      j->r.u[at] = r->u > 0 ? r->u : fmax(READING_SHARE * fabs(r->value), 1e-15);
      j->r.ratio[at] = !(c && strcmp(c->unit, "V") == 0) && r->value > 0;
    }
  }
  out->readings = j->readings;
  out->numbers = j->r.count;
  return status;
}

/* ---- parameters ---------------------------------------------------------------------------- */

/* only what moves a check of the card is a parameter of this unit */
static void drop_unmoving(job *j, tw_identified *out)
{
  const size_t n = j->m.parameters;
  size_t kept = 0, from[TW_IDENTIFY_MOST];
  for (size_t k = 0; k < n; k++) {
    double most = 0;
    for (int i = 0; i < out->card.count; i++) {
      const tw_bench_check *c = &out->card.check[i];
      const double u = c->usual_u * fabs(j->f.shown.value[c->id]);
      most = j->f.shown.known[c->id] && u > 0 ? fmax(most, fabs(j->f.jacobian[c->id * n + k]) / u)
                                              : most;
    }
    if (most > MOVES) {
      from[kept] = k;
      out->parameter[kept++] = out->parameter[k];
    }
  }
  for (size_t w = 0; w < TW_IDENTIFY_SHOWN; w++) {
    for (size_t k = 0; k < kept; k++) {
      j->f.jacobian[w * kept + k] = j->f.jacobian[w * n + from[k]];
    }
  }
  j->m.parameters = out->parameters = kept;
}

static tw_status start(job *j, tw_identified *out, tw_fault *fault)
{
  j->m.parameter = out->parameter;
  tw_status status = tw_unit_parameters(j->m.design, j->m.units, j->m.with.hand_time,
                                        out->parameter, &j->m.parameters, fault);
  status = status == TW_OK ? tw_unit_model_new(&j->m, fault) : status;
  status = status == TW_OK ? tw_unit_shows(&j->m, j->f.z, &j->f.shown, fault) : status;
  if (status == TW_OK) {
    j->drawn.known[TW_IDENTIFY_CHARGE] = j->f.shown.known[TW_IDENTIFY_CHARGE];
    j->drawn.value[TW_IDENTIFY_CHARGE] = j->f.shown.value[TW_IDENTIFY_CHARGE];
    status = tw_unit_jacobian(&j->m, j->f.z, j->f.jacobian, fault);
    j->f.has_jacobian = true;
  }
  if (status == TW_OK) {
    drop_unmoving(j, out);
    if (j->m.parameters == 0) {
      status = tw_fail(fault, TW_NO_ANSWER, "", "write tolerances behind the values that vary",
                       "nothing of this design moves a check of its card");
    }
  }
  return status;
}

/* ---- does the model hold, and which reading does not --------------------------------------- */

static double probability_of(double chi_square, size_t n)
{
  return n > 0 ? gsl_cdf_chisq_Q(chi_square, (double)n) : 1;
}

/* the reading furthest off a fit that hardly heeds it; -1: none stands out */
static int furthest(const job *j, const fit *f)
{
  int worst = -1;
  double most = STANDS_OUT;
  for (size_t i = 0; i < j->r.count; i++) {
    const double left = fabs(tw_row_left(&j->r, i, &f->shown));
    if (left > most) {
      most = left;
      worst = (int)i;
    }
  }
  return worst;
}

static int reading_of(const job *j, int row)
{
  for (size_t i = 0; i < j->readings; i++) {
    if (row >= 0 && j->row_of[i] == (size_t)row) {
      return (int)i;
    }
  }
  return -1;
}

/* the fit without the one that disagrees; it is kept when the model holds then and did not before
 */
static tw_status judge(job *j, tw_identified *out, tw_fault *fault)
{
  out->chi_square = j->f.chi_square;
  out->probability = out->probability_without = probability_of(j->f.chi_square, j->r.count);
  out->worst = -1;
  if (out->probability >= DOUBTFUL || j->r.count < VOTERS) {
    return TW_OK;
  }
  j->other = j->f;
  tw_status status = tw_unit_fit(&j->m, &j->r, true, &j->other, fault);
  const int row = status == TW_OK ? furthest(j, &j->other) : -1;
  if (row < 0) {
    return status;
  }
  out->worst = reading_of(j, row);
  j->r.off[row] = true;
  status = tw_unit_fit(&j->m, &j->r, false, &j->other, fault);
  if (status == TW_OK) {
    out->probability_without = probability_of(j->other.chi_square, j->r.count - 1);
  }
  if (status == TW_OK && out->probability < TW_IDENTIFY_HOLDS &&
      out->probability_without >= TW_IDENTIFY_HOLDS) {
    j->f = j->other;
  } else {
    j->r.off[row] = false;
  }
  return status;
}

/* ---- the answer ---------------------------------------------------------------------------- */

static bool agrees(const tw_bench_reading *r, const tw_bench_card *card)
{
  const tw_bench_check *c = tw_bench_find(card, r->id);
  if (!c) {
    return false;
  }
  return r->kind == TW_READ_NONE ? !c->expect.known : c->word && strcmp(c->word, r->word) == 0;
}

static void put_fitted(const job *j, tw_identified *out)
{
  for (size_t i = 0; i < j->readings; i++) {
    const tw_bench_reading *r = &j->reading[i];
    tw_fitted *one = &out->fitted[i];
    *one = (tw_fitted){.id = r->id, .number = r->kind == TW_READ_NUMBER};
    if (!one->number) {
      one->agrees = agrees(r, &j->m.room[0].card);
      continue;
    }
    const size_t row = j->row_of[i];
    one->value = r->value;
    one->u = j->r.u[row];
    one->set_aside = j->r.off[row];
    one->drawing = j->drawn.value[r->id];
    one->unit = j->f.shown.value[r->id];
    one->off = tw_row_left(&j->r, row, &j->f.shown);
    one->agrees = !one->set_aside && fabs(one->off) < STANDS_OUT;
  }
}

/* width of what is asked for: its slopes, and 2 u over its value before and after */
static tw_status ask_about(job *j, const tw_identify_options *o, double *about, tw_identified *out,
                           tw_fault *fault)
{
  const size_t n = j->m.parameters;
  double value = 0, before = 0, after = 0;
  tw_status status = TW_OK;
  if (o->about_measure) {
    status = tw_unit_measure_slope(&j->m, j->f.z, o->measure, about, &value, fault);
    if (status == TW_OK && !isfinite(value)) {
      status = tw_fail(fault, TW_NO_ANSWER, "", "ask about another one",
                       "%s has no figure in this unit", tw_measure_about(o->measure)->name);
    }
  } else {
    memcpy(about, &j->f.jacobian[o->check * n], n * sizeof *about);
    value = j->f.shown.value[o->check];
  }
  for (size_t a = 0; a < n; a++) {
    before += about[a] * about[a];
    for (size_t b = 0; b < n; b++) {
      after += about[a] * out->covariance[a * n + b] * about[b];
    }
  }
  if (status == TW_OK && value != 0) {
    out->asked_before = 2 * sqrt(before) / fabs(value);
    out->asked_after = 2 * sqrt(fmax(after, 0)) / fabs(value);
  }
  return status;
}

static tw_status conclude(job *j, const tw_identify_options *o, tw_identified *out, tw_fault *fault)
{
  double about[TW_IDENTIFY_MOST];
  /* words are compared with the card of the fitted unit */
  tw_status status = tw_unit_shows(&j->m, j->f.z, &j->f.shown, fault);
  if (status == TW_OK) {
    put_fitted(j, out);
    status = tw_unit_jacobian(&j->m, j->f.z, j->f.jacobian, fault);
  }
  status = status == TW_OK ? tw_unit_posterior(&j->m, &j->r, &j->f, out, fault) : status;
  for (size_t k = 0; k < j->m.parameters && status == TW_OK && j->r.count > 0; k++) {
    const tw_parameter *p = &out->parameter[k];
    if (p->ratio && p->sd > WIDE && p->shrink > TW_DETERMINED) {
      status = tw_unit_profile(&j->m, &j->r, &j->f, k, out, fault);
    }
  }
  if (status != TW_OK) {
    return status;
  }
  tw_unit_foresee(&j->m, &j->drawn, &j->f, out);
  if (o->about_check || o->about_measure) {
    status = ask_about(j, o, about, out, fault);
  }
  if (status == TW_OK) {
    tw_unit_next(&j->m, &j->f, o->about_check || o->about_measure ? about : NULL, out);
  }
  return status;
}

/* the drawing's own card: what the readings are of */
static tw_status drawing(job *j, tw_identified *out, tw_fault *fault)
{
  const tw_status status =
      tw_bench_card_from(j->m.design, &j->m.with, j->m.threads, &out->card, fault);
  if (status == TW_OK) {
    tw_bench_shown all[TW_BENCH_COUNT];
    tw_bench_shown_of(&out->card, all);
    j->m.with.test_weight = out->card.test_weight;
    for (int i = 0; i < TW_BENCH_COUNT; i++) {
      j->drawn.known[i] = all[i].there && all[i].known && !all[i].word;
      j->drawn.value[i] = all[i].value;
    }
  }
  return status;
}

static tw_status run(job *j, const tw_identify_options *o, tw_identified *out, tw_fault *fault)
{
  tw_status status = drawing(j, out, fault);
  status = status == TW_OK ? take_readings(j, out, fault) : status;
  status = status == TW_OK ? start(j, out, fault) : status;
  if (status == TW_OK && j->r.count > 0) {
    status = tw_unit_fit(&j->m, &j->r, false, &j->f, fault);
  }
  status = status == TW_OK ? judge(j, out, fault) : status;
  out->holds = status == TW_OK && (out->probability >= TW_IDENTIFY_HOLDS ||
                                   out->probability_without >= TW_IDENTIFY_HOLDS);
  return status == TW_OK ? conclude(j, o, out, fault) : status;
}

tw_status tw_identify(const tw_design *design, tw_units *units, const tw_identify_options *options,
                      const tw_bench_reading *reading, size_t readings, tw_identified *out,
                      tw_fault *fault)
{
  const tw_identify_options o = options ? *options : (tw_identify_options){0};
  memset(out, 0, sizeof *out);
  job *j = tw_alloc(1, sizeof *j);
  if (!j) {
    return tw_fail(fault, TW_NO_MEMORY, "", "", "no memory for the unit");
  }
  j->m = (unit_model){.design = design,
                      .units = units,
                      .with = o.instruments ? *o.instruments : tw_bench_instruments_default(),
                      .threads = tw_threads(o.threads),
                      .progress = o.progress};
  j->reading = reading;
  j->readings = readings;
  const tw_status status = run(j, &o, out, fault);
  out->cards = j->m.cards;
  tw_unit_model_free(&j->m);
  tw_free(j);
  return status;
}
