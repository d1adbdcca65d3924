/* engine.h: the inside of one touch: the prepared plant, the integrator's state, the modes.
 *
 * Body frame: p1, p2 are how far tip and carrier have been pushed back against the probe's body,
 * q1, q2 their rates; X(t) is the body's travel. A mode says which right-hand side holds; it
 * changes only between steps, at an event that has been located, so each step sees a smooth
 * equation.
 */
#ifndef TW_TOUCH_ENGINE_H
#define TW_TOUCH_ENGINE_H

#include "tripwright/touch.h"
#include <math.h>

/* larger and smaller of two numbers; NaN in the first is lost, as with a plain comparison */
static inline double most(double a, double b)
{
  return a > b ? a : b;
}

static inline double least(double a, double b)
{
  return a < b ? a : b;
}

/* states; A and O are carried by the integrator only in their dynamic modes */
enum { P1, Q1, P2, Q2, NODE, AMP, OUT, SPARE, XW, VW, DRIVEN, LOST, STATES };

/* relative tolerance of an event's place within its step */
#define TW_EVENT_PLACE 1e-12

typedef enum amp_mode {
  AMP_NONE,  /* the node itself is the signal */
  AMP_EXACT, /* one pole driven by the step's polynomial, solved exactly */
  AMP_HIGH,  /* held at a limit */
  AMP_LOW,
  AMP_DYNAMIC /* integrated: slewing, or the comparator is deciding */
} amp_mode;

typedef enum out_mode { OUT_HIGH, OUT_LOW, OUT_DYNAMIC } out_mode;

typedef struct cubic_piece {
  double x, f[4], q[4], energy; /* F and Q over (x - x_i); energy stored up to x_i */
} cubic_piece;

typedef struct segment {
  double begin, end; /* s; end may be INFINITY */
  double x, v, a, j; /* at begin */
  int tag;           /* event to record at its beginning, -1 = none */
} segment;

#define TW_SEGMENTS 24

typedef struct touch_forces {
  double contact, carrier;
} touch_forces;

struct tw_touch_work {
  tw_touch_model m;
  tw_touch_motion go;
  tw_touch_levels levels;
  /* prepared */
  double wa, slew_a, amp_low, amp_high;      /* pole of the stage, 1/s; limits */
  double kappa, total_c;                     /* charge amplifier: Cf/(C+Cf), C+Cf */
  double wo;                                 /* 2 pi GBW of the comparator */
  double per_tip, per_carrier, per_c, per_r; /* reciprocals: masses, capacitance, resistance */
  double damping_d;                          /* D of this touch */
  double amp_target, amp_gain;               /* target of the pole = amp_target + amp_gain x node */
  double pin_0, pin_gain; /* input behind the series resistor: pin_0 + gain x node */
  double out_rest;        /* V of the comparator's output at rest */
  double graze;           /* 1/V: half width of a smooth comparator's live zone */
  cubic_piece piece[2 * TW_TOUCH_TABLE_MAX]; /* chords and the corners between them */
  size_t pieces, hint;
  double table_end;
  /* modes */
  bool contact, open;
  int clamp; /* -1, 0, 1 */
  amp_mode amp;
  out_mode out;
  bool tripped_input; /* the signal is past the trip level */
  /* integrator */
  double t, h, y[STATES], y1[STATES], k[7][STATES], r[5][STATES], weight[STATES], floor[STATES];
  double amp1;      /* the signal stage at the end of the step */
  double step;      /* size of the step that y1 belongs to */
  int carried;      /* how many states that step carried; the others stood still */
  double np[5];     /* the node over the step as a polynomial in theta */
  bool dense;       /* r[] belongs to this step */
  bool implicit;    /* the quiet part: implicit.c makes the steps */
  int held;         /* explicit steps in a row that the tip's ringing held down */
  double last_root; /* sixteenth root of the last error, for the step control */
  touch_forces force0, force1;
  double force_back[2], time_back[2]; /* for the peak between steps */
  long rejected_in_a_row;
  /* motion */
  segment queue[TW_SEGMENTS];
  int seg, segs;
  /* output line and controller */
  bool raw, line;
  double pulse_start, pulse_end, look, stop_at, flip_at, give_up_at, settle_at, lost_at, settled_at;
  double off_before, off_at; /* how far from rest the signal was when last looked at, and when */
  bool flip_high;
  double contact_x; /* m, travel at which this approach's first contact lies */
  bool retracted, settling, stopping, seen_edge, is_ready;
  int which;
  tw_touch_one *one;
  tw_touch_result *result;
  const tw_touch_sink *sink;
  double trace_at;
  bool finished, cancelled;
};

