/* curve.c: along a direction past the trip, letting go, and an answer to a wrench. */
#include "push.h"

#include <math.h>
#include <string.h>

#define STEPS_DEFAULT 8
/* a curve is walked in at least this many load steps, however few rows are asked for */
#define CURVE_STEPS 48

static void fill_row(const tw_seat_model *m, const tw_seat_work *w, const seat_run *run,
                     tw_seat_row *row)
{
  memset(row, 0, sizeof *row);
  row->travel = w->now.x - run->first;
  row->force = w->force;
  row->charge = tw_seat_charge(m, w);
  for (size_t k = 0; k < SEAT_DOF; k++) {
    const double moved = w->now.v[k] - run->start[k];
    row->tip += run->drive.row[k] * moved;
    row->carrier[k] = k < 3 ? moved : moved / m->length;
  }
  row->disc_load = tw_seat_disc_load(m, w);
  bool any = false;
  for (size_t i = 0; i < m->contacts; i++) {
    row->open += w->loaded[i] && !(w->load[i] > 0.0) ? 1 : 0;
    if (m->contact[i].senses && (!any || w->load[i] < row->least_seat)) {
      row->least_seat = w->load[i];
      any = true;
    }
  }
}

/* touch and let go as often as the options ask for, to `run`'s goal */
static bool touches_before(const tw_seat_model *m, tw_seat_work *w, seat_run *run, double further)
{
  const tw_seat_options *o = run->options;
  const size_t steps = o->steps == 0 ? STEPS_DEFAULT : o->steps;
  for (size_t i = 0; run->drive.friction && m->rubs && i < o->prior_touches; i++) {
    tw_seat_run_begin(m, w, run);
    if (!tw_seat_run_push(m, w, run, 0.0, true) ||
        !tw_seat_run_on(m, w, run, w->now.x + further, steps) ||
        !tw_seat_run_back(m, w, run, steps)) {
      return false;
    }
  }
  return true;
}

tw_status tw_seat_curve(const tw_seat_model *model, tw_seat_work *work, double azimuth,
                        double elevation, const tw_seat_options *options, double travel_end,
                        size_t rows, tw_seat_row *row, tw_fault *fault)
{
  const tw_status status = tw_seat_options_check(options, azimuth, elevation, fault);
  if (status != TW_OK) {
    return status;
  }
  if (!(travel_end > 0.0 && isfinite(travel_end)) || rows < 2) {
    return tw_fail(fault, TW_BAD_INPUT, "", "ask for at least two rows and a positive travel",
                   "a curve needs a travel and rows");
  }
  seat_run run = {.options = options};
  run.goal = options->metric == TW_SEAT_BY_OPENING ? SEAT_GOAL_OPENING : SEAT_GOAL_CHARGE;
  tw_seat_work_reset(model, work);
  tw_seat_drive_along(model, azimuth, elevation, &run.drive);
  run.drive.friction = options->friction;
  if (!touches_before(model, work, &run, options->overtravel)) {
    return tw_seat_run_fault(model, work, &run, fault);
  }
  tw_seat_run_begin(model, work, &run);
  const size_t sub = (CURVE_STEPS + rows - 2) / (rows - 1);
  fill_row(model, work, &run, &row[0]);
  for (size_t i = 1; i < rows; i++) {
    const double x = run.first + travel_end * (double)i / (double)(rows - 1);
    if (!tw_seat_run_to(model, work, &run, x, sub)) {
      return tw_seat_run_fault(model, work, &run, fault);
    }
    fill_row(model, work, &run, &row[i]);
  }
  return TW_OK;
}

tw_status tw_seat_release(const tw_seat_model *model, tw_seat_work *work, double azimuth,
                          double elevation, double force, const tw_seat_options *options,
                          double *charge, tw_fault *fault)
{
  *charge = 0.0;
  tw_status status = tw_seat_options_check(options, azimuth, elevation, fault);
  if (status != TW_OK) {
    return status;
  }
  if (!(force > 0.0 && isfinite(force))) {
    return tw_fail(fault, TW_BAD_INPUT, "", "give a force above zero", "no force to let go");
  }
  tw_seat_options reach = *options;
  reach.search_force = fmax(reach.search_force, 2.0 * force);
  seat_run run = {.options = &reach, .goal = SEAT_GOAL_FORCE, .target_force = force};
  tw_seat_work_reset(model, work);
  tw_seat_drive_along(model, azimuth, elevation, &run.drive);
  run.drive.friction = options->friction;
  if (!touches_before(model, work, &run, 0.0)) {
    return tw_seat_run_fault(model, work, &run, fault);
  }
  tw_seat_run_begin(model, work, &run);
  if (!tw_seat_run_push(model, work, &run, 0.0, true)) {
    return tw_seat_run_fault(model, work, &run, fault);
  }
  if (!run.reached) {
    return tw_fail(fault, TW_NO_ANSWER, "seat", "use a smaller force",
                   "the carrier gives way before %.3g N is reached", force);
  }
  /* held: the charge has leaked away, what counts is the way back */
  tw_seat_set_reference(model, work);
  const size_t steps = options->steps == 0 ? STEPS_DEFAULT : options->steps;
  if (!tw_seat_run_back(model, work, &run, steps)) {
    return tw_seat_run_fault(model, work, &run, fault);
  }
  *charge = tw_seat_charge(model, work);
  return TW_OK;
}

tw_status tw_seat_wrench(const tw_seat_model *model, tw_seat_work *work, const double wrench[6],
                         const tw_seat_options *options, tw_seat_row *row, tw_fault *fault)
{
  memset(row, 0, sizeof *row);
  seat_run run = {.options = options};
  tw_seat_work_reset(model, work);
  for (size_t k = 0; k < SEAT_DOF; k++) {
    if (!isfinite(wrench[k])) {
      return tw_fail(fault, TW_BAD_INPUT, "", "give finite numbers", "the wrench is not a number");
    }
    run.drive.wrench[k] = k < 3 ? wrench[k] : wrench[k] / model->length;
  }
  run.drive.friction = options->friction;
  tw_seat_run_begin(model, work, &run);
  const size_t steps = options->steps == 0 ? STEPS_DEFAULT : options->steps;
  if (!tw_seat_run_to(model, work, &run, 1.0, steps)) {
    return tw_fail(fault, TW_NO_ANSWER, "preload",
                   "the load is more than seat and preload can hold",
                   "no balance at %.3g of the load (%s, residual %.3g N)", work->failed_at,
                   tw_seat_failure_name(work->failure), work->residual);
  }
  fill_row(model, work, &run, row);
  row->travel = 0.0;
  return TW_OK;
}
