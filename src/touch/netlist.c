/* netlist.c: the same touch for an outside circuit simulator, so that anyone can run it again.
 *
 * Positions in um and velocities in mm/s stand on integrators of 1 F, which keeps all nodes within
 * a few decades of one volt; the electrical part is drawn with its real parts, amplifiers as
 * slew-limited integrators of 1 nF. It covers first contact to the controller's sample at constant
 * feed (docs/models/touch.md 8).
 */
#include "engine.h"
#include "tripwright/circuit_in_time.h"
#include "tripwright/constants.h"
#include <math.h>

/* S: holds an amplifier's output at its limit; 0.3 mA of slewing overshoots by 30 uV */
#define CLAMP_SIEMENS 10.0

typedef struct writer {
  FILE *out;
  tw_touch_work *w;
} writer;

static void contact_lines(const writer *p)
{
  const tw_touch_model *m = &p->w->m;
  const char *surface = m->support.stiffness > 0.0 ? "v(x)-v(xw)" : "v(x)";
  const char *rate = m->support.stiffness > 0.0 ? "v(vf)-v(vw)" : "v(vf)";
  fprintf(p->out, "* travel um, feed mm/s\nBx x 0 V=%.17g*time\nVf vf 0 %.17g\n",
          p->w->go.feed * 1e6, p->w->go.feed * 1e3);
  if (m->contact.kind == TW_CONTACT_RIGID) {
    fprintf(p->out, "* rigid tip: the stem's force acts while it presses, N\n");
    fprintf(p->out, "Bg g 0 V=max(0,%.17g*(%s-v(p2))+%.17g*(%s-v(q2)))\nBf f 0 V=v(g)\n",
            m->tip.stiffness * 1e-6, surface, m->tip.damping * 1e-3, rate);
    return;
  }
  fprintf(p->out, "* contact, N: approach um, rate mm/s\n");
  fprintf(p->out, "Bd d 0 V=max(0,%s-v(p1))\n", surface);
  const bool hertz = m->contact.kind == TW_CONTACT_HERTZ;
  fprintf(p->out, "Bf f 0 V=%.17g*v(d)%s*max(0,1+%.17g*(%s-v(q1)))\n",
          m->contact.stiffness * (hertz ? 1e-9 : 1e-6), hertz ? "*sqrt(max(0,v(d)))" : "",
          p->w->damping_d * 1e-3, rate);
  fprintf(p->out, "* stem, N\nBg g 0 V=%.17g*(v(p1)-v(p2))+%.17g*(v(q1)-v(q2))\n",
          m->tip.stiffness * 1e-6, m->tip.damping * 1e-3);
  fprintf(p->out, "Bp1 0 p1 I=1000*v(q1)\nCp1 p1 0 1 ic=0\n");
  fprintf(p->out, "Bq1 0 q1 I=%.17g*(v(f)-v(g))\nCq1 q1 0 1 ic=0\n", 1e3 / m->tip.mass);
}

/* cubic pieces as a tree of choices, so that no expression nests deeper than its logarithm */
static void pieces(const writer *p, size_t from, size_t to, bool charge)
{
  if (to - from > 1) {
    const size_t middle = from + (to - from) / 2;
    fprintf(p->out, "\n+ (v(p2)<%.17g ? ", p->w->piece[middle].x * 1e6);
    pieces(p, from, middle, charge);
    fprintf(p->out, " : ");
    pieces(p, middle, to, charge);
    fprintf(p->out, ")");
    return;
  }
  const cubic_piece *c = &p->w->piece[from];
  const double x = c->x * 1e6;
  if (from == 0 && !charge) { /* straight on below zero */
    fprintf(p->out, "(v(p2)<0 ? %.17g*v(p2) : ", c->f[1] * 1e-6);
  } else if (from == 0) {
    fprintf(p->out, "(v(p2)<0 ? %.17g : ", c->q[1] * 1e-3);
  }
  if (charge) { /* slope in C/m times mm/s gives A */
    fprintf(p->out, "(%.17g+(v(p2)-%.17g)*(%.17g+(v(p2)-%.17g)*%.17g))", c->q[1] * 1e-3, x,
            2.0 * c->q[2] * 1e-9, x, 3.0 * c->q[3] * 1e-15);
  } else {
    fprintf(p->out, "(%.17g+(v(p2)-%.17g)*(%.17g+(v(p2)-%.17g)*(%.17g+(v(p2)-%.17g)*%.17g)))",
            c->f[0], x, c->f[1] * 1e-6, x, c->f[2] * 1e-12, x, c->f[3] * 1e-18);
  }
  if (from == 0) {
    fprintf(p->out, ")");
  }
}

