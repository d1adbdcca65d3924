/* expect_card.c: the card put together, and the small tools of its makers. */
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

double tw_bench_loaded(double volts, double source, double meter)
{
  return volts * (meter / (source + meter));
}

tw_bench_figure tw_bench_figure_of(double value, double a, double b)
{
  return (tw_bench_figure){.known = true,
                           .value = value,
                           .low = fmin(value, fmin(a, b)),
                           .high = fmax(value, fmax(a, b))};
}

tw_bench_figure tw_bench_unknown(const char *format, ...)
{
  tw_bench_figure figure = {.known = false};
  va_list list;
  va_start(list, format);
  vsnprintf(figure.why, sizeof figure.why, format, list);
  va_end(list);
  return figure;
}

tw_bench_figure tw_bench_range(const tw_bench_work *work, tw_circuit_figure figure)
{
  double low = 0.0, high = 0.0;
  tw_fault fault = {0};
  if (tw_circuit_range(&work->board, figure, &low, &high, &fault) != TW_OK) {
    return tw_bench_unknown("%.150s", fault.text);
  }
  return tw_bench_figure_of(figure(&work->solved), low, high);
}

tw_bench_figure tw_bench_times(const tw_bench_figure *figure, double factor, double low,
                               double high)
{
  if (!figure->known) {
    return *figure;
  }
  /* all four products of ends: signs of either may differ */
  const double ends[] = {figure->low * low, figure->low * high, figure->high * low,
                         figure->high * high};
  double least = ends[0], most = ends[0];
  for (int i = 1; i < 4; i++) {
    least = fmin(least, ends[i]);
    most = fmax(most, ends[i]);
  }
  return tw_bench_figure_of(figure->value * factor, least, most);
}

void tw_bench_load_scale(tw_bench_check *check, double scale, const char *text)
{
  if (!check->expect.known || !(fabs(scale - 1.0) > 1e-3)) {
    return;
  }
  check->loads = true;
  check->shown = check->expect.value * scale;
  check->shown_low = check->expect.low * scale;
  check->shown_high = check->expect.high * scale;
  snprintf(check->loading, sizeof check->loading, "%s", text);
}

void tw_bench_load_volts(tw_bench_check *check, double source, double meter, const char *what)
{
  char text[160];
  snprintf(text, sizeof text, "%s (%.3g Mohm) loads a point of %.3g Mohm", what, meter * 1e-6,
           source * 1e-6);
  tw_bench_load_scale(check, tw_bench_loaded(1.0, source, meter), text);
}

tw_bench_check *tw_bench_add(tw_bench_work *work, tw_bench_id id)
{
  tw_bench_check *check = &work->card->check[work->card->count++];
  *check = (tw_bench_check){.id = id};
  tw_bench_words(check, work->board.kind);
  return check;
}

const tw_bench_check *tw_bench_find(const tw_bench_card *card, tw_bench_id id)
{
  for (int i = 0; i < card->count; i++) {
    if (card->check[i].id == id) {
      return &card->check[i];
    }
  }
  return NULL;
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
