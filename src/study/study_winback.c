/* study_winback.c: which screws and trimmers a design has, and how far they go. */
#include "tripwright/study_design.h"

#include <math.h>
#include <string.h>

/* a screw is set to five degrees of turn, a trimmer to a hundredth of its track (common practice,
 * no source) */
#define SCREW_STEPS   72
#define TRIMMER_STEPS 100

typedef struct listing {
  tw_study *study;
  tw_adjustment *list;
  size_t *count;
} listing;

static tw_status add(listing *l, const char *name, tw_field field, double down, double up,
                     double step, tw_fault *fault)
{
  size_t input;
  const tw_design *d = l->study->design;
  if (!tw_design_has(d, field) || !tw_design_applies(d, field) || !(step > 0)) {
    return TW_OK;
  }
  const tw_status status = tw_study_add(l->study, field, &input, fault);
  if (status == TW_OK) {
    const tw_study_input *in = &l->study->input[input];
    l->list[(*l->count)++] = (tw_adjustment){.name = name,
                                             .input = input,
                                             .down = down,
                                             .up = up,
                                             .step = step,
                                             .least = in->least,
                                             .most = in->most};
  }
  return status;
}

/* one turn either way; a force with a known spring moves by what a turn of it makes, one without
 * is taken to be settable from half to one and a half times, in twentieths */
static tw_status add_preload(listing *l, tw_fault *fault)
{
  const tw_design *d = l->study->design;
  if (!tw_design_given(d, TW_F_preload_screw_pitch)) {
    return TW_OK;
  }
  const double pitch = tw_design_number(d, TW_F_preload_screw_pitch);
  const int kind = tw_design_choice(d, TW_F_preload_kind);
  if (kind == TW_PRELOAD_FORCE) {
    const double now = tw_design_number_or(d, TW_F_preload_force, 0);
    const bool known = tw_design_applies(d, TW_F_seat_spring_rate) &&
                       tw_design_number_or(d, TW_F_seat_spring_rate, 0) > 0;
    const double turn = known ? tw_design_number(d, TW_F_seat_spring_rate) * pitch : 0.5 * now;
    return add(l, "preload screw", TW_F_preload_force, turn, turn,
               known ? turn / SCREW_STEPS : turn / 10, fault);
  }
  return add(l, "preload screw",
             kind == TW_PRELOAD_INTERFERENCE ? TW_F_preload_interference : TW_F_preload_travel,
             pitch, pitch, pitch / SCREW_STEPS, fault);
}

static tw_status add_trimmer(listing *l, tw_fault *fault)
{
  const tw_design *d = l->study->design;
  if (!tw_design_has(d, TW_F_circuit_trimmer) || !tw_design_applies(d, TW_F_circuit_trimmer)) {
    return TW_OK;
  }
  const double track = tw_design_number(d, TW_F_circuit_trimmer);
  return add(l, "trimmer", TW_F_circuit_reference_lower, 0.5 * track, 0.5 * track,
             track / TRIMMER_STEPS, fault);
}

/* A radial screw moves the tip by its own travel, an axial one by that times drop over radius
 * (docs/models/qualify.md). One turn towards the axis, down to half a step. */
static tw_status add_tram(listing *l, tw_fault *fault)
{
  const tw_design *d = l->study->design;
  if (!tw_design_given(d, TW_F_housing_tip_offset)) {
    return TW_OK;
  }
  double turn = tw_design_number(d, TW_F_housing_screw_pitch);
  if (tw_design_choice(d, TW_F_housing_screws) == TW_SCREWS_AXIAL) {
    const double drop = tw_design_number_or(d, TW_F_housing_screw_height,
                                            tw_design_number(d, TW_F_stylus_reach) +
                                                0.5 * tw_design_number(d, TW_F_housing_length));
    turn *= drop / tw_design_number(d, TW_F_housing_screw_radius);
  }
  const size_t before = *l->count;
  const tw_status status =
      add(l, "tramming screws", TW_F_housing_tip_offset, turn, 0, turn / SCREW_STEPS, fault);
  if (*l->count > before) {
    l->list[before].least = fmax(l->list[before].least, 0.5 * turn / SCREW_STEPS);
  }
  return status;
}

tw_status tw_study_adjustments(tw_study *study, tw_adjustment adjustment[TW_STUDY_ADJUSTMENTS],
                               size_t *count, tw_fault *fault)
{
  listing l = {study, adjustment, count};
  *count = 0;
  tw_status status = add_preload(&l, fault);
  if (status == TW_OK) {
    status = add_trimmer(&l, fault);
  }
  return status == TW_OK ? add_tram(&l, fault) : status;
}

bool tw_study_pairs(const tw_study *study, bool *disc, bool *resistors)
{
  static const tw_field of_disc[] = {TW_F_measured_capacitance, TW_F_measured_resonance_free,
                                     TW_F_measured_charge_per_newton};
  bool any_disc = false, any_resistor = false;
  for (size_t k = 0; k < study->inputs; k++) {
    const tw_field field = study->input[k].field;
    const char *part = tw_field_of(field)->part;
    const bool varies = tw_varied_varies(&study->input[k].law);
    disc[k] = varies && strcmp(part, "disc") == 0;
    for (size_t i = 0; i < sizeof of_disc / sizeof of_disc[0]; i++) {
      disc[k] |= varies && field == of_disc[i];
    }
    resistors[k] = varies && strcmp(part, "resistor") == 0;
    any_disc |= disc[k];
    any_resistor |= resistors[k];
  }
  return any_disc && any_resistor;
}
