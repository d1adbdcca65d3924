/* study_design.h: a design as the model of a study.
 *
 * Inputs are fields of the design, outputs are measures of the assessment as magnitudes (as
 * requirements compare them), goals are its requirements. A word that a requirement asks for counts
 * 1 when it is so and 0 when not. Each worker has its own clone of the design, so the model may be
 * evaluated from several threads. The design must outlive the study. Model: docs/models/study.md 7.
 */
#ifndef TRIPWRIGHT_STUDY_DESIGN_H
#define TRIPWRIGHT_STUDY_DESIGN_H

#include "tripwright/assess.h"
#include "tripwright/parts.h"
#include "tripwright/study.h"
#include "tripwright/study_remedy.h"
#include "tripwright/study_winback.h"

/* how much of the assessment is computed for each build */
typedef struct tw_study_level {
  int azimuths; /* 0: 8 */
  bool map, timed;
  int threads; /* 0: as many as there are processors */
  /* the measures that builds are evaluated for, of those the level holds; only read while the study
   * is made; NULL: all of them, which takes longer */
  const tw_measure_set *wanted;
} tw_study_level;

/* Another row of the library in a field that names one: the word, and the design read with it. The
 * fields in which that design differs go with the word. */
typedef struct tw_study_choice {
  char *word;
  tw_design *design; /* NULL: the word that the design has */
  tw_field *differs;
  size_t count;
} tw_study_choice;

typedef struct tw_study_input {
  tw_field field;
  const char *path, *si;   /* unit of its numbers, "" for plain ones */
  double now;              /* SI, as the design says */
  double least, most;      /* what the table of fields allows, SI */
  tw_varied law;           /* from its tolerance; TW_LAW_FIXED without one */
  const char *process;     /* of the shop file, whose offset the law's centre has; NULL: none */
  double offset;           /* that offset, SI */
  bool process_spread;     /* the spread is the process's: the file states no tolerance */
  bool assumed;            /* the file says nothing of it: the scatter is that of the default */
  tw_study_choice *choice; /* a word instead of a number: x is the place in this list; else NULL */
  size_t choices;
  bool cell; /* one length of stack.chain: of `row`; its path is its label */
  size_t row;
  char label[80];
} tw_study_input;

typedef struct tw_study_worker tw_study_worker;

typedef struct tw_study {
  const tw_design *design;
  tw_units *units;
  const tw_limits *limits;
  tw_study_level level;
  size_t inputs;
  tw_study_input input[TW_FIELD_COUNT];
  double now[TW_FIELD_COUNT]; /* of the inputs: the point x0 */
  size_t outputs;
  tw_measure_id measure[TW_MEASURE_COUNT]; /* of each output */
  size_t goals;
  tw_goal goal[TW_MEASURE_COUNT];
  tw_measure_set wanted; /* the outputs, as a set */
  tw_assessment nominal; /* of the design as it is, at this level: all measures */
  tw_study_worker *worker;
  struct tw_fast *fast; /* NULL: builds go through the engine (study_fast.h) */
} tw_study;

/* A study without inputs yet; assesses the design once. TW_BAD_INPUT when that fails. The units are
 * asked for ranges only. */
tw_status tw_study_new(const tw_design *design, tw_units *units, const tw_limits *limits,
                       const tw_study_level *level, tw_study **out, tw_fault *fault);
void tw_study_free(tw_study *study);

/* The input of a field, added if it is new: a number, a count or a quantity that has a value and
 * applies. seat.friction stands for both frictions. */
tw_status tw_study_add(tw_study *study, tw_field field, size_t *input, tw_fault *fault);
/* The input of a field that names a row of the library (circuit.amplifier): its number is the place
 * of the word in a list that the study takes over, also when it fails; `now` is the place of the
 * design's own word. */
tw_status tw_study_add_choice(tw_study *study, tw_field field, tw_study_choice *choice,
                              size_t choices, size_t now, size_t *input, tw_fault *fault);
/* The input of one length of stack.chain, fixed: the row from 0. Its path is "stack.chain: NAME".
 */
tw_status tw_study_add_link(tw_study *study, size_t row, size_t *input, tw_fault *fault);
void tw_study_choices_free(tw_study_choice *choice, size_t choices);
/* Add every field with a tolerance; resistors without one get circuit.resistor_tolerance,
 * directions of eccentricities that were not given are equally likely all round. What a process of
 * the shop file makes (tw_design_making) has its mean shifted by the process's offset, and its
 * spread where no tolerance is stated. Inputs that have a list of pieces already keep it.
 * TW_BAD_INPUT when nothing varies. */
