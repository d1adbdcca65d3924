/* values.c: what the unit's own file says beside the drawing: values that the readings told, with
 * their 95 % limits, and the readings that a design file has a place for. */
#include "inner.h"

#include "tripwright/probe.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* limits of a tolerance are two standard deviations from the value (docs/models/design-file.md) */
#define LIMITS 2.0
/* digits of what is written: one more than two standard deviations ever need */
enum { DIGITS = 5, LIMIT_DIGITS = 2 };

typedef struct writing {
  const tw_design *design;
  tw_units *units;
  const tw_identified *found;
  tw_unit_values *out;
} writing;

static bool has(const writing *w, tw_field field)
{
  for (size_t i = 0; i < w->out->count; i++) {
    if (strcmp(w->out->set[i].path, tw_field_of(field)->path) == 0) {
      return true;
    }
  }
  return false;
}

/* "9.02 nF ± 0.11 nF" */
static void put(writing *w, tw_field field, double value, double u)
{
  const tw_field_info *about = tw_field_of(field);
  tw_unit unit = {.scale = 1};
  if (w->out->count == TW_UNIT_VALUES || has(w, field) || !isfinite(value) || !isfinite(u)) {
    return;
  }
  if (about->type == TW_TYPE_QUANTITY) {
    (void)tw_units_find(w->units, about->unit, &unit, NULL);
  }
  char *text = w->out->store[w->out->count];
  char limit[32];
  tw_number_print(tw_number_rounded(LIMITS * u, &unit, LIMIT_DIGITS, 1), &unit, LIMIT_DIGITS, limit,
                  sizeof limit);
  const int n = tw_number_print(value, &unit, DIGITS, text, sizeof w->out->store[0]);
  if (n > 0 && (size_t)n < sizeof w->out->store[0]) {
    snprintf(text + n, sizeof w->out->store[0] - (size_t)n, " ± %s", limit);
    w->out->set[w->out->count++] = (tw_set){about->path, text};
  }
}

static bool was_read(const writing *w, tw_bench_id id)
{
  for (size_t i = 0; i < w->found->readings; i++) {
    if (w->found->fitted[i].id == id && w->found->fitted[i].number) {
      return true;
    }
  }
  return false;
}

/* a figure of the card that the readings have narrowed down */
static void put_told(writing *w, size_t what, tw_field field, double sign)
{
  const tw_foreseen *f = &w->found->foreseen[what];
  if (f->known && f->u < TW_DETERMINED * f->u_before) {
    put(w, field, sign * f->unit, f->u);
  }
}

/* the sign of the charge of a push as the disc has it; 0: nobody knows the poling */
static tw_status sign_of_push(const tw_design *design, double *sign, tw_fault *fault)
{
  tw_probe *probe = NULL;
  *sign = 0;
  if (tw_design_choice(design, TW_F_disc_poling) == TW_POLING_UNKNOWN) {
    return TW_OK;
  }
  const tw_status status = tw_probe_new_to_touch(design, &probe, fault);
  if (status == TW_OK && probe->disc_measures.charge_per_newton.known) {
    *sign = probe->disc_measures.charge_per_newton.value < 0 ? -1 : 1;
  }
  tw_probe_free(probe);
  return status;
}

/* disc, seat force, friction: these have places of their own */
static bool has_own_place(const tw_parameter *p)
{
  return p->kind != TW_PARAMETER_FIELD || p->field == TW_F_disc_capacitance_factor ||
         p->field == TW_F_disc_charge_factor || p->field == TW_F_seat_friction ||
         strncmp(p->name, "preload.", 8) == 0;
}

static void put_parameters(writing *w)
{
  for (size_t k = 0; k < w->found->parameters; k++) {
    const tw_parameter *p = &w->found->parameter[k];
    if (p->shrink >= TW_DETERMINED || p->by_profile) {
      continue;
    }
    if (p->kind == TW_PARAMETER_FIELD && p->field == TW_F_seat_friction) {
      put(w, TW_F_measured_friction, p->after[0], p->u);
    } else if (!has_own_place(p)) {
      put(w, p->field, p->after[0], p->u);
    }
  }
}

/* readings that the design file has a place for, as the instrument showed them */
static void put_readings(writing *w)
{
  static const struct {
    tw_bench_id id;
    tw_field field;
    double scale; /* weights are read in kilograms, forces stated in newtons */
  } places[] = {
      {TW_BENCH_SUPPLY_CURRENT, TW_F_measured_supply_current, 1},
      {TW_BENCH_REST_COMPARATOR, TW_F_measured_rest_voltage, 1},
      {TW_BENCH_REST_NODE, TW_F_measured_rest_voltage, 1},
      {TW_BENCH_DECAY, TW_F_measured_decay_time, 1},
      {TW_BENCH_WEIGHT_SIDE, TW_F_measured_trip_force_side, TW_GRAVITY},
      {TW_BENCH_WEIGHT_AXIAL, TW_F_measured_trip_force_axial, TW_GRAVITY},
  };
  for (size_t i = 0; i < sizeof places / sizeof places[0]; i++) {
    for (size_t k = 0; k < w->found->readings; k++) {
      const tw_fitted *f = &w->found->fitted[k];
      if (f->id == places[i].id && f->number && !f->set_aside) {
        put(w, places[i].field, f->value * places[i].scale, f->u * places[i].scale);
      }
    }
  }
}

tw_status tw_identify_values(const tw_design *design, tw_units *units, const tw_identified *found,
                             tw_unit_values *out, tw_fault *fault)
{
  memset(out, 0, sizeof *out);
  writing w = {design, units, found, out};
  double sign = 0;
  const tw_status status = tw_design_has_disc(design) ? sign_of_push(design, &sign, fault) : TW_OK;
  if (status != TW_OK) {
    return status;
  }
  const bool mounted =
      was_read(&w, TW_BENCH_CAPACITANCE_MOUNTED) && !was_read(&w, TW_BENCH_CAPACITANCE_FREE);
  put_told(&w, mounted ? TW_BENCH_CAPACITANCE_MOUNTED : TW_BENCH_CAPACITANCE_FREE,
           mounted ? TW_F_measured_capacitance_mounted : TW_F_measured_capacitance, 1);
  put_told(&w, TW_BENCH_RESONANCE_FREE, TW_F_measured_resonance_free, 1);
  if (sign != 0) {
    put_told(&w, TW_IDENTIFY_CHARGE, TW_F_measured_charge_per_newton, sign);
  }
  put_told(&w, TW_BENCH_PRELOAD, TW_F_measured_preload, 1);
  put_parameters(&w);
  put_readings(&w);
  return TW_OK;
}
