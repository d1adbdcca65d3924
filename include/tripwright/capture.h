/* capture.h: what the instruments recorded, read and understood.
 *
 * A recording (scope CSV, WAV, FLAC, capture zip) becomes a tw_capture_record: channels in SI over
 * an even time base or over stamps. With what the instrument is and what was done it becomes a
 * tw_capture_result: features with uncertainty, what is wrong with the recording itself, marks and
 * the fitted model for a drawing. SI everywhere; `u` is a standard uncertainty. Equations and
 * sources: docs/models/capture.md. Objects are immutable once made; any number of threads may work
 * on different objects; who creates one frees it.
 */
#ifndef TRIPWRIGHT_CAPTURE_H
#define TRIPWRIGHT_CAPTURE_H

#include "tripwright/base.h"
#include "tripwright/parts.h"

/* ---- what was done ------------------------------------------------------------------------- */

/* name, word, sentence */
#define TW_CAPTURE_ACTS(X)                                                                         \
  X(UNKNOWN, "unknown", "nothing was said about what was done")                                    \
  X(REST, "rest", "nothing was touched: noise and hum")                                            \
  X(THREAD_CUT, "thread_cut", "a weight hung on a thread, and the thread was cut")                 \
  X(CARD_CUT, "card_cut", "a weight cut off a thread, recorded by a sound card")                   \
  X(HAND_WEIGHT, "hand_weight", "a weight was set down by hand, evenly")                           \
  X(WEIGHT_SERIES, "weight_series", "several weights one after the other, each cut off")           \
  X(WEIGHT_TABLE, "weight_table", "steps read by hand against weights")                            \
  X(RING_DOWN, "ring_down", "tapped, and left to ring")                                            \
  X(SWEEP, "sweep", "a generator through a series resistor swept the disc")                        \
  X(TONE, "tone", "a known tone, to find the volts at full scale")                                 \
  X(EDGE, "edge", "the output changed once")                                                       \
  X(BOUNCE, "bounce", "the output changed and bounced")                                            \
  X(RAMP, "ramp", "the node was moved slowly over the threshold and back")                         \
  X(TOUCHES, "touches", "touched again and again at a feed")                                       \
  X(METER_DECAY, "meter_decay", "a charged node read by a meter while it discharged")              \
  X(DIRECTIONS, "directions", "pulled until it tripped, all round")

typedef enum tw_capture_act {
#define X(NAME, word, sentence) TW_CAPTURE_##NAME,
  TW_CAPTURE_ACTS(X)
#undef X
      TW_CAPTURE_ACT_COUNT
} tw_capture_act;

const char *tw_capture_act_word(tw_capture_act act);     /* "thread_cut" */
const char *tw_capture_act_sentence(tw_capture_act act); /* what it means */
/* the act of a word, "tap" and the like included; TW_CAPTURE_ACT_COUNT when there is none */
tw_capture_act tw_capture_act_named(const char *word);

/* ---- the instrument ------------------------------------------------------------------------ */

/* What hangs on the node. resistance may be infinite; coupling 0: direct; attenuation: what the
 * file's numbers are multiplied with to be volts at the tip (1: they are already); full_scale:
 * volts at 1.0 of an audio file, NaN when not known; gain_u: relative standard uncertainty. */
typedef struct tw_capture_instrument {
  char name[48], id[48];
  double resistance, resistance_u, capacitance, capacitance_u, coupling, coupling_u;
  double attenuation, full_scale, gain_u;
  double bandwidth; /* Hz, infinite when not known */
  bool known;       /* stated or chosen, not assumed */
} tw_capture_instrument;

/* nothing on the node: infinite resistance, no capacitance, attenuation 1 */
void tw_capture_instrument_ideal(tw_capture_instrument *out);
/* the library's (or the shop's) row `id`; TW_BAD_INPUT with the nearest name */
tw_status tw_capture_instrument_of(const tw_library *library, const char *id,
                                   tw_capture_instrument *out, tw_fault *fault);

/* ---- the setting --------------------------------------------------------------------------- */

