/* link.c: spring contacts, plug, cable or radio: what the way to the controller costs. */
#include "inside.h"

#include <math.h>

tw_link_spec tw_link_default(tw_link_kind kind)
{
  tw_link_spec link = {.kind = kind, .isolated = true, .share_ready = 1.0};
  switch (kind) {
  case TW_BY_SPRING_CONTACTS:
    link.contact_resistance = 0.05;
    link.makes_early = true;
    break;
  case TW_BY_PLUG:
    link.contact_resistance = 0.02;
    break;
  case TW_BY_CABLE:
    break;
  case TW_BY_RADIO:
    link.battery_usable = 1.0;
    break;
  }
  return link;
}

static tw_status check_link(const tw_link_spec *link, double circuit_current, tw_fault *fault)
{
  const struct {
    double value;
    const char *field, *what;
  } must[] = {
      {link->capacitance, "link.capacitance_per_metre", "the link's capacitance"},
      {link->contact_resistance, "link.contact_resistance", "the contact resistance"},
      {link->insulation, "link.isolated", "the insulation"},
      {link->source_resistance, "output.pull_up", "the line's source resistance"},
      {link->cable_charge, "link.motion_charge", "the cable's charge"},
      {link->series_resistance, "link.series_resistance", "the series resistor"},
      {link->supply_limit, "link.supply_limit", "the supply's limit"},
      {link->settle, "link.latency", "the settling time"},
      {link->processing, "link.latency", "the processing time"},
      {link->bits, "link.latency", "the number of bits"},
      {link->poll, "link.jitter", "the polling interval"},
      {link->jitter, "link.jitter", "the jitter"},
      {link->retries, "link.jitter", "the number of repeats"},
      {link->battery_charge, "link.battery_capacity", "the battery's capacity"},
      {link->ready_current, "link.current_ready", "the link's current while ready"},
      {link->sleep_current, "link.current_asleep", "the link's current while asleep"},
      {link->event_charge, "link.charge_per_touch", "the charge of a message"},
      {link->events_per_second, "link.touches_per_day", "the rate of messages"},
      {circuit_current, "circuit.kind", "the circuit's current"},
  };
  for (size_t i = 0; i < sizeof must / sizeof must[0]; i++) {
    if (!(must[i].value >= 0.0 && isfinite(must[i].value))) {
      return tw_fail(fault, TW_BAD_INPUT, must[i].field, "give zero or a value above it",
                     "%s is %g", must[i].what, must[i].value);
    }
  }
  if (link->bits > 0.0 && !(link->bit_rate > 0.0 && isfinite(link->bit_rate))) {
    return tw_fail(fault, TW_BAD_INPUT, "link.latency", "give the bit rate on the air",
                   "%g bits cannot be sent at %g bits a second", link->bits, link->bit_rate);
  }
  if (link->battery_charge > 0.0 && !(link->battery_usable > 0.0 && link->battery_usable <= 1.0)) {
    return tw_fail(fault, TW_BAD_INPUT, "link.battery_capacity",
                   "give a part between 0 and 1 of the capacity",
                   "%g of the battery cannot be used", link->battery_usable);
  }
  if (!(link->share_ready >= 0.0 && link->share_ready <= 1.0)) {
    return tw_fail(fault, TW_BAD_INPUT, "link.share_ready", "give a part between 0 and 1",
                   "the link cannot be ready for %g of the time", link->share_ready);
  }
  return TW_OK;
}

/* contacts in a supply loop: two for each joint and each of its two ways */
static double loop_resistance(const tw_link_spec *link)
{
  const bool joint = link->kind == TW_BY_SPRING_CONTACTS || link->kind == TW_BY_PLUG;
  return (joint ? 2.0 * link->contact_resistance : 0.0) + link->series_resistance;
}

static void fill_signal(const tw_link_spec *link, const tw_circuit_spec *s, const tw_circuit *c,
                        tw_link *out)
{
  const bool charge = s->kind == TW_BOARD_CHARGE;
  out->signal_kept = 1.0;
  out->volt_per_newton = s->charge_per_newton * c->charge_gain;
  if (!link->carries_node) {
    return;
  }
  const double total = c->capacitance + link->capacitance;
  if (!charge && c->capacitance > 0.0) {
    /* the line's capacitance shares the charge; a charge amplifier does not see it */
    out->signal_kept = c->capacitance / total;
    out->volt_per_newton *= out->signal_kept;
  }
  const double hold = charge ? s->charge_capacitance : total;
  out->motion_voltage = hold > 0.0 ? tw_cable_voltage(link->cable_charge, hold) : 0.0;
  if (link->insulation > 0.0 && s->kind != TW_BOARD_CONTACT) {
    const double resistance = charge ? s->charge_resistance : c->resistance;
    /* a leak from the supply's contact into the node, R_node of it in the way back */
    out->insulation_shift = s->supply * resistance / (resistance + link->insulation);
  }
}

