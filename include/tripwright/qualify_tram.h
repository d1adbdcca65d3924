/* qualify_tram.h: setting the tip on the spindle axis: readings to turns of screws.
 *
 * Metres, radians; the frame is that of the contract: +Z from the tip into the spindle, azimuths
 * from +X towards +Y, spindle angles counted the same way. An indicator stands still and touches
 * the turning tip; its reading grows as the tip moves towards `indicator` (its azimuth). Plain
 * structs of the caller's; thread-safe. docs/models/qualify.md 10.
 */
#ifndef TRIPWRIGHT_QUALIFY_TRAM_H
#define TRIPWRIGHT_QUALIFY_TRAM_H

#include "tripwright/base.h"

/* reading = mean + ex cos(phi - indicator) - ey sin(phi - indicator) */
typedef struct tw_runout {
  size_t n;
  double mean, e[2];          /* eccentricity at spindle angle 0 */
  double modulus, azimuth;    /* of e; azimuth 0..2 pi */
  double tir;                 /* 2 |e| */
  double covariance[3];       /* ex ex, ex ey, ey ey */
  double s, dof;              /* of the readings about the sine; dof infinite if u was stated */
  double u_modulus, expanded; /* standard uncertainty of |e|; radius of the level's circle */
  double worst;               /* largest residual */
  bool real;                  /* |e| is larger than `expanded` */
} tw_runout;

/* Least squares. `u_reading`: stated standard uncertainty of one reading, 0 if it is to come from
 * the scatter, which takes four readings. TW_BAD_INPUT: fewer than three different angles, or three
 * without u_reading. TW_NO_ANSWER: angles too close together to tell mean from eccentricity. */
tw_status tw_runout_of(const double *angle, const double *reading, size_t n, double indicator,
                       double u_reading, double level, tw_runout *out, tw_fault *fault);

/* Tilt of the stylus from readings at the tip and `height` above it: (e_tip - e_up)/height, and
 * the eccentricity that is left at `drop` above the tip (the flange). */
typedef struct tw_tilt {
  double tilt[2], modulus, u;
  double flange[2], flange_modulus, flange_u;
  bool real;
} tw_tilt;
tw_status tw_tilt_of(const tw_runout *tip, const tw_runout *up, double height, double drop,
                     double level, tw_tilt *out, tw_fault *fault);

#define TW_SCREW_MOST 8
typedef enum tw_screw_kind { TW_SCREW_AXIAL, TW_SCREW_RADIAL } tw_screw_kind;

/* Axial screws tip the probe: radius of their circle, tip `drop` below their plane. Radial screws
 * push the flange: the tip moves `ratio` times as far. */
typedef struct tw_screws {
  tw_screw_kind kind;
  size_t count;
  double azimuth[TW_SCREW_MOST];
  double pitch, radius, drop, ratio;
  bool only_tighten; /* shift all turns of axial screws so that none is loosened */
} tw_screws;

typedef struct tw_turns {
  double angle[TW_SCREW_MOST]; /* rad; axial: positive raises that side; radial: positive drives
                                  the screw inwards */
  double angle_u[TW_SCREW_MOST];
  double travel[TW_SCREW_MOST]; /* of the screw, m */
  double tip_per_angle;         /* m of tip movement for one rad of one screw alone, the others
                                   left as they are: that of the screw that moves it most */
  bool worth_it;                /* the eccentricity is real, and more than half a degree moves */
  bool coarse;                  /* one degree of a screw moves the tip further than `expanded` */
} tw_turns;
tw_status tw_turns_for(const tw_runout *runout, const tw_screws *screws, tw_turns *out,
                       tw_fault *fault);

/* What changed between two readings of the runout: after locking, after turning a screw. */
typedef struct tw_shift {
  double move[2], modulus, azimuth, u;
  bool real;
} tw_shift;
tw_status tw_shift_of(const tw_runout *before, const tw_runout *after, double level, tw_shift *out,
                      tw_fault *fault);
/* what one screw really does: tip movement per rad along its own direction, and across it, against
 * the computed sensitivity */
typedef struct tw_learned {
  double along, across, u, ratio; /* ratio: found over computed */
} tw_learned;
tw_status tw_screw_learned(const tw_shift *shift, const tw_screws *screws, size_t screw,
                           double turned, tw_learned *out, tw_fault *fault);

/* Stylus offset from the centres found at several spindle angles: centre(phi) = c + R(phi) offset.
 * Two angles half a turn apart or more give (c0 - c180)/2. u_centre: of one coordinate; 0: from
 * the scatter, which takes three angles. centre: x, y in pairs. */
typedef struct tw_offset {
  double centre[2], offset[2], modulus, azimuth, tir, u, dof, s;
} tw_offset;
tw_status tw_offset_of(const double *angle, const double *centre, size_t n, double u_centre,
                       tw_offset *out, tw_fault *fault);

#endif
