/* assess.h: a whole design held against its requirements.
 *
 * tw_assess runs disc, stylus, seat, circuit and touch for one design and gives every measure of
 * measures.def with its requirement, margin, basis and the contributions it is made of. SI units.
 * A tw_assessment is a plain value owned by the caller and freed with tw_assessment_free; several
 * threads may assess different designs at once. What cannot be computed is a state with a reason,
 * never a number.
 */
#ifndef TRIPWRIGHT_ASSESS_H
#define TRIPWRIGHT_ASSESS_H

#include "tripwright/base.h"
#include "tripwright/design.h"

/* every measure, in the order of measures.def */
typedef enum tw_measure_id {
#define M(name, unit, shown, better, needs, after, section, help) TW_M_##name,
#include "tripwright/measures.def"
#undef M
  TW_MEASURE_COUNT
} tw_measure_id;

typedef enum tw_better { TW_BETTER_LESS, TW_BETTER_MORE, TW_BETTER_NONE } tw_better;
typedef enum tw_needs { TW_NEEDS_STATIC, TW_NEEDS_MAP, TW_NEEDS_TIMED } tw_needs;

typedef struct tw_measure_info {
  const char *name, *unit, *shown;
  tw_better better;
  tw_needs needs;
  const char *section, *help;
  bool after_touch; /* known only where the probe can be touched */
} tw_measure_info;

const tw_measure_info *tw_measure_about(tw_measure_id id);
/* TW_MEASURE_COUNT if there is none of that name */
tw_measure_id tw_measure_find(const char *name);
/* A value as requirements compare it: its magnitude, but the sign stays where it says that
 * something does not fit (stack_clearance). */
double tw_measure_compared(tw_measure_id id, double value);
struct tw_measure;
/* the value that a requirement is held against: as fitted, where that differs */
double tw_measure_judged(const struct tw_measure *measure);

/* How a value is rounded when it is printed: +1 up, -1 down, 0 to the nearest. A slowest feed is
 * rounded up and a fastest down, so that the feed as printed still works. */
int tw_measure_rounds(tw_measure_id id);

typedef enum tw_measure_state {
  TW_MEASURE_OK,
  TW_MEASURE_NO_TRIP,        /* the probe does not trip within what was searched */
  TW_MEASURE_NOT_APPLICABLE, /* this kind of probe has no such thing */
  TW_MEASURE_NOT_COMPUTED,   /* left out on request */
  TW_MEASURE_NO_ANSWER,      /* the numerics failed; the reason stands beside it */
  /* what makes a touch impossible; a requirement that needs one is not met then */
  TW_MEASURE_TRIPPED_AT_REST, /* the output is active before anything touches the tip */
  TW_MEASURE_STUCK,           /* it trips once and its output never falls back */
  TW_MEASURE_NO_REARM         /* a touch and its withdrawal do not leave it ready for the next */
} tw_measure_state;
/* as JSON has it: ok, no_trip, not_applicable, not_computed, no_answer, tripped_at_rest, stuck,
 * does_not_rearm */
const char *tw_measure_state_text(tw_measure_state state);
/* as a table has it: "tripped at rest" */
const char *tw_measure_state_words(tw_measure_state state);
/* a whole sentence about the probe; "" when ok */
const char *tw_measure_state_sentence(tw_measure_state state);
/* one of the last three: an answer about the design that leaves nothing to be touched */
bool tw_measure_state_prevents_touch(tw_measure_state state);

typedef enum tw_basis { TW_BASIS_ASSUMED, TW_BASIS_LIBRARY, TW_BASIS_MEASURED } tw_basis;
const char *tw_basis_text(tw_basis basis);
/* share of a figure: one that a guess moves by more is assumed, what is foretold to 5 % rests on no
 * guess (docs/models/assess.md 6) */
#define TW_BASIS_MOVES 0.05

/* one part of a measure; the parts of one measure add up to its value to 1e-9 of it */
typedef struct tw_contribution {
  const char *cause;
  double value;
} tw_contribution;
#define TW_CONTRIBUTIONS 6

typedef enum tw_met { TW_MET_NO_RULE, TW_MET_YES, TW_MET_NO } tw_met;

typedef struct tw_measure {
  tw_measure_state state;
  double value;     /* when the state is ok and the unit no word */
  bool endless;     /* not_applicable because there is nothing to measure it against, as a margin
                       without any signal: every requirement of `at least` is met */
  const char *word; /* when the unit is "word" */
  bool has_band;
  double band[2]; /* low, high */
  double at_deg;  /* azimuth of the largest, if has_at */
  bool has_at, has_least;
  double least;        /* smallest over the azimuths */
  double least_at_deg; /* azimuth of the smallest, with has_least */
  bool has_fitted;
  double fitted;      /* the figure as the part is fitted, where `value` by its definition is of a
                         part with room to move; requirements are held against this one */
  double searched_to; /* no trip: how far it was looked for, in N */
  tw_basis basis;
  const char *assumes;  /* path of the default that moves it most, when that makes it ASSUMED */
  double assumes_share; /* by how much of the figure, over that default's tolerance; HUGE_VAL: it
                           gives or takes the figure */
  int contributions;
  tw_contribution contribution[TW_CONTRIBUTIONS];
  char note[160]; /* why not, when the state is not ok; else how to read it, or empty */
  tw_met met;
  bool left_out; /* a requirement asks for it, but it was not computed: neither met nor missed */
  double margin; /* (limit - value)/|limit| for <=, (value - limit)/|limit| for >=; 0 for words */
} tw_measure;

