/* study_levers.c: which fields of a design may be changed, how far, and what that costs. */
#include "choices.h"
#include "tripwright/circuit_forms.h"
#include "tripwright/study_design.h"

#include <math.h>
#include <string.h>

#define HOUR         3600.0 /* s */
#define CHOICES_EACH 400    /* two decades of E192 are 384 */

typedef struct making {
  tw_study *study;
  const tw_lever_options *options;
  tw_levers *out;
  size_t used; /* of choices */
} making;

static const tw_lever_range *range_of(const tw_lever_options *options, tw_field field)
{
  for (size_t i = 0; i < options->ranges; i++) {
    if (options->range[i].field == field) {
      return &options->range[i];
    }
  }
  return NULL;
}

static bool named(const char *const *names, size_t count, const char *name)
{
  for (size_t i = 0; i < count; i++) {
    if (strcmp(names[i], name) == 0) {
      return true;
    }
  }
  return false;
}

/* ---- parts --------------------------------------------------------------------------------- */

static size_t remake_of(making *m, const char *name)
{
  tw_levers *out = m->out;
  for (size_t i = 0; i < out->remakes; i++) {
    if (strcmp(out->remake[i].name, name) == 0) {
      return i;
    }
  }
  const tw_part *part = tw_design_part_named(m->study->design, name);
  /* costs.hour is money for an hour of work */
  const double rate = tw_design_number_or(m->study->design, TW_F_costs_hour, 0);
  const bool there = part && part->state >= TW_PART_ORDERED;
  tw_remake *own = &out->remake[out->remakes];
  *own = (tw_remake){.name = name,
                     .cost = part ? part->cost + part->hours / HOUR * rate : 0,
                     .time = part ? part->lead_time + part->hours : 0,
                     .fixed = named(m->options->keep, m->options->keeps, name) ||
                              (there && !named(m->options->free_part, m->options->frees, name))};
  out->unknown += own->cost <= 0 && own->time <= 0;
  return out->remakes++;
}

/* ---- ranges -------------------------------------------------------------------------------- */

static int series_of(const tw_design *design)
{
  static const int series[] = {[TW_SERIES_E6] = 6,   [TW_SERIES_E12] = 12, [TW_SERIES_E24] = 24,
                               [TW_SERIES_E48] = 48, [TW_SERIES_E96] = 96, [TW_SERIES_E192] = 192};
  const int choice = tw_design_choice(design, TW_F_circuit_resistor_series);
  return choice >= 0 && choice < TW_SERIES_COUNT ? series[choice] : 24;
}

static bool is_resistor(const tw_study_input *input)
{
  const tw_field_info *about = tw_field_of(input->field);
  return strcmp(about->part, "resistor") == 0 && strstr(about->unit, "ohm") && input->now > 0;
}

/* members of the series, with the value itself in its place though it be none of them */
static void list_resistors(making *m, tw_lever *lever, double low, double high)
{
  double *list = m->out->choices + m->used;
  size_t n = tw_series_between(series_of(m->study->design), low, high, list, CHOICES_EACH - 1);
  size_t at = 0;
  n = n < CHOICES_EACH - 1 ? n : CHOICES_EACH - 1;
  while (at < n && list[at] < lever->now * (1 - 1e-9)) {
    at++;
  }
  if (at < n && list[at] <= lever->now * (1 + 1e-9)) {
    list[at] = lever->now;
  } else {
    memmove(list + at + 1, list + at, (n - at) * sizeof *list);
    list[at] = lever->now;
    n++;
  }
  lever->choices = list;
  lever->choice_count = n;
  m->used += CHOICES_EACH;
}

