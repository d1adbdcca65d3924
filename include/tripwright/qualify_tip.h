/* qualify_tip.h: what the probe's tip is in use: its effective size, by direction and by feed.
 *
 * The effective radius r is the distance, at the trip, from the recorded tip position to the
 * surface: surface = recorded + R(spindle) offset - r d. d is the unit vector of the force that the
 * work exerts on the tip (the contract's azimuth, in the machine's frame); the machine approaches
 * along -d. The offset goes from the spindle axis to the ball's centre, spindle at 0. The probe
 * turns with the spindle, and its lobes with it: r = r(azimuth - spindle) - (feed - feed of the
 * table) delay. The delay is positive: recorded points lie further along the travel, the faster the
 * touch. Metres, radians, seconds. A tip table is made with the spindle at 0; it holds for the
 * stylus, feed, approach and filter written in it and for touches at right angles to the stylus.
 * Plain structs; thread-safe. docs/models/qualify.md 11.
 */
#ifndef TRIPWRIGHT_QUALIFY_TIP_H
#define TRIPWRIGHT_QUALIFY_TIP_H

#include "tripwright/edge.h"
#include "tripwright/qualify_fit.h"
#include "tripwright/qualify_stats.h"
#include "tripwright/qualify_tram.h"

/* effective diameter from a known feature and what was measured on it */
typedef enum tw_feature { TW_RING, TW_BOSS, TW_BLOCK, TW_SLOT } tw_feature;
typedef struct tw_diameter {
  double value, u;
} tw_diameter;
/* ring, slot: size - travel; boss (pin, sphere), block: travel - size. `travel` is the diameter of
 * the recorded positions, or the distance between two opposite trips. Not positive: TW_NO_ANSWER.
 */
tw_status tw_effective_diameter(tw_feature feature, double size, double size_u, double travel,
                                double travel_u, tw_diameter *out, tw_fault *fault);

#define TW_TIP_ROWS 360
typedef enum tw_tip_kind { TW_TIP_HARMONICS, TW_TIP_BINS } tw_tip_kind;

typedef struct tw_tip_row {
  unsigned order; /* harmonic: order; 0 is the mean */
  double azimuth; /* bin: its middle */
  double a, b, u; /* harmonic: a cos k az + b sin k az; bin: a is the radius there */
} tw_tip_row;

typedef struct tw_tip {
  char stylus[80], date[32], filter[48], from[80];
  double feed, approach;      /* of the readings */
  double feed_low, feed_high; /* range for which `delay` was found; both 0: one feed only */
  double delay, delay_u;
  double diameter, diameter_u; /* mean effective diameter, artefact included */
  double offset[2], offset_u;  /* spindle axis to ball centre at spindle angle 0; 0 0 0 when not
                                  measured */
  double residual_s;           /* scatter that the rows leave */
  tw_tip_kind kind;
  size_t count;
  tw_tip_row row[TW_TIP_ROWS];
} tw_tip;

/* From points touched all round a ring (from inside) or a boss (from outside), x, y in pairs.
 * orders > 0: harmonics 2..orders about the fitted centre; bins > 0: so many equal bins instead.
 * The first harmonic is the artefact's place and cannot be told from the stylus offset: it is left
 * to tw_offset_of. Conditions (text, feed, approach) are the caller's to fill in. */
tw_status tw_tip_from_points(const double *point, size_t n, tw_feature feature, double size,
                             double size_u, size_t orders, size_t bins, tw_tip *out,
                             tw_fault *fault);

/* radius at an azimuth and its standard uncertainty; false: no row covers it */
bool tw_tip_radius(const tw_tip *tip, double azimuth, double *radius, double *u);

/* How right an edge is that one touch finds at the feed of the table, before and after the table.
 * `ball`: diameter of the ball itself; NaN: not known, then `before` is NaN. */
tw_status tw_tip_edge(const tw_tip *tip, double ball, tw_found_edge *out, tw_fault *fault);

/* The delay of e and the feeds that it was found for. TW_BAD_INPUT: it is below zero, with all of
 * its interval: the error was counted against the travel. */
tw_status tw_tip_take_delay(tw_tip *tip, const tw_feed_error *e, double low, double high,
                            tw_fault *fault);

/* The offset from centres of one ring or boss found at several spindle angles (tw_offset_of gives
 * the shift of what was recorded, which is the other way). */
void tw_tip_take_offset(tw_tip *tip, const tw_offset *centres);
/* The same from the touches, four or more at each spindle angle, x, y in pairs: the table's lobes
 * are taken out first, its uncertainty comes in. Touch at the feed of the table. */
tw_status tw_tip_offset_from_touches(tw_tip *tip, const double *spindle, const double *point,
                                     size_t n, tw_feature feature, tw_fault *fault);
/* most that the lobes put into a centre from four touches 90 degrees apart: orders 3 and 5, m. At
 * four spindle angles 90 degrees apart it turns with the spindle like an offset. */
double tw_tip_hidden_by_four(const tw_tip *tip);

typedef struct tw_touched {
  double at[3];         /* recorded; z is passed on */
  double azimuth;       /* of the force on the tip, in the machine's frame */
  double feed, spindle; /* m/s; rad */
  double u;             /* of a recorded coordinate */
} tw_touched;
typedef struct tw_surface {
  double at[3], u; /* u along the touch */
} tw_surface;
/* One point corrected. TW_BAD_INPUT: a feed other than the table's without a delay, or outside the
 * range that the delay was found for; TW_NO_ANSWER: a direction that the table does not cover. */
tw_status tw_tip_apply(const tw_tip *tip, const tw_touched *touched, tw_surface *out,
                       tw_fault *fault);

/* The table as text: "# key: value" lines with the conditions, then comma-separated rows. The
 * caller frees the text with tw_free. */
tw_status tw_tip_write(const tw_tip *tip, char **text, tw_fault *fault);
tw_status tw_tip_read(const char *path, tw_messages *messages, tw_tip *out);
tw_status tw_tip_read_text(const char *name, const char *text, size_t length, tw_messages *messages,
                           tw_tip *out);

#endif
