/* seat_models.h: a seat's model for tests that expect one. */
#ifndef TW_TEST_SEAT_MODELS_H
#define TW_TEST_SEAT_MODELS_H

#include "near.h"
#include "tripwright/seat.h"

static inline tw_seat_model *model(const tw_seat_spec *s)
{
  tw_seat_model *m = NULL;
  tw_fault fault = {0};
  const tw_status status = tw_seat_model_new(s, &m, &fault);
  if (status != TW_OK) {
    print_error("%s: %s\n", fault.field, fault.text);
  }
  assert_int_equal(status, TW_OK);
  return m;
}

#endif
