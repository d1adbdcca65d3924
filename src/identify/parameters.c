/* parameters.c: what may differ from the drawing in one unit, and how far before it was read. */
#include "inner.h"

#include "tripwright/study_design.h"

#include <math.h>
#include <string.h>

/* ends that are worst cases: a uniform spread between them (JCGM 100:2008, 4.3.7) */
#define OF_ENDS 0.57735026918962576
/* all resonances of a disc: bought discs scatter by 10 % (docs/models/bench.md), so stiffness by
 * twice that; as a share, ends */
#define STIFFNESS_ENDS 0.20
/* a leak that nobody has stated is known to a factor of some 20 either way: 1.5 in the logarithm
 * (own estimate) */
#define LEAK_SPREAD 1.5
/* how evenly a hand lets a weight down: a factor of 1.6 either way for two deviations (own
 * estimate)
 */
#define HAND_SPREAD 0.25
/* force and friction that are stated without tolerance, and what was measured without: ends as the
 * bench card takes them (docs/models/bench.md) */
#define PRELOAD_ENDS  0.10
#define FRICTION_ENDS 0.50
#define MEASURED_ENDS 0.02
/* wider than this share of the value a positive number is spread as a factor */
#define AS_RATIO 0.02

/* ---- one parameter ------------------------------------------------------------------------- */

double tw_parameter_at(const tw_parameter *p, double z)
{
  const double value = p->ratio ? p->centre * exp(p->sd * z) : p->centre + p->sd * z;
  return fmin(fmax(value, p->least), p->most);
}

double tw_parameter_z(const tw_parameter *p, double value)
{
  return p->ratio ? log(value / p->centre) / p->sd : (value - p->centre) / p->sd;
}

/* all layers alike, as docs/models/disc.md does it for a measured resonance */
static void stiffen(const tw_design *drawn, double factor, tw_design *own)
{
  static const tw_field moduli[] = {TW_F_disc_metal_modulus, TW_F_disc_bond_modulus,
                                    TW_F_disc_silver_modulus},
                        compliances[] = {TW_F_disc_ceramic_s11, TW_F_disc_ceramic_s12,
                                         TW_F_disc_ceramic_s13, TW_F_disc_ceramic_s33};
  for (size_t i = 0; i < sizeof moduli / sizeof moduli[0]; i++) {
    if (tw_design_has(drawn, moduli[i])) {
      tw_design_put(own, moduli[i], factor * tw_design_number(drawn, moduli[i]));
    }
  }
  for (size_t i = 0; i < sizeof compliances / sizeof compliances[0]; i++) {
    tw_design_put(own, compliances[i], tw_design_number(drawn, compliances[i]) / factor);
  }
}

void tw_parameter_put(const tw_design *drawn, const tw_parameter *p, double value, tw_design *own)
{
  if (p->kind == TW_PARAMETER_STIFFNESS) {
    stiffen(drawn, value, own);
  } else if (p->kind == TW_PARAMETER_FIELD && p->field == TW_F_seat_friction) {
    tw_design_put(own, TW_F_seat_friction_socket, value);
    tw_design_put(own, TW_F_seat_friction_flat, value);
  } else if (p->kind == TW_PARAMETER_FIELD) {
    tw_design_put(own, p->field, value);
  }
}

/* ---- all of them --------------------------------------------------------------------------- */

typedef struct making {
  const tw_design *design;
  tw_units *units;
  tw_parameter *parameter;
  size_t count;
} making;

/* a number of the board that changes no capacitance: then nothing but the board moves */
static bool of_board(const char *path)
{
  return (strncmp(path, "circuit.", 8) == 0 || strncmp(path, "output.", 7) == 0) &&
         strstr(path, "capacitance") == NULL && strstr(path, "contact_resistance") == NULL;
}

static void finish(tw_parameter *p)
{
  p->ratio = p->ratio || (p->least >= 0 && p->centre > 0 && p->sd > AS_RATIO * p->centre &&
                          p->sd < 0.4 * p->centre);
  if (p->ratio && p->centre > 0 && p->kind == TW_PARAMETER_FIELD && p->sd < 0.4 * p->centre) {
    p->sd = sqrt(log1p(p->sd * p->sd / (p->centre * p->centre)));
  }
  p->after[0] = p->before[0] = tw_parameter_at(p, 0);
  p->after[1] = p->before[1] = tw_parameter_at(p, -2);
  p->after[2] = p->before[2] = tw_parameter_at(p, 2);
  p->shrink = 1;
}

