/* stylus.h: the stem that carries the ball tip, and the ball on the work.
 *
 * A stem is a row of round sections from the ball to the root, each with its own diameter, bore
 * and material; the root is held rigidly in the carrier, by a thread or a shank. Everything is in
 * SI units. Inputs are const and borrowed for the call, results are plain structs owned by the
 * caller, nothing is allocated, and all functions may run in several threads at once.
 * Equations, sources and limits: docs/models/stylus.md.
 */
#ifndef TRIPWRIGHT_STYLUS_H
#define TRIPWRIGHT_STYLUS_H

#include "tripwright/base.h"

/* sections a stem may have */
#define TW_STYLUS_SECTIONS 8

/* one cylindrical piece of the stem, counted from the ball */
typedef struct tw_stylus_section {
  double length;   /* m */
  double diameter; /* m */
  double bore;     /* m, 0 when solid */
  double young;    /* Pa */
  double density;  /* kg/m3 */
  double poisson;  /* for its shear; 0 = bending only */
} tw_stylus_section;

typedef struct tw_stylus_spec {
  tw_stylus_section section[TW_STYLUS_SECTIONS];
  size_t sections;
  double ball_diameter; /* m */
  double ball_density;  /* kg/m3 */
  double ball_young;    /* Pa */
  double ball_poisson;
  double work_young; /* Pa, of what is touched */
  double work_poisson;
  double thread_root; /* m, minor diameter of the thread in the carrier, 0 = no thread */
  double reach;       /* m, ball centre to the thread's root section, 0 = the sum of the lengths */
} tw_stylus_spec;

typedef struct tw_stylus {
  double side_stiffness;     /* N/m, force across at the ball centre */
  double axial_stiffness;    /* N/m */
  double side_slope;         /* rad/N, turn of the ball end under a side force */
  double stem_mass;          /* kg */
  double ball_mass;          /* kg */
  double mass_centre;        /* m, from the ball centre to the centre of mass */
  double tip_mass;           /* kg, at the ball, gives the first mode with side_stiffness */
  double first_mode;         /* Hz, bending, root clamped */
  double neck_stress_side;   /* Pa/N, largest bending stress in the stem, side force */
  double neck_stress_axial;  /* Pa/N, largest axial stress in the stem */
  size_t neck_section;       /* the section in which neck_stress_side arises */
  double thread_stress_side; /* Pa/N at the thread root, 0 when there is no thread */
  double thread_stress_axial;
  double hertz; /* N/m^1.5: force = hertz * approach^1.5 of ball on work */
} tw_stylus;

/* Solve the stem once. Errors: TW_BAD_INPUT with the design field for a length, diameter, modulus
 * or density that is not a positive finite number, a bore as wide as its section, or no section.
 * Source: docs/models/stylus.md sections 1 to 3 (unit-load integral for a stepped cantilever,
 * Hermite beam elements for the first mode). */
tw_status tw_stylus_solve(const tw_stylus_spec *spec, tw_stylus *out, tw_fault *fault);

/* The stem that a design describes, before it is solved. TW_BAD_INPUT when its lengths contradict
 * each other. */
struct tw_design;
tw_status tw_stylus_spec_from_design(const struct tw_design *design, tw_stylus_spec *out,
                                     tw_fault *fault);

/* Stiffness of the stem along the unit direction (cos e cos a, cos e sin a, sin e), N/m:
 * 1/k = cos^2 e / side + sin^2 e / axial. */
double tw_stylus_along(const tw_stylus *stylus, double elevation);

/* ---- ball on work -------------------------------------------------------------------------- */

/* two elastic bodies that touch at a point; radius > 0 convex, < 0 hollow, INFINITY flat */
typedef struct tw_hertz_pair {
  double radius[2];  /* m */
  double young[2];   /* Pa, INFINITY = rigid */
  double poisson[2]; /* 1 */
} tw_hertz_pair;

typedef struct tw_hertz {
  double approach; /* m */
  double patch;    /* m, radius of the contact circle */
  double pressure; /* Pa, largest */
  double tangent;  /* N/m, dF/d(approach) at this force */
  double constant; /* N/m^1.5 */
} tw_hertz;

/* Hertz contact of two spheres under `force` >= 0 (N). Source: Johnson, Contact Mechanics, ch. 4,
 * from memory; docs/models/stylus.md section 4. TW_BAD_INPUT for bodies that do not touch at a
 * point (equal and opposite radii), or for a modulus that is not positive. */
tw_status tw_hertz_solve(const tw_hertz_pair *pair, double force, tw_hertz *out, tw_fault *fault);

#endif