tw_status tw_study_add_toleranced(tw_study *study, tw_fault *fault);
/* the scatter of an input that is assumed, as the default says it: "1 ± 30 %" */
const char *tw_study_assumed_text(const tw_study *study, size_t input);
/* the sampler of the inputs as they are now */
tw_status tw_study_sampler(const tw_study *study, const tw_correlation *correlations, size_t count,
                           uint64_t seed, tw_sampler **out, tw_fault *fault);
/* valid until the study is freed or an input is added */
tw_study_model tw_study_as_model(tw_study *study);
/* Why an output has no number at the point x[inputs], as the engine says it; "" when it has one.
 * Not while other threads evaluate the study. */
tw_status tw_study_why(tw_study *study, const double *x, size_t output, char *out, size_t size,
                       tw_fault *fault);
/* of the output, or SIZE_MAX */
size_t tw_study_output(const tw_study *study, tw_measure_id id);
/* changes with every number, tolerance, word and table that the model sees, and with the level */
uint64_t tw_study_hash(const tw_study *study);
/* Names of the outputs separated by spaces, for a store; text of the level: "engine, 8 azimuths".
 */
void tw_study_names(const tw_study *study, char *out, size_t size);
void tw_study_level_text(const tw_study *study, char *out, size_t size);

/* ---- what can be set at assembly ------------------------------------------------------------- */

#define TW_STUDY_ADJUSTMENTS 3

/* The adjustments that the design has: the preload screw (preload.screw_pitch given), the trimmer
 * of the reference (circuit.trimmer), the tramming screws (housing.tip_offset given). Adds their
 * inputs to the study, so call it before the sampler is made. */
tw_status tw_study_adjustments(tw_study *study, tw_adjustment adjustment[TW_STUDY_ADJUSTMENTS],
                               size_t *count, tw_fault *fault);
/* Which inputs vary with the disc (its part, and what was measured on it) and which with the
 * resistors; false when there is nothing to pair. disc[inputs], resistors[inputs]. */
bool tw_study_pairs(const tw_study *study, bool *disc, bool *resistors);

/* ---- remedy -------------------------------------------------------------------------------- */

/* What may be changed, made from the design: one lever a numeric field that belongs to a part. */
typedef struct tw_levers {
  size_t count;
  tw_lever lever[TW_FIELD_COUNT];
  size_t remakes;
  tw_remake remake[TW_FIELD_COUNT];
  size_t unknown;  /* remakes for which the design states neither cost nor time */
  double *choices; /* of all lists */
} tw_levers;

/* A range that replaces the lever's own, or makes one of a field that has none. */
typedef struct tw_lever_range {
  tw_field field;
  double least, most;
} tw_lever_range;

typedef struct tw_lever_options {
  const tw_lever_range *range;
  size_t ranges;
  const char *const *free_part; /* changed although ordered or in hand */
  size_t frees;
  const char *const *keep; /* parts or fields that stay as they are */
  size_t keeps;
  /* Other rows of the same kind are tried for the parts that the file names (circuit.amplifier,
   * disc.part, stylus.ball ...): `read_with` gives the design as it is read with one more word, or
   * a failure when it cannot be built so. NULL: parts stay what they are. */
  const tw_library *library;
  tw_status (*read_with)(void *self, const char *path, const char *word, tw_design **out);
  void *self;
  /* the lengths of stack.chain may change by a fifth, where a requirement asks for stack_clearance;
   * for callers that can write a whole table */
  bool links;
} tw_lever_options;

/* Adds the inputs to the study. A positive value may go from a tenth to ten times itself, within
 * the table; a value that is zero only within a stated range; resistors are members of
 * circuit.resistor_series from a third to three times themselves; parts that the file names are
 * other rows of their kind. */
tw_status tw_study_levers(tw_study *study, const tw_lever_options *options, tw_levers **out,
                          tw_fault *fault);
/* how many of them may really be moved: their part is not ordered, in hand or kept */
size_t tw_levers_free_ones(const tw_levers *levers);
void tw_levers_free(tw_levers *levers);

#endif
