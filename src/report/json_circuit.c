/* json_circuit.c: the document of `circuit`: the board, and the signal's way from newton to volt.
 */
#include "tripwright/documents.h"
#include "tripwright/probe.h"

#include <math.h>
#include <string.h>

static void put(json_t *object, const char *name, double value, const char *unit)
{
  json_object_set_new(object, name, tw_json_quantity(value, unit));
}

static json_t *levels_of(const tw_circuit *c)
{
  static const char *const rearm[] = {"clean", "stuck", "tripped"};
  json_t *o = json_object();
  put(o, "rest_node", c->rest_node, "V");
  put(o, "rest", c->rest, "V");
  put(o, "trip", c->trip, "V");
  put(o, "release", c->release, "V");
  put(o, "threshold_voltage", c->threshold_voltage, "V");
  put(o, "hysteresis_voltage", c->hysteresis_voltage, "V");
  put(o, "rearm_voltage", c->rearm_voltage, "V");
  if (c->polarity == TW_SEES_BOTH) {
    put(o, "trip_falling", c->trip_falling, "V");
    put(o, "release_falling", c->release_falling, "V");
    put(o, "threshold_voltage_falling", c->threshold_voltage_falling, "V");
  }
  put(o, "threshold_charge", c->threshold_charge, "C");
  put(o, "gain", c->gain, "1");
  put(o, "resistance", c->resistance, "ohm");
  put(o, "capacitance", c->capacitance, "F");
  put(o, "time_constant", c->time_constant, "s");
  put(o, "corner", c->corner, "Hz");
  put(o, "output_rest", c->output_rest, "V");
  put(o, "output_tripped", c->output_tripped, "V");
  json_object_set_new(o, "rearm", json_string(rearm[c->rearm]));
  return o;
}

static json_t *contact_of(const tw_circuit *c)
{
  json_t *o = json_object();
  put(o, "trip_resistance", c->trip_resistance, "ohm");
  put(o, "release_resistance", c->release_resistance, "ohm");
  put(o, "contact_closed_current", c->contact_closed_current, "A");
  put(o, "output_rest", c->output_rest, "V");
  put(o, "output_tripped", c->output_tripped, "V");
  return o;
}

/* a part that has no answer leaves its reason instead */
static json_t *reason(const tw_fault *why)
{
  return json_pack("{s:s, s:s}", "why", why->text, "field", why->field);
}

static json_t *budget_of(const tw_circuit_spec *board)
{
  tw_circuit_budget b;
  tw_fault why = {0};
  if (tw_circuit_budget_of(board, &b, &why) != TW_OK) {
    return reason(&why);
  }
  json_t *o = json_object(), *causes = json_array();
  put(o, "threshold_voltage", b.nominal, "V");
  put(o, "worst_low", b.worst_low, "V");
  put(o, "worst_high", b.worst_high, "V");
  put(o, "root_sum_square", b.rss, "V");
  put(o, "drift_voltage", b.drift_voltage, "V");
  put(o, "rearm_low", b.rearm_low, "V");
  for (int i = 0; i < TW_CIRCUIT_CAUSE_COUNT; i++) {
    json_array_append_new(
        causes, json_pack("{s:s, s:o, s:o}", "cause", tw_circuit_cause_text((tw_circuit_cause)i),
                          "down", tw_json_number(b.down[i]), "up", tw_json_number(b.up[i])));
  }
  json_object_set_new(o, "causes", causes);
  json_object_set_new(o, "causes_unit", json_string("V"));
  return o;
}

