/* netlist.c: the board drawn with its real parts for an outside circuit simulator.
 *
 * Resistors, capacitors, sources; an amplifier is an integrator of 1 nF within its slew rate and
 * its output's limits. No level that the room computes decides anything here but the stiff bias of
 * a gain stage's leg: the others are only where the capacitors begin.
 */
#include "inside.h"
#include "tripwright/circuit_in_time.h"
#include "tripwright/constants.h"

#include <math.h>

/* S: holds an amplifier's output at its limit, a clamp or an open collector at its level */
#define HOLD_SIEMENS 10.0
/* ohm for a wire where the net needs a part */
#define WIRE 1e-3
/* Hz of an amplifier that is taken as immediate */
#define IMMEDIATE 1e9

/* s for a comparator without a stated response time */
#define AT_ONCE 1e-8

typedef struct net {
  const tw_circuit_spec *s;
  const tw_circuit *c;
  const tw_reference *r; /* the network of the comparator that is drawn */
  bool rest_high;
  FILE *out;
} net;

static void resistor(const net *n, const char *name, const char *from, const char *to, double ohm)
{
  fprintf(n->out, "R%s %s %s %.17g\n", name, from, to, ohm > WIRE ? ohm : WIRE);
}

static void supply_lines(const net *n)
{
  const tw_circuit_spec *s = n->s;
  const bool string = s->bias_kind == TW_BIAS_STRING;
  const bool falling = s->polarity == TW_SEES_FALLING;
  fprintf(n->out, "* supply, bias, reference\nVcc vcc 0 %.17g\n", s->supply);
  if (s->bias_kind == TW_BIAS_VOLTAGE) {
    fprintf(n->out, "Vb b 0 %.17g\n", s->bias_voltage);
  } else if (s->bias_kind == TW_BIAS_DIVIDER) {
    resistor(n, "bu", "vcc", "b", s->bias_top);
    resistor(n, "bl", "b", "0", s->bias_bottom);
  }
  if (string) {
    resistor(n, "m", "tap", "b", s->string_middle);
  }
  if (n->r->top > 0.0) {
    resistor(n, "ru", "vcc", string && falling ? "b" : "tap", n->r->top);
    resistor(n, "rl", string && !falling ? "b" : "tap", "0", n->r->bottom);
  } else {
    fprintf(n->out, "Vr vr 0 %.17g\n", n->r->voltage);
    resistor(n, "r", "vr", "tap", n->r->resistance);
  }
}

static void clamp_lines(const net *n)
{
  if (n->s->clamped && n->s->series_resistance > 0.0) {
    fprintf(n->out, "Bclamp pin 0 I=%g*(max(0,v(pin)-%.17g)-max(0,%.17g-v(pin)))\n", HOLD_SIEMENS,
            n->s->clamp_high, n->s->clamp_low);
  }
}

static void node_lines(const net *n)
{
  const tw_circuit_spec *s = n->s;
  const bool charge = s->kind == TW_BOARD_CHARGE;
  fprintf(n->out, "* node\nBq %s I=1e-6*v(i)\nCn n 0 %.17g ic=%.17g\n", charge ? "n 0" : "0 n",
          n->c->capacitance, n->c->rest_node);
  if (!charge) {
    resistor(n, "b", "b", "n", s->bias_resistance);
  }
  if (s->leak_resistance > 0.0) {
    resistor(n, "leak", "n", "0", s->leak_resistance);
  }
  /* a charge amplifier holds its pin: what lies before it changes nothing */
  const double current = tw_board_front(s)->bias_current * tw_board_inputs(s);
  fprintf(n->out, "Ipin 0 %s %.17g\n", charge ? "n" : "pin", current);
  if (!charge) {
    resistor(n, "s", "n", "pin", s->series_resistance);
    clamp_lines(n);
  }
}

/* rate limited to the slew, and to the output's limits by a steep clamp */
static void integrator(const net *n, const char *name, const char *rate, double slew, double low,
                       double high, double start)
{
  fprintf(n->out, "B%s 0 %s I=1e-9*", name, name);
  if (slew > 0.0) {
    fprintf(n->out, "max(-%.17g,min(%.17g,%s))", slew, slew, rate);
  } else {
    fprintf(n->out, "(%s)", rate);
  }
  fprintf(n->out, "+%g*(max(0,%.17g-v(%s))-max(0,v(%s)-%.17g))\nC%s %s 0 1e-9 ic=%.17g\n",
          HOLD_SIEMENS, low, name, name, high, name, name, start);
}

