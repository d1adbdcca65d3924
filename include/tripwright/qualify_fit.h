/* qualify_fit.h: ideal shapes through measured points, and how far the points are from them.
 *
 * Points are n rows of coordinates in any one length unit (the command line uses metres); results
 * are in the same unit, angles in radians. Least-squares fits minimise distances square to the
 * shape, not an algebraic stand-in. Fits work about the centroid, so a far origin costs nothing.
 * Nothing is owned; everything is thread-safe. docs/models/qualify.md 5 and 6.
 */
#ifndef TRIPWRIGHT_QUALIFY_FIT_H
#define TRIPWRIGHT_QUALIFY_FIT_H

#include "tripwright/base.h"

typedef enum tw_form { TW_LINE, TW_PLANE, TW_CIRCLE, TW_SPHERE, TW_CYLINDER } tw_form;

/* name of a form ("circle") and back; NULL, false if there is none */
const char *tw_form_name(tw_form form);
bool tw_form_named(const char *name, tw_form *out);
/* coordinates a point of it has: circle 2, line 2 or 3 (as given), others 3 */
size_t tw_form_least_points(tw_form form);

typedef struct tw_fit {
  tw_form form;
  size_t n, dimensions;
  double centre[3];    /* circle, sphere: centre; line, plane, cylinder: a point on it, nearest to
                          the centroid */
  double direction[3]; /* line, cylinder: axis; plane: normal; largest component positive */
  double radius;       /* circle, sphere, cylinder */
  double squares, rms; /* of the residuals; rms = sqrt(squares / n) */
  double s;            /* sqrt(squares / (n - parameters)) */
  double least, greatest; /* residuals; residual = distance - radius; outside is positive */
  double form_error;      /* greatest - least; for a line in space: twice the largest distance */
  size_t least_at, greatest_at;
  double centre_u[3], radius_u; /* standard uncertainties if the residuals are independent */
  int steps;
  size_t spare; /* equations left over; with none the points show neither form nor u: both 0 */
} tw_fit;

/* Least-squares fit of `form` to n points of `dimensions` coordinates each, stored point by point.
 * `residual`, if not NULL, takes n residuals. TW_BAD_INPUT: too few points, not finite, wrong
 * number of coordinates. TW_NO_ANSWER: identical, collinear or coplanar points where the form needs
 * more; the text says which. */
tw_status tw_fit_form(tw_form form, const double *point, size_t n, size_t dimensions,
                      double *residual, tw_fit *out, tw_fault *fault);

/* ---- zones: circles that hold all points ------------------------------------------------------
 */

typedef enum tw_zone {
  TW_ZONE_LEAST_SQUARES, /* about the least-squares centre */
  TW_ZONE_MINIMUM,       /* two concentric circles, least separation */
  TW_ZONE_CIRCUMSCRIBED, /* smallest circle round all points */
  TW_ZONE_INSCRIBED      /* largest circle inside all points, held by points on all sides */
} tw_zone;

#define TW_SUPPORT_MOST 8
typedef struct tw_zone_fit {
  tw_zone zone;
  double centre[2], radius; /* minimum zone: the middle of the two radii */
  double inner, outer;      /* radii about the centre */
  double roundness;         /* outer - inner: RON of ISO 12181 about this centre */
  double bound;             /* the true optimum is no further from this value than that */
  size_t supports;
  size_t support[TW_SUPPORT_MOST]; /* points that hold the zone, from 0 */
  bool support_outer[TW_SUPPORT_MOST];
} tw_zone_fit;

/* Exact to rounding: the smallest circle by the randomised incremental method (Welzl 1991), the
 * others by branch and bound over the centre, whose bounds follow from distances changing no faster
 * than the centre moves, finished on the support points. Points x, y in pairs. TW_NO_ANSWER where
 * the points leave a gap of half a turn or more, so that no zone holds them (not for
 * circumscribed). */