static json_t *noise_of(const tw_circuit_spec *board)
{
  tw_circuit_noise n;
  tw_fault why = {0};
  if (tw_circuit_noise_seen(board, &n, &why) != TW_OK) {
    return reason(&why);
  }
  json_t *o = json_object();
  put(o, "thermal", n.thermal, "V");
  put(o, "shot", n.shot, "V");
  put(o, "amplifier_current", n.current, "V");
  put(o, "amplifier_voltage", n.voltage, "V");
  if (n.comparator > 0) {
    put(o, "comparator", n.comparator, "V");
  }
  put(o, "total", n.total, "V");
  if (!n.voltage_stated) {
    json_object_set_new(o, "part",
                        json_string("not stated by its sheet: the total is at least "
                                    "that"));
  }
  put(o, "band_low", n.low, "Hz");
  put(o, "band_high", n.high, "Hz");
  return o;
}

static json_t *knock_of(const tw_circuit_spec *board)
{
  tw_circuit_knock k;
  tw_fault why = {0};
  if (tw_circuit_overload(board, 5, &k, &why) != TW_OK) {
    return reason(&why);
  }
  json_t *o = json_object();
  put(o, "force", 5, "N");
  put(o, "volt_per_newton", k.volt_per_newton, "V/N");
  put(o, "open_voltage", k.open_voltage, "V");
  put(o, "held_voltage", k.held_voltage, "V");
  put(o, "limit_force", k.limit_force, "N");
  put(o, "recovery", k.recovery, "s");
  if (k.clamp_current_known) {
    put(o, "clamp_current", k.clamp_current, "A");
  }
  return o;
}

static json_t *output_of(const tw_circuit_spec *board, double *drawn)
{
  tw_output_levels l;
  tw_fault why = {0};
  if (tw_circuit_output(board, &l, &why) != TW_OK) {
    return reason(&why);
  }
  json_t *o = json_object();
  put(o, "low", l.low, "V");
  put(o, "high", l.high, "V");
  put(o, "low_margin", l.low_margin, "V");
  put(o, "high_margin", l.high_margin, "V");
  put(o, "supply_idle", l.supply_idle, "A");
  put(o, "supply_tripped", l.supply_tripped, "A");
  put(o, "threshold_shift", l.threshold_shift, "V");
  put(o, "hysteresis_left", l.hysteresis_left, "V");
  json_object_set_new(o, "broken_wire",
                      json_string(!l.break_known          ? "floats"
                                  : l.break_reads_tripped ? "reads tripped"
                                                          : "reads at rest"));
  *drawn = l.supply_idle;
  return o;
}

static json_t *link_of(const tw_design *design, const tw_circuit_spec *board, double drawn)
{
  tw_link_spec spec;
  tw_link link;
  tw_fault why = {0};
  if (tw_link_from_design(design, &spec, &why) != TW_OK ||
      tw_link_of(&spec, board, drawn, &link, &why) != TW_OK) {
    return reason(&why);
  }
  json_t *o = json_object();
  put(o, "signal_kept", link.signal_kept, "1");
  put(o, "supply_drop", link.drop, "V");
  put(o, "line_delay", link.line_delay, "s");
  put(o, "trip_delay", link.trip_delay, "s");
  put(o, "latency", link.latency, "s");
  put(o, "latency_jitter", link.latency_jitter, "s");
  put(o, "latency_most", link.latency_most, "s");
  if (link.short_known) {
    put(o, "insertion_short", link.short_current, "A");
  }
  if (link.battery_life > 0) {
    put(o, "battery_life", link.battery_life, "s");
  }
  return o;
}

/* what a stage leaves of the one before that has its unit; a loss counts where it happens: what the
 * backing takes is charge, what cable and input take is voltage */
static double share_left(const char *unit, double value, const char *before_unit, double before)
{
  return strcmp(unit, before_unit) == 0 && before > 0 ? value / before : 1;
}

