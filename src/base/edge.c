/* edge.c: one edge, before and after the tip table. */
#include "tripwright/edge.h"

#include <math.h>

tw_status tw_edge_of(const tw_edge_parts *p, tw_found_edge *out, tw_fault *fault)
{
  *out = (tw_found_edge){0};
  if (!isfinite(p->early_least + p->early_most + p->repeat + p->table_u) || p->repeat < 0.0 ||
      p->table_u < 0.0) {
    return tw_fail(fault, TW_BAD_INPUT, "edge", "state what was measured",
                   "a part of the edge's uncertainty is missing or below zero");
  }
  const double error = fmax(fabs(p->early_least), fabs(p->early_most));
  out->before = error + TW_EDGE_COVERAGE * p->repeat;
  out->after = TW_EDGE_COVERAGE * hypot(p->repeat, p->table_u);
  return TW_OK;
}

double tw_edge_table_u(double repeat, size_t touches, size_t orders)
{
  const double figures = 1.0 + 2.0 * ((double)orders - 1.0);
  return touches > 0 && orders > 0 ? repeat * sqrt(figures / (double)touches) : (double)INFINITY;
}
