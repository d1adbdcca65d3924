/* choices.h: inputs that are no fields with a number: which row of the library a field names, and
 * lengths in the axial stack. */
#ifndef TW_STUDY_CHOICES_H
#define TW_STUDY_CHOICES_H

#include "tripwright/study_design.h"

/* Put the chosen words, and what goes with them, into a design that is the study's own; false: all
 * are as the file has them. */
bool tw_study_choose(const tw_study *study, const double *x, tw_design *own);
/* The number of input k after that: x, moved by as much as the words moved its field, so that a
 * tolerance stays about the value that the chosen row has. */
double tw_study_moved(const tw_study *study, size_t k, double x, const tw_design *own);

/* The rows of the library that could stand in this field instead of the one that does, each with
 * the design read with it, and the design's own word: of the same kind (comparators for a
 * comparator, materials of which stems or balls are made), and only those with which the file can
 * be read. *choices < 2: there are none, and *choice is NULL. */
tw_status tw_study_rows(const tw_study *study, const tw_lever_options *options, tw_field field,
                        tw_study_choice **choice, size_t *choices, size_t *now, tw_fault *fault);

/* The same for a field whose words only say which way round the signal goes (disc.poling,
 * circuit.polarity): its other words, but not the one that says nothing. */
bool tw_study_turns(tw_field field);
tw_status tw_study_turned(const tw_study *study, const tw_lever_options *options, tw_field field,
                          tw_study_choice **choice, size_t *choices, size_t *now, tw_fault *fault);

/* a table of one's own in which lengths of stack.chain are changed; freed with tw_free(cells) */
typedef struct tw_links {
  tw_table table;
  tw_cell *cells;
} tw_links;
/* Put the changed lengths into a design that is the study's own, by way of the worker's table. */
void tw_study_put_links(const tw_study *study, const double *x, tw_links *links, tw_design *own);

/* what a thread of a study owns */
struct tw_study_worker {
  tw_design *own;
  tw_links links;
  tw_assessment result;
};

#endif
