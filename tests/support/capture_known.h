/* capture_known.h: from what a truth file knows of a recording to the setting of an evaluation. */
#ifndef TW_TEST_CAPTURE_KNOWN_H
#define TW_TEST_CAPTURE_KNOWN_H

#include "tripwright/capture.h"

#include <jansson.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

static double known_number(const json_t *known, const char *key)
{
  const json_t *value = json_object_get(known, key);
  return json_is_number(value) ? json_number_value(value) : (double)NAN;
}

/* the resistor is part of the board, so a bench knows it; truth files have it under `true` */
static void known_setup(const json_t *capture, tw_capture_setup *s)
{
  const json_t *known = json_object_get(capture, "known"),
               *truth = json_object_get(capture, "true");
  const json_t *weights = json_object_get(known, "weights_kg");
  tw_capture_setup_start(s);
  s->act = tw_capture_act_named(json_string_value(json_object_get(capture, "kind")));
  const double weight = known_number(known, "weight_kg");
  if (isfinite(weight)) {
    s->weight[s->weights++] = weight;
  }
  for (size_t i = 0; i < json_array_size(weights); i++) {
    s->weight[s->weights++] = json_number_value(json_array_get(weights, i));
  }
  const struct {
    const json_t *from;
    const char *key;
    double *to;
  } numbers[] = {
      {known, "scope_R", &s->instrument.resistance},
      {known, "scope_C", &s->instrument.capacitance},
      {known, "input_R", &s->instrument.resistance},
      {known, "meter_R", &s->instrument.resistance},
      {known, "coupling_C", &s->instrument.coupling},
      {known, "bias_R", &s->bias_resistance},
      {truth, "R_bias", &s->bias_resistance},
      {known, "tone_Vrms", &s->tone_voltage},
      {known, "volts_at_full_scale", &s->instrument.full_scale},
      {known, "series_R", &s->series_resistance},
      {known, "channel_gain_ratio", &s->channel_ratio},
      {known, "film_capacitor", &s->film_capacitor},
      {known, "C_node", &s->node_capacitance},
      {known, "reach_m", &s->reach},
      {known, "seat_radius_m", &s->seat_radius},
  };
  for (size_t i = 0; i < sizeof numbers / sizeof numbers[0]; i++) {
    const double value = known_number(numbers[i].from, numbers[i].key);
    if (isfinite(value)) {
      *numbers[i].to = value;
    }
  }
}

#endif