static bool has(const making *m, tw_field field)
{
  for (size_t i = 0; i < m->count; i++) {
    if (m->parameter[i].kind == TW_PARAMETER_FIELD && m->parameter[i].field == field) {
      return true;
    }
  }
  return false;
}

static tw_parameter *next_one(making *m)
{
  return m->count < TW_IDENTIFY_MOST ? &m->parameter[m->count++] : NULL;
}

/* a field without a stated tolerance, its ends as the card takes them: share of its value */
static void add_share(making *m, tw_field field, double ends)
{
  if (!tw_design_has(m->design, field) || !tw_design_applies(m->design, field) || has(m, field)) {
    return;
  }
  const tw_field_info *about = tw_field_of(field);
  const double value = tw_design_number(m->design, field);
  tw_unit unit = {.scale = 1};
  tw_parameter *p = value != 0 ? next_one(m) : NULL;
  if (p) {
    if (about->type == TW_TYPE_QUANTITY) {
      (void)tw_units_find(m->units, about->unit, &unit, NULL);
    }
    *p = (tw_parameter){.kind = TW_PARAMETER_FIELD,
                        .field = field,
                        .name = about->path,
                        .unit =
                            about->type == TW_TYPE_QUANTITY ? tw_unit_si_name(m->units, &unit) : "",
                        .board = of_board(about->path),
                        .centre = value,
                        .sd = fabs(value) * ends * OF_ENDS,
                        .least = tw_unit_to_si(&unit, about->least, false),
                        .most = tw_unit_to_si(&unit, about->most, false)};
    finish(p);
  }
}

/* the leak of the node: as drawn it is nothing much, and it may be anything */
static void add_leak(making *m)
{
  const size_t at = m->count;
  if (tw_design_choice(m->design, TW_F_circuit_kind) == TW_CIRCUIT_CONTACT ||
      has(m, TW_F_circuit_leakage_resistance)) {
    return;
  }
  add_share(m, TW_F_circuit_leakage_resistance, 1.0);
  if (m->count > at) {
    tw_parameter *p = &m->parameter[at];
    p->sd = LEAK_SPREAD;
    p->ratio = true;
    p->before[1] = p->after[1] = tw_parameter_at(p, -2);
    p->before[2] = p->after[2] = tw_parameter_at(p, 2);
  }
}

static void add_stiffness(making *m)
{
  tw_parameter *p = tw_design_has_disc(m->design) &&
                            !tw_design_has(m->design, TW_F_measured_resonance_free) &&
                            !tw_design_has(m->design, TW_F_measured_resonance_mounted)
                        ? next_one(m)
                        : NULL;
  if (p) {
    *p = (tw_parameter){.kind = TW_PARAMETER_STIFFNESS,
                        .name = "disc stiffness",
                        .unit = "",
                        .ratio = true,
                        .centre = 1,
                        .sd = STIFFNESS_ENDS * OF_ENDS,
                        .least = 0.2,
                        .most = 5};
    finish(p);
  }
}

static void add_hand(making *m, double hand_time)
{
  tw_parameter *p = next_one(m);
  if (p) {
    *p = (tw_parameter){.kind = TW_PARAMETER_HAND,
                        .name = "hand time",
                        .unit = "s",
                        .ratio = true,
                        .board = true,
                        .centre = hand_time,
                        .sd = HAND_SPREAD,
                        .least = 1e-4,
                        .most = 10};
    finish(p);
  }
}

/* a direction says where, not how much: the card seeks its largest and smallest over all of them */
static bool is_direction(tw_field field)
{
  return field == TW_F_seat_eccentricity_azimuth || field == TW_F_disc_ceramic_eccentricity_azimuth;
}

