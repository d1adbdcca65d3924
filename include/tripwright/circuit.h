/* circuit.h: the circuit that turns the disc's charge, or an opening contact, into a clean edge.
 *
 * Plain numbers in, plain numbers out: a tw_circuit_spec says what is on the board, and
 * tw_circuit_solve tells where the node rests, at which voltages the comparator switches, what
 * change of the node trips it and what charge that is; the other functions give the error budget,
 * noise, overload, output levels and the link to the controller. SI units throughout (V, A, ohm,
 * F, C, s, Hz, m, K). Nothing is allocated and nothing is kept: the caller owns every struct, texts
 * in a result point to constants. All functions may be called from several threads at once. A
 * result never holds NaN or an infinity; a wrong value returns TW_BAD_INPUT and names the design
 * field. The closed forms that need no board (RC, noise, jitter, preferred values, false trips) are
 * in circuit_forms.h. Equations: docs/models/circuit.md and links.md.
 */
#ifndef TRIPWRIGHT_CIRCUIT_H
#define TRIPWRIGHT_CIRCUIT_H

#include "tripwright/base.h"
#include "tripwright/circuit_forms.h"

struct tw_design; /* tripwright/design.h */

/* ---- parts --------------------------------------------------------------------------------- */

/* An amplifier or comparator as its data sheet gives it. Zero means "not stated" for the figures
 * marked (0: not stated); what depends on them is then left out. */
typedef struct tw_amplifier {
  const char *name;    /* for messages; may be NULL */
  bool open_collector; /* the output only pulls down; the high level comes from a pull-up */
  /* current that flows OUT of an input (PNP inputs: positive, it raises the node): nominal value
   * and the bounds over parts; a CMOS input has bounds of both signs */
  double bias_current, bias_least, bias_most;
  double offset, offset_limit; /* V: nominal (measured, else 0); largest magnitude over parts */
  double offset_drift;         /* V/K */
  /* distance of the output from the rails at the stated load: nominal and the far end */
  double low_drop, low_drop_limit;
  double high_drop, high_drop_limit;
  double gain_bandwidth;    /* Hz (0: not stated, or a true comparator) */
  double slew;              /* V/s (0: not stated) */
  double open_loop_gain;    /* V/V (0: not stated, taken as ideal) */
  double voltage_noise;     /* V/sqrt(Hz) (0: not stated) */
  double noise_corner;      /* Hz below which the voltage noise grows as 1/f (0: not stated) */
  double current_noise;     /* A/sqrt(Hz) (0: not stated) */
  double response_time;     /* s: of a comparator; overload recovery of an amplifier */
  double own_hysteresis;    /* V, built in, whole width */
  double input_capacitance; /* F */
  double output_leakage;    /* A into an open collector that is off */
  double output_current;    /* A it can sink with the stated low level (0: not stated) */
  double supply_current, supply_current_limit; /* A a channel */
  double supply_least, supply_most;            /* V: the range in which the sheet specifies it */
  bool common_known;                           /* the two below are stated */
  double common_low;       /* V above the negative rail (may be negative) at which it works */
  double common_high_drop; /* V below the positive rail up to which it works */
} tw_amplifier;

/* an ideal part without noise or bias at any supply: what tests and first guesses start from */
tw_amplifier tw_amplifier_ideal(void);

/* ---- thresholds ---------------------------------------------------------------------------- */

typedef enum tw_topology {
  TW_INVERTING,    /* signal on the - input, divider and feedback on the + input */
  TW_NON_INVERTING /* signal through `input` to the + input, reference on the - input */
} tw_topology;

/* The network around a comparator. Reference: a divider (top to the supply, bottom to 0) when
 * `top` > 0, else a stiff `voltage` behind `resistance`. */
typedef struct tw_reference {
  tw_topology topology;
  double top, bottom;
  double voltage, resistance;
  double feedback;               /* ohm, output to the + input; 0 = none */
  double input;                  /* ohm in the signal's lead */
  double ground, ground_voltage; /* non-inverting: from the + input to this voltage; 0 = none */
} tw_reference;

