/* expect_words.c: test points, instruments, and what a wrong value means, in plain words. */
#include "expect.h"

typedef struct words {
  const char *name, *unit, *point, *instrument, *if_low, *if_high;
} words;

static const words table[TW_BENCH_COUNT] = {
    [TW_BENCH_SUPPLY_CURRENT] =
        {"supply_current", "A", "supply lead, tip free", "ammeter in the lead",
         "a part or a divider is not connected (circuit.amplifier, circuit.reference_upper)",
         "a short, a part the wrong way round, or an output that works against another "
         "(output.pull_up)"},
    [TW_BENCH_SUPPLY_TRIPPED] =
        {"supply_tripped", "A", "supply lead, tip held deflected", "ammeter in the lead",
         "the indicator does not light (output.indicator_current), or it did not trip",
         "indicator resistor too small, or the output shorted"},
    [TW_BENCH_REFERENCE] =
        {"reference", "V", "tap of the reference divider, tip free", "voltmeter to 0 V",
         "lower resistor too small, upper too large, or the output rests low instead of high",
         "upper resistor too small, lower open, or the output rests on the other side"},
    [TW_BENCH_BIAS] = {"bias", "V", "source of the bias, before the bias resistor",
                       "voltmeter to 0 V",
                       "divider's lower resistor too small, or something draws from it",
                       "divider's lower resistor open or too large"},
    [TW_BENCH_REST_NODE] =
        {"rest_node", "V", "node: disc's live wire at the board", "voltmeter to 0 V",
         "leak from the node to 0 V (flux, moisture, cable), a clamp the wrong way round, or a "
         "smaller bias current than the sheet's typical one",
         "larger bias current, a leak to the supply, or a larger bias resistor than meant "
         "(circuit.bias_resistance)"},
    [TW_BENCH_REST_COMPARATOR] =
        {"rest_comparator", "V", "comparator's signal input, tip free", "voltmeter to 0 V",
         "offset or bias current of the first stage, wrong gain resistor, leak at the node",
         "bias current times the bias resistor, or the first stage stands at its limit "
         "(circuit.gain)"},
    [TW_BENCH_THRESHOLD] =
        {"threshold", "V", "comparator's signal input", "adjustable voltage and voltmeter",
         "reference too low, or the output's high level lower than taken (circuit.amplifier)",
         "reference too high, or feedback resistor too small (circuit.feedback_resistance)"},
    [TW_BENCH_RELEASE] = {"release", "V", "comparator's signal input",
                          "adjustable voltage and voltmeter",
                          "feedback resistor too small, or the output's low level too low",
                          "feedback resistor too large or missing: little hysteresis"},
    [TW_BENCH_OUTPUT_REST] =
        {"output_rest", "V", "output pin, tip free", "voltmeter to 0 V",
         "it is tripped at rest (look at rest level and reference), or the pull-up is missing",
         "it is tripped at rest, the common return is open, or too much current flows in"},
    [TW_BENCH_OUTPUT_TRIPPED] = {"output_tripped", "V", "output pin, tip just deflected",
                                 "scope, or voltmeter if it holds",
                                 "no trip, or the output cannot drive its load",
                                 "no trip, or the load pulls it up"},
    [TW_BENCH_WIRE_BREAK] = {"wire_break", "", "controller's input, signal wire unplugged",
                             "controller's display",
                             "the controller's pull is not what machine.input_pull_up says",
                             "the controller's pull is not what machine.input_pull_up says"},
    [TW_BENCH_CHAIN_CLOSED] =
        {"chain_closed", "ohm", "the chain's two ends, board unplugged", "ohmmeter",
         "a short across the chain: it will never trip",
         "a dirty contact, too little preload, or a broken lead (preload.force)"},
    [TW_BENCH_CHAIN_TRIP] =
        {"chain_trip", "ohm", "in place of the chain", "resistance box, turned up slowly",
         "pull-up smaller than meant (circuit.contact_pull_up) or reference too low",
         "pull-up larger than meant, or leak in parallel"},
    [TW_BENCH_CHAIN_RELEASE] = {"chain_release", "ohm", "in place of the chain",
                                "resistance box, turned down slowly",
                                "hysteresis larger than meant", "hysteresis smaller than meant"},
    [TW_BENCH_CAPACITANCE_FREE] =
        {"capacitance_free", "F", "bare disc, not soldered, held by its wires",
         "capacitance meter, 1 kHz",
         "cracked ceramic, an electrode not reached, or another disc (disc.part)",
         "another disc, or moisture (disc.part)"},
    [TW_BENCH_RESONANCE_FREE] =
        {"resonance_free", "Hz", "bare disc on soft foam",
         "generator through 10 kohm, scope or sound card across the disc: first dip",
         "thinner or larger disc, or something sticks to it (disc.metal_thickness)",
         "thicker or smaller disc (disc.metal_thickness)"},
    [TW_BENCH_CAPACITANCE_MOUNTED] =
        {"capacitance_mounted", "F", "fitted disc, its live wire off the board",
         "capacitance meter, 1 kHz",
         "disc pressed flat on its support, or cracked while fitting (support.void_depth)",
         "the wire's own capacitance, or the disc hangs freer than modelled"},
    [TW_BENCH_RESONANCE_MOUNTED] =
        {"resonance_mounted", "Hz", "fitted disc without the carrier",
         "generator through 10 kohm, scope or sound card across the disc: first dip",
         "rim not held where it should be (support.ledge_radius)",
         "support further in than drawn, or the disc touches its backing (support.void_depth)"},
    [TW_BENCH_RESONANCE_LOADED] =
        {"resonance_loaded", "Hz", "assembled, board connected",
         "tap the tip lightly, scope "
         "on the node: ringing",
         "carrier heavier or disc softer than modelled",
         "the disc sits on its backing or the carrier does not press on it (preload.force)"},
    [TW_BENCH_PRELOAD] = {"preload", "N", "carrier against its seat",
                          "spring scale or kitchen scale: force at "
                          "which the carrier just lifts",
                          "print or spring gave way, or the stack is short (preload.interference)",
                          "stack too long: check the void under the disc (support.void_depth)"},
    [TW_BENCH_PUSH_SIGN] = {"push_sign", "", "where the comparator sees the signal", "scope",
                            "disc wired or glued the other way round (disc.poling)",
                            "disc wired or glued the other way round (disc.poling)"},
    [TW_BENCH_LIFT_PEAK] =
        {"lift_peak", "V", "where the comparator sees the signal", "scope, single shot",
         "disc pressed flat (support.void_depth), cracked ceramic, or lifted too slowly",
         "disc softer or ceramic better than taken (disc.ceramic), or lifted with a jerk"},
    [TW_BENCH_DECAY] = {"decay", "s", "the same signal, after its peak",
                        "scope: time to 37 % of the peak",
                        "leak at the node, or a smaller bias resistor or capacitance",
                        "larger bias resistor or capacitance than taken"},
    [TW_BENCH_HOLD] = {"hold", "s", "output pin", "scope on the output, weight left on",
                       "leak at the node, or less signal than taken",
                       "longer time constant or more signal; never ends: it does not re-arm"},
    [TW_BENCH_WEIGHT_SIDE] =
        {"weight_side", "kg", "tip, pulled sideways by a thread", "weights, let down by hand",
         "threshold or preload lower than taken",
         "threshold, preload or friction higher, or signal lost (see the peak)"},
    [TW_BENCH_WEIGHT_SIDE_LEAST] =
        {"weight_side_least", "kg", "tip, pulled sideways by a thread",
         "weights, let down by "
         "hand",
         "one contact carries less than its share: seat not square to the axis",
         "friction, or threshold higher than taken"},
    [TW_BENCH_WEIGHT_AXIAL] = {"weight_axial", "kg", "tip up, weight set on the ball",
                               "weights, set down by hand", "threshold lower than taken",
                               "signal lost on the way: see the peak and the void"},
};

