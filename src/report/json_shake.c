/* json_shake.c: the document of false trips: the machine's moves, vibration, a recorded trace,
 * mains, cable motion; each with its margin and what would give margin 2. */
#include "tripwright/documents.h"
#include "tripwright/probe.h"

#include <math.h>

static void put(json_t *object, const char *name, double value, const char *unit)
{
  json_object_set_new(object, name, tw_json_quantity(value, unit));
}

static const char *const axis_name[3] = {"x", "y", "z"};

/* a margin without any signal is none: the state says so */
static void put_margin(json_t *object, double margin)
{
  json_object_set_new(object, "margin",
                      margin < TW_SHAKE_MARGIN_MOST ? tw_json_quantity(margin, "1")
                                                    : json_pack("{s:n, s:s, s:s}", "value", "unit",
                                                                "1", "state", "not_applicable"));
}

static json_t *shaken_of(const tw_shaken *s)
{
  json_t *o = json_object();
  put(o, "node", s->node, "V");
  put_margin(o, s->margin);
  json_object_set_new(o, "contact_opens", json_boolean(s->lifts));
  if (s->acceleration_for_2 > 0) {
    put(o, "acceleration_for_margin_2", s->acceleration_for_2, "m/s2");
  }
  if (s->threshold_for_2 > 0) {
    put(o, "threshold_for_margin_2", s->threshold_for_2, "V");
  }
  if (s->ramp_for_2 > 0) {
    put(o, "ramp_for_margin_2", s->ramp_for_2, "s");
  }
  return o;
}

static json_t *axes_of(const tw_shaken shaken[3])
{
  json_t *o = json_object();
  for (int i = 0; i < 3; i++) {
    json_object_set_new(o, axis_name[i], shaken_of(&shaken[i]));
  }
  return o;
}

enum { LINES = 256 };

static tw_status put_vibration(const tw_design *design, const tw_shake *shake, json_t *document,
                               tw_fault *fault)
{
  tw_shaken shaken[3];
  tw_status status = TW_OK;
  const double amplitude = tw_design_number_or(design, TW_F_environment_vibration, 0);
  if (amplitude > 0) {
    status = tw_shake_sine(shake, amplitude,
                           tw_design_number(design, TW_F_environment_vibration_frequency), shaken,
                           fault);
    if (status == TW_OK) {
      json_object_set_new(document, "vibration", axes_of(shaken));
    }
  }
  const double knock = tw_design_number_or(design, TW_F_environment_shock, 0);
  if (knock > 0 && status == TW_OK) {
    const double a[3] = {knock, knock, knock}, at_once[3] = {0};
    status = tw_shake_move(shake, a, at_once, shaken, fault);
    if (status == TW_OK) {
      json_object_set_new(document, "shock", axes_of(shaken));
    }
  }
  const tw_table *table = tw_design_table(design, TW_F_environment_spectrum);
  if (table && status == TW_OK) {
    double frequency[LINES], density[LINES];
    size_t n = 0;
    for (; n < table->rows && n < LINES; n++) {
      frequency[n] = table->cells[n * table->columns].number;
      density[n] = table->cells[n * table->columns + 1].number;
    }
    status = tw_shake_spectrum(shake, frequency, density, n, 4, shaken, fault);
    if (status == TW_OK) {
      json_object_set_new(document, "spectrum", axes_of(shaken));
    }
  }
  return status;
}

/* opening contacts: what the file states, each as an acceleration that lasts */
static tw_status put_contacts_shaken(const tw_design *design, const tw_probe *probe,
                                     tw_seat_work *work, json_t *document, tw_fault *fault)
{
  static const struct {
    tw_field field;
    const char *key;
  } stated[] = {{TW_F_environment_vibration, "vibration"}, {TW_F_environment_shock, "shock"}};
  tw_status status = TW_OK;
  for (size_t i = 0; i < sizeof stated / sizeof stated[0] && status == TW_OK; i++) {
    const double a = tw_design_number_or(design, stated[i].field, 0);
    const double along[3] = {a, a, a};
    tw_shaken shaken[3];
    if (a > 0) {
      status = tw_probe_shake_contacts(probe, work, along, shaken, fault);
    }
    if (a > 0 && status == TW_OK) {
      json_object_set_new(document, stated[i].key, axes_of(shaken));
    }
  }
  if (tw_design_table(design, TW_F_environment_spectrum)) {
    json_object_set_new(document, "spectrum_why",
                        json_string("a spectrum is not evaluated for opening contacts; state its "
                                    "largest amplitude as environment.vibration"));
  }
  return status;
}