/* false: no range is known for it */
static bool set_range(making *m, const tw_study_input *input, tw_lever *lever)
{
  const tw_lever_range *stated = range_of(m->options, input->field);
  if (stated) {
    lever->least = fmin(stated->least, input->now);
    lever->most = fmax(stated->most, input->now);
  } else if (input->now > 0) {
    /* a list of resistors is tried one by one: two dozen are enough */
    const double factor = is_resistor(input) ? 3 : 10;
    lever->least = fmax(input->least, input->now / factor);
    lever->most = fmin(input->most, input->now * factor);
  } else {
    return false;
  }
  if (is_resistor(input)) {
    list_resistors(m, lever, lever->least, lever->most);
    return lever->choice_count > 1;
  }
  lever->logarithmic = lever->least > 0;
  return lever->most > lever->least;
}

/* lengths and angles are made in steps of a workshop, the rest is bought or set to two figures */
static tw_made made_of(const tw_study_input *input)
{
  return strcmp(input->si, "m") == 0     ? TW_MADE_LENGTH
         : strcmp(input->si, "rad") == 0 ? TW_MADE_ANGLE
                                         : TW_MADE_TWO;
}

/* ---- levers -------------------------------------------------------------------------------- */

static bool may_move(const making *m, tw_field field)
{
  const tw_field_info *about = tw_field_of(field);
  const tw_design *design = m->study->design;
  const bool number = about->type == TW_TYPE_QUANTITY || about->type == TW_TYPE_NUMBER;
  const bool stated = range_of(m->options, field);
  return number && (about->part[0] || stated) && tw_design_has(design, field) &&
         tw_design_applies(design, field) &&
         !named(m->options->keep, m->options->keeps, about->path) &&
         /* what the program or the library filled in is a fact or a choice that nobody made */
         (stated || tw_design_given(design, field)) &&
         (stated || strncmp(about->path, "measured.", 9) != 0);
}

static tw_status add_lever(making *m, tw_field field, tw_fault *fault)
{
  size_t input;
  tw_study *study = m->study;
  const tw_status status = tw_study_add(study, field, &input, fault);
  if (status != TW_OK) {
    return status;
  }
  const tw_field_info *about = tw_field_of(field);
  tw_lever lever = {.name = about->path, .input = input, .now = study->input[input].now};
  if (set_range(m, &study->input[input], &lever)) {
    lever.made = made_of(&study->input[input]);
    lever.part = remake_of(m, about->part[0] ? about->part : about->path);
    m->out->lever[m->out->count++] = lever;
  }
  return TW_OK;
}

/* a part that the file names by a row of the library */
static bool may_change_part(const making *m, tw_field field)
{
  const tw_field_info *about = tw_field_of(field);
  tw_part_kind kind;
  return m->options->read_with && m->options->library && about->part[0] &&
         tw_field_names_row(field, &kind) && tw_design_given(m->study->design, field) &&
         tw_design_applies(m->study->design, field) &&
         !named(m->options->keep, m->options->keeps, about->path);
}

/* which way round the signal goes: two wires, or the comparator's inputs */
static bool may_turn(const making *m, tw_field field)
{
  return m->options->read_with && tw_study_turns(field) &&
         tw_design_applies(m->study->design, field) &&
         !named(m->options->keep, m->options->keeps, tw_field_of(field)->path);
}

/* `turns`: the field's own words instead of rows of the library */
static tw_status add_part(making *m, tw_field field, bool turns, tw_fault *fault)
{
  const tw_field_info *about = tw_field_of(field);
  tw_study_choice *choice = NULL;
  size_t choices = 0, now = 0, input;
  /* to swap a disc's wires is no new disc */
  const size_t part = remake_of(m, field == TW_F_disc_poling ? "wiring" : about->part);
  if (m->out->remake[part].fixed) {
    return TW_OK;
  }
  tw_status status =
      turns ? tw_study_turned(m->study, m->options, field, &choice, &choices, &now, fault)
            : tw_study_rows(m->study, m->options, field, &choice, &choices, &now, fault);
  if (status != TW_OK || !choice) {
    return status;
  }
  status = tw_study_add_choice(m->study, field, choice, choices, now, &input, fault);
  if (status != TW_OK) {
    return status;
  }
  double *list = m->out->choices + m->used;
  m->used += CHOICES_EACH;
  for (size_t i = 0; i < choices; i++) {
    list[i] = (double)i;
  }
  m->out->lever[m->out->count++] = (tw_lever){.name = about->path,
                                              .input = input,
                                              .part = part,
                                              .now = (double)now,
                                              .choices = list,
                                              .choice_count = choices,
                                              .unordered = true};
  return TW_OK;
}