static void carrier_lines(const writer *p)
{
  const tw_touch_model *m = &p->w->m;
  const tw_touch_carrier *c = &m->carrier;
  fprintf(p->out, "* carrier on its seat, N; charge slope times rate, uA\n");
  if (c->law == TW_CARRIER_TABLE) {
    fprintf(p->out, "Br r 0 V=");
    pieces(p, 0, p->w->pieces, false);
    fprintf(p->out, "\nBi i 0 V=1e6*v(q2)*");
    pieces(p, 0, p->w->pieces, true);
    fprintf(p->out, "\n");
  } else {
    const double k = c->stiffness * 1e-6;
    if (c->law == TW_CARRIER_SOFTENING) {
      const double x0 = c->knee * 1e6;
      const double l = c->levelling * 1e6;
      fprintf(p->out,
              "Br r 0 V=v(p2)<%.17g ? %.17g*v(p2) : "
              "%.17g*(%.17g+%.17g*(1-exp(-max(0,v(p2)-%.17g)/%.17g)))\n",
              x0, k, k, x0, l, x0, l);
    } else {
      fprintf(p->out, "Br r 0 V=%.17g*v(p2)\n", k);
    }
    fprintf(p->out, "Bi i 0 V=%.17g*v(q2)\n", c->charge_per_metre * 1e3);
  }
  fprintf(p->out, "Bp2 0 p2 I=1000*v(q2)\nCp2 p2 0 1 ic=0\n");
  fprintf(p->out, "Bq2 0 q2 I=%.17g*(v(g)-v(r)-%.17g*v(q2))\nCq2 q2 0 1 ic=0\n", 1e3 / c->mass,
          c->damping * 1e-3);
  if (m->support.stiffness > 0.0) {
    fprintf(p->out, "* work and table\nBxw 0 xw I=1000*v(vw)\nCxw xw 0 1 ic=0\n");
    fprintf(p->out, "Bvw 0 vw I=%.17g*(v(f)-%.17g*v(xw)-%.17g*v(vw))\nCvw vw 0 1 ic=0\n",
            1e3 / m->support.mass, m->support.stiffness * 1e-6, m->support.damping * 1e-3);
  }
}

static void clamp_lines(const writer *p)
{
  const tw_touch_node *n = &p->w->m.node;
  const double rs = n->series_resistance;
  const double r = rs + n->clamp_resistance;
  fprintf(p->out, "* input pin behind the series resistor, and what its clamps draw\n");
  if (!n->clamped) {
    fprintf(p->out, "Bpin pin 0 V=v(n)+%.17g\n", n->bias_current * rs);
    return;
  }
  fprintf(p->out, "Bopen open 0 V=v(n)+%.17g\n", n->bias_current * rs);
  fprintf(p->out, "Bclamp n 0 I=(max(0,v(open)-%.17g)-max(0,%.17g-v(open)))/%.17g\n", n->clamp_high,
          n->clamp_low, r);
  fprintf(p->out, "Bpin pin 0 V=v(open)-(max(0,v(open)-%.17g)-max(0,%.17g-v(open)))*%.17g\n",
          n->clamp_high, n->clamp_low, rs / r);
}

static void node_lines(const writer *p)
{
  const tw_touch_model *m = &p->w->m;
  const tw_touch_node *n = &m->node;
  const double rest = p->w->levels.rest_node;
  if (n->sense == TW_SENSE_OPENING) {
    fprintf(p->out, "* opening contact: %.17g um\n", n->open_at * 1e6);
    fprintf(p->out, "Bn 0 n I=v(p2)>%.17g ? (%.17g-v(n))/%.17g+%.17g : (%.17g-v(n))/10\n",
            n->open_at * 1e6, n->open_voltage, n->resistance, n->bias_current, n->closed_voltage);
    fprintf(p->out, "Cn n 0 %.17g ic=%.17g\n", n->capacitance, rest);
    clamp_lines(p);
    return;
  }
  fprintf(p->out, "* node\nBq %s I=1e-6*v(i)\nIb 0 n %.17g\nCn n 0 %.17g ic=%.17g\n",
          m->stage.kind == TW_STAGE_CHARGE ? "n 0" : "0 n", n->bias_current, n->capacitance, rest);
  if (m->stage.kind == TW_STAGE_CHARGE) {
    fprintf(p->out, "Cf n ao %.17g ic=%.17g\nRf n ao %.17g\nEao ao 0 a 0 1\n",
            m->stage.feedback_capacitance, rest - p->w->levels.rest, m->stage.feedback_resistance);
  } else {
    fprintf(p->out, "Vb vb 0 %.17g\nRn n vb %.17g\n", n->bias_voltage, n->resistance);
  }
  clamp_lines(p);
}

/* rate limited to the slew, and to the output's limits by a steep clamp */
static void integrator(const writer *p, const char *name, const char *rate, double slew,
                       bool limited, double low, double high, double start)
{
  fprintf(p->out, "B%s 0 %s I=", name, name);
  if (slew > 0.0) {
    fprintf(p->out, "1e-9*max(-%.17g,min(%.17g,%s))", slew, slew, rate);
  } else {
    fprintf(p->out, "1e-9*(%s)", rate);
  }
  if (limited) {
    fprintf(p->out, "+%.17g*(max(0,%.17g-v(%s))-max(0,v(%s)-%.17g))", CLAMP_SIEMENS, low, name,
            name, high);
  }
  fprintf(p->out, "\nC%s %s 0 1e-9 ic=%.17g\n", name, name, start);
}

