/* seat_forms.h: closed forms of the carrier on its seat, of a crash, and of foam.
 *
 * What can be said about a seat without solving contacts: checks for the engine, hand figures for
 * the explanation, and the exact planar swivel that a crash needs (the engine's rotations are
 * small). SI units, angles in radians. Pure functions of their arguments, safe in any thread; those
 * that can be asked for something impossible return a status, the others assume the stated ranges
 * and return a finite number there. Equations and sources: docs/models/seat.md sections 4 and 6.
 */
#ifndef TRIPWRIGHT_SEAT_FORMS_H
#define TRIPWRIGHT_SEAT_FORMS_H

#include "tripwright/seat.h"

/* ---- ring of contact on a disc ------------------------------------------------------------- */

/* moment (N m) at which an ideal ring of radius a under P starts to lift: P a / 2, for any disc */
double tw_seat_ring_liftoff(double preload, double radius);

/* ring of N equal points on a disc: K0 = axial, K1, K2 .. = N / eigenvalue of the compliance */
typedef struct tw_seat_ring {
  double axial;   /* N/m, K0 */
  double mode[4]; /* N/m, K0 .. K3 of the cos m phi patterns */
  double tilt;    /* N m/rad, radius^2 K1 / 2 */
} tw_seat_ring;
/* Errors: TW_BAD_INPUT for fewer than 8 or more than TW_SEAT_GROUP points, or from the disc. */
tw_status tw_seat_ring_of(tw_seat_disc_fn disc_points, const void *disc, double radius,
                          size_t points, tw_seat_ring *out, tw_fault *fault);

/* Universal curve of a frictionless pivot past lift-off: net load T = `excess` x preload gives
 * m = M/(P0 a) and tau = turn x tilt/(P0 a). The ball's centre stands on `centre_stiffness` (N/m),
 * 0 = fixed. Source: docs/models/seat.md section 4. */
tw_status tw_seat_liftoff_curve(tw_seat_disc_fn disc_points, const void *disc, double radius,
                                size_t points, double centre_stiffness, double excess, double *m,
                                double *tau, tw_fault *fault);

/* Ring on a bed of independent springs, s = a turn / seating >= 1: P/P0 and M/(P0 a). */
void tw_seat_winkler_ring(double s, double *load, double *moment);

/* plate on a lip of radius a: sideways force at which it tips, (S + T) a / L */
double tw_seat_plate_tipping(double spring_force, double excess, double radius, double reach);

/* ---- friction ------------------------------------------------------------------------------ */

double tw_seat_socket_factor(double socket_angle); /* c(psi) = 2 E(sin^2 psi)/(pi cos psi) */
/* friction moment per newton of preload, mu_s R c(psi) + mu_d h, in m */
double tw_seat_friction_arm(double friction_socket, double friction_flat, double ball_radius,
                            double flat_height, double socket_angle);
/* full below half the flat's radius, locked from the whole radius on */
tw_seat_regime tw_seat_regime_of(double friction_arm, double flat_radius);
const char *tw_seat_regime_name(tw_seat_regime regime);

/* ---- tripod and bonded --------------------------------------------------------------------- */

/* Force at which the first of three flat seats opens (or falls to `least`, N). Pitch radius b,
 * first seat at `seat_azimuth`. TW_NO_ANSWER when no seat ever opens in that direction. */
tw_status tw_seat_tripod_flat(double preload, double least, double b, double reach,
                              double seat_azimuth, double azimuth, double elevation, double *force,
                              tw_fault *fault);
/* The same for three rods on two balls each, contact normals at beta from the axis. */
tw_status tw_seat_tripod_vee(double preload, double least, double b, double reach, double beta,
                             double seat_azimuth, double azimuth, double elevation, double *force,
                             tw_fault *fault);
/* Bonded foot, eccentric by e on a disc with g = 1 - (r/Rs)^2: charge over centre gain, per newton,
 * for a force along azimuth (from that of e) and elevation. Pushed towards e the foot presses with
 * its outer edge, and the charge falls. */