static json_t *trace_of(const tw_shake_trace *t)
{
  json_t *o = json_object(), *axes = json_object();
  put(o, "duration", t->duration, "s");
  put(o, "interval", t->interval, "s");
  json_object_set_new(o, "rows", json_integer(t->rows));
  json_object_set_new(o, "coarse", json_boolean(t->coarse));
  for (int i = 0; i < 3; i++) {
    if (t->has[i]) {
      json_t *a = shaken_of(&t->axis[i]);
      put(a, "at", t->at[i], "s");
      put(a, "rms", t->rms[i], "m/s2");
      put(a, "most", t->most[i], "m/s2");
      json_object_set_new(axes, axis_name[i], a);
    }
  }
  json_object_set_new(o, "axes", axes);
  return o;
}

/* mains through a stray capacitance, and a moving cable that carries the node */
static void put_electrical(const tw_design *design, const tw_probe *probe, json_t *document)
{
  const double frequency = tw_design_number(design, TW_F_machine_mains_frequency);
  const double rms =
      tw_mains_voltage(tw_design_number(design, TW_F_machine_mains_voltage), frequency,
                       tw_design_number(design, TW_F_circuit_mains_coupling),
                       probe->circuit.resistance, probe->circuit.capacitance);
  const double threshold = probe->circuit.threshold_voltage, peak = rms * sqrt(2.0);
  json_t *mains = json_object();
  put(mains, "node", peak, "V");
  put_margin(mains, peak > 0 ? threshold / peak : TW_SHAKE_MARGIN_MOST);
  json_object_set_new(document, "mains", mains);
  tw_link_spec spec;
  tw_link link;
  if (tw_link_from_design(design, &spec, NULL) == TW_OK &&
      tw_link_of(&spec, &probe->board, 0, &link, NULL) == TW_OK && link.motion_voltage > 0) {
    json_t *cable = json_object();
    put(cable, "node", link.motion_voltage, "V");
    put_margin(cable, threshold / link.motion_voltage);
    json_object_set_new(document, "cable_motion", cable);
  }
}

static tw_status fill(const tw_design *design, const tw_probe *probe, tw_seat_work *work,
                      FILE *trace, const char *trace_name, const tw_progress *progress,
                      json_t *document, tw_fault *fault)
{
  tw_shaken moves[3];
  tw_shake shake;
  tw_status status = tw_probe_shake_move(design, probe, work, NULL, moves, fault);
  if (status != TW_OK) {
    return status;
  }
  json_object_set_new(document, "moves", axes_of(moves));
  if (probe->board.kind == TW_BOARD_CONTACT) {
    return trace ? tw_fail(fault, TW_BAD_INPUT, "circuit.kind",
                           "a trace shows a piezo probe's node; use the margins of the moves",
                           "a recorded trace is not evaluated for opening contacts")
                 : put_contacts_shaken(design, probe, work, document, fault);
  }
  status = tw_probe_shake_of(design, probe, work, NULL, &shake, fault);
  status = status == TW_OK ? put_vibration(design, &shake, document, fault) : status;
  if (status == TW_OK && trace) {
    tw_shake_trace recorded;
    status = tw_shake_recording(&shake, trace, trace_name, progress, &recorded, fault);
    if (status == TW_OK) {
      json_object_set_new(document, "trace", trace_of(&recorded));
    }
  }
  put_electrical(design, probe, document);
  put(document, "threshold_voltage", shake.threshold, "V");
  return status;
}

tw_status tw_document_shake(const tw_design *design, FILE *trace, const char *trace_name,
                            const tw_progress *progress, json_t **out, tw_fault *fault)
{
  *out = NULL;
  tw_probe *probe = NULL;
  tw_status status = tw_probe_new(design, &probe, fault);
  if (status == TW_OK && !probe->seat) {
    *fault = probe->trouble;
    status = fault->status;
  }
  tw_seat_work *work = status == TW_OK ? tw_seat_work_new(probe->seat) : NULL;
  json_t *document = tw_document_new("shake");
  if (status == TW_OK && !(work && document)) {
    status = tw_fail(fault, TW_NO_MEMORY, NULL, NULL, "no memory");
  }
  if (status == TW_OK) {
    json_object_set_new(document, "design", tw_json_design(design));
    tw_json_put_state(document, probe->state, &probe->trouble);
    status = probe->state == TW_MEASURE_OK
                 ? fill(design, probe, work, trace, trace_name, progress, document, fault)
                 : TW_OK;
  }
  tw_seat_work_free(work);
  tw_probe_free(probe);
  if (status != TW_OK) {
    json_decref(document);
    return status;
  }
  *out = document;
  return TW_OK;
}
