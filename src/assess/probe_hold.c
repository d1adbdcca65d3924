/* probe_hold.c: a holder that gives way behind the seat, in the table of a touch in time
 * (docs/models/crash.md 3). */
#include "hold.h"

#include <math.h>

/* just under the force that lifts the holder, as a share of it: the curve bends there at once, and
 * a row this near keeps a smooth curve through the rows from running ahead of the bend */
#define BEFORE_BEND 1e-4

/* the seat's own rows, between two of them and past the last one straight */
typedef struct seat_rows {
  double x[TW_PROBE_ROWS], force[TW_PROBE_ROWS], charge[TW_PROBE_ROWS];
  size_t count;
} seat_rows;

static seat_rows rows_of(const tw_probe_touch *t)
{
  seat_rows s = {.count = t->model.carrier.table_count};
  for (size_t i = 0; i < s.count; i++) {
    s.x[i] = t->x[i];
    s.force[i] = t->force[i];
    s.charge[i] = t->charge[i];
  }
  return s;
}

/* add a row at this force: seat and holder carry it both, their travels add up */
static tw_status add_row(const seat_rows *s, const tw_crash_stage *hold, double force,
                         tw_probe_touch *t, tw_fault *fault)
{
  double give = 0;
  size_t i = 1;
  while (i + 1 < s->count && s->force[i] < force) {
    i++;
  }
  const double share = (force - s->force[i - 1]) / (s->force[i] - s->force[i - 1]);
  const size_t n = t->model.carrier.table_count;
  const tw_status status = tw_crash_travel(hold, 1, force, NULL, &give, fault);
  t->x[n] = s->x[i - 1] + share * (s->x[i] - s->x[i - 1]) + give;
  t->charge[n] = s->charge[i - 1] + share * (s->charge[i] - s->charge[i - 1]);
  t->force[n] = force;
  t->model.carrier.table_count += status == TW_OK && (n == 0 || force > t->force[n - 1]);
  return status;
}

/* N at which the law of the holder was laid down to its end: its stop, or the travel asked for */
static double last_force(const tw_design *design, bool sideways, const tw_crash_stage *hold)
{
  const double travel =
      tw_design_number(design, sideways ? TW_F_housing_travel_side : TW_F_housing_travel_axial);
  return hold->law == TW_CRASH_SPRING ? hold->gives_at + hold->stiffness * travel
                                      : hold->force[hold->count - 1];
}

/* the seat's rows up to where the holder lifts, the bend, the seat's rows past it, and on */
static tw_status add_rows(const tw_crash_stage *hold, double gives, double most, tw_probe_touch *t,
                          tw_fault *fault)
{
  enum { BEND = 2 };
  const seat_rows s = rows_of(t);
  const double bend[BEND] = {gives * (1 - BEFORE_BEND), gives};
  const double from = fmax(s.force[s.count - 1], gives);
  tw_status status = TW_OK;
  size_t i = 0;
  t->model.carrier.table_count = 0;
  for (; i < s.count && s.force[i] < bend[0] && status == TW_OK; i++) {
    status = add_row(&s, hold, s.force[i], t, fault);
  }
  for (size_t k = 0; k < BEND && status == TW_OK; k++) {
    status = add_row(&s, hold, bend[k], t, fault);
  }
  for (; i < s.count && status == TW_OK; i++) {
    status = add_row(&s, hold, s.force[i], t, fault);
  }
  for (int k = 1; k <= TW_PROBE_HOLD_ROWS - BEND && status == TW_OK; k++) {
    const double share = (double)k / (TW_PROBE_HOLD_ROWS - BEND);
    status = add_row(&s, hold, from + (most - from) * share * share, t, fault);
  }
  return status;
}

tw_status tw_probe_hold(const tw_design *design, double elevation, tw_probe_touch *touch,
                        tw_fault *fault)
{
  tw_hold *hold = tw_alloc(1, sizeof *hold);
  if (!hold) {
    return tw_fail(fault, TW_NO_MEMORY, NULL, NULL, "no memory for the hold-down");
  }
  const bool sideways = elevation < TW_UPRIGHT;
  tw_status status = tw_hold_of(design, sideways, hold, fault);
  if (status == TW_OK && hold->has) {
    const double gives = tw_hold_lifts(hold), most = last_force(design, sideways, &hold->stage);
    if (most > fmax(gives, touch->force[touch->model.carrier.table_count - 1])) {
      status = add_rows(&hold->stage, gives, most, touch, fault);
    }
  }
  tw_free(hold);
  return status;
}
