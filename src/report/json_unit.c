/* json_unit.c: a unit's file beside its drawing: what is foreseen of either, and what was measured.
 */
#include "tripwright/documents.h"

#include <math.h>

/* what was measured, and the measure of the same thing; of two fields the first that is given */
static const struct {
  tw_measure_id measure;
  tw_field field;
} places[] = {
    {TW_M_trip_force_side, TW_F_measured_trip_force_side},
    {TW_M_trip_force_axial, TW_F_measured_trip_force_axial},
    {TW_M_pretravel_side, TW_F_measured_pretravel_side},
    {TW_M_pretravel_axial, TW_F_measured_pretravel_axial},
    {TW_M_return_offset, TW_F_measured_return_offset},
    {TW_M_preload_actual, TW_F_measured_preload},
    {TW_M_charge_per_newton, TW_F_measured_charge_per_newton},
    {TW_M_capacitance_mounted, TW_F_measured_capacitance_mounted},
    {TW_M_resonance_free, TW_F_measured_resonance_free},
    {TW_M_resonance_mounted, TW_F_measured_resonance_mounted},
    {TW_M_threshold_voltage, TW_F_measured_threshold_voltage},
};

static const tw_value *measured_of(const tw_design *unit, tw_measure_id id)
{
  for (size_t i = 0; i < sizeof places / sizeof places[0]; i++) {
    if (places[i].measure == id && tw_design_has(unit, places[i].field)) {
      return tw_design_value(unit, places[i].field);
    }
  }
  return NULL;
}

bool tw_unit_is_one(const tw_design *design)
{
  bool measured = false;
  for (int f = 0; f < TW_FIELD_COUNT && !measured; f++) {
    measured = tw_design_value(design, (tw_field)f)->origin == TW_ORIGIN_MEASURED;
  }
  return measured && tw_design_base(design) != NULL;
}

tw_measure_set tw_unit_beside(const tw_design *unit, const tw_assessment *of_unit)
{
  tw_measure_set set = {0};
  for (int i = 0; i < TW_MEASURE_COUNT; i++) {
    const tw_measure *m = &of_unit->measure[i];
    set.has[i] = m->state != TW_MEASURE_NOT_COMPUTED && !m->word &&
                 (m->met != TW_MET_NO_RULE || measured_of(unit, (tw_measure_id)i));
  }
  return set;
}

static json_t *figure_of(const tw_measure *m)
{
  return m->state == TW_MEASURE_OK ? tw_json_number(m->value) : json_null();
}

json_t *tw_json_unit(const tw_design *unit, const tw_assessment *of_unit,
                     const tw_assessment *of_drawing)
{
  const tw_measure_set set = tw_unit_beside(unit, of_unit);
  json_t *rows = json_array();
  for (int i = 0; i < TW_MEASURE_COUNT; i++) {
    const tw_measure_id id = (tw_measure_id)i;
    const tw_value *v = measured_of(unit, id);
    if (!set.has[i]) {
      continue;
    }
    json_t *row = json_pack("{s:s, s:s, s:o, s:o, s:o}", "name", tw_measure_about(id)->name, "unit",
                            tw_measure_about(id)->unit, "foreseen_drawing",
                            figure_of(&of_drawing->measure[i]), "foreseen_unit",
                            figure_of(&of_unit->measure[i]), "measured",
                            v ? tw_json_number(v->number) : json_null());
    if (v && v->tolerance.given) {
      json_object_set_new(row, "measured_limits",
                          json_pack("[o, o]", tw_json_number(v->number - v->tolerance.minus),
                                    tw_json_number(v->number + v->tolerance.plus)));
    }
    json_array_append_new(rows, row);
  }
  return rows;
}
