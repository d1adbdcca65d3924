/* study_models.h: models on paper for the tests of studies. */
#ifndef TW_TEST_STUDY_MODELS_H
#define TW_TEST_STUDY_MODELS_H

#include "tripwright/study.h"

#include <stdatomic.h>

/* a model's `self`, if there is one, counts its builds */
static inline void count_build(void *self)
{
  if (self) {
    atomic_fetch_add((atomic_int *)self, 1);
  }
}

/* y = a b; counts */
static inline tw_status product_of_two(void *self, int worker, const double *x, double *y,
                                       unsigned char *outcome, tw_fault *fault)
{
  (void)worker;
  (void)fault;
  count_build(self);
  y[0] = x[0] * x[1];
  outcome[0] = TW_OUTCOME_OK;
  return TW_OK;
}

#endif
