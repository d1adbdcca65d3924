/* study_run.h: the studies as they are run by command line, page and report alike.
 *
 * Each function takes a study that has been opened (study_design.h), computes, and leaves what it
 * found as the document of documents_study.h or as the numbers behind it. A tw_run_watch sees how
 * far it is, stops it, and is given documents of what is known so far; it is called by the thread
 * that called the function. After TW_CANCELLED what is known stands in *out, if anything is. The
 * caller owns documents (json_decref). Asking by name and options in JSON: tw_page_study.
 */
#ifndef TRIPWRIGHT_STUDY_RUN_H
#define TRIPWRIGHT_STUDY_RUN_H

#include "tripwright/documents_study.h"
#include "tripwright/page.h"

typedef struct tw_run_watch {
  const tw_progress *progress;    /* may be NULL */
  const tw_page_partial *partial; /* may be NULL: nobody looks before the end */
} tw_run_watch;

/* ---- ranges -------------------------------------------------------------------------------- */

/* most whole numbers that a count goes through */
#define TW_RUN_COUNTS 400

/* "PATH=FROM..TO": the field and both ends in SI; an end without a unit takes that of the other.
 * TW_BAD_INPUT with cause and cure. */
tw_status tw_run_range_read(tw_units *units, const char *text, tw_field *field, double *from,
                            double *to, tw_fault *fault);
/* The range of a field as an input of the study: a count goes through its whole numbers, which are
 * kept in values[TW_RUN_COUNTS]. TW_BAD_INPUT for a field that cannot vary or a range that is none.
 */
tw_status tw_run_range(tw_study *study, tw_field field, double from, double to, size_t points,
                       bool logarithmic, double *values, tw_range *range, tw_fault *fault);
/* one or two ranges -> the document of vary */
tw_status tw_run_vary(tw_study *study, const tw_range *range, int ranges, const tw_run_watch *watch,
                      json_t **out, tw_fault *fault);

/* ---- batches ------------------------------------------------------------------------------- */

/* The document of a batch (95 %), with "impossible": why the first build without any answer has
 * none, and "coarseness": how far the level is from 24 azimuths in fine steps for the design. */
tw_status tw_run_spread_document(tw_study *study, const tw_sampler *sampler,
                                 const tw_builds *builds, json_t **out, tw_fault *fault);
/* what is tried to set right after a batch is built */
typedef struct tw_run_winback {
  tw_adjustment adjustment[TW_STUDY_ADJUSTMENTS]; /* of tw_study_adjustments */
  size_t count, lot; /* lot > 0: discs and resistors are paired in lots of so many */
} tw_run_winback;

/* Put "win_back" into the document of a batch of the engine: each adjustment alone, all together,
 * and the pairing. TW_BAD_INPUT when there is nothing to pair. */
tw_status tw_run_winback_add(tw_study *study, const tw_run_winback *winback,
                             const tw_sampler *sampler, const tw_builds *builds,
                             const tw_progress *progress, json_t *document, tw_fault *fault);

typedef struct tw_run_spread_ask {
  size_t builds; /* 0 .. builds - 1 of the seed */
  uint64_t seed;
  size_t checks; /* > 0: the fast level, held against the engine on so many */
  bool as_built; /* leave out what adjusting wins back; the fast level always does */
  size_t lot;    /* as in tw_run_winback */
} tw_run_spread_ask;

/* a batch with all toleranced fields -> the document of spread */
tw_status tw_run_spread(tw_study *study, const tw_run_spread_ask *ask, const tw_run_watch *watch,
                        json_t **out, tw_fault *fault);
/* n builds of seed 1 with all toleranced fields; free *out (NULL when it fails) */
tw_status tw_run_builds(tw_study *study, size_t n, const tw_progress *progress, tw_builds **out,
                        tw_fault *fault);
/* of n builds of seed 1: the share that keeps every requirement, into the variant */
tw_status tw_run_yield(tw_study *study, size_t n, const tw_progress *progress, tw_variant *variant,
                       tw_fault *fault);

/* ---- drivers ------------------------------------------------------------------------------- */

typedef struct tw_run_drivers {
  tw_slope *slope;                 /* inputs x outputs */
  tw_index *index;                 /* goals x inputs, NULL: not asked */
  size_t rows, used;               /* asked; usable, of the goal with the fewest */
  size_t usable[TW_MEASURE_COUNT]; /* rows of each goal */
  char why[TW_MEASURE_COUNT][240]; /* a goal without indices: why not */
} tw_run_drivers;

/* Slopes of the study's inputs over half their tolerance (a hundredth of the value without one);
 * rows > 0: indices as well. Free it in every case. The watch is given documents. */
tw_status tw_run_drivers_make(tw_study *study, size_t rows, const tw_run_watch *watch,
                              tw_run_drivers *out, tw_fault *fault);
void tw_run_drivers_free(tw_run_drivers *drivers);
json_t *tw_run_drivers_document(const tw_study *study, const tw_run_drivers *drivers);

/* ---- remedies ------------------------------------------------------------------------------ */

typedef struct tw_run_remedy {
  size_t builds; /* from which a yield is judged */
  size_t budget, wanted;
  double safety, yield; /* least margin; share of a batch wanted, 0: not asked */
  bool strict; /* the safety was asked for: it is a condition, also of the design as it is; else
                  ways aim at it and are taken with less where none reaches it */
  /* Gives the design as it is read with some words more, or a failure when it cannot be built so.
   * Every way is then read and assessed as `check` does it, in time and over all directions, before
   * it is called one. NULL: ways have the study's own word only. */
  tw_status (*read_sets)(void *self, const tw_set *sets, size_t count, tw_design **out);
  void *reader;
} tw_run_remedy;

/* 60 builds, 1500 evaluations, 1 way, ways aim at a margin of 5 %, no yield */
tw_run_remedy tw_run_remedy_defaults(void);
/* The levers must be those of this study (tw_study_levers); a yield adds the toleranced fields. */
tw_status tw_run_remedy_make(tw_study *study, const tw_levers *levers, const tw_run_remedy *how,
                             const tw_run_watch *watch, tw_remedies *out, tw_fault *fault);
/* Touches in time and all directions are put into the level where the design misses a requirement
 * that needs them, so that the search sees it. */
tw_status tw_run_remedy_level(const tw_design *design, const tw_limits *limits,
                              tw_study_level *level, tw_fault *fault);
/* does any field belong to this part, or is it a field, or a part of the design? */
bool tw_run_part_known(const tw_design *design, const char *name);

#endif
