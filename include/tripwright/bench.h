/* bench.h: the bench card: what each test point of a built unit should show, and what a wrong value
 * means.
 *
 * tw_bench_card takes plain numbers (tw_bench_inputs) and the instruments in hand, and gives a list
 * of quick checks in the order in which a bench goes through them: supply, levels, thresholds,
 * disc, seat, weights. Each has its test point, instrument, setting, the expected value with its
 * spread from the tolerances (worst case) and, where the instrument itself loads the point, what it
 * will show instead. SI units, texts in plain words. Nothing is allocated; a card is a plain value
 * of the caller's; texts in it are its own or constants. Safe from several threads. No number
 * stands in for a missing one: `known` is false and `why` says what is missing. Equations:
 * docs/models/bench.md.
 */
#ifndef TRIPWRIGHT_BENCH_H
#define TRIPWRIGHT_BENCH_H

#include "tripwright/assess.h"
#include "tripwright/base.h"
#include "tripwright/circuit.h"
#include "tripwright/probe.h"

/* ---- instruments ------------------------------------------------------------------------------
 */

#define TW_BENCH_WEIGHTS 16

/* the weights that trip */
typedef enum tw_bench_pull_id {
  TW_BENCH_PULL_SIDE,  /* sideways where it takes most, probe level */
  TW_BENCH_PULL_LEAST, /* sideways where it takes least */
  TW_BENCH_PULL_AXIAL, /* along the axis, tip up */
  TW_BENCH_PULLS
} tw_bench_pull_id;

typedef struct tw_bench_instruments {
  double meter_resistance;          /* ohm, voltmeter input */
  double scope_resistance;          /* ohm, scope with its probe */
  double scope_capacitance;         /* F, the same */
  double hand_time;                 /* s in which a hand lets a weight down or lifts it off */
  double weights[TW_BENCH_WEIGHTS]; /* kg, those at hand, rising; 0 ends the list */
  double test_weight;               /* kg, for peak and hold; 0: the card chooses one of those */
  bool without_weights;             /* leave out the weights that trip: they take the longest */
  bool without[TW_BENCH_PULLS];     /* leave out one of them */
  bool without_resonances;          /* leave out the disc's own, free and mounted */
} tw_bench_instruments;

/* 10 Mohm meter, 10 Mohm || 15 pF probe, 50 ms, weights 1-2-5 from 1 g to 200 g (common practice,
 * no source) */
tw_bench_instruments tw_bench_instruments_default(void);

/* ---- what the card is made from
 * ------------------------------------------------------------------ */

/* a figure with its ends; not known: `why` says why */
typedef struct tw_bench_figure {
  bool known;
  double value, low, high;
  char why[160];
} tw_bench_figure;

/* Force and charge on the way of a force on the tip, both from 0; forces rise. */
#define TW_BENCH_ROWS 96
typedef struct tw_bench_course {
  int rows; /* 0: not known, or an opening contact */
  int sign; /* of the charge that trips; 0: either */
  /* either sign, each with a threshold of its own: that of the board (threshold_charge) over it;
   * 0: the same */
  double counts_plus, counts_minus;
  double force[TW_BENCH_ROWS], charge[TW_BENCH_ROWS]; /* N, C */
  double opens;                                       /* N at which it trips when nothing leaks */
  double travel;                                      /* m of the tip until then */
} tw_bench_course;

/* one of the weights: its course in the posture that the card prescribes */
typedef struct tw_bench_pull {
  bool known;
  char why[160];                  /* not known: why; empty: nobody asked */
  tw_bench_course rubbed, smooth; /* as it is, and without friction */
  double turning; /* s that a carrier which only its spring holds takes to the trip, from rest,
                     under a weight a little above the least; 0: other seats */
} tw_bench_pull;

typedef struct tw_bench_inputs {
  tw_circuit_spec board; /* with the mounted disc's capacitance and charge per newton in it */
  bool has_disc;
  tw_bench_figure capacitance_free;    /* F, bare disc */
  tw_bench_figure capacitance_mounted; /* F, in its support, not wired */
  tw_bench_figure resonance_free;      /* Hz, bare disc */
  tw_bench_figure resonance_mounted;   /* Hz, in its support */
  tw_bench_figure resonance_loaded;    /* Hz, with the carrier on it */
  tw_bench_figure charge_per_newton;   /* C/N, magnitude, load on the carrier's circle */
  /* charge that a weight on the tip sets free when it is lifted off along the axis, magnitude, for
   * rising forces; 0 rows: charge_per_newton is taken for all forces */
  int releases;
  double release_force[TW_BENCH_ROWS], release_charge[TW_BENCH_ROWS]; /* N, C */
  int push_sign;                    /* of the charge of a push along the axis; 0: not known */
  tw_bench_figure preload;          /* N */
  bool has_preload_scale;           /* the preload can be reached with a scale */
  tw_bench_figure trip_force_side;  /* N, largest over the azimuths */
  tw_bench_figure trip_force_least; /* N, smallest over the azimuths */
  double azimuth_deg;               /* where the largest is */
  bool has_azimuth;
  tw_bench_figure trip_force_axial; /* N */
  /* weights; without a course the trip forces above are taken, and one ramp for the whole force */
  tw_bench_pull pull[TW_BENCH_PULLS];
  double friction; /* share by which friction is uncertain */
  /* charge goes with capacitance to this power, and what is left of it lies between these factors
   * (docs/models/disc.md 3a); exponent 0 and no factors: charge_per_newton's own ends */
  double charge_exponent, charge_left[2];
} tw_bench_inputs;