tw_status tw_fit_zone(tw_zone zone, const double *point, size_t n, tw_zone_fit *out,
                      tw_fault *fault);

/* ---- harmonics --------------------------------------------------------------------------------
 */

#define TW_HARMONIC_MOST 32
/* radius(theta) = mean + sum a_k cos k theta + b_k sin k theta = sum A_k cos(k theta - phase_k) */
typedef struct tw_harmonics {
  size_t n, orders; /* orders that the points resolve and that were fitted: k = 1..orders */
  double mean, a[TW_HARMONIC_MOST + 1], b[TW_HARMONIC_MOST + 1];
  double amplitude[TW_HARMONIC_MOST + 1], phase[TW_HARMONIC_MOST + 1]; /* phase 0..2 pi */
  double u[TW_HARMONIC_MOST + 1]; /* standard uncertainty of a_k and b_k; 0 if nothing is left */
  double s, condition;
  bool even; /* the angles were evenly spaced round the turn */
} tw_harmonics;

/* Least squares at any angles; for even ones that is the discrete Fourier series. `orders` 0: all
 * that n points resolve (2 k < n), TW_HARMONIC_MOST at most. Asking for more, or for what gaps in
 * the angles hide, is TW_BAD_INPUT or TW_NO_ANSWER. */
tw_status tw_harmonics_of(const double *angle, const double *radius, size_t n, size_t orders,
                          tw_harmonics *out, tw_fault *fault);
/* range of the radii once mean and the first `through` harmonics are taken away */
double tw_harmonics_rest(const tw_harmonics *h, const double *angle, const double *radius,
                         size_t through);
double tw_harmonics_at(const tw_harmonics *h, double angle);

/* Lobing: largest minus smallest of the fitted curve round the turn, with an interval by resampling
 * the residuals (Efron 1979, residuals widened by sqrt(n/(n-p)), reflected about the estimate so
 * that what the scatter adds to a peak-to-valley is taken out, expanded by t over z for few degrees
 * of freedom; docs/models/qualify.md 6). */
typedef struct tw_lobing {
  double value, low, high, level;
  double third, third_u; /* amplitude of the three-lobe part */
} tw_lobing;
tw_status tw_lobing_of(const double *angle, const double *radius, size_t n, size_t orders,
                       size_t repeats, uint64_t seed, double level, tw_lobing *out,
                       tw_fault *fault);

/* ---- ring and sphere tests ---------------------------------------------------------------------
 */

/* 2-D probing error on a ring or equator, 3-D probing error on a sphere: range of the distances
 * from the least-squares centre, no point left out; after the method of ISO 230-10 and ISO 10360-5
 * (clauses from memory). */
typedef struct tw_probing_error {
  tw_fit fit;
  double form_error;  /* P: R_max - R_min */
  double size_error;  /* D fitted - D calibrated, + 2 tip radius correction left to the caller */
  double u_form;      /* sqrt((F/2)^2 + u_F^2), F and u_F of the artefact (ISO/TS 23165) */
  bool pattern_ok;    /* 36 even points, or the 25-point pattern, within 2 degrees */
  tw_harmonics lobes; /* of the residuals; ring only */
} tw_probing_error;

typedef struct tw_artefact {
  double diameter, diameter_u, form, form_u;
} tw_artefact;

tw_status tw_ring_test(const double *point, size_t n, const tw_artefact *ring,
                       tw_probing_error *out, tw_fault *fault);
tw_status tw_sphere_test(const double *point, size_t n, const tw_artefact *sphere,
                         tw_probing_error *out, tw_fault *fault);

/* direction (unit vector from the sphere's centre) of point k = 0..24 of the 25-point pattern:
 * pole; 4 at 22.5 deg below it; 8 at 45; 4 at 67.5; 8 at 90; each ring turned 22.5 deg */
void tw_sphere_pattern(size_t k, double direction[3]);

#endif
