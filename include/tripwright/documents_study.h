/* documents_study.h: the JSON documents of studies (documents.h says what holds for all).
 *
 * What a study found is put into words and numbers here and nowhere else: command line, page and
 * report read these documents. The caller owns them (json_decref).
 */
#ifndef TRIPWRIGHT_DOCUMENTS_STUDY_H
#define TRIPWRIGHT_DOCUMENTS_STUDY_H

#include "tripwright/documents.h"
#include "tripwright/study_design.h"
#include "tripwright/study_stats.h"
#include "tripwright/study_steady.h"

/* value of an input with its unit, and as a person reads it */
json_t *tw_json_input(const tw_study *study, size_t input, double value);
/* value of an output: a quantity, true or false for a word, null without a number */
json_t *tw_json_output(const tw_study *study, size_t output, double value, tw_outcome outcome);
/* {"measure", "text", "margin"...} of a goal at a point */
json_t *tw_json_goal(const tw_study *study, size_t goal, const double *y,
                     const unsigned char *outcome);

/* {"measure", "text", "least", "most"}: what a requirement asks for; a word has neither number */
json_t *tw_json_requirement(const tw_study *study, size_t goal);

/* One range: points with every output, and the crossings of the requirements. */
json_t *tw_document_vary(const tw_study *study, const tw_range *range, const double *y,
                         const unsigned char *outcome, const tw_crossing *crossings, size_t count);
/* Two ranges: for each point the smallest margin and whose it is, all outputs, and the edges. */
json_t *tw_document_vary_two(const tw_study *study, const tw_range *first, const tw_range *second,
                             const double *y, const unsigned char *outcome, const tw_edge *edges,
                             size_t count);

/* A batch: quantiles with intervals, yield of each requirement and joint, what stands out in the
 * builds that fail. `level` of the intervals: 0.95. */
tw_status tw_document_spread(const tw_study *study, const tw_sampler *sampler,
                             const tw_builds *builds, double level, json_t **out, tw_fault *fault);

/* {"steady", "digits", "batch", "batches", "builds", "measures": [{"name", "unit", "numbers",
 * "steady", "tolerance", "mean", "deviation", "low", "high"}]}: a batch that went on until its
 * figures were steady; each figure with its "uncertainty" (two standard deviations). */
json_t *tw_json_steady(const tw_study *study, const tw_steady_plan *plan, const tw_steady *steady);

/* What one tolerance upwards (1 % where there is none) of an input does to the margin of a goal, as
 * a share of the limit; NAN when the slope is not known. slope[inputs][outputs] */
double tw_driver_moves(const tw_study *study, const tw_slope *slope, size_t input, size_t goal);
/* {"as_built", "adjustments": [{"name", "field", "down", "up", "step", "good", "builds", "share",
 * "low", "high", "evaluations", "lowest", "highest"}], "together", "pairing": null}: each of
 * `count` adjustments alone, and all together (NULL: only one) */
json_t *tw_json_winback(const tw_study *study, const tw_adjustment *adjustment,
                        const tw_winback *alone, size_t count, const tw_winback *together);
/* {"good", "builds", "share", "low", "high", "evaluations", "before", "lot", "disc", "resistors"}
 */
json_t *tw_json_pairing(const tw_study *study, const bool *disc, const bool *resistors, size_t lot,
                        const tw_winback *pairing);
/* [{"board", "disc", "good", "disc_values", "board_values"}]: whose disc goes with whose board, by
 * the numbers of the builds, with the values by field that each was chosen by; NULL: no memory */
json_t *tw_json_pairs(const tw_study *study, const tw_sampler *sampler, const bool *disc,
                      const bool *resistors, const tw_pair *pair, size_t count);

/* Slopes [inputs][outputs] of all inputs; indices [goals][inputs] or NULL. */
json_t *tw_document_drivers(const tw_study *study, const tw_slope *slope, const tw_index *index,
                            size_t rows, size_t used);

/* a change as it is written into the file: the new value with the tolerance that the old one had;
 * false when it cannot be written */
bool tw_change_text(const tw_study *study, const tw_levers *levers, const tw_change *change,
                    char *out, size_t size);

/* A way as the words that are written into the file: one for each field, one for the whole of
 * stack.chain. Free it when it was made. */
typedef struct tw_remedy_words {
  size_t count;
  tw_set set[TW_REMEDY_CHANGES];
  char *text[TW_REMEDY_CHANGES];
} tw_remedy_words;

bool tw_remedy_words_make(const tw_study *study, const tw_levers *levers, const tw_remedy *remedy,
                          tw_remedy_words *out);
void tw_remedy_words_free(tw_remedy_words *words);

json_t *tw_document_remedy(const tw_study *study, const tw_levers *levers,
                           const tw_remedies *remedies);

/* Designs side by side; `yield` of all requirements together, negative: not computed; `change` what
 * sets this one apart when all are of one file ("disc.part=a"), else NULL. */
typedef struct tw_variant {
  const tw_design *design;
  const tw_limits *limits;
  const tw_assessment *assessment;
  double yield, yield_low, yield_high;
  const char *change;
} tw_variant;
json_t *tw_document_compare(const tw_variant *variant, size_t count);

#endif