/* what the network meets: supply, source and the output's levels */
typedef struct tw_switching {
  double supply;
  double source;                   /* ohm of the signal's source */
  double high, low;                /* output levels, V */
  double pull_up, pull_up_voltage; /* open collector: high comes through this; 0 = push-pull */
  double bias_current;             /* out of each input */
  double extra_current;            /* into the tap of the reference, from elsewhere on the board */
  double offset;                   /* V, raises the threshold seen at the comparator */
  double own_hysteresis;           /* V, whole width */
} tw_switching;

typedef struct tw_thresholds {
  double rise, fall; /* of the signal, V; rise >= fall */
  double hysteresis;
  double tap_high, tap_low; /* V at the reference's tap with the output high and low */
  /* the difference between the inputs is base + share x output + weight x signal; the output goes
   * high where it is positive. [0]: with the output low, [1]: high (they differ for an open
   * collector and by the part's own hysteresis) */
  double base[2], share[2], weight[2];
} tw_thresholds;

/* Both thresholds with real output levels, loading included (circuit.md 2). No hysteresis is
 * allowed here (rise = fall); zero or negative resistances are not. */
tw_status tw_schmitt(const tw_reference *reference, const tw_switching *at, tw_thresholds *out,
                     tw_fault *fault);

/* ---- the board ----------------------------------------------------------------------------- */

typedef enum tw_circuit_kind {
  TW_BOARD_COMPARATOR, /* comparator directly on the bias node */
  TW_BOARD_GAIN,       /* non-inverting gain stage, then the comparator */
  TW_BOARD_CHARGE,     /* charge amplifier, then the comparator */
  TW_BOARD_CONTACT     /* opening contact under a pull-up, then the comparator */
} tw_circuit_kind;

typedef enum tw_bias_kind {
  TW_BIAS_VOLTAGE, /* a stiff voltage */
  TW_BIAS_SUPPLY,  /* the supply itself (pull-up of a contact) */
  TW_BIAS_DIVIDER, /* own divider from the supply */
  TW_BIAS_STRING   /* a second tap of the reference divider: both move together */
} tw_bias_kind;

/* the way the comparator's input moves at a touch that this circuit can see */
typedef enum tw_polarity { TW_SEES_RISING, TW_SEES_FALLING, TW_SEES_BOTH } tw_polarity;

typedef enum tw_gain_leg { TW_LEG_TO_BIAS, TW_LEG_TO_GROUND } tw_gain_leg;

/* How each value of the board may lie: name, member of tw_circuit_spec, design field, cause */
#define TW_CIRCUIT_VALUES(X)                                                                       \
  X(SUPPLY, supply, "circuit.supply", TW_CIRCUIT_CAUSE_SUPPLY)                                     \
  X(BIAS_VOLTAGE, bias_voltage, "circuit.bias_voltage", TW_CIRCUIT_CAUSE_REFERENCE)                \
  X(BIAS_TOP, bias_top, "circuit.bias_upper", TW_CIRCUIT_CAUSE_RESISTORS)                          \
  X(BIAS_BOTTOM, bias_bottom, "circuit.bias_lower", TW_CIRCUIT_CAUSE_RESISTORS)                    \
  X(BIAS_RESISTANCE, bias_resistance, "circuit.bias_resistance", TW_CIRCUIT_CAUSE_RESISTORS)       \
  X(STRING_MIDDLE, string_middle, "circuit.reference_middle", TW_CIRCUIT_CAUSE_RESISTORS)          \
  X(REFERENCE_TOP, reference.top, "circuit.reference_upper", TW_CIRCUIT_CAUSE_RESISTORS)           \
  X(REFERENCE_BOTTOM, reference.bottom, "circuit.reference_lower", TW_CIRCUIT_CAUSE_RESISTORS)     \
  X(REFERENCE_VOLTAGE, reference.voltage, "circuit.reference", TW_CIRCUIT_CAUSE_REFERENCE)         \
  X(FEEDBACK, reference.feedback, "circuit.feedback_resistance", TW_CIRCUIT_CAUSE_RESISTORS)       \
  X(INPUT, reference.input, "circuit.input_resistance", TW_CIRCUIT_CAUSE_RESISTORS)                \
  X(FALLING_TOP, reference_falling.top, "circuit.reference_upper", TW_CIRCUIT_CAUSE_RESISTORS)     \
  X(FALLING_BOTTOM, reference_falling.bottom, "circuit.reference_lower",                           \
    TW_CIRCUIT_CAUSE_RESISTORS)                                                                    \
  X(FALLING_VOLTAGE, reference_falling.voltage, "circuit.reference", TW_CIRCUIT_CAUSE_REFERENCE)   \
  X(FALLING_FEEDBACK, reference_falling.feedback, "circuit.feedback_resistance",                   \
    TW_CIRCUIT_CAUSE_RESISTORS)                                                                    \
  X(GAIN_FEEDBACK, gain_feedback, "circuit.gain_upper", TW_CIRCUIT_CAUSE_GAIN)                     \
  X(GAIN_GROUND, gain_ground, "circuit.gain_lower", TW_CIRCUIT_CAUSE_GAIN)                         \
  X(GAIN, gain, "circuit.gain", TW_CIRCUIT_CAUSE_GAIN)                                             \
  X(CHARGE_CAPACITANCE, charge_capacitance, "circuit.charge_capacitance",                          \
    TW_CIRCUIT_CAUSE_CAPACITANCE)                                                                  \
  X(CHARGE_RESISTANCE, charge_resistance, "circuit.charge_resistance", TW_CIRCUIT_CAUSE_RESISTORS) \
  X(DISC_CAPACITANCE, disc_capacitance, "disc.part", TW_CIRCUIT_CAUSE_CAPACITANCE)                 \
  X(CABLE_CAPACITANCE, cable_capacitance, "circuit.cable_capacitance",                             \
    TW_CIRCUIT_CAUSE_CAPACITANCE)                                                                  \
  X(GATE_RISE, gate_rise, "circuit.gate_rise", TW_CIRCUIT_CAUSE_GATE)                              \
  X(GATE_FALL, gate_fall, "circuit.gate_fall", TW_CIRCUIT_CAUSE_GATE)

