/* touch.h: one touch in time, from first contact to the controller's stop, retract and second
 * touch; with the feed window, false trips, repeatability, netlist and closed forms.
 *
 * Plain numbers in, plain numbers out, SI units throughout (m, s, kg, N, C, V, A, ohm, F). A
 * tw_touch_model is immutable: it describes one direction of one probe and points to tables that
 * the caller owns. A tw_touch_work is mutable, one per thread; nothing is allocated while a touch
 * runs, and the same model gives the same bits on every run. The approach runs along -d; x counts
 * the machine's travel from first contact, positive into the work. A result never holds NaN or an
 * infinity: `reached` tells which of its times exist. Equations, symbols and sources:
 * docs/models/touch.md; false trips: docs/models/false-trips.md. Crash and stack: touch_crash.h.
 */
#ifndef TRIPWRIGHT_TOUCH_H
#define TRIPWRIGHT_TOUCH_H

#include "tripwright/base.h"
#include <stdio.h>

struct tw_circuit_spec; /* tripwright/circuit.h */
struct tw_circuit;

/* ---- the model --------------------------------------------------------------------------------
 */

typedef enum tw_contact_kind {
  TW_CONTACT_HERTZ,  /* F = K d^1.5 (1 + D d') */
  TW_CONTACT_LINEAR, /* F = k d (1 + D d') */
  TW_CONTACT_RIGID   /* the tip stays on the work; its mass stops in the work, not in the disc */
} tw_contact_kind;

typedef struct tw_touch_contact {
  tw_contact_kind kind;
  double stiffness;   /* N/m^1.5 (Hertz) or N/m (linear); not used when rigid */
  double damping;     /* s/m, the constant D; default 0.3 */
  double restitution; /* 0 < e <= 1: D = 3 (1 - e^2)/(4 v) at each touch's feed instead; 0 = off */
  double damping_limit; /* s/m, bound of D in either form */
} tw_touch_contact;

typedef struct tw_touch_tip {
  double mass;      /* kg, ball and the moving part of the stem */
  double stiffness; /* N/m, stem and carrier compliance up to the carrier's mass */
  double damping;   /* N s/m */
} tw_touch_tip;

typedef enum tw_carrier_law {
  TW_CARRIER_LINEAR,    /* F = k x, Q = q x */
  TW_CARRIER_SOFTENING, /* F = k x up to x0, then k (x0 + l (1 - e^-(x-x0)/l)); Q = q x */
  TW_CARRIER_TABLE      /* F(x), Q(x) from the seat, monotone cubics; ends continued straight */
} tw_carrier_law;

#define TW_TOUCH_TABLE_MAX 1024

/* The carrier on its disc or seat, seen along the direction of the touch. x is how far the carrier
 * has been pushed back; tables start at x = 0 with F = 0 and rise strictly in x and in F. */
typedef struct tw_touch_carrier {
  double mass; /* kg, effective along the direction (side touches: inertia over reach^2) */
  tw_carrier_law law;
  double stiffness;        /* N/m */
  double charge_per_metre; /* C/m, signed; = charge per newton x stiffness */
  double knee, levelling;  /* m, x0 and l of the softening law */
  double damping;          /* N s/m */
  const double *table_x, *table_force, *table_charge; /* m, N, C */
  size_t table_count;                                 /* 2..TW_TOUCH_TABLE_MAX */
} tw_touch_carrier;

/* the work and the table under it on a spring of their own; stiffness 0 = rigid */
typedef struct tw_touch_support {
  double mass, stiffness, damping; /* mass and stiffness > 0 together */
} tw_touch_support;

typedef enum tw_sense_kind {
  TW_SENSE_CHARGE, /* a piezo disc drives charge into the node */
  TW_SENSE_OPENING /* a contact opens at `open_at` and lets the node go to `open_voltage` */
} tw_sense_kind;

typedef struct tw_touch_node {
  tw_sense_kind sense;
  double capacitance;  /* F: mounted disc + cable + inputs */
  double resistance;   /* ohm: bias network and leaks in parallel */
  double bias_voltage; /* V to which the node returns without current */
  double bias_current; /* A into the node */
  double
      output_pull; /* S: A more for each volt that the comparator's output leaves rest; 0: none */
  /* protection between node and input; clamped needs series + clamp resistance > 0 */
  double series_resistance;
  bool clamped;
  double clamp_low, clamp_high; /* V at the input */
  double clamp_resistance;      /* ohm of the clamps themselves */
  /* opening contact: carrier travel at which it opens and closes again, and what the node sees */
  double open_at, close_at, open_voltage, closed_voltage;
} tw_touch_node;

