/* touch_judge.h: what touches in time say about a probe on a machine: between which feeds it works,
 * what shakes it into a false trip, and how well it repeats.
 *
 * Plain numbers in SI; all inputs are borrowed for the call, all results are the caller's structs.
 * Functions that run touches take a tw_touch_work and may run on several threads with one each. No
 * result holds NaN or an infinity. Equations: docs/models/touch.md 6, 7 and false-trips.md.
 */
#ifndef TRIPWRIGHT_TOUCH_JUDGE_H
#define TRIPWRIGHT_TOUCH_JUDGE_H

#include "tripwright/touch.h"

/* ---- feed window -------------------------------------------------------------------------------
 */

/* one direction: its touch, and how far the machine may run past first contact */
typedef struct tw_window_way {
  const char *name; /* "side", "axial": for the report; may be NULL */
  const tw_touch_model *model;
  double overtravel; /* m, > 0 */
} tw_window_way;

typedef struct tw_window_ask {
  const tw_touch_motion *motion; /* its feed is not used */
  double feed_least, feed_most;  /* m/s, where the search begins and ends */
  double threshold_margin;       /* share by which the threshold may lie higher; 0.2 = 20 % */
  double bias_most;              /* A, largest bias current of the part, magnitude */
  double bias_spread;            /* A, how far it may lie from the one that sets the rest level */
  double jitter;                 /* s, full width of the link's delay */
  double within;                 /* share of pretravel that counts as constant; 0.1 */
} tw_window_ask;

typedef enum tw_window_reason {
  TW_WINDOW_LEAK,       /* the charge leaks away faster than it comes */
  TW_WINDOW_BIAS,       /* the part's bias current alone can hold the node off the threshold */
  TW_WINDOW_SEARCHED,   /* still good at the end of the search */
  TW_WINDOW_OVERTRAVEL, /* the machine does not stop within the overtravel */
  TW_WINDOW_MISSED,     /* the pulse is over before the controller looks */
  TW_WINDOW_NEVER       /* no feed trips it */
} tw_window_reason;
const char *tw_window_reason_text(tw_window_reason reason);

typedef struct tw_window {
  bool trips;            /* some feed does */
  double slowest;        /* m/s, nominal, to 1e-4 */
  double slowest_margin; /* m/s, with threshold_margin and bias_spread both at once */
  bool margin_trips;     /* some feed trips so; else slowest_margin is the nominal one */
  double slowest_static; /* m/s, bound V_T/(R q') */
  double slowest_bias;   /* m/s, I_b/q' */
  tw_window_reason slow_reason;
  double fastest; /* m/s */
  tw_window_reason fast_reason;
  double overtravel, force; /* m, N at `fastest`, worst sample phase */
  bool open;                /* slowest_margin <= fastest: there is a window */
  double calibrate;         /* m/s, from here on the pretravel is within `within` of the fast one */
  bool calibrate_inside;    /* it lies under `fastest` */
  /* feeds inside what was searched that are not good although some below and above are; the range
   * from slowest to fastest is the widest without such a gap (between the feeds tried) */
  bool gap;
  double gap_low, gap_high; /* m/s, good feeds on both sides of it */
  tw_window_reason gap_reason;
  int touches; /* how many were run */
} tw_window;

/* The slowest feed by root finding with the touch itself, looked for as far as
 * motion->search_travel (0: the overtravel); then feeds up to feed_most, each touched to standstill
 * at the worst sample phase: the widest range of them that are good, and both its ends. 20 to 80
 * touches (`touches`). slowest <= fastest whenever fastest > 0; fastest 0: no feed is good, for
 * fast_reason. No trip at any feed is an answer. */
tw_status tw_touch_window(const tw_window_way *way, const tw_window_ask *ask, tw_touch_work *work,
                          tw_window *out, tw_fault *fault);

typedef struct tw_window_row {
  double feed; /* m/s, given */
  tw_touch_state state;
  double output;     /* s from first contact to the edge */
  double pretravel;  /* m at the edge */
  double latched;    /* m, where a controller that looks now and then has it, on average */
  double overtravel; /* m, worst sample phase */
} tw_window_row;

/* m/s from which on the pretravel stays within the share `within` of a fast touch's, for a bound
 * `slowest_static` of levels.slowest; 0 when nothing leaks away */
tw_status tw_touch_calibrate(double slowest_static, double within, double *feed, tw_fault *fault);

/* pretravel against feed: fills the rows whose feed is given */
tw_status tw_touch_feeds(const tw_touch_model *model, const tw_touch_motion *motion, double jitter,
                         tw_touch_work *work, tw_window_row *rows, size_t count, tw_fault *fault);

typedef struct tw_apparent_delay {
  double seconds;   /* slope of `latched` over the feed */
  double intercept; /* m, at feed 0 */
  double residual;  /* m, largest distance of a row from the line */
  size_t rows;      /* how many tripped and lie at `least` or above */
  double from, to;  /* m/s, the slowest and the fastest of these */
} tw_apparent_delay;

/* straight line through the tripped rows with feed >= least; TW_NO_ANSWER under two of them */
tw_status tw_touch_delay(const tw_window_row *rows, size_t count, double least,
                         tw_apparent_delay *out, tw_fault *fault);

/* ---- false trips -------------------------------------------------------------------------------
 */