typedef enum tw_circuit_value {
#define X(name, member, field, cause) TW_VALUE_##name,
  TW_CIRCUIT_VALUES(X)
#undef X
      TW_VALUE_COUNT
} tw_circuit_value;

/* lower and upper bound of a value as differences from it, both >= 0 */
typedef struct tw_value_bounds {
  double minus, plus;
} tw_value_bounds;

typedef struct tw_output_spec {
  double pull_up, pull_up_voltage;   /* on the board, for an open collector; 0 = none */
  double indicator_current;          /* A, lit while tripped */
  double minimum_pulse;              /* s, the one-shot's; 0 = none */
  bool invert;                       /* something after the comparator turns the level over */
  bool stage;                        /* a stage of its own drives the line, with these levels: */
  bool stage_open_collector;         /* it only pulls down, pull_up makes the high level */
  double stage_low, stage_high_drop; /* V above 0, V below the supply */
  double supply_source_resistance;   /* ohm between a stiff supply and the board's supply pin */
  double return_resistance;          /* ohm of the common return between board and controller */
  double line_resistance;            /* ohm of the signal's lead and its contacts */
  double line_capacitance;           /* F of the same */
  double controller_low;             /* V, at or under this it surely reads low */
  double controller_high;            /* V, at or over this it surely reads high */
  double controller_pull_up;         /* ohm, 0 = none */
  double controller_pull_up_voltage;
  double controller_pull_down; /* ohm, 0 = none */
  double controller_leakage;   /* A that the input draws */
} tw_output_spec;

