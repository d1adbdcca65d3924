/* limits.c: requirements read against the result table, and a measure held against one. */
#include "tripwright/assess.h"
#include "tripwright/seat_forms.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

static void complain(tw_messages *messages, const tw_requirement *requirement, const char *hint,
                     const char *text)
{
  char field[80];
  snprintf(field, sizeof field, "requirements.%s", requirement->name);
  tw_messages_add(messages, TW_ERROR, requirement->place, field, requirement->excerpt, hint, "%s",
                  text);
}

static void unknown_measure(const tw_requirement *requirement, tw_messages *messages)
{
  const char *names[TW_MEASURE_COUNT];
  for (int i = 0; i < TW_MEASURE_COUNT; i++) {
    names[i] = tw_measure_about((tw_measure_id)i)->name;
  }
  const char *near = tw_nearest_name(requirement->name, names, TW_MEASURE_COUNT);
  char hint[128];
  snprintf(hint, sizeof hint, near ? "did you mean %s?" : "docs/guide/contract.md lists them%s",
           near ? near : "");
  complain(messages, requirement, hint, "there is no measure of this name");
}

/* one side of a rule in SI; false after a message */
static bool side(const tw_requirement *requirement, const char *text, const tw_unit *unit,
                 tw_units *units, tw_messages *messages, double *number)
{
  if (!text) {
    return true;
  }
  tw_fault fault = {0};
  tw_quantity quantity = {0};
  if (tw_quantity_read(units, text, unit, &quantity, NULL, &fault) != TW_OK) {
    complain(messages, requirement, fault.hint, fault.text);
    return false;
  }
  *number = quantity.number;
  return true;
}

/* the seat's regimes are three; what fails first is a name that each design has its own of */
static bool is_word_of(tw_measure_id id, const char *word)
{
  for (int i = TW_SEAT_FULL; i <= TW_SEAT_LOCKED; i++) {
    if (strcmp(word, tw_seat_regime_name((tw_seat_regime)i)) == 0) {
      return true;
    }
  }
  return id != TW_M_seating_regime;
}

static bool read_one(const tw_requirement *requirement, tw_units *units, tw_messages *messages,
                     tw_limits *out)
{
  const tw_measure_id id = tw_measure_find(requirement->name);
  if (id == TW_MEASURE_COUNT) {
    unknown_measure(requirement, messages);
    return false;
  }
  const tw_measure_info *about = tw_measure_about(id);
  const bool wants_word = strcmp(about->unit, "word") == 0;
  if (wants_word != (requirement->rule == TW_RULE_IS)) {
    complain(messages, requirement,
             wants_word ? "write \"= full\" or another of its words"
                        : "write \"<= 0.25 N\", \">= 2\" or \"within a .. b\"",
             wants_word ? "this measure is a word, not a number"
                        : "this measure is a number, not a word");
    return false;
  }
  if (wants_word && !is_word_of(id, requirement->word)) {
    complain(messages, requirement, "write \"= full\", \"= partial\" or \"= locked\"",
             "the seat has no such regime");
    return false;
  }
  tw_limit limit = {.given = true,
                    .rule = requirement->rule,
                    .word = requirement->word,
                    .text = requirement->text};
  tw_fault fault = {0};
  tw_unit unit = {0};
  if (!wants_word && tw_units_find(units, about->shown, &unit, &fault) != TW_OK) {
    complain(messages, requirement, fault.hint, fault.text);
    return false;
  }
  if (!side(requirement, requirement->low, &unit, units, messages, &limit.low) ||
      !side(requirement, requirement->high, &unit, units, messages, &limit.high)) {
    return false;
  }
  if (limit.rule == TW_RULE_WITHIN && limit.low > limit.high) {
    complain(messages, requirement, "write the smaller limit first", "nothing lies within this");
    return false;
  }
  out->count += !out->of[id].given;
  out->of[id] = limit;
  return true;
}

tw_status tw_limits_read(const tw_design *design, tw_units *units, tw_messages *messages,
                         tw_limits *out)
{
  *out = (tw_limits){0};
  bool fine = true;
  for (size_t i = 0; i < tw_design_requirements(design); i++) {
    fine = read_one(tw_design_requirement(design, i), units, messages, out) && fine;
  }
  return fine ? TW_OK : TW_BAD_INPUT;
}

/* distance to a limit as a share of it; a limit of zero is compared as it stands */
static double share(double distance, double limit)
{
  return limit != 0 ? distance / fabs(limit) : distance;
}

double tw_measure_compared(tw_measure_id id, double value)
{
  return id == TW_M_stack_clearance ? value : fabs(value);
}

double tw_measure_judged(const tw_measure *measure)
{
  return measure->has_fitted ? measure->fitted : measure->value;
}

void tw_measure_judge(tw_measure_id id, const tw_limit *limit, tw_measure *measure)
{
  measure->met = TW_MET_NO_RULE;
  measure->margin = 0;
  if (!limit || !limit->given || measure->state == TW_MEASURE_NOT_COMPUTED) {
    return;
  }
  if (measure->state != TW_MEASURE_OK) {
    const bool met = measure->endless && limit->rule == TW_RULE_LEAST;
    measure->met = met ? TW_MET_YES : TW_MET_NO;
    return;
  }
  const double value = tw_measure_compared(id, tw_measure_judged(measure));
  switch (limit->rule) {
  case TW_RULE_MOST:
    measure->met = value <= limit->high ? TW_MET_YES : TW_MET_NO;
    measure->margin = share(limit->high - value, limit->high);
    break;
  case TW_RULE_LEAST:
    measure->met = value >= limit->low ? TW_MET_YES : TW_MET_NO;
    measure->margin = share(value - limit->low, limit->low);
    break;
  case TW_RULE_WITHIN:
    measure->met = value >= limit->low && value <= limit->high ? TW_MET_YES : TW_MET_NO;
    measure->margin =
        fmin(share(limit->high - value, limit->high), share(value - limit->low, limit->low));
    break;
  case TW_RULE_IS:
    measure->met =
        measure->word && strcmp(measure->word, limit->word) == 0 ? TW_MET_YES : TW_MET_NO;
    break;
  }
}
