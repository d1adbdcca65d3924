/* study_inputs.c: fields of a design as uncertain numbers. */
#include "tripwright/constants.h"
#include "tripwright/study_design.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* ---- one field ----------------------------------------------------------------------------- */

static bool is_number(tw_field field)
{
  const tw_field_type type = tw_field_of(field)->type;
  return type == TW_TYPE_QUANTITY || type == TW_TYPE_NUMBER || type == TW_TYPE_COUNT;
}

/* range of the table in SI */
static tw_status range_of(tw_study *study, tw_study_input *input, tw_fault *fault)
{
  const tw_field_info *about = tw_field_of(input->field);
  tw_unit unit = {.scale = 1};
  input->si = "";
  if (about->type == TW_TYPE_QUANTITY) {
    const tw_status status = tw_units_find(study->units, about->unit, &unit, fault);
    if (status != TW_OK) {
      return status;
    }
    input->si = tw_unit_si_name(study->units, &unit);
  }
  input->least = fmin(tw_unit_to_si(&unit, about->least, false), input->now);
  input->most = fmax(tw_unit_to_si(&unit, about->most, false), input->now);
  return TW_OK;
}

/* the law of a stated tolerance, within what the table allows */
static void law_of(tw_study_input *input, const tw_tolerance *t)
{
  static const tw_law of_spread[] = {[TW_SPREAD_NORMAL] = TW_LAW_NORMAL,
                                     [TW_SPREAD_UNIFORM] = TW_LAW_UNIFORM,
                                     [TW_SPREAD_TRIANGULAR] = TW_LAW_TRIANGULAR};
  input->law = (tw_varied){.name = input->path, .law = TW_LAW_FIXED, .centre = input->now};
  if (t->given && (t->minus > 0 || t->plus > 0)) {
    input->law.law = of_spread[t->spread];
    input->law.minus = t->minus;
    input->law.plus = t->plus;
    input->law.cut = true;
    input->law.low = input->least;
    input->law.high = input->most;
  }
}

static size_t find(const tw_study *study, tw_field field)
{
  for (size_t k = 0; k < study->inputs; k++) {
    if (study->input[k].field == field) {
      return k;
    }
  }
  return SIZE_MAX;
}

/* seat.friction overlaps with the two it stands for */
static bool overlaps(const tw_study *study, tw_field field, tw_field *with)
{
  static const tw_field both[] = {TW_F_seat_friction_socket, TW_F_seat_friction_flat};
  for (size_t i = 0; i < 2; i++) {
    *with = field == TW_F_seat_friction ? both[i] : TW_F_seat_friction;
    if ((field == TW_F_seat_friction || field == both[i]) && find(study, *with) != SIZE_MAX) {
      return true;
    }
  }
  return false;
}

static tw_status check_field(const tw_study *study, tw_field field, tw_fault *fault)
{
  const tw_field_info *about = tw_field_of(field);
  tw_field with;
  if (!is_number(field)) {
    return tw_fail(fault, TW_BAD_INPUT, about->path, "choose a field that is a number",
                   "it is no number, so it cannot be varied");
  }
  if (!tw_design_applies(study->design, field)) {
    return tw_fail(fault, TW_BAD_INPUT, about->path, NULL,
                   "it has no effect in this design: it belongs to %s", about->when);
  }
  if (!tw_design_has(study->design, field)) {
    return tw_fail(fault, TW_BAD_INPUT, about->path, "write a value into the design first",
                   "it has no value to start from");
  }
  if (overlaps(study, field, &with)) {
    return tw_fail(fault, TW_BAD_INPUT, about->path, "vary one or the other",
                   "%s varies already and is the same number", tw_field_of(with)->path);
  }
  return TW_OK;
}

tw_status tw_study_add(tw_study *study, tw_field field, size_t *input, tw_fault *fault)
{
  *input = find(study, field);
  if (*input != SIZE_MAX) {
    return TW_OK;
  }
  tw_status status = check_field(study, field, fault);
  if (status != TW_OK) {
    return status;
  }
  tw_study_input *own = &study->input[study->inputs];
  *own = (tw_study_input){.field = field, .path = tw_field_of(field)->path};
  own->now = tw_field_of(field)->type == TW_TYPE_COUNT
                 ? (double)tw_design_count(study->design, field)
                 : tw_design_number(study->design, field);
  status = range_of(study, own, fault);
  if (status == TW_OK) {
    const tw_tolerance t = tw_design_tolerance(study->design, field);
    law_of(own, &t);
    study->now[study->inputs] = own->now;
    *input = study->inputs++;
  }
  return status;
}

/* ---- all that is uncertain ----------------------------------------------------------------- */