typedef struct tw_circuit_spec {
  tw_circuit_kind kind;
  tw_polarity polarity;
  double supply; /* V above 0 */
  /* the node */
  double disc_capacitance; /* as mounted */
  double cable_capacitance;
  double stray_capacitance; /* board and whatever the amplifier's sheet does not state */
  double leak_resistance;   /* of disc, board and cable; 0 = none */
  tw_bias_kind bias_kind;
  double bias_voltage, bias_top, bias_bottom;
  double bias_resistance; /* from the bias source to the node (kind contact: the pull-up) */
  double string_middle;   /* TW_BIAS_STRING: between the reference's tap and the bias tap */
  /* protection at the node, seen behind series_resistance */
  double series_resistance; /* ohm; 0 = none */
  bool clamped;
  double clamp_low, clamp_high; /* V at which the clamps hold the input */
  double clamp_leakage;         /* A, largest magnitude, adds to the bias current's bounds */
  double clamp_current;         /* A they may carry; 0 = not stated */
  /* first stage */
  tw_amplifier front;                /* kinds gain and charge */
  double gain_feedback, gain_ground; /* gain = 1 + feedback/ground; both 0: `gain` as given */
  double gain;
  tw_gain_leg gain_leg;
  double charge_capacitance, charge_resistance;
  /* comparator */
  tw_amplifier comparator;
  tw_reference
      reference; /* for TW_SEES_RISING and TW_SEES_FALLING; the rising one of TW_SEES_BOTH */
  tw_reference reference_falling; /* TW_SEES_BOTH: the network of the second comparator */
  /* a Schmitt gate (an inverter) instead of comparator and network: shares of the supply at which a
   * rising and a falling input switch, and the least distance of the two; 0: no gate */
  double gate_rise, gate_fall, gate_band;
  /* opening contact */
  double contact_resistance; /* closed, the whole chain with its leads */
  double contact_threshold;  /* ohm of the chain that counts as open; > 0: no comparator, the
                              * controller's own input decides; 0: comparator and reference */
  tw_output_spec output;
  /* what the rest of the probe says */
  double charge_per_newton; /* C/N at the node, magnitude; 0 = not known */
  double charge_per_kelvin; /* C/K: pyroelectric, bending and preload drift together, magnitude */
  double temperature;       /* K */
  double temperature_rate;  /* K/s, magnitude, slow */
  double temperature_span;  /* K either side of `temperature` over which the budget holds */
  double resistor_drift;    /* 1/K, of one resistor against another */
  tw_value_bounds
      bounds[TW_VALUE_COUNT]; /* tolerances; tw_circuit_tolerances fills them by class */
} tw_circuit_spec;

/* kind comparator, 5 V, ideal parts, no tolerances, 295.15 K; values that have no honest default
 * are 0 and must be given */
tw_circuit_spec tw_circuit_spec_default(void);

/* set the bounds of every resistor, capacitor, the supply and stiff references, as fractions */
void tw_circuit_tolerances(tw_circuit_spec *spec, double resistors, double capacitors,
                           double supply, double references);

/* refuse what cannot be: zero resistance, a part outside its specified supply, a missing value */
tw_status tw_circuit_check(const tw_circuit_spec *spec, tw_fault *fault);

/* ---- the board solved at its nominal values ------------------------------------------------- */

typedef enum tw_rearm {
  TW_REARM_CLEAN,  /* at rest it is armed and falls back after every trip */
  TW_REARM_STUCK,  /* armed once, but after a trip it does not come back: rest inside the band */
  TW_REARM_TRIPPED /* tripped at rest */
} tw_rearm;

/* things a user should be told; the text names what happens, the field what to change */
#define TW_CIRCUIT_FLAGS(X)                                                                        \
  X(REARM, "circuit.reference_lower", "the rest level lies between the thresholds or beyond")      \
  X(LITTLE_HYSTERESIS, "circuit.feedback_resistance",                                              \
    "noise is as large as the hysteresis: the edge will chatter")                                  \
  X(COMMON_MODE, "circuit.amplifier", "an input works outside the part's common-mode range")       \
  X(FRONT_LIMIT, "circuit.gain", "the first stage runs into its limit before the threshold")       \
  X(SOURCE_LOADS, "circuit.reference", "the comparator's feedback kicks the sensor's own node")    \
  X(UNCLAMPED, "circuit.clamp", "nothing holds the input when the tip is knocked")                 \
  X(CLAMP_CURRENT, "circuit.series_resistance", "a knock drives too much current into the clamp")  \
  X(CLAMP_CLIPS, "circuit.clamp", "the clamp holds the node before the threshold is reached")      \
  X(OUT_OF_REACH, "circuit.reference", "the threshold lies beyond what the node can reach")        \
  X(SHIFT, "output.indicator_current",                                                             \
    "switching moves the reference by more than the hysteresis")                                   \
  X(BUDGET, "circuit.bias_resistance", "errors at the threshold can eat it up")                    \
  X(ONE_POLARITY, "circuit.polarity", "the circuit sees one sign of the signal only")

typedef enum tw_circuit_flag {
#define X(name, field, text) TW_FLAG_##name,
  TW_CIRCUIT_FLAGS(X)
#undef X
      TW_FLAG_COUNT
} tw_circuit_flag;
const char *tw_circuit_flag_text(tw_circuit_flag flag);
const char *tw_circuit_flag_field(tw_circuit_flag flag);

