/* reading.c: what an instrument showed, as a person writes it down. */
#include "tripwright/bench_suspect.h"
#include "tripwright/text.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

static tw_status no_check(const tw_bench_card *card, const char *name, tw_fault *fault)
{
  const char *names[TW_BENCH_COUNT];
  char list[sizeof fault->hint];
  static const char more[] = " ...: tripwright expect --csv lists them all";
  tw_text text = tw_text_in(list, sizeof list - sizeof more);
  tw_text_put(&text, "this card has");
  size_t whole = 0; /* names that fit */
  for (int i = 0; i < card->count; i++) {
    names[i] = card->check[i].name;
    tw_text_add(&text, "%s %s", i ? "," : "", names[i]);
    whole = text.length < text.room ? text.length : whole;
  }
  if (whole < text.length) {
    snprintf(list + whole, sizeof list - whole, "%s", more);
  }
  const char *near = tw_nearest_name(name, names, (size_t)card->count);
  if (near) {
    snprintf(list, sizeof list, "did you mean %s? tripwright expect --csv lists them all", near);
  }
  return tw_fail(fault, TW_BAD_INPUT, "", list, "there is no check \"%.60s\"", name);
}

static tw_status read_word(const tw_bench_check *c, const char *text, tw_bench_reading *out,
                           tw_fault *fault)
{
  static const char *const words[] = {"high", "low", "+", "-"};
  out->kind = TW_READ_WORD;
  for (size_t i = 0; i < sizeof words / sizeof words[0]; i++) {
    if (strcmp(text, words[i]) == 0) {
      out->word = words[i];
      return TW_OK;
    }
  }
  return tw_fail(fault, TW_BAD_INPUT, c->name, "write high, low, + or -",
                 "%s: \"%.40s\" is no such word", c->name, text);
}

/* a number with its unit, and perhaps its limits */
static tw_status read_number(const tw_bench_check *c, tw_units *units, const char *text,
                             tw_bench_reading *out, tw_fault *fault)
{
  tw_unit unit = {.scale = 1};
  tw_quantity quantity;
  tw_fault why = {0};
  tw_status status = c->unit[0] ? tw_units_find(units, c->unit, &unit, &why) : TW_OK;
  status = status == TW_OK ? tw_quantity_read(units, text, &unit, &quantity, NULL, &why) : status;
  if (status != TW_OK) {
    return tw_fail(fault, status, c->name,
                   why.hint[0] ? why.hint : "write it with its unit, such as 742 mV", "%s: %s",
                   c->name, why.text);
  }
  out->kind = TW_READ_NUMBER;
  out->value = quantity.number;
  /* limits, as a maker of meters states them: uniform between them */
  out->u = fmax(quantity.tolerance.plus, quantity.tolerance.minus) / sqrt(3.0);
  return TW_OK;
}

tw_status tw_bench_reading_read(const tw_bench_card *card, tw_units *units, const char *check,
                                const char *text, tw_bench_reading *out, tw_fault *fault)
{
  const tw_bench_check *c = NULL;
  for (int i = 0; i < card->count && !c; i++) {
    c = strcmp(card->check[i].name, check) == 0 ? &card->check[i] : NULL;
  }
  if (!c) {
    return no_check(card, check, fault);
  }
  *out = (tw_bench_reading){.id = c->id};
  if (strcmp(text, "none") == 0) {
    out->kind = TW_READ_NONE;
    return TW_OK;
  }
  return c->word ? read_word(c, text, out, fault) : read_number(c, units, text, out, fault);
}
