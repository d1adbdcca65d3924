/* bench_suspect.h: from readings on the bench to the one thing that explains them.
 *
 * A built unit is assumed to differ from its design in one value. Every numeric value of the
 * design (and a few of its choices) is tried over the range of its table row; the bench
 * card is computed anew each time and held against the readings. What explains them is a suspect;
 * where several do, the checks that would tell them apart are named. SI units. The caller owns the
 * result, a plain value without pointers into anything but constants. Method and limits:
 * docs/models/bench.md.
 */
#ifndef TRIPWRIGHT_BENCH_SUSPECT_H
#define TRIPWRIGHT_BENCH_SUSPECT_H

#include "tripwright/bench.h"
#include "tripwright/units.h"

typedef enum tw_reading_kind {
  TW_READ_NUMBER,
  TW_READ_WORD, /* "high", "low", "+", "-" */
  TW_READ_NONE  /* it does not trip, or shows nothing */
} tw_reading_kind;

typedef struct tw_bench_reading {
  tw_bench_id id;
  tw_reading_kind kind;
  double value, u;  /* SI, as the instrument shows it; standard uncertainty, 0: 1 % of the value */
  const char *word; /* of TW_READ_WORD */
} tw_bench_reading;

/* what a check would show; low and high are the ends for a unit without fault */
typedef struct tw_bench_shown {
  bool there, known; /* the card has this check; it has a value */
  double value, low, high;
  const char *word;
} tw_bench_shown;

typedef enum tw_reads {
  TW_READS_AS_EXPECTED,
  TW_READS_LOW,
  TW_READS_HIGH,
  TW_READS_OTHER
} tw_reads;

typedef struct tw_suspect {
  tw_field field;
  double now, then; /* in the file; where it explains the readings best (SI, or a choice) */
  double misfit;    /* sum of squares of what is left, in deviations */
  double worst;     /* the largest of them */
  bool explains;    /* worst is TW_SUSPECT_FITS or less */
  tw_bench_shown shown[TW_BENCH_COUNT];
} tw_suspect;

/* a check that was not read yet, and by how many deviations the suspects differ in it */
typedef struct tw_suspect_test {
  tw_bench_id id;
  double apart;
} tw_suspect_test;

#define TW_SUSPECTS       8
#define TW_SUSPECT_BESIDE 4   /* the first so many are told apart */
#define TW_SUSPECT_FITS   2.0 /* deviations that a reading may be off and still be explained */

typedef struct tw_suspicion {
  tw_bench_card card; /* of the design as it stands */
  size_t readings;
  tw_reads reads[TW_BENCH_COUNT];  /* of each reading, in their order */
  double off[TW_BENCH_COUNT];      /* deviations from the card */
  size_t out;                      /* readings outside of what a good unit may show */
  double misfit;                   /* of the design as it stands */
  size_t suspects, explaining;     /* the best first; the first `explaining` of them explain */
  tw_suspect suspect[TW_SUSPECTS]; /* empty when no reading is out */
  size_t tests;
  tw_suspect_test test[TW_BENCH_COUNT]; /* the most telling first, at least two deviations */
  size_t tried;                         /* cards computed */
} tw_suspicion;

/* The card of a design, with the usual instruments where `instruments` is NULL, on so many threads
 * (0: as many as there are processors). */
tw_status tw_bench_card_from(const tw_design *design, const tw_bench_instruments *instruments,
                             int threads, tw_bench_card *out, tw_fault *fault);

/* The same, keeping what the card was made from, for cards of units near by: `inputs` for other
 * boards around the same probe, `forces` for the directions in which weights take most and least.
 * `turned`: these directions stand in `forces` already, from a unit near by. At the largest and the
 * smallest the weight does not change with the direction: the same to first order. */
tw_status tw_bench_card_with(const tw_design *design, const tw_bench_instruments *instruments,
                             int threads, bool turned, tw_assessment *forces,
                             tw_bench_inputs *inputs, tw_bench_card *out, tw_fault *fault);
/* The card of a design that differs from the one of `inputs` in its board only (levels, resistors,
 * leak; nothing that changes disc, seat or the capacitance at the node): nothing is solved anew but
 * the board, which stands in `inputs` afterwards. */
tw_status tw_bench_card_of_board(const tw_design *design, const tw_bench_instruments *instruments,
                                 tw_bench_inputs *inputs, tw_bench_card *out, tw_fault *fault);

/* One reading of a card as a person writes it: "612 mV", "4.1 ms ± 0.1" (limits), "high", "none".
 * TW_BAD_INPUT with cause and cure; the fault's field is the check's name, or empty when the card
 * has no such check. */
tw_status tw_bench_reading_read(const tw_bench_card *card, tw_units *units, const char *check,
                                const char *text, tw_bench_reading *out, tw_fault *fault);

/* TW_BAD_INPUT: a reading of a check that this card does not have, two of the same check, none at
 * all, or a word where a number is read; `fault` names it. */
tw_status tw_bench_suspect(const tw_design *design, tw_units *units,
                           const tw_bench_instruments *instruments, const tw_bench_reading *reading,
                           size_t readings, int threads, const tw_progress *progress,
                           tw_suspicion *out, tw_fault *fault);

/* What may be wrong: a number of a part of the unit, or a choice that a slip at assembly makes
 * (tw_suspect_is_slip); and whether the table of fields allows such a value (SI). */
bool tw_suspect_may_be_wrong(const tw_design *design, tw_field field);
bool tw_suspect_is_slip(tw_field field);
bool tw_suspect_within(tw_units *units, tw_field field, double value);

/* what a card shows of each check, as its instruments show it */
void tw_bench_shown_of(const tw_bench_card *card, tw_bench_shown shown[TW_BENCH_COUNT]);
const char *tw_reads_text(tw_reads reads);

#endif
