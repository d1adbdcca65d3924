/* remedy_search.c: what every stage of the search asks: levers as shares, margins, what to keep. */
#include "remedy_parts.h"

#include <math.h>
#include <string.h>

#define WANTED 5

double tw_lever_low(const tw_lever *lever)
{
  return lever->choices ? lever->choices[0] : lever->least;
}

double tw_lever_high(const tw_lever *lever)
{
  return lever->choices ? lever->choices[lever->choice_count - 1] : lever->most;
}

double tw_lever_share(const tw_lever *lever, double value)
{
  const double a = tw_lever_low(lever), b = tw_lever_high(lever);
  if (!(b > a)) {
    return 0.0;
  }
  return lever->logarithmic ? log(value / a) / log(b / a) : (value - a) / (b - a);
}

double tw_lever_value(const tw_lever *lever, double share)
{
  const double a = tw_lever_low(lever), b = tw_lever_high(lever);
  if (share <= 0.0) {
    return a;
  }
  if (share >= 1.0) {
    return b;
  }
  return lever->logarithmic ? a * pow(b / a, share) : a + share * (b - a);
}

double tw_lever_step(const tw_lever *lever, double from, double to)
{
  if (lever->unordered) {
    return from == to ? 0.0 : 0.5;
  }
  return fabs(tw_lever_share(lever, to) - tw_lever_share(lever, from));
}

static double cut(double margin)
{
  return margin > TW_MARGIN_MOST     ? TW_MARGIN_MOST
         : margin >= -TW_MARGIN_MOST ? margin
                                     : -TW_MARGIN_MOST;
}

/* A limit of zero has no shares: what keeps it keeps it with any margin. */
static double shared(const tw_goal *limit, double margin)
{
  const bool zero = (limit->has_low && limit->low == 0) || (limit->has_high && limit->high == 0);
  return zero && margin >= 0 ? TW_MARGIN_MOST : margin;
}

tw_status tw_search_margins(const tw_search *s, int worker, const tw_change *change, size_t n,
                            double *m, tw_fault *fault)
{
  const tw_remedy_problem *p = s->problem;
  const size_t w = (size_t)worker, in = p->model->inputs, out = p->model->outputs;
  double *x = &s->x[w * in], *y = &s->y[w * out];
  unsigned char *outcome = &s->outcome[w * out];
  memcpy(x, p->x0, in * sizeof *x);
  for (size_t i = 0; i < n; i++) {
    x[p->levers[change[i].lever].input] = change[i].to;
  }
  const tw_status status = tw_study_evaluate(p->model, worker, x, y, outcome, fault);
  if (status == TW_OK) {
    for (size_t k = 0; k < p->limit_count; k++) {
      m[k] = cut(shared(&p->limits[k], tw_goal_margin(&p->limits[k], y, outcome)));
    }
  }
  return status;
}

double tw_search_least(const tw_search *s, const double *m, size_t *worst)
{
  double least = m[0];
  size_t which = 0;
  for (size_t k = 1; k < s->problem->limit_count; k++) {
    if (m[k] < least) {
      least = m[k];
      which = k;
    }
  }
  if (worst) {
    *worst = which;
  }
  return least;
}

void tw_search_price(const tw_search *s, const tw_change *change, size_t n, double *time,
                     double *cost)
{
  const tw_remedy_problem *p = s->problem;
  *time = *cost = 0.0;
  for (size_t i = 0; i < n; i++) {
    const size_t part = p->levers[change[i].lever].part;
    bool counted = false;
    for (size_t j = 0; j < i; j++) {
      counted = counted || p->levers[change[j].lever].part == part;
    }
    if (!counted) {
      *time = fmax(*time, p->remakes[part].time);
      *cost += p->remakes[part].cost;
    }
  }
}

void tw_remedy_fill(const tw_search *s, tw_remedy *remedy, const double *m)
{
  tw_search_price(s, remedy->change, remedy->changes, &remedy->time, &remedy->cost);
  remedy->size = 0.0;
  for (size_t i = 0; i < remedy->changes; i++) {
    const tw_lever *lever = &s->problem->levers[remedy->change[i].lever];
    remedy->size += tw_lever_step(lever, lever->now, remedy->change[i].to);
  }
  remedy->margin = tw_search_least(s, m, &remedy->worst);
}

static int order(double a, double b)
{
  return a < b ? -1 : a > b;
}

int tw_remedy_compare(const tw_remedy *a, const tw_remedy *b)
{
  int c = order(a->warnings, b->warnings);
  c = c ? c : order(a->time, b->time);
  c = c ? c : order(a->cost, b->cost);
  c = c ? c : order((double)a->changes, (double)b->changes);
  /* sizes are sums of shares: differences from rounding are none */
  c = c ? c : fabs(a->size - b->size) <= 1e-9 ? 0 : order(a->size, b->size);
  /* equal in all that counts: by lever and value, so that the order never depends on chance */
  for (size_t i = 0; c == 0 && i < a->changes; i++) {
    c = order((double)a->change[i].lever, (double)b->change[i].lever);
    c = c ? c : order(a->change[i].to, b->change[i].to);
  }
  return c;
}

static bool same_levers(const tw_remedy *a, const tw_remedy *b)
{
  bool same = a->changes == b->changes;
  for (size_t i = 0; same && i < a->changes; i++) {
    same = a->change[i].lever == b->change[i].lever;
  }
  return same;
}

void tw_search_keep(tw_search *s, const tw_remedy *remedy)
{
  tw_remedies *out = s->out;
  for (size_t i = 0; i < out->count; i++) {
    if (same_levers(&out->remedy[i], remedy)) {
      if (tw_remedy_compare(&out->remedy[i], remedy) <= 0) {
        return;
      }
      memmove(&out->remedy[i], &out->remedy[i + 1], (out->count - i - 1) * sizeof out->remedy[0]);
      out->count--;
      break;
    }
  }
  size_t at = out->count;
  while (at > 0 && tw_remedy_compare(remedy, &out->remedy[at - 1]) < 0) {
    at--;
  }
  if (at == TW_REMEDIES_MOST) {
    return;
  }
  const size_t last = out->count < TW_REMEDIES_MOST ? out->count : TW_REMEDIES_MOST - 1;
  memmove(&out->remedy[at + 1], &out->remedy[at], (last - at) * sizeof out->remedy[0]);
  out->remedy[at] = *remedy;
  out->count = last + 1;
}

bool tw_search_wants(const tw_search *s, double time, double cost)
{
  const size_t wanted = s->options->wanted ? s->options->wanted : WANTED;
  if (s->out->count < wanted) {
    return true;
  }
  const tw_remedy *last = &s->out->remedy[wanted - 1];
  return last->warnings > 0 || time < last->time || (time == last->time && cost < last->cost);
}
