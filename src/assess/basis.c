/* basis.c: on what a measure rests: something assumed, the library and the user's own figures, or
 * a measurement on this unit. A measure is only as good as the weakest value that decides it. */
#include "fill.h"

#include <string.h>

/* fields that decide a group of measures and are often assumed */
static const tw_field of_disc[] = {TW_F_disc_ceramic_thickness, TW_F_disc_ceramic_d31,
                                   TW_F_disc_metal_thickness, TW_F_support_kind};
static const tw_field of_seat[] = {TW_F_preload_force, TW_F_seat_friction_socket,
                                   TW_F_seat_friction_flat, TW_F_stylus_reach,
                                   TW_F_stylus_stem_diameter};
static const tw_field of_circuit[] = {TW_F_circuit_supply, TW_F_circuit_bias_resistance};
static const tw_field of_machine[] = {TW_F_machine_acceleration, TW_F_machine_sampling_interval,
                                      TW_F_machine_latency};

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

static tw_basis weakest(const tw_design *design, const tw_field *field, size_t count)
{
  tw_basis basis = TW_BASIS_MEASURED;
  for (size_t i = 0; i < count; i++) {
    if (!tw_design_applies(design, field[i])) {
      continue;
    }
    const tw_origin origin = tw_design_value(design, field[i])->origin;
    if (origin == TW_ORIGIN_DEFAULT) {
      return TW_BASIS_ASSUMED;
    }
    if (origin != TW_ORIGIN_MEASURED && origin != TW_ORIGIN_UNSET) {
      basis = TW_BASIS_LIBRARY;
    }
  }
  return basis;
}

#define WEAKEST(design, list) weakest(design, list, sizeof list / sizeof list[0])

static tw_basis less(tw_basis a, tw_basis b)
{
  return a < b ? a : b;
}

void tw_put_basis(const tw_design *design, tw_assessment *out)
{
  const tw_basis disc = WEAKEST(design, of_disc), seat = WEAKEST(design, of_seat),
                 circuit = WEAKEST(design, of_circuit), machine = WEAKEST(design, of_machine);
  for (int i = 0; i < TW_MEASURE_COUNT; i++) {
    const char *section = tw_measure_about((tw_measure_id)i)->section;
    tw_basis basis = less(less(disc, seat), circuit);
    if (strcmp(section, "disc.md") == 0) {
      basis = disc;
    } else if (strcmp(section, "circuit.md") == 0) {
      basis = circuit;
    } else if (strcmp(section, "stylus.md") == 0) {
      basis = seat;
    } else if (strcmp(section, "seat.md") != 0) {
      basis = less(basis, machine);
    }
    out->measure[i].basis = basis;
  }
  for (size_t i = 0; i < sizeof measured / sizeof measured[0]; i++) {
    if (tw_design_has(design, measured[i].field)) {
      out->measure[measured[i].measure].basis = TW_BASIS_MEASURED;
    }
  }
}