typedef struct tw_circuit {
  tw_circuit_kind kind;
  tw_polarity polarity;
  /* node */
  double resistance; /* all that leads the charge away; charge amplifier: its own resistor */
  /* shared string: ohm by which the reference's tap follows the current through the bias resistor;
   * `follow` is that over the bias resistor with its source: the part of a node's change by which
   * the threshold runs away from it. Both are 0 for other boards. */
  double follow_resistance, follow;
  double capacitance;   /* disc + cable + inputs */
  double time_constant; /* of the signal: R C, or R_f C_f */
  double corner;        /* 1/(2 pi tau) */
  double bias_voltage;  /* what the node returns to without current */
  double bias_current;  /* into the node, nominal: of every input that hangs on it */
  double rest_node;     /* leaks, bias source and the comparator's own network all counted */
  /* from the node to the comparator's input */
  double gain;           /* of a node change; charge amplifier: 1 (the change is its output's) */
  double rest;           /* at the comparator's input */
  double rest_tripped;   /* the same while the output is still tripped */
  tw_thresholds rising;  /* network that acts on a rising input (or the only one) */
  tw_thresholds falling; /* TW_SEES_BOTH: network that acts on a falling one */
  double trip, release;  /* V at the comparator's input, where it trips and comes back */
  double trip_falling, release_falling; /* TW_SEES_BOTH */
  double supply_sensitivity;            /* d(trip)/d(supply) with the rest level held */
  /* changes from rest, > 0 when they exist: at the node (charge amplifier: at its output) */
  double threshold_voltage;
  double threshold_voltage_falling; /* TW_SEES_BOTH, else 0 */
  double hysteresis_voltage;        /* between trip and release, same place */
  double rearm_voltage;             /* node change from rest at which it comes back; <= 0: never */
  double threshold_charge;          /* C V_T, or C_f V_T; 0 for a contact */
  double charge_gain;               /* V per coulomb where threshold_voltage is counted */
  tw_rearm rearm;
  bool can_trip; /* the threshold is within reach of node, clamp and first stage */
  bool flags[TW_FLAG_COUNT];
  /* output */
  double output_rest, output_tripped; /* V at the board's pin, nominal */
  bool tripped_high;
  /* contact */
  double trip_resistance, release_resistance; /* ohm in the chain */
  double contact_closed_current;              /* A through the closed contact */
  /* in time: what one touch needs beside the above */
  double front_pole; /* Hz of the first stage with its feedback; 0 = taken as immediate */
  double front_slew; /* V/s; 0 = not limited */
  double front_low, front_high; /* V between which its output moves */
  double comparator_bandwidth;  /* Hz; 0 = a true comparator with response_time */
  double comparator_slew;
  double comparator_low, comparator_high;
  double response_time;
} tw_circuit;

/* Solve the board at its nominal values (circuit.md 1 to 3). A circuit that cannot trip or come
 * back is an answer (`rearm`), not a failure; a threshold on the wrong side of rest gives
 * threshold_voltage <= 0 with TW_REARM_TRIPPED. */
tw_status tw_circuit_solve(const tw_circuit_spec *spec, tw_circuit *out, tw_fault *fault);

/* ---- error budget at the threshold ----------------------------------------------------------- */

typedef enum tw_circuit_cause {
  TW_CIRCUIT_CAUSE_OFFSET,      /* amplifier and comparator offset */
  TW_CIRCUIT_CAUSE_BIAS,        /* bias current through the resistance at the input */
  TW_CIRCUIT_CAUSE_LEAKAGE,     /* clamp leakage through the same */
  TW_CIRCUIT_CAUSE_RESISTORS,   /* dividers, feedback, bias resistor */
  TW_CIRCUIT_CAUSE_GAIN,        /* the gain's own resistors */
  TW_CIRCUIT_CAUSE_CAPACITANCE, /* moves charge and force at the trip, not the voltage */
  TW_CIRCUIT_CAUSE_SUPPLY,
  TW_CIRCUIT_CAUSE_REFERENCE,   /* stiff references */
  TW_CIRCUIT_CAUSE_LEVELS,      /* the comparator's output levels, through the feedback */
  TW_CIRCUIT_CAUSE_TEMPERATURE, /* offset drift and resistors drifting against each other */
  TW_CIRCUIT_CAUSE_DRIFT,       /* slow charge: R (p A + bending + preload) dT/dt */
  TW_CIRCUIT_CAUSE_GATE,        /* a Schmitt gate's own thresholds */
  TW_CIRCUIT_CAUSE_COUNT
} tw_circuit_cause;
const char *tw_circuit_cause_text(tw_circuit_cause cause);

