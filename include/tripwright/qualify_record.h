/* qualify_record.h: the one-page record of a qualification, to show to others.
 *
 * What was tested, how, the figures with formula and uncertainty, the decision, conditions, plots,
 * cautions; what the design foresaw beside what was measured. SI inside; `shown` and `per` give the
 * unit a reader sees (value * per in `shown`). The record owns everything that is added to it; text
 * is copied. An allocation that fails is remembered and reported by tw_record_whole. One thread at
 * a time.
 */
#ifndef TRIPWRIGHT_QUALIFY_RECORD_H
#define TRIPWRIGHT_QUALIFY_RECORD_H

#include "tripwright/qualify_budget.h"
#include "tripwright/qualify_stats.h"

typedef struct tw_figure_row {
  char *name, *formula, *unit; /* unit: SI, "m" */
  char *shown;                 /* "um" */
  double per;                  /* 1e6 */
  double value;
  bool has_interval;
  tw_interval interval;
  double level; /* of the interval */
  bool has_foreseen;
  double foreseen;
  bool has_decision;
  double u, lower, upper; /* lower, upper: -+infinity where there is none */
  tw_decision decision;
  tw_figure_law law; /* by which it is decided; TW_LAW_NONE until it is set */
} tw_figure_row;

typedef struct tw_plot_row {
  char *name, *x, *y; /* what the axes show, with units */
  bool round;         /* a rose: x is an azimuth in rad */
  size_t n;
  double *at; /* x, y in pairs */
} tw_plot_row;

typedef struct tw_word_row {
  char *key, *words;
} tw_word_row;

typedef struct tw_record {
  char *title;
  size_t figures, plots, conditions, notes, cautions;
  tw_figure_row *figure;
  tw_plot_row *plot;
  tw_word_row *condition; /* stylus, feed, approach, filter, artefact, temperature, date, by */
  char **note;            /* odd readings, resolution, trends: shown, not dropped */
  char **caution;
  bool lost; /* an allocation failed */
} tw_record;

tw_record *tw_record_new(const char *title);
void tw_record_free(tw_record *record);

void tw_record_condition(tw_record *record, const char *key, const char *words);
void tw_record_note(tw_record *record, const char *format, ...)
    __attribute__((format(printf, 2, 3)));
void tw_record_caution(tw_record *record, const char *words);
/* add a figure; the answer may be used to set interval and foreseen at once, before the next one
 * is added; NULL when memory ran out */
tw_figure_row *tw_record_figure(tw_record *record, const char *name, double value, const char *unit,
                                const char *shown, double per, const char *formula);
/* hold a figure against limits (either may be infinite) by its law; u is then what the law gives */
tw_status tw_figure_decide(tw_figure_row *figure, double lower, double upper, double level,
                           tw_fault *fault);
/* hold the last figure against limits (either may be infinite) with standard uncertainty u */
tw_status tw_record_decide(tw_record *record, double u, double lower, double upper, double level,
                           tw_fault *fault);
void tw_record_plot(tw_record *record, const char *name, const char *x, const char *y, bool round,
                    const double *at, size_t n);

/* everything that was added is there */
bool tw_record_whole(const tw_record *record);
/* proven only if every decision is; TW_DISPROVEN if one is; *any: there is a decision */
tw_verdict tw_record_verdict(const tw_record *record, bool *any);

/* one page of plain text, 80 columns; JSON object without schema or tool members, numbers with 17
 * digits; both freed by the caller with tw_free */
tw_status tw_record_text(const tw_record *record, char **text, tw_fault *fault);
tw_status tw_record_json(const tw_record *record, char **json, tw_fault *fault);

#endif