static void stage_lines(const writer *p)
{
  const tw_touch_stage *s = &p->w->m.stage;
  const tw_touch_node *n = &p->w->m.node;
  /* one without a bandwidth follows at once: a gigahertz stands for that */
  const double wu = TW_TWO_PI * (s->bandwidth > 0.0 ? s->bandwidth : 1e9);
  char rate[200];
  if (s->kind == TW_STAGE_NONE) {
    fprintf(p->out, "* no stage between node and comparator\nBsig sig 0 V=v(pin)\n");
    return;
  }
  if (s->kind == TW_STAGE_GAIN) {
    snprintf(rate, sizeof rate, "%.17g*(%.17g+%.17g*(v(pin)+%.17g)-v(a))", wu / s->gain,
             n->bias_voltage, s->gain, s->offset - n->bias_voltage);
  } else {
    snprintf(rate, sizeof rate, "%.17g*(%.17g-v(n))", wu, n->bias_voltage + s->offset);
  }
  fprintf(p->out, "* first stage\n");
  integrator(p, "a", rate, s->slew, s->high > s->low, s->low, s->high, p->w->levels.rest);
  fprintf(p->out, "Bsig sig 0 V=v(a)\n");
}

static void comparator_lines(const writer *p)
{
  const tw_touch_comparator *c = &p->w->m.comparator;
  const double start = c->rest_high ? c->high : c->low;
  fprintf(p->out, "* comparator\nBe e 0 V=%.17g+%.17g*v(sig)+%.17g*v(o)\n", c->reference,
          c->input_weight, c->output_weight);
  if (c->kind == TW_COMPARATOR_REGENERATIVE) {
    char rate[80];
    snprintf(rate, sizeof rate, "%.17g*v(e)", p->w->wo);
    integrator(p, "o", rate, c->slew, true, c->low, c->high, start);
    return;
  }
  const bool smooth = c->kind == TW_COMPARATOR_SMOOTH;
  const double steep = smooth ? c->steepness : 1e5;
  const double time = smooth ? c->time_constant : 1e-8;
  if (!smooth) {
    fprintf(p->out, "* switches at once; its delay of %.17g s is not in the net\n", c->delay);
  }
  fprintf(p->out, "Bo o0 0 V=%.17g+%.17g*(1+tanh(%.17g*v(e)))\nRo o0 o 1k\nCo o 0 %.17g ic=%.17g\n",
          c->low, 0.5 * (c->high - c->low), steep, time / 1e3, start);
}

/* the electrical part: parts of the board, or the model's equivalents; returns the trip level */
static double board_lines(const writer *p, const tw_circuit_spec *board, const tw_circuit *solved)
{
  if (board) {
    return tw_circuit_netlist(board, solved, p->w->m.comparator.rest_high, p->out);
  }
  node_lines(p);
  stage_lines(p);
  comparator_lines(p);
  return p->w->levels.trip;
}

tw_status tw_touch_netlist(const tw_touch_model *model, const tw_touch_motion *motion, double end,
                           double step, FILE *out, tw_fault *fault)
{
  return tw_touch_netlist_of(model, motion, NULL, NULL, end, step, out, fault);
}

tw_status tw_touch_netlist_of(const tw_touch_model *model, const tw_touch_motion *motion,
                              const tw_circuit_spec *board, const tw_circuit *solved, double end,
                              double step, FILE *out, tw_fault *fault)
{
  if (!(end > 0.0) || !(step > 0.0) || !(step <= end) || !isfinite(end)) {
    return tw_fail(fault, TW_BAD_INPUT, "", "give 0 < step <= end",
                   "the simulation's end and step are not usable");
  }
  tw_touch_work *w = tw_touch_work_new();
  if (!w) {
    return tw_fail(fault, TW_NO_MEMORY, "", "", "no memory for a touch");
  }
  tw_status status = tw_touch_check_motion(motion, fault);
  if (status == TW_OK) {
    status = tw_touch_prepare(w, model, motion, fault);
  }
  if (status == TW_OK) {
    const writer p = {out, w};
    fprintf(out, "one touch at %.6g mm/s, first contact at t = 0\n", motion->feed * 1e3);
    contact_lines(&p);
    carrier_lines(&p);
    const double trip = board_lines(&p, board, solved);
    /* a charge amplifier's loop is quicker than the steps: the trapezoidal rule would ring on it */
    fprintf(out,
            ".options reltol=1e-6 abstol=1e-13 vntol=1e-10 chgtol=1e-18 trtol=1 method=%s\n"
            ".options noacct\n",
            model->stage.kind == TW_STAGE_CHARGE ? "gear" : "trap");
    fprintf(out, ".save v(sig) v(o)\n.tran %.9g %.9g 0 %.9g uic\n", step, end, step);
    fprintf(out, ".meas tran t_threshold when v(sig)=%.17g cross=1\n", trip);
    fprintf(out, ".meas tran t_output when v(o)=%.17g cross=1\n.end\n", model->output.logic_level);
    if (fflush(out) != 0 || ferror(out)) {
      status = tw_fail(fault, TW_NO_FILE, "", "is the disk full?", "the netlist was not written");
    }
  }
  tw_touch_work_free(w);
  return status;
}