/* changes of threshold_voltage: `down` and `up` are >= 0 */
typedef struct tw_circuit_budget {
  double nominal; /* threshold_voltage */
  double down[TW_CIRCUIT_CAUSE_COUNT], up[TW_CIRCUIT_CAUSE_COUNT];
  double worst_low, worst_high; /* threshold_voltage with everything at its worst corner */
  double rss;                   /* root of the sum of squares of the larger of down and up */
  double rearm_low;             /* rearm_voltage at its worst corner: > 0 always comes back */
  double trip_low, trip_high;   /* the comparator's threshold alone, resistors and supply */
  double least_margin;          /* worst_low / nominal: what is left of the threshold */
  double drift_voltage;         /* change of the node by slow drift alone */
  bool supply_within;           /* every part keeps its specified supply over the bounds */
} tw_circuit_budget;

/* For TW_SEES_BOTH the rising threshold is judged; a copy with TW_SEES_FALLING and the second
 * network as `reference` judges the other. Worst corner, root-sum-square and named contributions
 * (circuit.md 4). */
tw_status tw_circuit_budget_of(const tw_circuit_spec *spec, tw_circuit_budget *out,
                               tw_fault *fault);

/* the ends of any figure of a solved board over the same uncertainties */
typedef double (*tw_circuit_figure)(const tw_circuit *solved);
tw_status tw_circuit_range(const tw_circuit_spec *spec, tw_circuit_figure figure, double *low,
                           double *high, tw_fault *fault);

/* root of the sum of squares of d(threshold)/d(ln R) over the network's resistors, in V per unit of
 * tolerance */
tw_status tw_schmitt_sensitivity(const tw_reference *reference, const tw_switching *at,
                                 double *rise, double *fall, tw_fault *fault);

/* ---- noise ---------------------------------------------------------------------------------- */

typedef struct tw_circuit_noise {
  double low, high; /* Hz, the band */
  /* V rms, counted where threshold_voltage is (at the node; charge amplifier: at its output) */
  double thermal;    /* of the bias (or feedback) resistor, shaped by C */
  double shot;       /* of the bias current */
  double current;    /* the amplifier's current noise */
  double voltage;    /* the amplifier's voltage noise, 1/f included where its sheet has it */
  double comparator; /* behind a stage: the comparator's own, over the gain */
  double total;
  bool voltage_stated; /* false: the part's sheet gives none, so that `voltage` holds resistors only
                        */
} tw_circuit_noise;

/* Noise as the comparator meets it, from a tenth of a hertz up to where it stops following: its
 * bandwidth, or 0.35 over its response time. */
tw_status tw_circuit_noise_seen(const tw_circuit_spec *spec, tw_circuit_noise *out,
                                tw_fault *fault);
/* noise between `low` and `high` Hz (0 <= low < high; low > 0 where 1/f counts) at the node */
tw_status tw_circuit_noise_of(const tw_circuit_spec *spec, double low, double high,
                              tw_circuit_noise *out, tw_fault *fault);

/* ---- a knock on the tip ---------------------------------------------------------------------- */

typedef struct tw_circuit_knock {
  double volt_per_newton;   /* where threshold_voltage is counted, no clamp */
  double open_voltage;      /* change of the node that `force` would drive without clamp or limit */
  double held_voltage;      /* change that the clamp, or the stage's limit, allows */
  bool limited;             /* the clamp or the stage's limit acts */
  double clamp_current;     /* A through series_resistance at the first moment */
  bool clamp_current_known; /* false: nothing but the disc limits it */
  double recovery;          /* s until the node has come back to the threshold */
  double limit_force;       /* N at which the clamp or limit begins */
} tw_circuit_knock;

/* needs charge_per_newton; `force` > 0 in N (circuit.md 5) */
tw_status tw_circuit_overload(const tw_circuit_spec *spec, double force, tw_circuit_knock *out,
                              tw_fault *fault);

