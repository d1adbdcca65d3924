/* expect_figure.c: figures with their ends, and checks with their loads, as every part of the card
 * writes them. */
#include "expect.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

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
