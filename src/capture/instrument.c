/* instrument.c: what hangs on the node, from the library or the shop file; the setting's blank. */
#include "tripwright/capture.h"

#include <math.h>
#include <stdio.h>

void tw_capture_instrument_ideal(tw_capture_instrument *out)
{
  *out = (tw_capture_instrument){.name = "nothing on the node",
                                 .resistance = (double)INFINITY,
                                 .attenuation = 1,
                                 .full_scale = (double)NAN,
                                 .bandwidth = (double)INFINITY};
}

/* limits of a catalogue taken as a rectangle (GUM 4.3.7); the wider side of uneven ones */
static double u_of(const tw_quantity *q)
{
  return q->tolerance.given ? fmax(q->tolerance.minus, q->tolerance.plus) / sqrt(3.0) : 0;
}

static void take(const tw_row *row, const char *key, double *value, double *u)
{
  tw_quantity q;
  if (tw_row_number(row, key, &q)) {
    *value = q.number;
    if (u) {
      *u = u_of(&q);
    }
  }
}

tw_status tw_capture_instrument_of(const tw_library *library, const char *id,
                                   tw_capture_instrument *out, tw_fault *fault)
{
  tw_capture_instrument_ideal(out);
  const tw_row *row = tw_library_find(library, TW_KIND_INSTRUMENT, id);
  if (!row) {
    const char *near = tw_library_nearest(library, TW_KIND_INSTRUMENT, id);
    char hint[160];
    snprintf(hint, sizeof hint,
             "%s%.40s%stripwright parts instruments lists them; own ones stand "
             "under instruments: in the shop file",
             near ? "did you mean " : "", near ? near : "", near ? "? " : "");
    return tw_fail(fault, TW_BAD_INPUT, "", hint, "no instrument is called \"%.48s\"", id);
  }
  double limit = 0;
  snprintf(out->name, sizeof out->name, "%s", tw_row_name(row));
  snprintf(out->id, sizeof out->id, "%s", id);
  take(row, "resistance", &out->resistance, &out->resistance_u);
  take(row, "capacitance", &out->capacitance, &out->capacitance_u);
  take(row, "coupling", &out->coupling, &out->coupling_u);
  take(row, "attenuation", &out->attenuation, NULL);
  take(row, "full_scale", &out->full_scale, NULL);
  take(row, "gain_limit", &limit, NULL);
  take(row, "bandwidth", &out->bandwidth, NULL);
  out->gain_u = limit / sqrt(3.0);
  out->known = true;
  return TW_OK;
}

void tw_capture_setup_start(tw_capture_setup *out)
{
  const double none = (double)NAN;
  *out = (tw_capture_setup){.azimuth = none,
                            .elevation = none,
                            .feed = none,
                            .bias_resistance = none,
                            .node_capacitance = none,
                            .series_resistance = none,
                            .channel_ratio = 1,
                            .tone_voltage = none,
                            .film_capacitor = none,
                            .reach = none,
                            .seat_radius = none};
  tw_capture_instrument_ideal(&out->instrument);
  for (size_t i = 0; i < TW_CAPTURE_WEIGHTS; i++) {
    out->weight[i] = none;
  }
}

void tw_capture_reading_start(tw_capture_reading *out)
{
  *out = (tw_capture_reading){.interval = (double)NAN, .pretrigger = (double)NAN};
}

double tw_capture_at(const tw_capture_record *record, size_t sample)
{
  return record->stamp ? record->stamp[sample] : record->start + (double)sample * record->interval;
}
