/* remedy_prove.c: what the search has found, held against the caller's judge and the yield that is
 * asked for; moved further in where they say no, left out where that does not help. */
#include "remedy_parts.h"

#include <string.h>

/* margins beyond those asked for, one after another */
static const double deeper[] = {0.0, 0.02, 0.05, 0.1, 0.2, 0.4};
#define DEEPER (sizeof deeper / sizeof deeper[0])

static tw_status ask_yield(tw_search *s, tw_remedy *remedy, bool *good, tw_fault *fault)
{
  const tw_remedy_problem *p = s->problem;
  double *x = s->x;
  memcpy(x, p->x0, p->model->inputs * sizeof *x);
  for (size_t k = 0; k < remedy->changes; k++) {
    x[p->levers[remedy->change[k].lever].input] = remedy->change[k].to;
  }
  const tw_status status = s->options->yield(s->options->self, x, &remedy->yield, fault);
  remedy->has_yield = status == TW_OK;
  *good = remedy->has_yield && remedy->yield >= s->options->yield_wanted;
  return status;
}

/* both conditions; what fails first is counted by the caller */
static tw_status ask(tw_search *s, tw_remedy *remedy, bool *refused, bool *short_of,
                     tw_fault *fault)
{
  bool good = true;
  tw_status status = TW_OK;
  *refused = *short_of = false;
  if (s->options->judge) {
    status = s->options->judge(s->options->self, remedy, &good, fault);
    *refused = !good;
  }
  if (status == TW_OK && good && s->options->yield) {
    status = ask_yield(s, remedy, &good, fault);
    *short_of = !good;
  }
  remedy->judged = status == TW_OK && good;
  return status;
}

static bool same_place(const tw_remedy *a, const tw_remedy *b)
{
  bool same = a->changes == b->changes;
  for (size_t i = 0; same && i < a->changes; i++) {
    same = a->change[i].to == b->change[i].to;
  }
  return same;
}

/* the remedy further in, step by step, until both say yes */
static tw_status prove(tw_search *s, tw_remedy *remedy, tw_fault *fault)
{
  tw_remedy last = {0};
  bool refused = false, short_of = false, ok = true;
  for (size_t i = 0; i < DEEPER && ok; i++) {
    tw_remedy now = *remedy;
    tw_status status = TW_OK;
    if (i > 0) {
      status =
          tw_search_refine(s, 0, s->safety + deeper[i], &now, &ok, &s->out->evaluations, fault);
    }
    if (status == TW_OK && ok && !same_place(&now, &last)) {
      status = ask(s, &now, &refused, &short_of, fault);
      last = now;
    }
    if (status != TW_OK) {
      return status;
    }
    if (ok && now.judged) {
      *remedy = now;
      return TW_OK;
    }
    if (ok && short_of && now.yield > s->out->nearest.yield) {
      s->out->nearest = now;
    }
  }
  s->out->refused += refused;
  s->out->short_of += short_of;
  return TW_OK;
}

/* by rank, without those that were not proved */
static void put_in_order(tw_remedies *out)
{
  size_t n = 0;
  for (size_t i = 0; i < out->count; i++) {
    const tw_remedy own = out->remedy[i];
    size_t at = n;
    if (!own.judged) {
      continue;
    }
    for (; at > 0 && tw_remedy_compare(&own, &out->remedy[at - 1]) < 0; at--) {
      out->remedy[at] = out->remedy[at - 1];
    }
    out->remedy[at] = own;
    n++;
  }
  out->count = n;
}

tw_status tw_search_prove(tw_search *s, tw_fault *fault)
{
  tw_remedies *out = s->out;
  if (!s->options->judge && !s->options->yield) {
    return TW_OK;
  }
  for (size_t i = 0; i < out->count; i++) {
    const tw_status status = out->remedy[i].judged ? TW_OK : prove(s, &out->remedy[i], fault);
    if (status != TW_OK) {
      put_in_order(out); /* what was proved stays found */
      return status;
    }
  }
  put_in_order(out);
  return TW_OK;
}