static void fill_insertion(const tw_link_spec *link, double supply, tw_link *out)
{
  out->short_within = true;
  out->short_known = true;
  if (!link->makes_early && link->isolated) {
    return;
  }
  out->short_known = link->series_resistance > 0.0;
  out->short_current = out->short_known ? supply / link->series_resistance : 0.0;
  out->short_within =
      out->short_known && (link->supply_limit <= 0.0 || out->short_current <= link->supply_limit);
}

/* the line's own rise, R C ln(V/(V - V_t)), and the edge that a trip makes of it */
static void fill_line(const tw_link_spec *link, const tw_output_spec *o, const tw_circuit *c,
                      tw_link *out)
{
  const double high = fmax(c->output_rest, c->output_tripped);
  const double low = fmin(c->output_rest, c->output_tripped);
  const double rc = link->source_resistance * link->capacitance;
  if (high > o->controller_high) {
    out->line_delay = rc * log(high / (high - o->controller_high));
  }
  out->trip_delay = out->line_delay;
  if (!c->tripped_high && low < o->controller_low && high > o->controller_low) {
    /* an open collector drives the line down through the contacts alone */
    const double driven = link->pulls_down ? link->contact_resistance * link->capacitance : rc;
    out->trip_delay = driven * log((high - low) / (o->controller_low - low));
  }
}

static void fill_time(const tw_link_spec *link, tw_link *out)
{
  const double air = link->bits > 0.0 ? link->bits / link->bit_rate : 0.0;
  const double once = link->settle + air + link->processing;
  out->latency = once + 0.5 * link->poll + out->trip_delay;
  out->latency_jitter = link->poll + link->jitter + link->retries * once;
  out->latency_most = once * (1.0 + link->retries) + link->poll + link->jitter + out->trip_delay;
}

static tw_status fill_battery(const tw_link_spec *link, double circuit_current, tw_link *out,
                              tw_fault *fault)
{
  if (!(link->battery_charge > 0.0)) {
    return TW_OK;
  }
  const double share = link->share_ready;
  const double mean = share * (circuit_current + link->ready_current) +
                      (1.0 - share) * link->sleep_current +
                      link->event_charge * link->events_per_second;
  if (!(mean > 0.0)) {
    return tw_fail(fault, TW_BAD_INPUT, "link.current_ready", "give the currents from the sheets",
                   "a battery that nothing draws from lasts for ever: a current is missing");
  }
  out->battery_life = link->battery_usable * link->battery_charge / mean;
  return TW_OK;
}

tw_status tw_link_of(const tw_link_spec *link, const tw_circuit_spec *circuit,
                     double circuit_current, tw_link *out, tw_fault *fault)
{
  *out = (tw_link){0};
  tw_status status = check_link(link, circuit_current, fault);
  tw_circuit c;
  if (status == TW_OK) {
    status = tw_circuit_solve(circuit, &c, fault);
  }
  if (status != TW_OK) {
    return status;
  }
  fill_signal(link, circuit, &c, out);
  if (link->kind != TW_BY_RADIO) {
    out->drop = circuit_current * loop_resistance(link);
    out->leak_current = link->insulation > 0.0 ? circuit->supply / link->insulation : 0.0;
    fill_insertion(link, circuit->supply, out);
  } else {
    out->short_known = out->short_within = true;
  }
  if (link->kind != TW_BY_RADIO) {
    fill_line(link, &circuit->output, &c, out);
  }
  fill_time(link, out);
  status = fill_battery(link, circuit_current, out, fault);
  if (status != TW_OK) {
    *out = (tw_link){0};
  }
  return status;
}

tw_link_position tw_link_position_of(const tw_link *link, double feed, double calibrated)
{
  return (tw_link_position){.latency = (feed - calibrated) * link->latency,
                            .jitter = feed * link->latency_jitter};
}