typedef enum tw_stage_kind { TW_STAGE_NONE, TW_STAGE_GAIN, TW_STAGE_CHARGE } tw_stage_kind;

typedef struct tw_touch_stage {
  tw_stage_kind kind;
  double gain;      /* about the bias voltage; kind gain */
  double bandwidth; /* Hz, gain x bandwidth of the amplifier; 0 = it follows at once */
  double slew;      /* V/s, 0 = not limited */
  double low, high; /* V, limits of its output; low = high = 0: no limits */
  double offset;    /* V */
  double feedback_capacitance, feedback_resistance; /* kind charge: about the bias voltage */
} tw_touch_stage;

typedef enum tw_comparator_kind {
  TW_COMPARATOR_REGENERATIVE, /* o' = slew-limited 2 pi GBW e between low and high */
  TW_COMPARATOR_SMOOTH,       /* o' = (low + (high - low)(1 + tanh(s e))/2 - o)/t */
  TW_COMPARATOR_DELAY         /* switches `delay` after e changes sign */
} tw_comparator_kind;

/* e = reference + input_weight a + output_weight o, with a the signal at its input and o its own
 * output; o runs to `high` while e > 0. */
typedef struct tw_touch_comparator {
  tw_comparator_kind kind;
  double reference, input_weight, output_weight;
  double low, high;                /* V */
  bool rest_high;                  /* where it must rest to be armed */
  double bandwidth;                /* Hz; regenerative */
  double slew;                     /* V/s, 0 = not limited; regenerative */
  double steepness, time_constant; /* 1/V, s; smooth */
  double delay;                    /* s */
} tw_touch_comparator;

typedef struct tw_touch_output {
  double logic_level;   /* V of o at which the controller's input changes over */
  double minimum_pulse; /* s; retriggerable: ends at max(last re-arm, start + this) */
} tw_touch_output;

typedef struct tw_touch_model {
  tw_touch_contact contact;
  tw_touch_tip tip;
  tw_touch_carrier carrier;
  tw_touch_support support;
  tw_touch_node node;
  tw_touch_stage stage;
  tw_touch_comparator comparator;
  tw_touch_output output;
  double tolerance; /* relative, of one step; default 3e-7 */
  long step_limit;  /* default 2e6; more is TW_NO_ANSWER with cause and hint */
  bool energy;      /* keep the energy account */
} tw_touch_model;

/* constant damping D = 0.3 s/m bounded at 1e4, an ideal gain 1, no clamps; what has no honest
 * default is 0 and must be given */
tw_touch_model tw_touch_model_default(void);

/* node, stage and comparator as the circuit room has solved the board (not for contacts), for an
 * input that rises or `falls`; a positive charge of the carrier raises the input in either kind */
void tw_touch_take_board(const struct tw_circuit_spec *board, const struct tw_circuit *solved,
                         bool falls, tw_touch_model *model);

/* K = 4/3 E* sqrt(r), 1/E* = (1 - nu1^2)/E1 + (1 - nu2^2)/E2 (Hertz) */
double tw_touch_hertz(double radius, double modulus_1, double poisson_1, double modulus_2,
                      double poisson_2);

/* threshold and release of the signal at the comparator's input, and the rest level there; the
 * change at the node from rest to threshold (> 0 towards the trip) */
typedef struct tw_touch_levels {
  double rest_node, rest, trip, release;
  double threshold;   /* |trip - rest| over the gain from the node, V (charge: at the output) */
  double charge;      /* C that a fast touch must bring */
  double force;       /* N static at that charge, open circuit; 0 when the table never gives it */
  double travel;      /* m of the carrier for it */
  double slope;       /* C/m, mean charge slope up to the trip */
  double slope_most;  /* C/m, steepest */
  double resistance;  /* ohm that leads the charge away where `threshold` is counted */
  double slowest;     /* m/s, threshold/(R q'_max) with the stem in series (touch.md 4) */
  bool reachable;     /* the charge has the right sign and is reached within the table */
  bool armed, rearms; /* at rest it is on the right side of the threshold, of the release */
} tw_touch_levels;

/* refuses zero mass, negative damping, tables that do not rise ...; names the design field */
tw_status tw_touch_check(const tw_touch_model *model, tw_fault *fault);
tw_status tw_touch_levels_of(const tw_touch_model *model, tw_touch_levels *out, tw_fault *fault);

