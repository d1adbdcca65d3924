/* remedy_parts.h: what the stages of the search for a remedy share.
 *
 * Inside the search every lever is a number u between 0 and 1: the share of its range (of the
 * logarithm's range), or of the way through its list's values. */
#ifndef TW_REMEDY_PARTS_H
#define TW_REMEDY_PARTS_H

#include "tripwright/study_remedy.h"

/* points at which a continuous lever is tried, beside where it stands */
#define TW_SCAN_POINTS 24
/* margins outside this are cut: no trip and the like have no size */
#define TW_MARGIN_MOST 10.0

typedef struct tw_search {
  const tw_remedy_problem *problem;
  const tw_remedy_options *options;
  const tw_progress *progress;
  tw_remedies *out;
  size_t budget;
  double safety; /* that margins must reach in this attempt */
  bool thinned;  /* the budget was too small for every point of every list */
  /* levers that may move */
  size_t count;
  size_t *lever; /* index into the problem's levers */
  /* scan: points of lever k are start[k] .. start[k + 1] - 1 */
  size_t *start;
  double *value;    /* of the lever */
  double *margins;  /* point x limits, cut */
  double *margins0; /* of the design */
  /* workspace of each worker */
  double *x, *y, *m;
  unsigned char *outcome;
} tw_search;

/* ---- levers ---------------------------------------------------------------------------------- */

/* ends of its range, or of its list */
double tw_lever_low(const tw_lever *lever);
double tw_lever_high(const tw_lever *lever);
double tw_lever_share(const tw_lever *lever, double value);
double tw_lever_value(const tw_lever *lever, double share);
/* share of the range between two values */
double tw_lever_step(const tw_lever *lever, double from, double to);

/* ---- margins --------------------------------------------------------------------------------- */

/* margins m[limits], cut, with the changes made; the caller counts */
tw_status tw_search_margins(const tw_search *s, int worker, const tw_change *change, size_t n,
                            double *m, tw_fault *fault);
/* the smallest, and whose */
double tw_search_least(const tw_search *s, const double *m, size_t *worst);

/* ---- remedies -------------------------------------------------------------------------------- */

/* fill cost, time, size; margin and worst from m */
void tw_remedy_fill(const tw_search *s, tw_remedy *remedy, const double *m);
/* keep it if it is among the best; one remedy for each set of levers */
void tw_search_keep(tw_search *s, const tw_remedy *remedy);
/* could a remedy of this time and cost still be wanted? */
bool tw_search_wants(const tw_search *s, double time, double cost);
void tw_search_price(const tw_search *s, const tw_change *change, size_t n, double *time,
                     double *cost);

/* ---- stages ---------------------------------------------------------------------------------- */

tw_status tw_search_scan(tw_search *s, tw_fault *fault);
tw_status tw_search_singles(tw_search *s, tw_fault *fault);
/* pairs (depth 2) and triples (3) */
tw_status tw_search_joint(tw_search *s, size_t depth, tw_fault *fault);
/* all levers together; found = a remedy was kept */
tw_status tw_search_all(tw_search *s, bool *found, tw_fault *fault);
/* the judge and the yield on what was found and has not been proved yet */
tw_status tw_search_prove(tw_search *s, tw_fault *fault);
/* what excludes what */
tw_status tw_search_exclusion(tw_search *s, tw_fault *fault);

/* Make a change as small as it can be while every margin reaches `safety`: along the way to the
 * design, then by a constrained search, then in values that can be made (tw_made_value). *ok tells
 * whether the result keeps the limits; used counts evaluations. */
tw_status tw_search_refine(const tw_search *s, int worker, double safety, tw_remedy *remedy,
                           bool *ok, size_t *used, tw_fault *fault);
/* Raise the smallest margin of the limits named in only[] (NULL: all) over the given changes (all
 * with their start values); stops early at `enough`. */
tw_status tw_search_raise(const tw_search *s, int worker, tw_change *change, size_t n,
                          const size_t *only, size_t only_count, double enough, size_t most,
                          double *best, size_t *used, tw_fault *fault);

#endif