#define TW_CAPTURE_WEIGHTS 32
/* All that the person at the bench knows; NaN where not stated (tw_capture_setup_start). */
typedef struct tw_capture_setup {
  tw_capture_act act;
  tw_capture_instrument instrument;
  double weight[TW_CAPTURE_WEIGHTS]; /* kg */
  size_t weights;
  double weight_u;          /* relative */
  bool push;                /* the act pressed (set down) instead of letting go (cut) */
  double azimuth;           /* rad, of the force; elevation pi/2 unless stated */
  double elevation;         /* rad */
  double feed;              /* m/s, of touches */
  double bias_resistance;   /* ohm, on the node beside the instrument, its u relative */
  double bias_resistance_u; /* relative */
  double node_capacitance;  /* F, of disc and cable without the instrument */
  double node_capacitance_u;
  double series_resistance;  /* ohm, of a sweep */
  double channel_ratio;      /* gain of the second channel over the first; 1 unless stated */
  double tone_voltage;       /* V rms */
  double film_capacitor;     /* F, in parallel with the node for meter_decay */
  double reach, seat_radius; /* m, for directions */
  double cut_time;           /* s, how long the cut took; 0 */
  long channel;              /* of the node, from 1; 0: the first that fits */
} tw_capture_setup;
void tw_capture_setup_start(tw_capture_setup *out);

/* ---- the recording ------------------------------------------------------------------------- */

#define TW_CAPTURE_CHANNELS   16
#define TW_CAPTURE_FILE_LIMIT ((uint64_t)1 << 34) /* bytes; only windows are held */
#define TW_CAPTURE_SAMPLES    200000000u          /* rows of one file */
#define TW_CAPTURE_WINDOW     1000000u            /* values held at once, all channels together */
#define TW_CAPTURE_LINE       65536u              /* bytes of one line */
#define TW_CAPTURE_RATE_LEAST 1.0 /* Hz, of scopes and cards; stamps may be slower */
#define TW_CAPTURE_RATE_MOST  1e9 /* Hz */

/* what stands on the abscissa */
typedef enum tw_capture_axis {
  TW_AXIS_TIME,      /* s, even: start + k * interval */
  TW_AXIS_STAMPS,    /* s, uneven: stamp[k] */
  TW_AXIS_FREQUENCY, /* Hz */
  TW_AXIS_ANGLE,     /* rad */
  TW_AXIS_WEIGHT     /* N */
} tw_capture_axis;

typedef struct tw_capture_channel {
  char name[48];
  char unit[8];       /* "V", "A", "N", "1" (share of full scale) */
  double *value;      /* [samples], SI */
  double least, most; /* over the whole file */
  double step;        /* smallest difference between two values seen: the converter's step */
} tw_capture_channel;

/* how coarse the outline of the whole recording is */
#define TW_CAPTURE_OUTLINE 2048
typedef struct tw_capture_outline {
  float least[TW_CAPTURE_OUTLINE], most[TW_CAPTURE_OUTLINE];
} tw_capture_outline;

typedef struct tw_capture_record {
  char file[256];
  char kind[8];    /* "CSV", "WAV", "FLAC", "zip" ... */
  char found[320]; /* what was recognised, one line */
  tw_capture_axis axis;
  size_t channels, samples; /* samples held: all of them, or a window round the event */
  uint64_t rows;            /* in the file */
  uint64_t first;           /* row of the first sample held */
  uint64_t bytes;
  double start, interval; /* s, of the samples held; interval is the median for stamps */
  double jitter;          /* largest deviation of a step from the interval, relative */
  uint64_t gaps;          /* steps of more than 1.5 intervals */
  double *stamp;          /* [samples] unless the axis is TW_AXIS_TIME */
  tw_capture_channel channel[TW_CAPTURE_CHANNELS];
  double told_attenuation;     /* of the file's head, NaN when it says nothing */
  double told_trigger;         /* s, where the head says that the trigger is, NaN */
  double told_pretrigger;      /* share of the record before the trigger, NaN */
  double told_rows;            /* rows that the head promises, NaN */
  double offset_of_file;       /* s, of the first row of the file */
  tw_capture_outline *outline; /* [channels] */
  size_t outlined;             /* cells of the outline in use */
} tw_capture_record;