static void stage_lines(const net *n)
{
  const tw_circuit_spec *s = n->s;
  const tw_amplifier *part = &s->front;
  const double wu = TW_TWO_PI * (part->gain_bandwidth > 0 ? part->gain_bandwidth : IMMEDIATE);
  const double lost = part->open_loop_gain > 0.0 ? 1.0 / part->open_loop_gain : 0.0;
  char rate[200];
  if (s->kind == TW_BOARD_COMPARATOR) {
    fprintf(n->out, "Bsig sig 0 V=v(n)\n");
    return;
  }
  fprintf(n->out, "* first stage\n");
  if (s->kind == TW_BOARD_CHARGE) {
    fprintf(n->out, "Ibp 0 b %.17g\nCf n sig %.17g ic=%.17g\n", part->bias_current,
            s->charge_capacitance, n->c->rest_node - n->c->rest);
    resistor(n, "f", "n", "sig", s->charge_resistance);
    snprintf(rate, sizeof rate, "%.17g*(v(b)+%.17g-v(n)-(v(a)-v(b))*%.17g)", wu, part->offset,
             lost);
  } else {
    /* the bias that the leg returns to is taken as stiff (docs/models/circuit.md 8) */
    fprintf(n->out, "Vleg leg 0 %.17g\n", s->gain_leg == TW_LEG_TO_BIAS ? n->c->bias_voltage : 0.0);
    if (s->gain_ground > 0.0) {
      resistor(n, "gu", "sig", "g", s->gain_feedback);
      resistor(n, "gl", "g", "leg", s->gain_ground);
      fprintf(n->out, "Ig 0 g %.17g\n", part->bias_current);
    } else {
      fprintf(n->out, "Bg g 0 V=v(leg)+(v(sig)-v(leg))/%.17g\n", s->gain);
    }
    snprintf(rate, sizeof rate, "%.17g*(v(pin)+%.17g-v(g)-(v(a)-v(leg))*%.17g)", wu, part->offset,
             lost);
  }
  integrator(n, "a", rate, n->c->front_slew, n->c->front_low, n->c->front_high, n->c->rest);
  fprintf(n->out, "Esig sig 0 a 0 1\n"); /* the loads on it do not belong to the integrator */
}

/* inputs p and m with their resistors and currents */
static void input_lines(const net *n)
{
  const tw_circuit_spec *s = n->s;
  const bool alone = s->kind == TW_BOARD_COMPARATOR;
  const double own = s->comparator.bias_current;
  const char *from = alone ? "pin" : "sig";
  fprintf(n->out, "* comparator\nItap 0 tap %.17g\n", own);
  if (n->r->topology == TW_INVERTING) {
    fprintf(n->out, "Bm m 0 V=v(%s)+%.17g\nEp p 0 tap 0 1\n", from, own * n->r->input);
    if (n->r->feedback > 0.0) {
      resistor(n, "h", "o", "tap", n->r->feedback);
    }
    return;
  }
  fprintf(n->out, "Em m 0 tap 0 1\n");
  resistor(n, "i", from, "p", n->r->input);
  if (!alone) { /* alone its current is the pin's */
    fprintf(n->out, "Ip 0 p %.17g\n", own);
  }
  if (n->r->feedback > 0.0) {
    resistor(n, "h", "o", "p", n->r->feedback);
  }
  if (n->r->ground > 0.0) {
    fprintf(n->out, "Vg vg 0 %.17g\n", n->r->ground_voltage);
    resistor(n, "g", "p", "vg", n->r->ground);
  }
}

/* + less - input, with offset and hysteresis of the part's own */
static void comparator_difference(const net *n)
{
  const tw_amplifier *part = &n->s->comparator;
  const double low = n->c->comparator_low, high = n->c->comparator_high;
  const double sign = n->r->topology == TW_INVERTING ? 1.0 : -1.0;
  fprintf(n->out, "Be e 0 V=v(p)-v(m)+%.17g+%.17g*((v(o)-%.17g)/%.17g-0.5)\n", sign * part->offset,
          part->own_hysteresis, low, high - low);
}

static void output_lines(const net *n)
{
  const tw_circuit_spec *s = n->s;
  const tw_amplifier *part = &s->comparator;
  const double low = n->c->comparator_low, high = n->c->comparator_high;
  if (s->gate_rise > 0.0) {
    fprintf(n->out, "Be e 0 V=v(vcc)*(%.17g+%.17g*(v(o)-%.17g)/%.17g)-v(m)\n", s->gate_fall,
            s->gate_rise - s->gate_fall, low, high - low);
  } else {
    comparator_difference(n);
  }
  if (n->c->comparator_bandwidth > 0.0 && !part->open_collector) {
    char rate[80];
    snprintf(rate, sizeof rate, "%.17g*v(e)", TW_TWO_PI * n->c->comparator_bandwidth);
    integrator(n, "c", rate, n->c->comparator_slew, low, high, n->rest_high ? high : low);
    fprintf(n->out, "Eo o 0 c 0 1\n");
    return;
  }
  fprintf(n->out,
          "* half way after its response time\n"
          "Bd d0 0 V=0.5*(1+tanh(1e5*v(e)))\nRd d0 d 1k\nCd d 0 %.17g ic=%d\n",
          fmax(n->c->response_time, AT_ONCE) / log(2.0) / 1e3, n->rest_high ? 1 : 0);
  if (part->open_collector) {
    fprintf(n->out, "Vpu vpu 0 %.17g\nBo o 0 I=1e4*(1-v(d))*(v(o)-%.17g)+v(d)*%.17g\n",
            tw_board_pull_up_voltage(s), low, part->output_leakage);
    resistor(n, "pu", "vpu", "o", s->output.pull_up);
  } else {
    fprintf(n->out, "Bo o 0 V=%.17g+%.17g*v(d)\n", low, high - low);
  }
}

double tw_circuit_netlist(const tw_circuit_spec *spec, const tw_circuit *solved, bool rest_high,
                          FILE *out)
{
  const bool both = spec->polarity == TW_SEES_BOTH;
  const double sense = rest_high == (spec->reference.topology == TW_INVERTING) ? 1.0 : -1.0;
  const bool second = both && sense < 0.0;
  const net n = {spec, solved, second ? &spec->reference_falling : &spec->reference, rest_high,
                 out};
  supply_lines(&n);
  node_lines(&n);
  stage_lines(&n);
  input_lines(&n);
  output_lines(&n);
  const double gain = solved->gain;
  const double trip = second ? solved->trip_falling : solved->trip;
  return solved->rest + (trip - solved->rest) * gain / (gain - solved->follow);
}