/* output_hold_time: from the stop at node change `voltage` to the release; 0 when `voltage` is
 * already below the release. An opening contact holds: TW_NO_ANSWER says so. */
tw_status tw_circuit_hold_time(const tw_circuit *circuit, double voltage, double *seconds,
                               tw_fault *fault);

/* ---- feeds ----------------------------------------------------------------------------------- */

typedef struct tw_feed_bounds {
  double slowest;   /* m/s: V_T/(R q'), the ramp that just reaches the threshold */
  double bias;      /* m/s: largest bias current / q', which no resistor moves */
  double travel;    /* m: fast pretravel after the charge starts, threshold_charge/q' */
  double calibrate; /* m/s: from here on the pretravel is within `within` of the fast one */
} tw_feed_bounds;

/* A: the largest magnitude of the current into the node over all parts: of the inputs that hang on
 * it (a stage's where a stage meets the node), and the clamp's leakage */
double tw_circuit_bias_bound(const tw_circuit_spec *spec);
/* A: how far that current may lie from its nominal value */
double tw_circuit_bias_spread(const tw_circuit_spec *spec);

/* charge_slope q' in C/m > 0; within e.g. 0.10 */
tw_status tw_circuit_feeds(const tw_circuit_spec *spec, double charge_slope, double within,
                           tw_feed_bounds *out, tw_fault *fault);

/* ---- output and supply ------------------------------------------------------------------------
 */

typedef struct tw_output_levels {
  double low, high;               /* V at the controller's input, worst of the part's levels */
  double low_margin, high_margin; /* V to spare against the controller's levels; < 0: not read */
  double sink_current;            /* A into the output while low */
  bool sink_within;               /* within what the sheet states (true when not stated) */
  double rise_time;               /* s to controller_high through the pull-up and the line */
  bool break_known;               /* the controller pulls its input somewhere */
  bool break_reads_high;
  bool break_reads_tripped; /* a broken signal wire looks like a touch: the safe way round */
  double supply_idle, supply_tripped; /* A drawn by the board, nominal */
  double supply_most;                 /* the larger, with the part's limit */
  double threshold_shift; /* V that trip moves when the output switches (+ away from the signal) */
  double hysteresis_left; /* V: hysteresis at the comparator plus or minus that shift */
} tw_output_levels;

/* levels at the controller, currents, and what switching does to a supply-derived reference */
tw_status tw_circuit_output(const tw_circuit_spec *spec, tw_output_levels *out, tw_fault *fault);

/* Everything that a user should be told, solve's own flags included; `knock` in N (0: the knock is
 * left out). */
tw_status tw_circuit_warn(const tw_circuit_spec *spec, double knock, bool flags[TW_FLAG_COUNT],
                          tw_fault *fault);

/* ---- links (links.md) -------------------------------------------------------------------------
 */

typedef enum tw_link_kind {
  TW_BY_SPRING_CONTACTS,
  TW_BY_PLUG,
  TW_BY_CABLE,
  TW_BY_RADIO
} tw_link_kind;

typedef struct tw_link_spec {
  tw_link_kind kind;
  bool carries_node;         /* the disc's own signal leaves the housing (no circuit before it) */
  double capacitance;        /* F, whole line with its contacts */
  double contact_resistance; /* ohm a contact, both halves */
  double insulation;         /* ohm between a contact and its neighbour; 0 = taken as perfect */
  double source_resistance;  /* ohm of the output that drives the line */
  bool pulls_down;     /* an open collector: that is its pull-up, the falling edge is driven */
  double cable_charge; /* C a metre and bend, of a moving cable (user's value) */
  /* insertion */
  bool isolated;            /* live contacts are insulated from a metal housing */
  bool makes_early;         /* neighbouring contacts can touch while it is put together */
  double series_resistance; /* ohm in the supply lead that stays in circuit then */
  double supply_limit;      /* A the supply may give for that moment; 0 = not stated */
  /* time */
  double settle, processing; /* s */
  double bits;               /* on the air, preamble and all */
  double bit_rate;           /* 1/s */
  double poll;    /* s: the receiver looks or the sender may talk this often; 0 = at once */
  double jitter;  /* s, further spread of the latency, whole range */
  double retries; /* most repeats after a lost message */
  /* battery */
  double battery_charge; /* A s (220 mAh = 792 A s); 0 = fed from outside */
  double battery_usable; /* part of it that counts, 0..1 */
  double ready_current;  /* A of the link while ready */
  double sleep_current;  /* A while asleep, the probe's own circuit off */
  double share_ready;    /* part of the time that it is ready, 0..1 */
  double event_charge;   /* A s a message */
  double events_per_second;
} tw_link_spec;