/* each stage of the signal: what comes out for one newton at the tip along the axis */
static json_t *chain_of(const tw_probe *probe)
{
  json_t *rows = json_array();
  const tw_disc_measures *m = &probe->disc_measures;
  if (!probe->has_disc || probe->board.kind == TW_BOARD_CONTACT) {
    return rows;
  }
  const double charge = fabs(m->charge_per_newton.value),
               kept = probe->seat && probe->rest.charge_gain_free != 0
                          ? fabs(probe->rest.charge_gain / probe->rest.charge_gain_free)
                          : 1,
               volt = charge * kept * probe->circuit.charge_gain;
  const struct {
    const char *stage, *says, *unit;
    double value;
  } row[] = {
      {"tip", "one newton along the axis", "N", 1},
      {"disc", "charge of the bare disc in its support", "C", charge},
      {"seat at rest", "what the backing and the seat leave of it", "C", charge * kept},
      {"disc open", "voltage of that charge without anything connected", "V",
       fabs(m->voltage_per_newton_open.value) * kept},
      {"node", "voltage with cable and input (charge amplifier: at its output)", "V", volt},
      {"comparator", "at the comparator's input", "V", volt * probe->circuit.gain},
      {"threshold", "change that trips, at the comparator's input", "V",
       probe->circuit.threshold_voltage * probe->circuit.gain},
  };
  const size_t count = sizeof row / sizeof row[0], threshold = count - 1;
  for (size_t i = 0; i < count; i++) {
    const double left = i == 0 || i == threshold ? 1
                                                 : share_left(row[i].unit, row[i].value,
                                                              row[i - 1].unit, row[i - 1].value);
    json_array_append_new(rows,
                          json_pack("{s:s, s:s, s:o, s:s, s:o}", "stage", row[i].stage, "says",
                                    row[i].says, "value", tw_json_number(row[i].value), "unit",
                                    row[i].unit, "left", tw_json_number(left)));
  }
  return rows;
}

static json_t *flags_of(const tw_circuit_spec *board)
{
  bool flag[TW_FLAG_COUNT] = {false};
  tw_fault why = {0};
  json_t *rows = json_array();
  const double knock = board->kind == TW_BOARD_CONTACT ? 0 : 5;
  if (tw_circuit_warn(board, knock, flag, &why) == TW_OK) {
    for (int i = 0; i < TW_FLAG_COUNT; i++) {
      if (flag[i]) {
        json_array_append_new(rows, json_pack("{s:s, s:s}", "text",
                                              tw_circuit_flag_text((tw_circuit_flag)i), "field",
                                              tw_circuit_flag_field((tw_circuit_flag)i)));
      }
    }
  }
  return rows;
}

static void fill(const tw_design *design, const tw_probe *probe, json_t *document)
{
  const tw_circuit_spec *board = &probe->board;
  const bool contact = board->kind == TW_BOARD_CONTACT;
  double drawn = 0;
  json_object_set_new(document, "design", tw_json_design(design));
  json_object_set_new(
      document, "kind",
      json_string(tw_choice_word(TW_SET_CIRCUIT, tw_design_choice(design, TW_F_circuit_kind))));
  json_object_set_new(document, contact ? "contact" : "levels",
                      contact ? contact_of(&probe->circuit) : levels_of(&probe->circuit));
  if (!contact) {
    json_object_set_new(document, "budget", budget_of(board));
    json_object_set_new(document, "noise", noise_of(board));
    json_object_set_new(document, "knock", knock_of(board));
  }
  json_object_set_new(document, "output", output_of(board, &drawn));
  json_object_set_new(document, "link", link_of(design, board, drawn));
  json_object_set_new(document, "signal", chain_of(probe));
  json_object_set_new(document, "warnings", flags_of(board));
}

tw_status tw_document_circuit(const tw_design *design, json_t **out, tw_fault *fault)
{
  *out = NULL;
  tw_probe *probe = NULL;
  const tw_status status = tw_probe_new(design, &probe, fault);
  if (status != TW_OK) {
    return status;
  }
  json_t *document = tw_document_new("circuit");
  if (document) {
    fill(design, probe, document);
  }
  tw_probe_free(probe);
  *out = document;
  return document ? TW_OK : tw_fail(fault, TW_NO_MEMORY, NULL, NULL, "no memory");
}