/* ---- the machine ------------------------------------------------------------------------------
 */

typedef enum tw_touch_until {
  TW_UNTIL_EDGE,  /* the output's edge */
  TW_UNTIL_STOP,  /* the machine stands */
  TW_UNTIL_READY, /* retracted, released and settled */
  TW_UNTIL_SECOND /* a second touch, and ready again */
} tw_touch_until;

typedef struct tw_touch_motion {
  double feed;         /* m/s */
  double acceleration; /* m/s2 of the stop */
  double jerk;         /* m/s3 of the stop, 0 = not limited */
  double sample_time;  /* s, controller's period, 0 = it reacts at once */
  double sample_phase; /* 0..1: it looks at (k + phase) x sample_time after first contact */
  double latency;      /* s from the sample to the beginning of the stop; link included */
  double dwell;        /* s at standstill */
  double retract_feed, retract_acceleration; /* m/s, m/s2, no jerk limit */
  double retract_distance;                   /* m */
  double pause;                              /* s before the second approach */
  double second_feed;                        /* m/s */
  double give_up;                            /* s after first contact without an edge: no trip */
  double ready_band;   /* of the threshold: the node counts as settled within it */
  double ready_hold;   /* s that it must stay there */
  double settle_limit; /* s after the retract at which waiting for readiness ends */
  tw_touch_until until;
  double search_travel; /* m past first contact without an edge: no trip, in place of give_up;
                           0: give_up decides */
  bool just_missed; /* the controller's last look came just before the edge: the next one is a whole
                       sample_time after it, whatever the phase */
} tw_touch_motion;

/* 0.5 m/s2, 50 m/s3, 1 ms samples, 1 ms latency, dwell 20 ms, retract 5 mm/s at 0.5 m/s2 over
 * 1 mm, give up after 150 ms, band 0.1 held 2 ms; the feed must be given */
tw_touch_motion tw_touch_motion_default(void);

/* ---- the result -------------------------------------------------------------------------------
 */

typedef enum tw_touch_state {
  TW_TOUCH_OK,
  TW_TOUCH_NO_TRIP,         /* no edge until give_up */
  TW_TOUCH_TRIPPED_AT_REST, /* the output was active before the touch */
  TW_TOUCH_NOT_SAMPLED      /* the pulse was over before the controller looked */
} tw_touch_state;
const char *tw_touch_state_name(tw_touch_state state); /* ok, no_trip, tripped_at_rest, ... */

typedef enum tw_touch_reached {
  TW_REACHED_NOTHING,
  TW_REACHED_CONTACT,
  TW_REACHED_THRESHOLD,
  TW_REACHED_OUTPUT,
  TW_REACHED_SAMPLE,
  TW_REACHED_STOP_START,
  TW_REACHED_STOP_END
} tw_touch_reached;

/* one approach; times and travel from its own first contact */
typedef struct tw_touch_one {
  tw_touch_state state;
  tw_touch_reached reached;
  double feed, contact; /* m/s; s, when it began on the run's clock */
  double threshold, output, sample, stop_start, stop_end; /* s */
  double pretravel;    /* m of machine travel at the output's edge */
  double overtravel;   /* m at standstill */
  double peak_force;   /* N between tip and work, until the retract */
  double peak_carrier; /* N on disc or seat */
  double peak_node;    /* V, largest change of the node from rest */
  double closest;      /* largest share of the way from rest to the trip that the signal came, as
                          seen at the ends of steps */
  int chatter;         /* further edges at the controller's input before the retract's end */
  int bounces;         /* contact lost and made again before the output's edge */
  double searched_time, searched_travel; /* no trip: how far it looked */
} tw_touch_one;

#define TW_TOUCH_EVENTS(X)                                                                         \
  X(CONTACT_MADE, "contact")                                                                       \
  X(CONTACT_LOST, "contact_lost")                                                                  \
  X(THRESHOLD, "threshold")                                                                        \
  X(OUTPUT, "output")                                                                              \
  X(CHATTER, "chatter")                                                                            \
  X(OUTPUT_END, "output_end")                                                                      \
  X(SAMPLE, "sample")                                                                              \
  X(MISSED, "missed")                                                                              \
  X(STOP_START, "stop_start")                                                                      \
  X(STOP_END, "stop_end")                                                                          \
  X(RETRACT, "retract")                                                                            \
  X(RETRACTED, "retracted")                                                                        \
  X(APPROACH, "second_approach")                                                                   \
  X(CLAMP_ON, "clamp_on")                                                                          \
  X(CLAMP_OFF, "clamp_off")                                                                        \
  X(STAGE_LIMIT, "stage_limit")                                                                    \
  X(STAGE_FREE, "stage_free")                                                                      \
  X(OPENED, "opened")                                                                              \
  X(CLOSED, "closed")                                                                              \
  X(BEYOND_TABLE, "beyond_table")                                                                  \
  X(READY, "ready")

