/* fast_read.c: a build read from the tables. */
#include "fast_tables.h"

#include <math.h>
#include <string.h>

double tw_fast_at(const fast_feature *f, const double *x)
{
  if (f->azimuth == SIZE_MAX) {
    return x[f->input];
  }
  return x[f->input] * (f->across ? sin(x[f->azimuth]) : cos(x[f->azimuth]));
}

void tw_fast_look_up(const tw_fast *fast, const double *x, double *quantity)
{
  const size_t q = fast->quantities;
  memcpy(quantity, fast->base, q * sizeof *quantity);
  for (size_t f = 0; f < fast->features; f++) {
    const double place =
        (tw_fast_at(&fast->feature[f], x) - fast->feature[f].from) * fast->feature[f].per;
    /* past an end the last cell goes straight on */
    const double cell = fmin(fmax(floor(place), 0.0), FAST_CELLS - 1), share = place - cell;
    const double *low = fast->table + (f * (FAST_CELLS + 1) + (size_t)cell) * q, *high = low + q;
    for (size_t i = 0; i < q; i++) {
      quantity[i] += low[i] + share * (high[i] - low[i]);
    }
  }
  for (size_t i = 0; i < q; i++) {
    quantity[i] = fast->product[i] ? exp(quantity[i]) : quantity[i];
  }
}

enum { FORCE, TRAVEL, RETURN };

/* measures that are the worst of directions, as the assessment makes them (measure_seat.c) */
static const struct {
  tw_measure_id id;
  int kind;
  enum { SIDES, AXIS, EVERYWHERE } where;
  bool range; /* largest less smallest; else the largest */
} WORST[] = {
    {TW_M_trip_force_side, FORCE, SIDES, false},
    {TW_M_trip_force_axial, FORCE, AXIS, false},
    {TW_M_pretravel_side, TRAVEL, SIDES, false},
    {TW_M_pretravel_axial, TRAVEL, AXIS, false},
    {TW_M_pretravel_variation_side, TRAVEL, SIDES, true},
    {TW_M_pretravel_range_all, TRAVEL, EVERYWHERE, true},
    {TW_M_return_offset, RETURN, EVERYWHERE, false},
};
enum { WORST_COUNT = sizeof WORST / sizeof WORST[0] };

/* its row, or WORST_COUNT */
static size_t worst_of(tw_measure_id id)
{
  size_t row = 0;
  for (; row < WORST_COUNT && WORST[row].id != id; row++) {
  }
  return row;
}

static void directions_of(const tw_study *study, const tw_fast *fast, size_t row, size_t *first,
                          size_t *end)
{
  const size_t sides = (size_t)study->level.azimuths;
  *first = WORST[row].where == AXIS ? sides : 0;
  *end = WORST[row].where == EVERYWHERE ? fast->directions
         : WORST[row].where == AXIS     ? sides + 1
                                        : sides;
}

void tw_fast_find_used(const tw_study *study, tw_fast *fast)
{
  for (size_t j = 0; j < study->outputs; j++) {
    const size_t row = worst_of(study->measure[j]);
    size_t first = 0, end = 0;
    if (row < WORST_COUNT) {
      directions_of(study, fast, row, &first, &end);
    }
    for (size_t i = first; i < end; i++) {
      fast->used[i] = true;
    }
  }
}

static double worst(const tw_study *study, const tw_fast *fast, size_t row, const double *quantity)
{
  double least = INFINITY, most = -INFINITY;
  size_t first, end;
  directions_of(study, fast, row, &first, &end);
  for (size_t i = first; i < end; i++) {
    const double value = quantity[i * FAST_OF_DIRECTION + (size_t)WORST[row].kind];
    if (fast->pattern.tripped[i]) {
      least = fmin(least, value);
      most = fmax(most, value);
    }
  }
  return WORST[row].range ? most - least : most;
}

void tw_fast_outputs(const tw_study *study, const tw_fast *fast, const double *quantity, double *y,
                     unsigned char *outcome)
{
  const double *output = quantity + fast->directions * FAST_OF_DIRECTION;
  for (size_t j = 0; j < study->outputs; j++) {
    const tw_measure_id id = study->measure[j];
    const size_t row = worst_of(id);
    double value = row < WORST_COUNT ? worst(study, fast, row, quantity) : output[j];
    outcome[j] = fast->pattern.outcome[j];
    if (strcmp(tw_measure_about(id)->unit, "word") == 0) {
      value = value >= 0.5; /* it is the word, or not */
    }
    if (outcome[j] == TW_OUTCOME_OK && !isfinite(value)) {
      outcome[j] = TW_OUTCOME_NO_ANSWER;
    }
    y[j] = outcome[j] == TW_OUTCOME_OK ? tw_measure_compared(id, value) : 0;
  }
}

void tw_fast_take(const tw_study *study, const tw_fast *fast, const tw_direction *direction,
                  const tw_assessment *result, double *quantity, fast_pattern *pattern)
{
  double *output = quantity + fast->directions * FAST_OF_DIRECTION;
  pattern->possible = true;
  for (size_t i = 0; i < fast->directions; i++) {
    double *of = quantity + i * FAST_OF_DIRECTION;
    of[FORCE] = direction[i].force;
    of[TRAVEL] = direction[i].pretravel;
    of[RETURN] = direction[i].return_offset;
    pattern->tripped[i] = direction[i].tripped;
  }
  tw_study_take(study, result, output, pattern->outcome);
  for (size_t j = 0; j < study->outputs; j++) {
    output[j] = pattern->outcome[j] == TW_OUTCOME_OK ? output[j] : 0;
  }
}

bool tw_fast_alike(const tw_study *study, const tw_fast *fast, const fast_pattern *pattern)
{
  const fast_pattern *middle = &fast->pattern;
  bool alike = pattern->possible && memcmp(pattern->outcome, middle->outcome, study->outputs) == 0;
  for (size_t i = 0; i < fast->directions && alike; i++) {
    alike = !fast->used[i] || pattern->tripped[i] == middle->tripped[i];
  }
  return alike;
}
