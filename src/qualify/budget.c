/* budget.c: the GUM: sensitivities, combined uncertainty, Welch-Satterthwaite. */
#include "budget_inner.h"
#include "inner.h"
#include "tripwright/numerics.h"

#include <ctype.h>
#include <math.h>
#include <string.h>

void tw_budget_start(tw_budget *out)
{
  memset(out, 0, sizeof *out);
  for (size_t i = 0; i < TW_INPUT_MOST; i++) {
    out->correlation[i][i] = 1.0;
  }
}

double tw_input_u(const tw_input *input)
{
  switch (input->kind) {
  case TW_INPUT_RECTANGULAR:
    return input->width / sqrt(3.0);
  case TW_INPUT_TRIANGULAR:
    return input->width / sqrt(6.0);
  case TW_INPUT_ARCSINE:
    return input->width / sqrt(2.0);
  case TW_INPUT_EXPANDED:
    return input->width / input->k;
  case TW_INPUT_STANDARD:
    break;
  }
  return input->width;
}

tw_status tw_budget_formula(const tw_budget *budget, tw_formula *out, tw_fault *fault)
{
  const char *name[TW_INPUT_MOST];
  for (size_t i = 0; i < budget->count; i++) {
    name[i] = budget->input[i].name;
  }
  return tw_formula_read(budget->model, name, budget->count, out, NULL, fault);
}

bool tw_budget_factor(const tw_budget *b, double l[TW_INPUT_MOST][TW_INPUT_MOST])
{
  for (size_t i = 0; i < b->count; i++) {
    for (size_t j = 0; j <= i; j++) {
      l[i][j] = b->correlation[i][j];
    }
  }
  return tw_cholesky(b->count, l[0], TW_INPUT_MOST);
}

static tw_status check_input(const tw_input *in, tw_fault *fault)
{
  const char *field = in->name;
  if (!isalpha((unsigned char)in->name[0])) {
    return tw_fail(fault, TW_BAD_INPUT, "name", "letters, digits and _, a letter first",
                   "'%s' cannot be the name of an input", in->name);
  }
  for (const char *c = in->name; *c; c++) {
    if (!isalnum((unsigned char)*c) && *c != '_') {
      return tw_fail(fault, TW_BAD_INPUT, "name", "letters, digits and _, a letter first",
                     "'%s' cannot be the name of an input", in->name);
    }
  }
  if (!isfinite(in->value) || !(in->width >= 0.0) || !isfinite(in->width)) {
    return tw_fail(fault, TW_BAD_INPUT, field, "a spread is zero or positive",
                   "%s: value %g, spread %g", in->name, in->value, in->width);
  }
  if (!(in->dof > 0.0) || (in->kind == TW_INPUT_EXPANDED && !(in->k > 0.0))) {
    return tw_fail(fault, TW_BAD_INPUT, field, "leave the degrees of freedom empty if unlimited",
                   "%s: degrees of freedom and k must be positive", in->name);
  }
  return TW_OK;
}

static tw_status check_correlation(const tw_budget *b, tw_fault *fault)
{
  for (size_t i = 0; i < b->count; i++) {
    for (size_t j = 0; j < i; j++) {
      const double r = b->correlation[i][j];
      const bool plain =
          b->input[i].kind == TW_INPUT_STANDARD && b->input[j].kind == TW_INPUT_STANDARD;
      if (!(fabs(r) < 1.0) || (r != 0.0 && !plain)) {
        return tw_fail(fault, TW_BAD_INPUT, "correlation",
                       "between -1 and 1, and only between inputs of kind standard",
                       "%s and %s: correlation %g", b->input[i].name, b->input[j].name, r);
      }
    }
  }
  double factor[TW_INPUT_MOST][TW_INPUT_MOST];
  if (!tw_budget_factor(b, factor)) {
    return tw_fail(fault, TW_BAD_INPUT, "correlation", "check their signs",
                   "the correlations contradict each other");
  }
  return tw_budget_check_groups(b, fault);
}

