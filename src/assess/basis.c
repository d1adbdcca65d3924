/* basis.c: on what a measure rests: something assumed, the library and the user's own figures, or
 * a measurement on this unit. A figure is assumed when a default that it reads moves it over that
 * default's tolerance (trial.c), or when one that it is made of is. */
#include "trial.h"

#include <string.h>

/* a measured value of this unit replaces what the model would say about these measures */
static const struct {
  tw_field field;
  tw_measure_id measure;
} measured[] = {
    {TW_F_measured_capacitance, TW_M_capacitance_mounted},
    {TW_F_measured_resonance_free, TW_M_resonance_free},
    {TW_F_measured_resonance_free, TW_M_resonance_mounted},
    {TW_F_measured_resonance_free, TW_M_resonance_loaded},
    {TW_F_measured_charge_per_newton, TW_M_charge_per_newton},
    {TW_F_measured_charge_per_newton, TW_M_voltage_per_newton},
    {TW_F_measured_charge_per_newton, TW_M_voltage_per_newton_open},
    {TW_F_measured_preload, TW_M_preload_actual},
};

/* what a touch in time, and every other figure that no trial computes, is made of */
static const tw_measure_id of_touch[] = {TW_M_pretravel_side, TW_M_pretravel_axial,
                                         TW_M_pretravel_variation_side, TW_M_threshold_voltage};

static void take_over(const tw_measure *from, tw_measure *to)
{
  if (from->assumes && from->assumes_share > to->assumes_share) {
    to->assumes = from->assumes;
    to->assumes_share = from->assumes_share;
  }
}

/* the first default among what the machine's motion reads, or NULL */
static const char *machine_default(const tw_run *run)
{
  bool read[TW_FIELD_COUNT] = {false};
  tw_design *own = tw_design_clone(run->design);
  tw_touch_motion motion;
  tw_fault why = {0};
  if (!own) {
    return NULL;
  }
  tw_design_watch(own, read);
  tw_probe_motion(own, run->probe, tw_design_number(own, TW_F_machine_feed), &motion, &why);
  tw_design_free(own);
  for (int i = 0; i < TW_FIELD_COUNT; i++) {
    const tw_field_info *about = tw_field_of((tw_field)i);
    if (read[i] && about->type == TW_TYPE_QUANTITY && strncmp(about->path, "machine.", 8) == 0 &&
        strcmp(about->part, "machine") == 0 &&
        tw_design_value(run->design, (tw_field)i)->origin == TW_ORIGIN_DEFAULT) {
      return about->path;
    }
  }
  return NULL;
}

static bool is_shaken(const tw_measure_info *about)
{
  return strcmp(about->section, "false-trips.md") == 0;
}

static void follow(const tw_run *run, const tw_measure_set *tried)
{
  const char *machine = machine_default(run);
  for (int i = 0; i < TW_MEASURE_COUNT; i++) {
    const tw_measure_info *about = tw_measure_about((tw_measure_id)i);
    tw_measure *m = &run->out->measure[i];
    if (m->state == TW_MEASURE_NOT_APPLICABLE || m->state == TW_MEASURE_NOT_COMPUTED) {
      continue;
    }
    for (size_t k = 0; k < sizeof of_touch / sizeof of_touch[0] && about->after_touch; k++) {
      if (!tried->has[i]) {
        take_over(&run->out->measure[of_touch[k]], m);
      }
    }
    if (machine && !m->assumes && (about->needs == TW_NEEDS_TIMED || is_shaken(about))) {
      m->assumes = machine;
    }
  }
}

static bool is_measured(const tw_run *run, tw_measure_id id)
{
  for (size_t i = 0; i < sizeof measured / sizeof measured[0]; i++) {
    if (measured[i].measure == id && tw_design_has(run->design, measured[i].field) &&
        run->out->measure[id].state == TW_MEASURE_OK) {
      return true;
    }
  }
  return false;
}

tw_status tw_put_basis(tw_run *run, bool trial, tw_fault *fault)
{
  tw_measure_set tried = {.has = {false}};
  const tw_status status = trial ? tw_trial(run, &tried, fault) : TW_OK;
  if (status != TW_OK) {
    return status;
  }
  follow(run, &tried);
  for (int i = 0; i < TW_MEASURE_COUNT; i++) {
    tw_measure *m = &run->out->measure[i];
    if (is_measured(run, (tw_measure_id)i)) {
      m->basis = TW_BASIS_MEASURED;
      m->assumes = NULL;
      m->assumes_share = 0;
    } else {
      m->basis = m->assumes ? TW_BASIS_ASSUMED : TW_BASIS_LIBRARY;
    }
  }
  return status;
}
