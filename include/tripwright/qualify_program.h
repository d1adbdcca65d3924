/* qualify_program.h: motion programs for the tests, as drafts to be read before they run.
 *
 * A plan says what to test and within which limits; it becomes a list of moves, refused with every
 * reason if anything in it is unsafe; the list becomes text in the words of NIST RS274/NGC (NISTIR
 * 6556, 2000) or in the user's own, a plain-language listing, and a drawing. Metres, m/s, radians;
 * positions are those of the controlled point, which the work offset must put at the centre of the
 * ball tip. Every move has a feed. Below the clearance height only guarded moves (they stop on
 * contact) and ways back along them are made. No program makes a probe a safety device.
 * Owned by the caller, freed with tw_program_free; thread-safe. docs/models/qualify.md 12.
 */
#ifndef TRIPWRIGHT_QUALIFY_PROGRAM_H
#define TRIPWRIGHT_QUALIFY_PROGRAM_H

#include "tripwright/base.h"

/* ---- words -------------------------------------------------------------------------------------
 */

/* The words of a controller. {x} stands for a number: {n} touch, {p} {q} {r} three parameters of
 * its own for every touch, {angle} degrees, {seconds}. '|' begins a new line. Empty: there is no
 * such word. */
typedef struct tw_words {
  char name[64];
  bool inches;
  char units[32];    /* the word for the unit in use: G21 or G20 */
  char setup[96];    /* plane, compensation off, tool length, exact path, cycles off, absolute, per
                        minute */
  char straight[16]; /* G1 */
  char probe[32];    /* G38.2: stops on contact, error without one */
  char guarded[32];  /* stops on contact, no error without one; none in NIST's words */
  char record[160];  /* after a touch */
  char check[160];   /* before a touch: must end the program if the probe is tripped */
  char orient[64];   /* turns the spindle to {angle} and holds it; none: a stop and a note */
  char spindle_stop[32]; /* M5 */
  char dwell[32];        /* G4 P{seconds} */
  char pause[32];        /* M0 */
  char begin[32], end[32];
  char comment_open[8], comment_close[8];
  unsigned first_parameter, last_parameter; /* for {p} {q} {r} */
  char work_offset[16];                     /* G54; empty: the one that is active */
  char own_words[160]; /* words that neither RS274/NGC nor ISO 6983 define and the user answers
                          for, with blanks between them */
} tw_words;

void tw_words_start(tw_words *out); /* NIST RS274/NGC, millimetres */
/* Every word must mean what its key says (RS274/NGC; ISO 6983): a rapid traverse as the straight
 * move, a unit that contradicts `inches`, a spindle that is switched on are refused; words without
 * a meaning there only pass if own_words names them. TW_BAD_INPUT: every reason is in `messages`.
 */
tw_status tw_words_check(const tw_words *words, tw_messages *messages);
/* A words file: "key = value" lines, named as above, over the NIST ones; a line that starts with
 * '#' and a blank is a comment. Checked as by tw_words_check. */
tw_status tw_words_read(const char *path, tw_messages *messages, tw_words *out);
tw_status tw_words_read_text(const char *name, const char *text, size_t length,
                             tw_messages *messages, tw_words *out);

/* ---- plan --------------------------------------------------------------------------------------
 */

typedef enum tw_program_test {
  TW_TEST_REPEAT, /* one point, `touches` times */
  TW_TEST_FEEDS,  /* one point, `touches` times at each of `feed` */
  TW_TEST_RING,   /* `touches` points evenly round a ring, from its centre */
  TW_TEST_SPHERE, /* the 25-point pattern */
  TW_TEST_OFFSET, /* centre of a ring by `touches` (4 or more) at `turns` spindle angles, 2 or 4 */
  TW_TEST_DRIFT   /* one point, `touches` times, `interval` apart */
} tw_program_test;
const char *tw_program_test_name(tw_program_test test);
bool tw_program_test_named(const char *name, tw_program_test *out);

#define TW_FEEDS_MOST 12
typedef struct tw_plan {
  tw_program_test test;
  double contact[3];         /* repeat, feeds, drift: the controlled point at contact; ring, offset:
                                centre, z the height to touch at; sphere: centre of the sphere */
  double azimuth, elevation; /* of the force on the tip (contract): the machine moves along -d */
  double diameter, tip_diameter; /* the tip's is needed for every test */
  double top;                    /* highest part of artefact and clamps */
  double clearance;              /* height at and above which nothing is in the way */
  double approach;  /* from the start of a touch to the nominal surface (ring: from its centre) */
  double placement; /* the surface is this near to where it is said to be */
  double back_off;  /* before the counted touch, from the nominal surface */
  double feed_position, feed_first, feed_touch, feed_limit;
  double overtravel;            /* that the probe and its stop allow in the directions used */
  double deceleration, latency; /* of the machine: m/s2; s from trip to the start of braking */
  double reach;                 /* free length of stylus above the ball's centre; 0: not checked */
  size_t touches, feeds, turns;
  double feed[TW_FEEDS_MOST];
  double interval;     /* s */
  bool entry_secured;  /* the user has made sure that the way straight down to each start is free */
  bool pulse;          /* the output is a pulse: it does not show that the tip is still touching */
  double pulse_length; /* s, shortest; 0: not known */
  double floor;        /* height of what lies under the ball where it touches; NaN: not stated */
  double travel[3][2]; /* lowest and highest position of each axis; NaN: not stated, then nothing
                          is further than 2 m from the work's zero */
} tw_plan;

void tw_plan_start(tw_program_test test, tw_plan *out); /* cautious numbers, no positions */

/* distance to stop from a feed: v^2/(2 a) + v latency */
double tw_stopping_distance(const tw_plan *plan, double feed);

/* ---- program ------------------------------------------------------------------------------------
 */

typedef enum tw_move_kind {
  TW_MOVE_HEIGHT,   /* to the clearance height where the spindle stands; only to[2] counts */
  TW_MOVE_POSITION, /* at or above the clearance */
  TW_MOVE_GUARDED,  /* stops on contact */
  TW_MOVE_DOWN,     /* straight down a way that the user secured */
  TW_MOVE_TOUCH,    /* first, fast touch */
  TW_MOVE_COUNTED,  /* the touch that counts */
  TW_MOVE_BACK,     /* back along the way just come */
  TW_MOVE_RECORD,
  TW_MOVE_TURN, /* value: spindle angle, rad */
  TW_MOVE_WAIT, /* value: s */
  TW_MOVE_CHECK
} tw_move_kind;

typedef struct tw_move {
  tw_move_kind kind;
  double to[3], feed, value;
  unsigned number; /* of the touch */
} tw_move;

typedef struct tw_program {
  tw_plan plan;
  size_t count;
  tw_move *move;
  unsigned touches; /* recorded */
  double seconds;   /* rough duration */
} tw_program;

/* TW_BAD_INPUT: refused; every reason is in `messages` with the field to change and a cure. */
tw_status tw_program_make(const tw_plan *plan, const tw_words *words, tw_messages *messages,
                          tw_program **out);
void tw_program_free(tw_program *program);

/* each gives a text that the caller frees with tw_free; `title` goes into the head as it is */
tw_status tw_program_text(const tw_program *program, const tw_words *words, const char *title,
                          char **text, tw_fault *fault);
tw_status tw_program_listing(const tw_program *program, char **text, tw_fault *fault);
tw_status tw_program_drawing(const tw_program *program, char **svg, tw_fault *fault);

#endif
