/* batch_cost.h: a design with its shop file as a batch: its steps, what they cost, how many units
 * must be started, what to order, when it is ready.
 *
 * Money in costs.currency, times in s, shares 0..1. A tw_batch keeps pointers into the design,
 * which must outlive it. Model: docs/models/batch.md 1 and 2.
 */
#ifndef TRIPWRIGHT_BATCH_COST_H
#define TRIPWRIGHT_BATCH_COST_H

#include "tripwright/batch_order.h"
#include "tripwright/study_design.h"

#define TW_BATCH_STEPS 32
#define TW_BATCH_PARTS TW_KINDS_MOST

typedef struct tw_batch_ask {
  int good;    /* units that must be good */
  double sure; /* with what chance: 0.95 */
  int made;    /* units made before this lot: learning goes on from there */
  /* Which requirements fail: builds of a study with their goals, or only the share of a batch that
   * is good; with neither every requirement is taken as met. */
  const tw_study *study;
  const tw_builds *builds;
  bool has_share;
  double share;
} tw_batch_ask;

typedef struct tw_batch_line {
  const char *name;
  const tw_step *step;      /* NULL: the file has no steps; this one was made from a part */
  double setup;             /* s, once a lot */
  double attended, machine; /* s a unit that enters, without the test */
  double test;              /* s a unit that enters */
  double parts, material;   /* money a unit that enters */
  double fails;             /* share that misses a requirement which this step reads */
  tw_work_step work;        /* all costs without set-up */
  tw_step_outcome outcome;
  double good;  /* cost of a unit that is good after it */
  double share; /* share of the started units that enter */
  int need;     /* units that must enter so that enough come out */
  /* without its test: bad units among those sold, cost of a truly good one */
  double bad_without, truly_without;
} tw_batch_line;

typedef struct tw_batch_part {
  const tw_part *part;
  size_t line; /* where it goes in */
  int need;    /* good pieces that the lot takes */
  int have;    /* of them in hand */
  int order;   /* pieces to order so that enough are good */
  tw_buy buy;
} tw_batch_part;

typedef struct tw_batch {
  int good;
  double sure;
  size_t lines;
  tw_batch_line line[TW_BATCH_STEPS];
  size_t parts;
  tw_batch_part part[TW_BATCH_PARTS];
  int starts;
  double chance; /* that so many starts and pieces give enough good units */
  bool proven;   /* no cheaper choice of numbers exists */
  double starts_per_good, share;
  double per_good;          /* direct, without set-ups */
  double setups;            /* money of the lot's set-ups */
  double setup_time;        /* s */
  double attended, machine; /* s a good unit, without set-ups */
  double bad;               /* share of the units sold that are bad all the same */
  double truly;             /* cost of a truly good unit, with costs.failed_unit for the bad ones */
  tw_lot lot;               /* of the starts, direct */
  double overhead;          /* of a good unit, beside the direct cost */
  double pay;               /* for all orders */
  tw_ready first, last;     /* one unit; the whole lot */
  size_t tasks;
  tw_task task[TW_TASKS_MOST]; /* of the whole lot */
  char task_name[TW_TASKS_MOST][64];
} tw_batch;

/* TW_BAD_INPUT when the file has neither steps nor parts, or a step reads what is no measure;
 * TW_NO_ANSWER when no number of starts is enough. Allocates *out: tw_free. */
tw_status tw_batch_make(const tw_design *design, const tw_batch_ask *ask, tw_batch **out,
                        tw_fault *fault);

#endif