tw_status tw_budget_check(const tw_budget *b, tw_fault *fault)
{
  if (b->count == 0 || b->count > TW_INPUT_MOST) {
    return tw_fail(fault, TW_BAD_INPUT, "inputs", "one row an input",
                   "%zu inputs; 1 to %d are possible", b->count, TW_INPUT_MOST);
  }
  for (size_t i = 0; i < b->count; i++) {
    const tw_status status = check_input(&b->input[i], fault);
    if (status != TW_OK) {
      return status;
    }
    for (size_t j = 0; j < i; j++) {
      if (strcmp(b->input[i].name, b->input[j].name) == 0) {
        return tw_fail(fault, TW_BAD_INPUT, "name", "give each its own name",
                       "two inputs are called '%s'", b->input[i].name);
      }
    }
  }
  tw_formula formula;
  tw_status status = check_correlation(b, fault);
  status = status == TW_OK ? tw_budget_formula(b, &formula, fault) : status;
  for (size_t i = 0; i < b->count && status == TW_OK; i++) {
    if (!tw_formula_uses(&formula, i)) {
      status =
          tw_fail(fault, TW_BAD_INPUT, b->input[i].name, "put it into the model, or take it out",
                  "the model does not use '%s'", b->input[i].name);
    }
  }
  return status;
}

/* ---- GUM ----------------------------------------------------------------------------------------
 */

/* a whole number of degrees of freedom that sums left this little short is that number */
#define TW_DOF_ROUNDING 1e-9

/* nu_eff = u^4 / sum((c_i u_i)^4 / nu_i), lower whole number; then U = t u (GUM G.4.1). Correlated
 * inputs, which share their degrees of freedom, come in as one component. */
static void expand(const tw_budget *b, double level, tw_budget_result *r)
{
  double weights = 0.0;
  for (size_t i = 0; i < b->count; i++) {
    const double part = tw_budget_group_variance(b, r, i);
    weights += isinf(b->input[i].dof) ? 0.0 : part * part / b->input[i].dof;
  }
  r->dof_exact = weights > 0.0 ? r->u * r->u * r->u * r->u / weights : (double)INFINITY;
  r->dof = r->dof_exact < 1.0 ? r->dof_exact : floor(r->dof_exact * (1.0 + TW_DOF_ROUNDING));
  r->k = tw_t_factor(level, r->dof);
  r->expanded = r->k * r->u;
}

/* every input's part has a number of its own; a sum can hide one that has none */
static bool all_parts_finite(const tw_budget_result *r)
{
  for (size_t i = 0; i < r->count; i++) {
    if (!isfinite(r->line[i].contribution)) {
      return false;
    }
  }
  return true;
}

tw_status tw_budget_gum(const tw_budget *b, double level, tw_budget_result *out, tw_fault *fault)
{
  tw_status status = tw_budget_check(b, fault);
  tw_formula f;
  status = status == TW_OK ? tw_budget_formula(b, &f, fault) : status;
  if (status == TW_OK && !(level > 0.0 && level < 1.0)) {
    status = tw_fail(fault, TW_BAD_INPUT, "level", "0.95 is usual", "a level of %g", level);
  }
  if (status != TW_OK) {
    return status;
  }
  double x[TW_INPUT_MOST], u[TW_INPUT_MOST], variance = 0.0, plain = 0.0;
  tw_budget_result r = {.level = level, .count = b->count};
  for (size_t i = 0; i < b->count; i++) {
    x[i] = b->input[i].value;
    u[i] = tw_input_u(&b->input[i]);
  }
  r.y = tw_formula_value(&f, x);
  for (size_t i = 0; i < b->count; i++) {
    const double c = tw_formula_dual(&f, x, i, i).i;
    r.line[i] = (tw_budget_line){.sensitivity = c, .u = u[i], .contribution = fabs(c) * u[i]};
    plain += c * c * u[i] * u[i];
    for (size_t j = 0; j < i; j++) {
      variance += 2.0 * b->correlation[i][j] * c * u[i] * r.line[j].sensitivity * u[j];
    }
  }
  variance += plain;
  for (size_t i = 0; i < b->count; i++) {
    r.line[i].share = plain > 0.0 ? r.line[i].contribution * r.line[i].contribution / plain : 0.0;
  }
  r.u = sqrt(fmax(variance, 0.0));
  r.second_order = tw_budget_second_order(b, &f, x, u, &r);
  r.second_finite = isfinite(r.second_order);
  r.second_order = r.second_finite ? r.second_order : 0.0;
  r.u_second = sqrt(fmax(variance + r.second_order, 0.0));
  expand(b, level, &r);
  if (!isfinite(r.y) || !isfinite(r.u) || !isfinite(r.expanded) || !all_parts_finite(&r)) {
    return tw_fail(fault, TW_NO_ANSWER, "model",
                   "check the values: a root or logarithm of a negative "
                   "number, a division by zero, 0^0?",
                   "the model has no finite value there");
  }
  *out = r;
  return TW_OK;
}