/* every length of the axial stack, where a requirement hangs on it: a fifth shorter or longer */
static tw_status add_links(making *m, tw_fault *fault)
{
  const tw_design *d = m->study->design;
  const tw_table *chain = tw_design_table(d, TW_F_stack_chain);
  bool asked = false;
  for (size_t g = 0; g < m->study->goals; g++) {
    asked |= m->study->measure[m->study->goal[g].output] == TW_M_stack_clearance;
  }
  if (!m->options->links || !asked || !chain || !tw_design_given(d, TW_F_stack_chain) ||
      named(m->options->keep, m->options->keeps, "stack.chain")) {
    return TW_OK;
  }
  for (size_t row = 0; row < chain->rows && m->out->count < TW_FIELD_COUNT; row++) {
    size_t input;
    if (chain->cells[row * chain->columns + 1].number == 0) {
      continue;
    }
    const tw_status status = tw_study_add_link(m->study, row, &input, fault);
    if (status != TW_OK) {
      return status;
    }
    const tw_study_input *in = &m->study->input[input];
    m->out->lever[m->out->count++] =
        (tw_lever){.name = in->path,
                   .input = input,
                   .part = remake_of(m, tw_field_of(TW_F_stack_chain)->part),
                   .now = in->now,
                   .least = in->now - 0.2 * fabs(in->now),
                   .most = in->now + 0.2 * fabs(in->now),
                   .made = TW_MADE_LENGTH};
  }
  return TW_OK;
}

tw_status tw_study_levers(tw_study *study, const tw_lever_options *options, tw_levers **out,
                          tw_fault *fault)
{
  *out = NULL;
  tw_levers *levers = tw_alloc(1, sizeof *levers);
  double *choices = tw_alloc((size_t)TW_FIELD_COUNT * CHOICES_EACH, sizeof *choices);
  if (!levers || !choices) {
    tw_free(levers);
    tw_free(choices);
    return tw_fail(fault, TW_NO_MEMORY, NULL, NULL, "no memory for the search");
  }
  levers->choices = choices;
  making m = {study, options, levers, 0};
  tw_status status = TW_OK;
  for (int i = 0; i < TW_FIELD_COUNT && status == TW_OK; i++) {
    if (may_move(&m, (tw_field)i)) {
      status = add_lever(&m, (tw_field)i, fault);
    } else if (may_change_part(&m, (tw_field)i)) {
      status = add_part(&m, (tw_field)i, false, fault);
    } else if (may_turn(&m, (tw_field)i)) {
      status = add_part(&m, (tw_field)i, true, fault);
    }
  }
  if (status == TW_OK) {
    status = add_links(&m, fault);
  }
  if (status == TW_OK && levers->count == 0) {
    status = tw_fail(fault, TW_BAD_INPUT, NULL, "free a part or name a range",
                     "no value of this design may be changed");
  }
  if (status != TW_OK) {
    tw_levers_free(levers);
    return status;
  }
  *out = levers;
  return TW_OK;
}

size_t tw_levers_free_ones(const tw_levers *levers)
{
  size_t n = 0;
  for (size_t i = 0; i < levers->count; i++) {
    n += !levers->remake[levers->lever[i].part].fixed;
  }
  return n;
}

void tw_levers_free(tw_levers *levers)
{
  if (levers) {
    tw_free(levers->choices);
    tw_free(levers);
  }
}
