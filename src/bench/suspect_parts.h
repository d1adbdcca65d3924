/* suspect_parts.h: what the search for a fault shares; inside the room only. */
#ifndef TW_BENCH_SUSPECT_PARTS_H
#define TW_BENCH_SUSPECT_PARTS_H

#include "tripwright/bench_suspect.h"

/* what leaves more than this share of the misfit explains nothing worth a line */
#define TW_SUSPECT_LEAVES 0.7

/* one value of one field, and the card that it gives */
typedef struct tw_trial {
  tw_field field;
  double value;
  bool answers; /* there is a card */
  bool partly;  /* without the weights: what they leave counts as nothing, so misfit is the least */
  double misfit, worst;
  tw_bench_shown shown[TW_BENCH_COUNT];
} tw_trial;

/* standard uncertainty of a reading, 1 % of it where none is stated */
double tw_reading_u(const tw_bench_reading *reading);
/* how many deviations a reading is off: + above; `good` is what a unit without fault shows */
double tw_reading_off(const tw_bench_reading *reading, const tw_bench_shown *shown,
                      const tw_bench_shown *good);
/* sum of squares over the readings, and the largest; good[] of all checks */
void tw_trial_judge(tw_trial *trial, const tw_bench_shown *good, const tw_bench_reading *reading,
                    size_t readings);
/* the deviation of what a check shows, on the side where `value` lies */
double tw_shown_deviation(const tw_bench_shown *shown, double value, double u);

/* the card as tw_bench_card_from makes it; its weights, which take the longest, only if what it
 * shows without them is worth it */
typedef bool (*tw_card_worth)(void *self, const tw_bench_card *without);
tw_status tw_bench_card_if(const tw_design *design, const tw_bench_instruments *instruments,
                           int threads, tw_card_worth worth, void *self, tw_bench_card *out,
                           bool *weighed, tw_fault *fault);

/* ---- the search ---------------------------------------------------------------------------- */

typedef struct hunt {
  const tw_design *design;
  tw_units *units;
  tw_bench_instruments instruments; /* with the test weight of the design's own card */
  const tw_bench_reading *reading;
  size_t readings;
  tw_bench_shown good[TW_BENCH_COUNT]; /* what the design as it stands shows */
  tw_design **own;                     /* a clone for each thread */
  tw_bench_card **card;
  int threads;
  tw_trial *trial;
  size_t trials;
  size_t tried;
  /* for progress over several loops */
  const tw_progress *progress;
  double before, share;
  /* a card that leaves as much without its weights needs none: it would not be listed */
  double enough;
} hunt;

/* what is known of one field: the best value tried, and where between two tried ones a better one
 * is to be expected */
typedef struct best {
  tw_trial at;
  double below, above;   /* values tried, to look between */
  double before, after;  /* values tried on either side of the best one */
  double guess, guessed; /* place between them, and the misfit that is expected there */
} best;

/* one card; a value that cannot be is no error and has no answer */
tw_status tw_suspect_try(hunt *h, int worker, tw_trial *trial, tw_fault *fault);
/* Every field far off: `trial` gets all that answered of those fields that move a reading, the
 * design as it stands among them; it has room for tw_suspect_most() of them. */
tw_status tw_suspect_try_all(hunt *h, tw_trial *trial, size_t *count, tw_fault *fault);
size_t tw_suspect_most(void);
/* from those trials to the suspects of `out` */
tw_status tw_suspect_close_in(hunt *h, tw_trial *trial, size_t count, best *all, tw_suspicion *out,
                              tw_fault *fault);
/* progress of one of several loops; `self` is the hunt */
bool tw_suspect_tick(void *self, double done, const char *what);

/* which checks would tell the suspects apart */
void tw_suspect_tests(tw_suspicion *out, const tw_bench_reading *reading, size_t readings);

#endif