typedef struct tw_warning {
  char text[320];
  char field[64]; /* the field to change */
} tw_warning;
#define TW_WARNINGS 40

typedef struct tw_assessment {
  tw_measure measure[TW_MEASURE_COUNT];
  int warnings;
  tw_warning warning[TW_WARNINGS];
  int asked, met; /* requirements in all, and those met */
  int left_out;   /* requirements that were not judged, because their measure was not computed */
  tw_measure_state state; /* of the probe before a touch: tw_probe.state */
} tw_assessment;

/* What no figure here speaks of (wear, number of touches ...) and why, with what can be done
 * instead; fills `out`, returns how many. The texts are constant. */
typedef struct tw_not_judged {
  const char *what, *why;
} tw_not_judged;
#define TW_NOT_JUDGED 4
size_t tw_assess_not_judged(const tw_design *design, tw_not_judged out[TW_NOT_JUDGED]);

/* ---- the verdict ----------------------------------------------------------------------------- */

typedef enum tw_assess_verdict {
  TW_ASSESS_NOTHING_ASKED, /* no requirements */
  TW_ASSESS_MET,           /* every requirement was judged and is met */
  TW_ASSESS_NOT_MET,       /* one is missed, or the probe cannot be touched */
  TW_ASSESS_LEFT_OUT,      /* what was judged is met, but something was left out */
  TW_ASSESS_NO_ANSWER      /* the numerics gave no answer for one */
} tw_assess_verdict;

tw_assess_verdict tw_assess_verdict_of(const tw_assessment *assessment);
/* nothing_asked, met, not_met, left_out, no_answer */
const char *tw_assess_verdict_text(tw_assess_verdict verdict);
/* The first line of every view: how many are met, what was left out, and why there is no touch. */
#define TW_ASSESS_SENTENCE 1024
void tw_assess_sentence(const tw_assessment *assessment, char *out, size_t size);

/* ---- requirements ---------------------------------------------------------------------------- */

/* One requirement in SI. Limits compare magnitudes (tw_measure_compared). */
typedef struct tw_limit {
  bool given;
  tw_rule rule;
  double low, high; /* LEAST: low; MOST: high; WITHIN: both */
  const char *word; /* IS; lives in the design */
  const char *text; /* as written; lives in the design */
} tw_limit;

typedef struct tw_limits {
  tw_limit of[TW_MEASURE_COUNT];
  int count;
} tw_limits;

/* The requirements of a design, checked against the measures: unknown names (with the nearest),
 * wrong units, words where a number belongs are errors with their place. TW_BAD_INPUT then. */
tw_status tw_limits_read(const tw_design *design, tw_units *units, tw_messages *messages,
                         tw_limits *out);

/* Hold one measure against a limit: fills met and margin (docs/guide/contract.md, Requirement). */
void tw_measure_judge(tw_measure_id id, const tw_limit *limit, tw_measure *measure);

/* ---- the assessment -------------------------------------------------------------------------- */

/* some of the measures */
typedef struct tw_measure_set {
  bool has[TW_MEASURE_COUNT];
} tw_measure_set;

/* what the touch along one direction gave */
typedef struct tw_direction {
  double azimuth, elevation; /* rad */
  bool tripped;
  double force, pretravel, return_offset; /* N, m, m */
} tw_direction;
typedef struct tw_assess_options {
  const struct tw_probe *probe; /* of this design, solved already (then seat_steps are those of its
                                   touch); NULL: it is solved here */
  const tw_measure_set *wanted; /* what nothing else needs is left out: its state is then
                                   TW_MEASURE_NOT_COMPUTED, and there are no warnings; NULL: all */
  int azimuths;                 /* at elevation 0, evenly spaced; 24 is the contract's map */
  int seat_steps; /* load steps of a touch; 0: refined until they no longer matter; 8 in a quarter
                     of the time, for studies: pivots within half a per cent, vees with friction 2
                   */
  int threads;    /* 0: one; the figures do not depend on it */
  bool between;   /* seek largest and smallest of the sides between the azimuths too; studies stay
                     on their grid, so that builds differ by nothing else */
  bool map;       /* all elevations: the measures that need the map */
  bool timed;     /* touches in time */
  bool contributions;
  const tw_limits *limits;  /* NULL: nothing is asked of it */
  tw_direction *directions; /* filled, tw_assess_directions of them: sides, then the axis, then
                               the map's; may be NULL */
  const tw_progress *progress;
} tw_assess_options;

/* the contract's options: 24 azimuths, map, timed, contributions; all processors */
tw_assess_options tw_assess_defaults(void);

/* how many directions are touched; never more than azimuths + 1 + TW_DIRECTIONS_OF_MAP */
#define TW_DIRECTIONS_OF_MAP 120
size_t tw_assess_directions(const tw_assess_options *options);

/* Assess one design. TW_OK also when requirements are missed or a measure has no answer; another
 * status only when nothing could be computed (then `fault` names the field). */
tw_status tw_assess(const tw_design *design, const tw_assess_options *options,
                    tw_assessment *assessment, tw_fault *fault);

#endif