double tw_seat_bonded_gain(double eccentricity, double reach, double disc_radius, double azimuth,
                           double elevation);

/* ---- crash --------------------------------------------------------------------------------- */

/* A pivot swivelled by a finite angle, exact in the plane. */
typedef struct tw_crash_pivot {
  double flat_radius, flat_height, ball_radius, reach, socket_angle; /* m, rad */
  double friction_socket, friction_flat;
  double preload;         /* N */
  double ring_stiffness;  /* N/m, K0 under the preload */
  double point_stiffness; /* N/m, disc under the edge that presses */
} tw_crash_pivot;
typedef struct tw_crash_swivel {
  double lift;       /* m, of the pressing edge */
  double arm;        /* m */
  double edge_load;  /* N on the disc */
  double tip_force;  /* N, sideways at the ball */
  double tip_travel; /* m, sideways, of a rigid carrier and stem */
} tw_crash_swivel;
void tw_crash_swivel_at(const tw_crash_pivot *pivot, double angle, tw_crash_swivel *out);

/* Bending of a simply supported two-layer disc of outer radius R: factor of the load that gives
 * the edge moment N m/m per newton. */
double tw_crash_ring_moment(double poisson, double radius, double disc_radius);
/* the same under a point load spread over a patch of radius r0 on a plate of thickness t */
double tw_crash_tilt_moment(double poisson, double radius, double disc_radius);
double tw_crash_point_moment(double poisson, double patch, double thickness, double disc_radius);

/* two isotropic layers, bonded; from the metal side */
typedef struct tw_crash_laminate {
  double thickness[2], young[2], poisson[2]; /* metal, ceramic */
  double disc_radius;                        /* m, simply supported */
} tw_crash_laminate;
typedef struct tw_crash_stress {
  double rigidity;         /* N m, about the neutral plane */
  double centre_stiffness; /* N/m */
  double ring, point;      /* Pa/N at the ceramic's outer face */
} tw_crash_stress;
tw_status tw_crash_stress_of(const tw_crash_laminate *laminate, double ring_radius, double patch,
                             tw_crash_stress *out, tw_fault *fault);

/* Order in which things give way; what must hold is a < b in every pair. */
typedef struct tw_crash_order {
  double trip_axial, lift_axial, disc_axial; /* N: trip, holder lifts, disc allowable */
  double trip_side, lift_side, disc_side;
  bool axial_holds, side_holds;
} tw_crash_order;
void tw_crash_order_of(const tw_crash_pivot *pivot, double threshold_load, double trip_side,
                       double holddown, double holder_radius, double holder_height,
                       double disc_allowable, tw_crash_order *out);

/* way to stand still from speed v: v delay + v^2/(2 deceleration) */
double tw_crash_stopping(double speed, double delay, double deceleration);

/* ---- foam under compression, nominal stress in Pa at strain 0 .. < 1 ------------------------- */

typedef struct tw_foam_cellular { /* Gibson and Ashby, flexible open cells */
  double solid_young;             /* Pa */
  double relative_density;
} tw_foam_cellular;
#define TW_FOAM_TERMS 3
typedef struct tw_foam_hyper { /* Ogden and Hill */
  size_t terms;
  double mu[TW_FOAM_TERMS], alpha[TW_FOAM_TERMS], poisson[TW_FOAM_TERMS];
} tw_foam_hyper;
/* TW_BAD_INPUT for a strain outside 0 .. densification (cellular) or 0 .. 1 (hyper) */
tw_status tw_foam_cellular_stress(const tw_foam_cellular *foam, double strain, double *stress,
                                  tw_fault *fault);
tw_status tw_foam_hyper_stress(const tw_foam_hyper *foam, double strain, double *stress,
                               tw_fault *fault);

/* A measured force-travel table (rising in both), monotone cubic between its points: force at
 * `travel`, and its rate (may be NULL). Outside the table TW_BAD_INPUT: no extrapolation. */
tw_status tw_force_table(const double *travel, const double *force, size_t points, double at,
                         double *value, double *rate, tw_fault *fault);

#endif