typedef enum tw_touch_event_kind {
#define X(name, text) TW_EVENT_##name,
  TW_TOUCH_EVENTS(X)
#undef X
      TW_EVENT_COUNT
} tw_touch_event_kind;
const char *tw_touch_event_name(tw_touch_event_kind kind);

typedef struct tw_touch_event {
  tw_touch_event_kind kind;
  double time, travel; /* s after first contact; m */
} tw_touch_event;

/* all in J; balance = |stored - (driven - lost)| over the peak of what was stored or driven */
typedef struct tw_touch_energy {
  bool kept;
  double driven, lost, stored, peak, balance;
} tw_touch_energy;

#define TW_TOUCH_EVENT_MAX 96

typedef struct tw_touch_result {
  tw_touch_one first, second;
  bool has_second;
  bool ended;              /* the output fell back within the run */
  double output_end;       /* s after first contact */
  double output_hold_time; /* s from the first edge to its end */
  bool ended_pressed;      /* then the tip was still pressed: no retract had begun */
  bool ready;
  double ready_time;     /* s from loss of contact until released and settled */
  bool second_not_ready; /* the second touch met an output that was still active */
  bool beyond_table;     /* the carrier left its table: forces there are continued straight */
  tw_touch_energy energy;
  tw_touch_event events[TW_TOUCH_EVENT_MAX];
  int event_count, events_dropped;
  long steps, rejected;
  double end; /* s, where the run ended */
} tw_touch_result;

/* ---- a run ------------------------------------------------------------------------------------
 */

typedef struct tw_touch_point {
  double time, travel, tip, carrier;   /* s; m: machine, tip and carrier pushed back against body */
  double force, carrier_force;         /* N: tip on work, carrier on disc */
  double charge, node, signal, output; /* C; V: node, comparator's input, its output */
  bool contact, active;                /* active: the controller sees a touch */
} tw_touch_point;

/* `point` is called every `every` seconds (0: at each step), NULL = no trace; false from it ends
 * the run with TW_CANCELLED */
typedef struct tw_touch_sink {
  bool (*point)(void *self, const tw_touch_point *point);
  void *self;
  double every;
} tw_touch_sink;

typedef struct tw_touch_work tw_touch_work;
tw_touch_work *tw_touch_work_new(void);
void tw_touch_work_free(tw_touch_work *work);

/* Run one touch. TW_BAD_INPUT: model or motion (field named); TW_NO_ANSWER: step limit, with the
 * fastest part of the model as cause. No trip is an answer: TW_OK with its state. */
tw_status tw_touch_run(const tw_touch_model *model, const tw_touch_motion *motion,
                       tw_touch_work *work, const tw_touch_sink *sink, tw_touch_result *result,
                       tw_fault *fault);

/* The same touch for an outside circuit simulator (SPICE 3 language, behavioural sources): contact
 * to `end` s at most `step` s a step; it prints the instants t_threshold and t_output. Constant
 * feed, so it stands for the touch up to the controller's sample. TW_NO_FILE: writing failed. */
/* with `board` (and its solution) its parts are drawn as they are on the board: supply, dividers,
 * leak, feedback; without, as the model's equivalents */
tw_status tw_touch_netlist_of(const tw_touch_model *model, const tw_touch_motion *motion,
                              const struct tw_circuit_spec *board, const struct tw_circuit *solved,
                              double end, double step, FILE *out, tw_fault *fault);
tw_status tw_touch_netlist(const tw_touch_model *model, const tw_touch_motion *motion, double end,
                           double step, FILE *out, tw_fault *fault);

/* ---- stopping ---------------------------------------------------------------------------------
 */

typedef struct tw_touch_stop {
  double time;     /* s from the beginning of the stop to standstill */
  double distance; /* m in that time, v T/2 */
} tw_touch_stop;

/* jerk-limited stop (docs/models/touch.md 6); acceleration > 0, jerk 0 = not limited */
tw_status tw_touch_stopping(double feed, double acceleration, double jerk, tw_touch_stop *out,
                            tw_fault *fault);

#include "tripwright/touch_forms.h"

#endif