/* Fill from a solved probe and its assessment, with the weights at hand. What is measured
 * (measured.*) has a narrow spread, what comes from a catalogue or a model the scatter that discs
 * have (docs/models/bench.md). */
tw_status tw_bench_inputs_from(const tw_design *design, const tw_probe *probe,
                               const tw_assessment *assessment,
                               const tw_bench_instruments *instruments, tw_bench_inputs *out,
                               tw_fault *fault);

/* ---- the card
 * --------------------------------------------------------------------------------------- */

/* id, title */
#define TW_BENCH_CHECKS(X)                                                                         \
  X(SUPPLY_CURRENT, "supply current at rest")                                                      \
  X(SUPPLY_TRIPPED, "supply current while tripped")                                                \
  X(REFERENCE, "reference at the comparator")                                                      \
  X(BIAS, "bias voltage")                                                                          \
  X(REST_NODE, "rest level at the node")                                                           \
  X(REST_COMPARATOR, "rest level at the comparator's input")                                       \
  X(THRESHOLD, "level that trips")                                                                 \
  X(RELEASE, "level that releases")                                                                \
  X(OUTPUT_REST, "output at rest")                                                                 \
  X(OUTPUT_TRIPPED, "output while tripped")                                                        \
  X(WIRE_BREAK, "signal wire unplugged")                                                           \
  X(CHAIN_CLOSED, "closed chain of contacts")                                                      \
  X(CHAIN_TRIP, "resistance that trips in place of the chain")                                     \
  X(CHAIN_RELEASE, "resistance that releases in place of the chain")                               \
  X(CAPACITANCE_FREE, "bare disc on a capacitance meter")                                          \
  X(RESONANCE_FREE, "bare disc's resonance")                                                       \
  X(CAPACITANCE_MOUNTED, "fitted disc on a capacitance meter")                                     \
  X(RESONANCE_MOUNTED, "fitted disc's resonance")                                                  \
  X(RESONANCE_LOADED, "resonance with the carrier in place")                                       \
  X(PRELOAD, "preload on a scale")                                                                 \
  X(PUSH_SIGN, "sign of a push")                                                                   \
  X(LIFT_PEAK, "peak when a weight is lifted off the tip")                                         \
  X(DECAY, "decay after the weight")                                                               \
  X(HOLD, "how long the output stays with the weight on")                                          \
  X(WEIGHT_SIDE, "smallest weight hung sideways that trips")                                       \
  X(WEIGHT_SIDE_LEAST, "the same in the easiest direction")                                        \
  X(WEIGHT_AXIAL, "smallest weight stood on the tip that trips")

typedef enum tw_bench_id {
#define X(id, title) TW_BENCH_##id,
  TW_BENCH_CHECKS(X)
#undef X
      TW_BENCH_COUNT
} tw_bench_id;

typedef struct tw_bench_check {
  tw_bench_id id;
  const char *name;       /* "rest_node", for JSON */
  const char *title;      /* of TW_BENCH_CHECKS */
  const char *point;      /* where */
  const char *instrument; /* with what */
  char setting[160];      /* how */
  const char *unit;       /* SI; "" for a level word */
  tw_bench_figure expect; /* unloaded; `known` false: `why` */
  const char *word;       /* for checks that read a word: "high", "low", "+", "-"; else NULL */
  bool loads;             /* the instrument changes the reading by more than 0.1 % */
  double shown, shown_low, shown_high; /* what it then shows */
  char loading[160];                   /* in words: what loads what */
  const char *if_low, *if_high;        /* what a wrong value means, and the field to look at */
  double minutes; /* of bench time that it takes, set-up included (own estimate) */
  double usual_u; /* what such an instrument is usually off, as a share of the value (standard) */
  char note[240];
} tw_bench_check;

typedef struct tw_bench_card {
  int count;
  double test_weight; /* kg, of peak and hold; 0: there is no such check */
  tw_bench_check check[TW_BENCH_COUNT];
  tw_measure_state state; /* of the probe before a touch (tw_probe.state); OK where only numbers
                             were given */
  tw_fault trouble;       /* why, when that is not OK */
} tw_bench_card;

/* Make the card. Checks that this kind of probe does not have are left out; those whose value is
 * not known stand with `why`. */
tw_status tw_bench_card_of(const tw_bench_inputs *inputs, const tw_bench_instruments *instruments,
                           tw_bench_card *out, tw_fault *fault);

const tw_bench_check *tw_bench_find(const tw_bench_card *card, tw_bench_id id); /* NULL: none */

/* voltage that a meter of resistance `meter` shows at a point of `volts` behind `source` ohm */
double tw_bench_loaded(double volts, double source, double meter);

#endif
