/* json_steady.c: until when a batch went on, and how sure its figures are. */
#include "tripwright/documents_study.h"

json_t *tw_json_steady(const tw_study *study, const tw_steady_plan *plan, const tw_steady *steady)
{
  static const char *const figure[] = {"mean", "deviation", "low", "high"};
  json_t *list = json_array();
  for (size_t k = 0; k < plan->count; k++) {
    const tw_steady_output *o = &steady->output[k];
    const tw_measure_info *about = tw_measure_about(study->measure[plan->outputs[k]]);
    json_t *one = json_pack("{s:s, s:s, s:I, s:b}", "name", about->name, "unit", about->unit,
                            "numbers", (json_int_t)o->numbers, "steady", o->state.steady);
    json_object_set_new(one, "tolerance",
                        o->state.batches ? tw_json_quantity(o->state.tolerance, about->unit)
                                         : json_null());
    for (int f = 0; f < 4; f++) {
      const double value = f == 0   ? o->state.all_mean
                           : f == 1 ? o->state.deviation
                                    : o->state.mean[f];
      json_t *entry = o->state.batches ? tw_json_quantity(value, about->unit) : json_null();
      if (o->state.batches > 1) {
        json_object_set_new(entry, "uncertainty", tw_json_number(o->state.uncertainty[f]));
      }
      json_object_set_new(one, figure[f], entry);
    }
    json_array_append_new(list, one);
  }
  return json_pack("{s:b, s:i, s:I, s:I, s:I, s:o}", "steady", steady->steady, "digits",
                   plan->digits, "batch", (json_int_t)steady->batch, "batches",
                   (json_int_t)steady->batches, "builds",
                   (json_int_t)(steady->batch * steady->batches), "measures", list);
}