/* ---- prepare.c */
tw_status tw_touch_prepare(tw_touch_work *w, const tw_touch_model *model,
                           const tw_touch_motion *motion, tw_fault *fault);
void tw_touch_set_modes(tw_touch_work *w); /* pin and pole constants that follow from the modes */
void tw_touch_set_feed(tw_touch_work *w, double feed);

/* ---- table.c */
double tw_touch_cubic_at(const double *x, const double *y, size_t n, double at);
void tw_touch_table_build(tw_touch_work *w);
/* the piece that x lies in; straight on beyond the ends */
const cubic_piece *tw_touch_table_piece(tw_touch_work *w, double x, double *s);
void tw_touch_law(tw_touch_work *w, double x, double *force, double *charge, double *slope,
                  double *energy);

/* ---- step.c */
void tw_touch_slopes(tw_touch_work *w, double t, const double y[STATES], double f[STATES],
                     touch_forces *force);
/* one trial of size h from (t, y): fills y1, k, amp1; returns the error over the tolerance */
double tw_touch_try(tw_touch_work *w, double h);
/* are there more states than tip, carrier and node: energies, or a support that gives? */
bool tw_touch_is_wide(const tw_touch_work *w);
double tw_touch_try_explicit(tw_touch_work *w, double h);
void tw_touch_dense(tw_touch_work *w);
double tw_touch_at(tw_touch_work *w, int state, double theta);
double tw_touch_amp_at(tw_touch_work *w, double theta);

/* ---- implicit.c */
bool tw_touch_may_be_implicit(const tw_touch_work *w);
double tw_touch_contact_rate(const tw_touch_work *w);
double tw_touch_try_implicit(tw_touch_work *w, double h);

/* ---- limits.c */
tw_status tw_touch_check_motion(const tw_touch_motion *go, tw_fault *fault);
tw_status tw_touch_too_many(const tw_touch_work *w, tw_fault *fault);

/* ---- motion.c */
static inline void touch_body(const segment *s, double t, double *x, double *v, double *a)
{
  const double u = t - s->begin;
  *x = s->x + u * (s->v + u * (s->a / 2.0 + u * s->j / 6.0));
  *v = s->v + u * (s->a + u * s->j / 2.0);
  *a = s->a + u * s->j;
}
int tw_touch_stop_segments(segment *out, double t, double x, double v, double a, double j);
int tw_touch_move_segments(segment *out, double t, double x, double distance, double v, double a);
void tw_touch_queue_after_stop(tw_touch_work *w, double t);

/* ---- events.c */
double tw_touch_signal(const tw_touch_work *w, double node, double amp);
double tw_touch_node_voltage(const tw_touch_work *w, double node, double amp);
double tw_touch_lean(const tw_touch_work *w, double signal, double out); /* e of the comparator */
double tw_touch_gap(tw_touch_work *w, double t, const double y[STATES]);
/* earliest event in the step: its kind and theta in (0, 1]; -1 = none */
int tw_touch_find_event(tw_touch_work *w, double *theta);
void tw_touch_apply_event(tw_touch_work *w, int event);

/* ---- line.c */
double tw_touch_patience(const tw_touch_motion *go, double feed);
void tw_touch_record(tw_touch_work *w, tw_touch_event_kind kind, double t);
void tw_touch_raw_edge(tw_touch_work *w, bool active);
void tw_touch_timers(tw_touch_work *w);
double tw_touch_next_timer(const tw_touch_work *w);
void tw_touch_watch_ready(tw_touch_work *w);
void tw_touch_new_contact(tw_touch_work *w);

#endif