static const char *const titles[TW_BENCH_COUNT] = {
#define X(id, title) title,
    TW_BENCH_CHECKS(X)
#undef X
};

/* minutes of bench time with set-up, and what such an instrument is usually off, as a share
 * (standard uncertainty): 0.5 % a meter, 1 % a capacitance meter or a counted frequency, 3 % a
 * scope's volts, 2 % its time axis read by eye, 3 % a spring scale, 4 % a row of weights (own
 * estimates, from the limits that such instruments state) */
static const struct {
  double minutes, usual_u;
} work[TW_BENCH_COUNT] = {
    [TW_BENCH_SUPPLY_CURRENT] = {2, 0.01},
    [TW_BENCH_SUPPLY_TRIPPED] = {3, 0.01},
    [TW_BENCH_REFERENCE] = {1, 0.005},
    [TW_BENCH_BIAS] = {1, 0.005},
    [TW_BENCH_REST_NODE] = {2, 0.005},
    [TW_BENCH_REST_COMPARATOR] = {1, 0.005},
    [TW_BENCH_THRESHOLD] = {6, 0.005},
    [TW_BENCH_RELEASE] = {3, 0.005},
    [TW_BENCH_OUTPUT_REST] = {1, 0.005},
    [TW_BENCH_OUTPUT_TRIPPED] = {2, 0.005},
    [TW_BENCH_WIRE_BREAK] = {2, 0.005},
    [TW_BENCH_CHAIN_CLOSED] = {3, 0.02},
    [TW_BENCH_CHAIN_TRIP] = {5, 0.01},
    [TW_BENCH_CHAIN_RELEASE] = {3, 0.01},
    [TW_BENCH_CAPACITANCE_FREE] = {3, 0.01},
    [TW_BENCH_RESONANCE_FREE] = {12, 0.01},
    [TW_BENCH_CAPACITANCE_MOUNTED] = {4, 0.01},
    [TW_BENCH_RESONANCE_MOUNTED] = {12, 0.01},
    [TW_BENCH_RESONANCE_LOADED] = {6, 0.02},
    [TW_BENCH_PRELOAD] = {8, 0.03},
    [TW_BENCH_PUSH_SIGN] = {2, 0.01},
    [TW_BENCH_LIFT_PEAK] = {5, 0.03},
    [TW_BENCH_DECAY] = {4, 0.02},
    [TW_BENCH_HOLD] = {4, 0.02},
    [TW_BENCH_WEIGHT_SIDE] = {15, 0.04},
    [TW_BENCH_WEIGHT_SIDE_LEAST] = {15, 0.04},
    [TW_BENCH_WEIGHT_AXIAL] = {8, 0.04},
};

void tw_bench_words(tw_bench_check *check, tw_circuit_kind kind)
{
  const words *w = &table[check->id];
  check->name = w->name;
  check->title = titles[check->id];
  check->unit = w->unit;
  check->point = w->point;
  check->instrument = w->instrument;
  check->if_low = w->if_low;
  check->if_high = w->if_high;
  check->minutes = work[check->id].minutes;
  check->usual_u = work[check->id].usual_u;
  if (check->id == TW_BENCH_REST_NODE && kind == TW_BOARD_CHARGE) {
    check->if_low =
        "the first stage has lost its virtual ground: output at its limit, or no supply";
    check->if_high = check->if_low;
  }
  if (check->id == TW_BENCH_REST_NODE && kind == TW_BOARD_CONTACT) {
    check->point = "node: live end of the chain at the board, tip free";
    check->if_low = "pull-up missing (circuit.contact_pull_up)";
    check->if_high = "a contact is open or dirty, or the preload is too small (preload.force)";
  }
}
