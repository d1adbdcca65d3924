/* expect_card.c: the card put together. */
#include "expect.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>

tw_bench_instruments tw_bench_instruments_default(void)
{
  return (tw_bench_instruments){
      .meter_resistance = 10e6,
      .scope_resistance = 10e6,
      .scope_capacitance = 15e-12,
      .hand_time = 0.05,
      .weights = {1e-3, 2e-3, 5e-3, 10e-3, 20e-3, 50e-3, 100e-3, 200e-3},
  };
}

static tw_status check_instruments(const tw_bench_instruments *with, tw_fault *fault)
{
  const double positive[] = {with->meter_resistance, with->scope_resistance, with->hand_time,
                             with->weights[0]};
  for (size_t i = 0; i < sizeof positive / sizeof positive[0]; i++) {
    if (!(positive[i] > 0.0 && isfinite(positive[i]))) {
      return tw_fail(fault, TW_BAD_INPUT, "",
                     "give the resistance of meter and probe, the hand's time and a weight",
                     "an instrument has an impossible figure (%g)", positive[i]);
    }
  }
  if (!(with->scope_capacitance >= 0.0 && isfinite(with->scope_capacitance))) {
    return tw_fail(fault, TW_BAD_INPUT, "", "give the capacitance that stands on the probe",
                   "the scope's capacitance is %g F", with->scope_capacitance);
  }
  const size_t most = sizeof with->weights / sizeof with->weights[0];
  for (size_t i = 1; i < most && with->weights[i] != 0.0; i++) {
    if (!(with->weights[i] > with->weights[i - 1] && isfinite(with->weights[i]))) {
      return tw_fail(fault, TW_BAD_INPUT, "", "list the weights from the smallest up",
                     "the weights do not rise at number %zu", i + 1);
    }
  }
  return TW_OK;
}

/* the fitted disc's capacitance and its spread belong to the board from here on */
static void take_disc(tw_bench_work *work)
{
  const tw_bench_figure *c = &work->in->capacitance_mounted;
  if (c->known && work->board.kind != TW_BOARD_CONTACT) {
    work->board.disc_capacitance = c->value;
    work->board.bounds[TW_VALUE_DISC_CAPACITANCE] =
        (tw_value_bounds){.minus = c->value - c->low, .plus = c->high - c->value};
  }
}

tw_status tw_bench_card_of(const tw_bench_inputs *inputs, const tw_bench_instruments *instruments,
                           tw_bench_card *out, tw_fault *fault)
{
  *out = (tw_bench_card){0};
  tw_bench_work work = {.in = inputs, .with = instruments, .board = inputs->board, .card = out};
  tw_status status = check_instruments(instruments, fault);
  if (status == TW_OK) {
    take_disc(&work);
    status = tw_circuit_solve(&work.board, &work.solved, fault);
  }
  if (status == TW_OK) {
    status = tw_circuit_output(&work.board, &work.levels, fault);
  }
  if (status != TW_OK) {
    return status;
  }
  tw_bench_add_supply(&work);
  tw_bench_add_levels(&work);
  tw_bench_add_outputs(&work);
  tw_bench_add_chain(&work);
  tw_bench_add_disc(&work);
  tw_bench_add_preload(&work);
  tw_bench_add_signal(&work);
  tw_bench_add_weights(&work);
  return TW_OK;
}