tw_link_spec tw_link_default(tw_link_kind kind);

typedef struct tw_link {
  double volt_per_newton;  /* at the node with the link's capacitance; 0 when charge is not known */
  double signal_kept;      /* ratio to the signal without the link */
  double drop;             /* V lost in the supply's and return's contacts */
  double line_delay;       /* s, RC of the line to the controller's high level */
  double trip_delay;       /* s, the same of the edge that a trip makes; part of `latency` */
  double leak_current;     /* A across the insulation at the supply's voltage */
  double insulation_shift; /* V that this leak moves the node, when it carries the node */
  double short_current;    /* A when neighbours, or a bare contact and the housing, touch */
  bool short_known;        /* false: nothing in the probe limits it */
  bool short_within;       /* within supply_limit */
  double motion_voltage;   /* V at the node for one metre bent once; 0 unless it carries the node */
  double latency;          /* s, nominal, calibrated out at one feed */
  double latency_jitter;   /* s, whole range */
  double latency_most;     /* s with all retries */
  double battery_life;     /* s; 0 when fed from outside */
} tw_link;

/* what the link costs in signal, time and battery; `circuit_current` in A is what the probe's own
 * circuit draws through it, or from the same battery while ready */
tw_status tw_link_of(const tw_link_spec *link, const tw_circuit_spec *circuit,
                     double circuit_current, tw_link *out, tw_fault *fault);

/* m that the link's delay puts a touch off */
typedef struct tw_link_position {
  double latency; /* what a calibration at `calibrated` leaves at `feed`: (feed - calibrated) L */
  double jitter;  /* feed x jitter, whole range */
} tw_link_position;
tw_link_position tw_link_position_of(const tw_link *link, double feed, double calibrated);

/* ---- which value gives what is wanted ----------------------------------------------------------
 */

#define TW_WANT_ROWS  9
#define TW_WANT_ROOTS 4

/* measure(value) -> result; a status other than TW_OK means "no result there" (its fault is told
 * when nothing else can be) */
typedef tw_status (*tw_measure_fn)(void *self, double value, double *result, tw_fault *fault);

typedef struct tw_want {
  tw_measure_fn measure;
  void *self;
  double target;
  double low, high; /* of the free value, 0 < low < high when `series` is set */
  int series;       /* 3, 6, 12, 24, 48, 96, 192; 0 = any value */
  int rows;         /* real values to list, 1..TW_WANT_ROWS */
  int scan;         /* trials over the range before it is narrowed; 0 = 25 */
  double tolerance; /* relative, of the exact value; 0 = 1e-9 */
  bool positive;    /* a result of zero or less is listed, but never called the nearest */
} tw_want;

typedef struct tw_want_row {
  double value, result;
  bool has_result;
} tw_want_row;

typedef struct tw_want_answer {
  int roots;                  /* places where the target is met exactly, counted up to the limit */
  double root[TW_WANT_ROOTS]; /* ascending */
  int rows;
  tw_want_row row[TW_WANT_ROWS]; /* real values around the answer, ascending */
  int best;                      /* row nearest to the target; -1 = none has a result */
  double least, most;            /* results met on the way, and where */
  double at_least, at_most;
  bool monotonic;
  int trials;
  bool jumps; /* the target lies in a jump or a gap: no value meets it exactly */
} tw_want_answer;

/* Find the free value for which measure = target, and the real values of a series around it with
 * what each gives (circuit.md 6). TW_NO_ANSWER, with the reach that was found, when the target is
 * out of reach; the rows then hold the values nearest to it. */
tw_status tw_want_solve(const tw_want *want, tw_want_answer *out, tw_fault *fault);

/* ---- from a design file ------------------------------------------------------------------------
 */

/* fill a spec from a design: amplifier rows come from the parts library */
tw_status tw_circuit_from_design(const struct tw_design *design, tw_circuit_spec *out,
                                 tw_fault *fault);
tw_status tw_link_from_design(const struct tw_design *design, tw_link_spec *out, tw_fault *fault);

#endif