/* The carrier as acceleration sees it. Axes as in the contract. */
typedef struct tw_shake {
  double mass;            /* kg, carrier and stylus */
  double height;          /* m, their centre of mass from the seat's reference point, magnitude */
  double dead_moment[2];  /* N m, tilting moment of a force along x, y at which a contact opens */
  double arm;             /* m, lever at which moment beyond it turns into load on the disc */
  double volt_per_newton; /* V/N at the node, load along the axis */
  double volt_per_moment; /* V/(N m) before a contact opens (ceramic off the centre) */
  double threshold;       /* V at the node */
  double time_constant;   /* s of the node; 0: nothing leaks */
  double resonance[3];    /* Hz along x, y, z */
  double damping;         /* ratio */
  double gravity[3];      /* m/s2 in the probe's axes; standing still it only tilts */
  double bypass;          /* share of a force along the axis that the seat's other contacts take
                             while all are closed; 0: the disc gets all of it */
  double lift_force;      /* N along the axis, beyond which the disc gets all; used with bypass */
} tw_shake;

tw_status tw_shake_check(const tw_shake *shake, tw_fault *fault);

#define TW_SHAKE_MARGIN_MOST 1e6 /* a margin beyond this is given as this */

typedef struct tw_shaken {
  double node;        /* V, largest change of the node */
  double margin;      /* threshold over that */
  bool lifts;         /* a contact opens */
  double lift_margin; /* dead zone left by gravity over the moment (x, y); 0 along z */
  /* what gives margin 2, each alone; 0 = it cannot */
  double acceleration_for_2; /* m/s2 */
  double threshold_for_2;    /* V */
  double ramp_for_2;         /* s to build the acceleration up: a/jerk */
} tw_shaken;

/* a move that accelerates at acceleration[i] with jerk[i] (0: at once) along each axis by itself */
tw_status tw_shake_move(const tw_shake *shake, const double acceleration[3], const double jerk[3],
                        tw_shaken out[3], tw_fault *fault);
/* a steady vibration of amplitude `acceleration` (m/s2) and `frequency` (Hz), along each axis */
tw_status tw_shake_sine(const tw_shake *shake, double acceleration, double frequency,
                        tw_shaken out[3], tw_fault *fault);
/* a spectrum: count pairs Hz, (m/s2)^2/Hz; peak = crest x rms (4 by common practice, no source) */
tw_status tw_shake_spectrum(const tw_shake *shake, const double *frequency, const double *density,
                            size_t count, double crest, tw_shaken out[3], tw_fault *fault);

typedef struct tw_shake_trace {
  tw_shaken axis[3];
  double at[3];              /* s, time of the largest signal */
  bool has[3];               /* the recording has this axis */
  double rms[3], most[3];    /* m/s2 */
  double duration, interval; /* s */
  long rows;
  bool coarse; /* fewer than four samples a period of a resonance */
} tw_shake_trace;

/* A recorded trace as CSV, read line by line in bounded memory. The header names the columns:
 * time_s | time_ms | time_us, and any of x, y, z with _m_s2, _mm_s2 or _g. Refused with line and
 * column: unknown units, values that are no numbers or beyond 1e5 m/s2, time that stands or runs
 * back, gaps. `name` is for the messages. TW_CANCELLED when `progress` says stop. */
tw_status tw_shake_recording(const tw_shake *shake, FILE *in, const char *name,
                             const tw_progress *progress, tw_shake_trace *out, tw_fault *fault);

/* ---- repeatability -----------------------------------------------------------------------------
 */

#define TW_REPEAT_CAUSES(X)                                                                        \
  X(NOISE, "noise at the node", "sigma_V |dx/dV|")                                                 \
  X(SAMPLING, "controller's period", "v Ts/sqrt 12")                                               \
  X(LINK, "jitter of the link", "v J/sqrt 12")                                                     \
  X(FRICTION, "state of the friction", "range/sqrt 12")                                            \
  X(RESOLUTION, "controller's resolution", "step/sqrt 12")                                         \
  X(STATED, "stated scatter", "s as given")

typedef enum tw_repeat_cause {
#define X(name, text, formula) TW_REPEAT_##name,
  TW_REPEAT_CAUSES(X)
#undef X
      TW_REPEAT_COUNT
} tw_repeat_cause;
const char *tw_repeat_text(tw_repeat_cause cause);
const char *tw_repeat_formula(tw_repeat_cause cause);

typedef struct tw_repeat_ask {
  double noise;          /* V rms where tw_touch_levels counts `threshold` */
  double jitter;         /* s, full width */
  double friction_range; /* m, pretravel between the states that friction can leave */
  double resolution;     /* m */
  double stated;         /* m, one standard deviation that the user states */
} tw_repeat_ask;

typedef struct tw_repeat {
  double s[TW_REPEAT_COUNT]; /* m, standard deviation by cause */
  double total, two_s;       /* m: root of the sum of squares, and twice that */
  double travel_per_volt;    /* m/V at the threshold */
  double pretravel;          /* m */
} tw_repeat;

/* One touch and two with the threshold moved by 1 %. TW_NO_ANSWER when it does not trip at this
 * feed. */
tw_status tw_touch_repeat(const tw_touch_model *model, const tw_touch_motion *motion,
                          const tw_repeat_ask *ask, tw_touch_work *work, tw_repeat *out,
                          tw_fault *fault);

/* the model with its threshold farther from rest by the share `by` (negative: nearer) */
tw_touch_model tw_touch_shifted(const tw_touch_model *model, const tw_touch_levels *levels,
                                double by);

#endif
