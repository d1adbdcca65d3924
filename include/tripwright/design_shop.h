/* design_shop.h: what the shop file says about making a batch: what buying a part takes, what a way
 * of making costs, which tolerances it holds, and the steps of the work in their order.
 *
 * Times in s, money in costs.currency, shares 0..1. Everything is owned by the design and as
 * immutable as it. Read by src/design/read_shop.c; what is made of it: room batch.
 */
#ifndef TRIPWRIGHT_DESIGN_SHOP_H
#define TRIPWRIGHT_DESIGN_SHOP_H

#include "tripwright/base.h"

/* from so many on a piece costs so much */
typedef struct tw_price {
  int from;
  double each;
} tw_price;

typedef struct tw_supply {
  const tw_price *price; /* rising `from`; none: parts.NAME.cost for each */
  size_t prices;
  bool stepped;    /* each piece at the price of its own step, not all at that of the last */
  int pack;        /* sold in packs of so many; 0: singly */
  double shipping; /* of an order */
  int per_unit;    /* pieces that a unit takes; 0 in the file's silence, which means 1 */
  int have;        /* pieces in hand that count before any is bought */
  double good;     /* share of the pieces that can be used; 0 in the file's silence: all */
  int seen_good, seen_bad; /* instead of `good`: what was counted so far */
} tw_supply;

/* one tolerance that can be held and what a piece costs with it more than with the loosest */
typedef struct tw_grade {
  double hold; /* half the zone, SI; 0 with an ISO grade */
  int it;      /* 5 .. 16: ISO 286 grade, whose zone belongs to the size; 0: none */
  double cost;
} tw_grade;

typedef struct tw_grades {
  const tw_grade *grade;
  size_t count;
} tw_grades;

typedef enum tw_learn_form { TW_LEARN_UNIT, TW_LEARN_CUMULATIVE } tw_learn_form;

typedef struct tw_making_cost {
  double setup;        /* s, once a lot */
  double unit;         /* s a piece on the machine or by hand */
  double attended;     /* s of it with a hand at it; < 0: all of it */
  double machine_rate; /* money an hour of `unit` */
  double learn;        /* share of the time that is left when the number doubles; 0: no learning */
  tw_learn_form learn_form;
  double least; /* s: learning ends there */
  tw_grades grades;
} tw_making_cost;

#define TW_STEP_LIST 12

/* steps.NAME: one step of making, with the test at its end if it has one */
typedef struct tw_step {
  const char *name;
  const char *process;            /* whose times count where the step states none; or NULL */
  const char *part[TW_STEP_LIST]; /* parts that go in here */
  size_t parts;
  const char *reads[TW_STEP_LIST]; /* measures that its test reads */
  size_t read_count;
  const char *after[TW_STEP_LIST]; /* steps that must be done; none: the one before it */
  size_t afters;
  double setup, unit, attended; /* s; < 0: as the process says */
  double material;
  double test;      /* s a unit; 0: no test */
  double pass;      /* share whose work is right */
  double finds;     /* share of the faulty that the test finds */
  double mend;      /* share of those found that can be reworked */
  double mended;    /* share of the reworked that pass then */
  double mend_time; /* s a rework */
  int mend_most;    /* reworks of one unit at most; 0: no limit */
  double salvage;   /* money that a scrapped unit gives back */
  double wait;      /* s without a hand: a cure */
  tw_place place;
} tw_step;

#endif
