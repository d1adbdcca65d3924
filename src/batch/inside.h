/* inside.h: what the files of the batch room share. */
#ifndef TW_BATCH_INSIDE_H
#define TW_BATCH_INSIDE_H

#include "tripwright/batch_cost.h"

#define TW_HOUR 3600.0
#define TW_DAY  86400.0

/* the lines of a batch from the steps of the file, or from its parts; times, not money */
tw_status tw_batch_lines(const tw_design *design, const tw_batch_ask *ask, tw_batch *batch,
                         tw_fault *fault);
/* which share of the units fails at each line, and what the tests let through */
tw_status tw_batch_faults(const tw_batch_ask *ask, tw_batch *batch, tw_fault *fault);
/* bad units among those sold when the test of a line is left out (SIZE_MAX: none); yield[lines] are
 * the shares that pass */
double tw_batch_found(const tw_batch *batch, size_t left_out, double *yield);
/* how many start, how many pieces to order; needs the yields of the lines */
tw_status tw_batch_orders(const tw_design *design, const tw_batch_ask *ask, tw_batch *batch,
                          tw_fault *fault);
/* when the first unit and the whole lot are ready */
tw_status tw_batch_ready(const tw_design *design, tw_batch *batch, tw_fault *fault);
/* s by hand at a line for so many units */
double tw_batch_hands(const tw_batch_line *line, int units);

#endif
