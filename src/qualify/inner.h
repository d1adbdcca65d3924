/* inner.h: small things that several parts of the room share. */
#ifndef TW_QUALIFY_INNER_H
#define TW_QUALIFY_INNER_H

#include "tripwright/base.h"
#include "tripwright/constants.h"
#include "tripwright/numerics.h"

/* first index that is not finite, or n */
size_t tw_first_unfit(const double *value, size_t n);
/* TW_OK, or a TW_BAD_INPUT that names reading and cure */
tw_status tw_all_finite(const double *value, size_t n, const char *what, tw_fault *fault);
tw_status tw_no_memory(tw_fault *fault);
/* two-sided t quantile for `level` (0.95) */
double tw_t_factor(double level, double dof);
/* two-sided probability of |t| or more */
double tw_t_probability(double t, double dof);

/* a whole file up to `most` bytes, zero-ended; messages say what went wrong (whole_file.c) */
tw_status tw_text_of_file(const char *path, size_t most, tw_messages *messages, char **out,
                          size_t *length);

#endif
