/* measure_edge.c: how right one found edge will be, before and after a tip table. */
#include "fill.h"
#include "tripwright/edge.h"

#include <stdio.h>

/* the table that is foreseen: a ring touched every 10 degrees, harmonics 2 to 6 (qualify.md 11) */
#define TW_EDGE_TOUCHES 36
#define TW_EDGE_ORDERS  6

static const tw_measure_id edges[] = {TW_M_edge_before_table, TW_M_edge_after_table};
static const tw_measure_id made_of[] = {TW_M_pretravel_variation_side, TW_M_pretravel_at_feed,
                                        TW_M_repeatability_2s};

bool tw_wants_edge(const tw_run *run)
{
  return tw_wants(run, edges, sizeof edges / sizeof edges[0]);
}

void tw_edge_asks(tw_measure_set *wanted)
{
  bool any = false;
  for (size_t i = 0; i < sizeof edges / sizeof edges[0]; i++) {
    any = any || wanted->has[edges[i]];
  }
  for (size_t i = 0; any && i < sizeof made_of / sizeof made_of[0]; i++) {
    wanted->has[made_of[i]] = true;
  }
}

/* the first of its parts that has no figure gives both their state */
static bool lacks_a_part(tw_run *run)
{
  for (size_t i = 0; i < sizeof made_of / sizeof made_of[0]; i++) {
    const tw_measure *part = &run->out->measure[made_of[i]];
    if (part->state == TW_MEASURE_OK) {
      continue;
    }
    for (size_t k = 0; k < sizeof edges / sizeof edges[0]; k++) {
      tw_put_state(run->out, edges[k], part->state, "%s", part->note);
      run->out->measure[edges[k]].searched_to = part->searched_to;
    }
    return true;
  }
  return false;
}

void tw_measure_edge(tw_run *run)
{
  tw_assessment *out = run->out;
  tw_fault why = {0};
  tw_found_edge edge;
  if (!run->options->timed || !tw_wants_edge(run) || lacks_a_part(run)) {
    return;
  }
  /* the lobes are those of the touch at rest: with a feed they only move together */
  const double repeat = out->measure[TW_M_repeatability_2s].value / 2.0;
  const tw_edge_parts parts = {.early_least =
                                   run->latched - out->measure[TW_M_pretravel_variation_side].value,
                               .early_most = run->latched,
                               .repeat = repeat,
                               .table_u = tw_edge_table_u(repeat, TW_EDGE_TOUCHES, TW_EDGE_ORDERS)};
  if (tw_edge_of(&parts, &edge, &why) != TW_OK) {
    tw_put_fault(out, TW_M_edge_before_table, &why);
    tw_put_fault(out, TW_M_edge_after_table, &why);
    return;
  }
  tw_put(out, TW_M_edge_before_table, edge.before);
  tw_put_note(out, TW_M_edge_before_table, "+-, one touch sideways at %.0f mm/min, k = 2",
              tw_design_number(run->design, TW_F_machine_feed) * 6e4);
  tw_put(out, TW_M_edge_after_table, edge.after);
  tw_put_note(out, TW_M_edge_after_table,
              "+-, with a table of %d touches at that feed; the ring's own u comes to it",
              TW_EDGE_TOUCHES);
}
