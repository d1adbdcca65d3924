/* study_remedy.h: the smallest changes that keep every limit.
 *
 * Levers are inputs of a model that may be changed within a range or a list; each belongs to a part
 * that must then be remade, with what that costs and how long it takes. The search tries every
 * lever alone, then pairs and triples, then all together, and ranks what it finds: first what is
 * soonest done, then what costs least, then the fewest and the smallest changes. The result does
 * not depend on the number of threads. Model: docs/models/study.md 6.
 */
#ifndef TRIPWRIGHT_STUDY_REMEDY_H
#define TRIPWRIGHT_STUDY_REMEDY_H

#include "tripwright/study.h"

/* a part that must be remade, bought or set again when one of its levers moves */
typedef struct tw_remake {
  const char *name;
  double cost, time; /* money; seconds until it is there */
  bool fixed;        /* ordered or better: its levers stay where they are */
} tw_remake;

/* how fine a value can be made, bought or set (tw_made_value); lists have their members */
typedef enum tw_made {
  TW_MADE_ANY,    /* three figures, or as it comes */
  TW_MADE_TWO,    /* two figures, three where two do not do */
  TW_MADE_LENGTH, /* m: 5 um, 0.05 mm, 0.1 mm, 0.5 mm, by size */
  TW_MADE_ANGLE   /* rad: whole degrees; tenths below 5 deg */
} tw_made;

typedef struct tw_lever {
  const char *name;
  size_t input;
  size_t part;           /* index into the remakes */
  double now;            /* must lie in the range or the list */
  double least, most;    /* range of a continuous lever */
  bool logarithmic;      /* steps are ratios; least > 0 */
  const double *choices; /* a list instead of the range, ascending; else NULL */
  size_t choice_count;
  bool unordered; /* the list's numbers only tell its entries apart: parts of one kind. Each change
                     is as large as half a range; of several that help the one with the best margin
                   */
  tw_made made;
} tw_lever;

#define TW_REMEDY_CHANGES 8
#define TW_REMEDIES_MOST  24

typedef struct tw_change {
  size_t lever;
  double to;
} tw_change;

typedef struct tw_remedy {
  size_t changes;
  tw_change change[TW_REMEDY_CHANGES]; /* by rising lever */
  double time, cost; /* of the parts concerned: the longest time, the sum of the costs */
  double size;       /* sum over the changes of the share of the lever's range that it moves */
  double margin;     /* smallest margin after the change */
  size_t worst;      /* the limit that has it */
  bool has_yield;
  double yield;
  bool judged;       /* the caller's own judge has found it good */
  int warnings;      /* that it raises and the design does not: ways without stand before it */
  char warning[320]; /* the first of them */
} tw_remedy;

typedef struct tw_remedy_problem {
  const tw_study_model *model;
  const double *x0; /* the design, all inputs */
  const tw_lever *levers;
  size_t lever_count;
  const tw_remake *remakes;
  size_t remake_count;
  const tw_goal *limits;
  size_t limit_count;
  double
      safety; /* every margin must reach this; a limit of zero has no shares: it is kept or not */
} tw_remedy_problem;

typedef struct tw_remedy_options {
  int threads;
  size_t wanted;       /* stop going deeper once so many are found; 0: 5 */
  size_t most_changes; /* 1 .. 3 of the search by pairs and triples; 0: 3 */
  size_t budget;       /* evaluations of the model, about; 0: 20000 */
  /* A condition of its own: share of good builds around the point x (NULL: not asked). Remedies
   * whose yield is below `yield_wanted` are moved further in until it is reached, or left out. */
  tw_status (*yield)(void *self, const double *x, double *yield, tw_fault *fault);
  void *self;
  double yield_wanted;
  /* The last word on a remedy, slower than the model (NULL: none): is everything met with it? It
   * fills the warnings. Asked of the design itself as well (no changes). What it refuses is moved
   * further in, then left out. */
  tw_status (*judge)(void *self, tw_remedy *remedy, bool *good, tw_fault *fault);
  /* How much less than `safety` keeps the limits as well: the design is met with it already, and
   * ways that keep it are taken where none reaches the whole of it. */
  double allowance;
} tw_remedy_options;

/* two limits that exclude each other, or one that cannot be kept at all (a == b) */
typedef struct tw_exclusion {
  bool found;
  size_t a, b;
  double margin;           /* the best that both can have together */
  double alone_a, alone_b; /* the best of each alone */
} tw_exclusion;

typedef struct tw_remedies {
  bool met;      /* the design keeps every limit already */
  double margin; /* of the design as it is */
  size_t worst;
  size_t count;
  tw_remedy remedy[TW_REMEDIES_MOST]; /* best first */
  tw_remedy nearest;                  /* when there is none: the change that comes nearest */
  tw_exclusion exclusion;
  size_t evaluations;
  bool judged;     /* every remedy, and `met`, had the judge's word */
  bool eased;      /* they reach the safety less the allowance only */
  size_t refused;  /* that the model took for good and the judge did not */
  size_t short_of; /* whose yield was too low */
  bool has_yield;  /* of the design: the yield was asked for */
  double yield;
  bool complete; /* every combination of up to most_changes choices was tried: all levers are lists
                  */
} tw_remedies;

/* Search. TW_OK also when nothing is found; TW_BAD_INPUT for a lever outside its own range;
 * TW_CANCELLED keeps what was found in *out. */
tw_status tw_remedy_search(const tw_remedy_problem *problem, const tw_remedy_options *options,
                           const tw_progress *progress, tw_remedies *out, tw_fault *fault);

/* The nearest value that can be made, away from where the lever stands and `more` steps further;
 * `fine`: with the finer of its two steps. It stays within the range. */
double tw_made_value(const tw_lever *lever, double to, int more, bool fine);

/* the order of the ranking: negative if a is better; what raises fewer new warnings comes first */
int tw_remedy_compare(const tw_remedy *a, const tw_remedy *b);

#endif