/* what a batch of a field without a stated tolerance is known to do */
static tw_tolerance unstated(const tw_study *study, tw_field field)
{
  tw_tolerance t = tw_design_tolerance(study->design, field);
  const double number = tw_design_number_or(study->design, field, 0);
  if (t.given) {
    return t;
  }
  const bool direction =
      field == TW_F_seat_eccentricity_azimuth || field == TW_F_disc_ceramic_eccentricity_azimuth;
  if (strcmp(tw_field_of(field)->part, "resistor") == 0 &&
      strstr(tw_field_of(field)->unit, "ohm")) {
    const double share = tw_design_number_or(study->design, TW_F_circuit_resistor_tolerance, 0);
    t = (tw_tolerance){share > 0, TW_SPREAD_NORMAL, share * fabs(number), share * fabs(number)};
  } else if (direction && !tw_design_given(study->design, field)) {
    t = (tw_tolerance){true, TW_SPREAD_UNIFORM, TW_PI, TW_PI};
  }
  return t;
}

/* do both frictions come from the one word `friction`? Then they are one number. */
static bool one_friction(const tw_design *design)
{
  const tw_value *both = tw_design_value(design, TW_F_seat_friction);
  const tw_value *socket = tw_design_value(design, TW_F_seat_friction_socket);
  const tw_value *flat = tw_design_value(design, TW_F_seat_friction_flat);
  return both->origin != TW_ORIGIN_UNSET && socket->text == both->text && flat->text == both->text;
}

/* what was measured on the disc stands in place of its scatter */
static bool was_measured(const tw_design *design, tw_field field)
{
  if (field == TW_F_disc_capacitance_factor) {
    return tw_design_has(design, TW_F_measured_capacitance) ||
           tw_design_has(design, TW_F_measured_capacitance_mounted);
  }
  return field == TW_F_disc_charge_factor && tw_design_has(design, TW_F_measured_charge_per_newton);
}

static bool is_drawn(const tw_study *study, tw_field field)
{
  const bool one = one_friction(study->design);
  return is_number(field) && !was_measured(study->design, field) &&
         tw_design_has(study->design, field) && tw_design_applies(study->design, field) &&
         (field != TW_F_seat_friction || one) &&
         ((field != TW_F_seat_friction_socket && field != TW_F_seat_friction_flat) || !one);
}

static bool varies(const tw_tolerance *t)
{
  return t->given && (t->minus > 0 || t->plus > 0);
}

/* the law of the whole batch: tolerance, and what the process does to the drawn size */
static void law_of_batch(const tw_study *study, tw_study_input *input)
{
  tw_tolerance t = unstated(study, input->field);
  tw_quantity made = {0};
  const tw_process *process = NULL;
  if (tw_design_making(study->design, input->field, &process, &made)) {
    input->process = process->name;
    input->offset = made.number;
    input->process_spread = !t.given;
    t = t.given ? t : made.tolerance;
  }
  law_of(input, &t);
  input->law.centre += input->offset;
  const tw_value *value = tw_design_value(study->design, input->field);
  input->assumed = value->origin == TW_ORIGIN_DEFAULT && varies(&t);
}

const char *tw_study_assumed_text(const tw_study *study, size_t input)
{
  const tw_field field = study->input[input].field;
  return tw_design_tolerance(study->design, field).given
             ? tw_design_value(study->design, field)->text
             : "every direction alike";
}

tw_status tw_study_add_toleranced(tw_study *study, tw_fault *fault)
{
  bool any = false;
  for (int i = 0; i < TW_FIELD_COUNT; i++) {
    const tw_field field = (tw_field)i;
    size_t input;
    tw_quantity made;
    const bool drawn = is_drawn(study, field);
    const tw_tolerance t = drawn ? unstated(study, field) : (tw_tolerance){0};
    if (!drawn || (!varies(&t) && !tw_design_making(study->design, field, NULL, &made))) {
      continue;
    }
    const tw_status status = tw_study_add(study, field, &input, fault);
    if (status != TW_OK) {
      return status;
    }
    if (study->input[input].law.count == 0) {
      law_of_batch(study, &study->input[input]);
    }
  }
  for (size_t k = 0; k < study->inputs && !any; k++) {
    any = tw_varied_varies(&study->input[k].law);
  }
  return any ? TW_OK
             : tw_fail(fault, TW_BAD_INPUT, NULL, "write 9.3 mm ± 0.05 behind the values that vary",
                       "no value of this design has a tolerance above zero, so nothing varies");
}

tw_status tw_study_sampler(const tw_study *study, const tw_correlation *correlations, size_t count,
                           uint64_t seed, tw_sampler **out, tw_fault *fault)
{
  tw_varied *laws = tw_alloc(study->inputs + 1, sizeof *laws);
  if (!laws) {
    *out = NULL;
    return tw_fail(fault, TW_NO_MEMORY, NULL, NULL, "no memory for the study");
  }
  for (size_t k = 0; k < study->inputs; k++) {
    laws[k] = study->input[k].law;
  }
  const tw_status status =
      tw_sampler_new(laws, study->inputs, correlations, count, seed, out, fault);
  tw_free(laws);
  return status;
}
