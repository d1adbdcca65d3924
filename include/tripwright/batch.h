/* batch.h: what one good unit costs in money and hours: steps with test and rework, the order of
 * making, faults and the tests that find them, lots, prices, learning, when it is ready.
 *
 * Plain structs in, plain structs out; no global state, thread-safe. Money is a number in the
 * user's own currency, times are s unless a name says otherwise, shares 0..1. Of a design:
 * batch_cost.h. Equations and sources: docs/models/batch.md 1.
 */
#ifndef TRIPWRIGHT_BATCH_H
#define TRIPWRIGHT_BATCH_H

#include "tripwright/design_shop.h"

/* ---- one step -------------------------------------------------------------------------------- */

typedef struct tw_work_step {
  double work, test;     /* cost of the work and of the test of a unit that enters */
  double passes;         /* share that passes at the first test */
  double mends;          /* share of the others that can be reworked */
  double mended;         /* share of reworked ones that pass then */
  double rework, retest; /* cost of one rework and of the test after it */
  int most;              /* reworks of one unit at most; 0: no limit */
  double salvage;        /* what a scrapped unit gives back */
} tw_work_step;

typedef struct tw_step_outcome {
  double yield;   /* share that leaves the step good */
  double reworks; /* a unit that enters */
  double cost;    /* a unit that enters */
} tw_step_outcome;

tw_step_outcome tw_step_work(const tw_work_step *step);
/* Cost of a unit that left a step good: what came in, what the step costs a unit that enters, its
 * yield and what a scrapped one gives back (docs/models/batch.md 1.2). Infinite for a yield of 0.
 */
double tw_cost_after(double in, double cost, double yield, double salvage);

/* the order of making: outcome[n] and good[n], the cost of a unit that is good after each step;
 * joined[n] (may be NULL) is what joins at each step besides: sub-assemblies, parts */
void tw_chain_cost(const tw_work_step *step, size_t n, const double *joined,
                   tw_step_outcome *outcome, double *good);
/* units started for one that is good at the end; share of units that enter each step in share[n]
 * (may be NULL) */
double tw_chain_starts(const tw_step_outcome *outcome, size_t n, double *share);

/* ---- faults and the tests that find them -------------------------------------------------------
 */

/* one kind of fault: with what probability a unit has it, at which step (from 0) it arises, and
 * with what probability the test of each step finds it: finds[steps], nothing before it arises */
typedef struct tw_fault_kind {
  double probability;
  size_t step;
  const double *finds;
} tw_fault_kind;

/* Share of units that pass each test, in yield[steps]; returns the share of those that passed all
 * which has a fault that nothing found. left_out: a test that is not made (SIZE_MAX: all are). */
double tw_faults_found(const tw_fault_kind *kind, size_t kinds, size_t steps, size_t left_out,
                       double *yield);

/* ---- a lot ----------------------------------------------------------------------------------- */

typedef struct tw_lot {
  double cost;           /* of the whole lot */
  double per_good;       /* cost over expected good ones: the price in the long run */
  double one_lot;        /* expected cost a good one of a single lot that has any */
  double none;           /* chance that no unit is good */
  int low, middle, high; /* 5, 50, 95 % of the number of good ones */
} tw_lot;

/* starts units, each with the same chance of being good; setups once, each unit `unit` */
tw_lot tw_lot_cost(int starts, double share, double setups, double unit);

/* ---- buying ---------------------------------------------------------------------------------- */

typedef struct tw_buy {
  int count;           /* pieces bought: whole packs */
  double pay;          /* with shipping */
  double pay_for_need; /* the same for no more than the need, in packs */
} tw_buy;

/* The least that `need` pieces cost: the need and every step of the price above it, each rounded up
 * to packs. None for need <= 0. `cost` is the price of a piece without a list. */
tw_buy tw_supply_buy(const tw_supply *supply, double cost, int need);

/* ---- learning -------------------------------------------------------------------------------- */

/* Wright's law: `rate` is left of the time when the number doubles; `least` is the floor of a
 * single unit's time (0: none), in the same unit as `first` */
typedef struct tw_learning {
  tw_learn_form form;
  double first, rate, least;
} tw_learning;

double tw_learning_unit(const tw_learning *law, int n);             /* time of unit n */
double tw_learning_total(const tw_learning *law, int from, int to); /* of units from..to */

typedef struct tw_lot_hours {
  int from, to; /* numbers of its first and last unit */
  double hours; /* of the whole lot */
} tw_lot_hours;

/* fewer lots than this make no fit */
#define TW_LEARNING_LOTS 3
/* First time and rate (unit form) from the totals of lots, by least squares of the logarithms of
 * the totals. TW_BAD_INPUT for fewer than TW_LEARNING_LOTS lots or wrong numbers. */
tw_status tw_learning_fit(const tw_lot_hours *lot, size_t lots, tw_learning *out, tw_fault *fault);

/* ---- when it is ready ------------------------------------------------------------------------ */

#define TW_TASKS_MOST   64
#define TW_TASKS_BEFORE 12

typedef struct tw_task {
  const char *name;
  double days;
  bool hands;                    /* takes the one person */
  size_t after[TW_TASKS_BEFORE]; /* earlier tasks of the list */
  size_t afters;
} tw_task;

typedef struct tw_ready {
  double days; /* with as many hands as it takes */
  double slack[TW_TASKS_MOST];
  bool critical[TW_TASKS_MOST];
  double hand_days; /* sum of the tasks that take the person */
  /* with one person: between at_least and at_most; equal where every order was tried */
  double at_least, at_most;
  double start[TW_TASKS_MOST]; /* of that plan */
} tw_ready;

/* Tasks stand in an order in which each comes after those it waits for. TW_BAD_INPUT otherwise. */
tw_status tw_ready_when(const tw_task *task, size_t tasks, tw_ready *out, tw_fault *fault);

#endif