/* what no check of the card sees, or what a measurement of the same thing replaces */
static bool is_unseen(const tw_design *design, const char *path)
{
  if ((tw_design_has(design, TW_F_measured_friction) && strncmp(path, "seat.friction", 13) == 0) ||
      (tw_design_has(design, TW_F_measured_preload) && strncmp(path, "preload.", 8) == 0)) {
    return true;
  }
  return strncmp(path, "machine.", 8) == 0 || strncmp(path, "holddown.", 9) == 0 ||
         strncmp(path, "link.", 5) == 0 || strncmp(path, "housing.", 8) == 0 ||
         strcmp(path, "disc.allowable_tension") == 0 || strcmp(path, "stylus.notch_factor") == 0;
}

/* the spread of a toleranced input of a batch as one number: limits are two deviations of a normal
 * one; what is even or triangular between its limits has their standard deviation */
static void take_law(const tw_study_input *in, tw_parameter *p)
{
  const tw_varied *law = &in->law;
  const double middle = law->centre + 0.5 * (law->plus - law->minus),
               width = law->plus + law->minus;
  p->centre = middle;
  p->least = in->least;
  p->most = in->most;
  switch (law->law) {
  case TW_LAW_UNIFORM:
    p->sd = width / sqrt(12.0);
    p->least = fmax(p->least, law->centre - law->minus);
    p->most = fmin(p->most, law->centre + law->plus);
    break;
  case TW_LAW_TRIANGULAR: {
    const double a = law->minus, b = law->plus;
    p->centre = law->centre + (b - a) / 3.0;
    p->sd = sqrt((a * a + b * b + a * b) / 18.0);
    break;
  }
  default:
    p->sd = width / 4.0;
    break;
  }
}

static tw_status add_toleranced(making *m, tw_fault *fault)
{
  tw_study *study = tw_alloc(1, sizeof *study);
  if (!study) {
    return tw_fail(fault, TW_NO_MEMORY, "", "", "no memory for the unit");
  }
  study->design = m->design;
  study->units = m->units;
  tw_fault none = {0};
  tw_status status = tw_study_add_toleranced(study, &none);
  /* that nothing varies is no fault of a unit: leak, stiffness and hand are still there */
  if (status == TW_NO_MEMORY) {
    *fault = none;
  } else {
    status = TW_OK;
  }
  for (size_t i = 0; status == TW_OK && i < study->inputs; i++) {
    const tw_study_input *in = &study->input[i];
    if (!tw_varied_varies(&in->law) || is_direction(in->field) || is_unseen(m->design, in->path)) {
      continue;
    }
    tw_parameter *p = next_one(m);
    if (!p) {
      break;
    }
    *p = (tw_parameter){.kind = TW_PARAMETER_FIELD,
                        .field = in->field,
                        .name = in->path,
                        .unit = in->si,
                        .board = of_board(in->path)};
    take_law(in, p);
    finish(p);
  }
  tw_free(study);
  return status;
}

/* one word for both frictions is one number */
static void add_friction(making *m)
{
  if (tw_design_has(m->design, TW_F_seat_friction)) {
    add_share(m, TW_F_seat_friction, FRICTION_ENDS);
  } else {
    add_share(m, TW_F_seat_friction_socket, FRICTION_ENDS);
    add_share(m, TW_F_seat_friction_flat, FRICTION_ENDS);
  }
}

tw_status tw_unit_parameters(const tw_design *design, tw_units *units, double hand_time,
                             tw_parameter *parameter, size_t *count, tw_fault *fault)
{
  static const tw_field measured[] = {
      TW_F_measured_capacitance,       TW_F_measured_capacitance_mounted,
      TW_F_measured_resonance_free,    TW_F_measured_resonance_mounted,
      TW_F_measured_charge_per_newton, TW_F_measured_preload,
      TW_F_measured_friction};
  making m = {.design = design, .units = units, .parameter = parameter};
  const tw_status status = add_toleranced(&m, fault);
  if (status != TW_OK) {
    return status;
  }
  for (size_t i = 0; i < sizeof measured / sizeof measured[0]; i++) {
    add_share(&m, measured[i], MEASURED_ENDS);
  }
  if (!tw_design_has(design, TW_F_measured_preload)) {
    add_share(&m, TW_F_preload_force, PRELOAD_ENDS);
  }
  if (!tw_design_has(design, TW_F_measured_friction)) {
    add_friction(&m);
  }
  add_leak(&m);
  add_stiffness(&m);
  add_hand(&m, hand_time);
  *count = m.count;
  return TW_OK;
}