/* What the reader is told instead of what it recognises; 0, NaN or "" leaves it to the reader. */
typedef struct tw_capture_reading {
  char separator;    /* ',' ';' '\t' */
  char decimal;      /* '.' ',' */
  double interval;   /* s */
  double pretrigger; /* share of the record before the trigger */
  char time_unit[16], value_unit[16];
  size_t window; /* values held at once; 0: TW_CAPTURE_WINDOW */
} tw_capture_reading;
void tw_capture_reading_start(tw_capture_reading *out);

/* Read a file of any of the kinds. TW_NO_FILE: cannot be opened. TW_BAD_INPUT: refused, with place,
 * cause and cure in `messages` (never NULL); *out is NULL then. */
tw_status tw_capture_read(const char *file, const tw_capture_reading *reading,
                          tw_messages *messages, tw_capture_record **out);
/* the same of bytes in memory that messages call `name`; for tests, fuzzers and the page */
tw_status tw_capture_read_bytes(const char *name, const void *bytes, size_t size,
                                const tw_capture_reading *reading, tw_messages *messages,
                                tw_capture_record **out);
void tw_capture_record_free(tw_capture_record *record);
/* abscissa of a sample held, SI */
double tw_capture_at(const tw_capture_record *record, size_t sample);

/* ---- the result ---------------------------------------------------------------------------- */

/* One feature. `word` not empty: the answer is this word ("+", "yes"), value is 1 or 0 or -1. A
 * `least` is a lower bound, not a value. */
typedef struct tw_capture_feature {
  char name[32];
  double value, u;
  char unit[8];
  char word[16];
  bool least;
  char note[160];
} tw_capture_feature;

/* What is wrong with the recording itself; each has a word, a sentence with figures, a cure. */
typedef struct tw_capture_concern {
  char word[24]; /* clipped, slow, short, coupling, range, hum, aliasing, channel ... */
  char text[240], hint[200];
} tw_capture_concern;

/* A place on the drawing: at time t (abscissa), `y` NaN for a vertical line. */
typedef struct tw_capture_mark {
  double t, y;
  char text[32];
} tw_capture_mark;

#define TW_CAPTURE_FEATURES 48
#define TW_CAPTURE_CONCERNS 12
#define TW_CAPTURE_MARKS    40
#define TW_CAPTURE_CURVE    1200
typedef struct tw_capture_result {
  tw_capture_act act;
  bool recognised; /* the act was guessed, not stated */
  double weight;   /* kg, of the first weight; NaN */
  double azimuth, elevation, feed;
  bool push;
  size_t channel; /* that was evaluated, from 0 */
  tw_capture_feature feature[TW_CAPTURE_FEATURES];
  size_t features;
  tw_capture_concern concern[TW_CAPTURE_CONCERNS];
  size_t concerns;
  tw_capture_mark mark[TW_CAPTURE_MARKS];
  size_t marks;
  double curve_t[TW_CAPTURE_CURVE], curve_v[TW_CAPTURE_CURVE]; /* the fitted model */
  size_t curve;
  double chi_squared, dof;  /* of the fit against the noise before the event; 0: none */
  tw_capture_feature spare; /* of the evaluation */
} tw_capture_result;

/* The features of a recording. TW_OK with a result; TW_BAD_INPUT when the recording cannot carry
 * what is asked (fault: cause and cure); TW_NO_ANSWER when a fit does not settle. *out is owned by
 * the caller (tw_free), NULL unless TW_OK. */
tw_status tw_capture_evaluate(const tw_capture_record *record, const tw_capture_setup *setup,
                              tw_capture_result **out, tw_fault *fault);
/* a feature by name, NULL when there is none */
const tw_capture_feature *tw_capture_feature_of(const tw_capture_result *result, const char *name);
/* the act that the recording looks like */
tw_capture_act tw_capture_guess(const tw_capture_record *record);

/* ---- drawing ------------------------------------------------------------------------------- */

/* the record as characters, `width` by `height`; freed with tw_free; NULL without memory */
char *tw_capture_plot(const tw_capture_record *record, const tw_capture_result *result, int width,
                      int height);
/* the record as SVG with what was recognised marked and the model through it */
char *tw_capture_svg(const tw_capture_record *record, const tw_capture_result *result);

#endif
