/* disc.h: the piezo disc in its support: charge, capacitance, stiffness, resonances, stress.
 *
 * A metal plate with a thin ceramic on one face, taken as a laminate of thin plates (Kirchhoff):
 * annular zones with an exact solution for loads without direction (n = 0), ring elements for the
 * harmonics n = 0..24, for elastic beds and for vibration. SI units everywhere. The caller owns
 * what tw_disc_new returns and frees it with tw_disc_free; a tw_disc is immutable and may be used
 * by several threads at once. A force is positive when the carrier pushes, a deflection positive
 * in the direction of that push. Charge is what gathers on the electrode of the free ceramic face
 * at zero voltage, with the sign of the poling (see tw_disc_poling). "Outside capacitance" is
 * what hangs on the disc: TW_DISC_OPEN (nothing), TW_DISC_SHORT (held at zero volts) or farads.
 * Equations, sources, limits: docs/models/disc.md.
 */
#ifndef TRIPWRIGHT_DISC_H
#define TRIPWRIGHT_DISC_H

#include "tripwright/base.h"

#include <math.h>

#define TW_DISC_OPEN  0.0
#define TW_DISC_SHORT HUGE_VAL
/* highest harmonic that the ring elements carry; the rest is added in closed form */
#define TW_DISC_HARMONICS 24

/* ---- the disc in plain numbers ------------------------------------------------------------- */

typedef struct tw_disc_solid {
  double young;     /* Pa */
  double poisson;   /* - */
  double density;   /* kg/m3 */
  double expansion; /* 1/K */
} tw_disc_solid;

/* poled through its thickness, alike in all directions of its plane */
typedef struct tw_disc_ceramic {
  double s11, s12, s13, s33; /* m2/N, at constant field */
  double d31, d33;           /* C/N */
  double permittivity;       /* eps33 at constant stress over that of vacuum */
  double density;            /* kg/m3 */
  double expansion;          /* 1/K */
  double pyroelectric;       /* C/(m2 K), free ceramic */
  double allowable_tension;  /* Pa */
} tw_disc_ceramic;

/* the ceramics and metals that docs/models/disc.md calls by name, from the same sources as the
 * check cases: TW_PZT_5A, TW_PZT_5H; brass, stainless */
extern const tw_disc_ceramic TW_DISC_PZT_5A, TW_DISC_PZT_5H;
extern const tw_disc_solid TW_DISC_BRASS, TW_DISC_STAINLESS, TW_DISC_EPOXY, TW_DISC_SILVER;

typedef enum tw_disc_support {
  TW_DISC_RIM,        /* simple at the metal's edge, free to slide */
  TW_DISC_PINNED,     /* held at the edge of the bare metal face: turns, does not slide */
  TW_DISC_CLAMPED,    /* edge neither turns nor slides */
  TW_DISC_LEDGE,      /* simple at ledge_radius, edge free */
  TW_DISC_FOUNDATION, /* two-sided elastic bed under the whole face */
  TW_DISC_FLAT,       /* on a rigid flat, perhaps over a hole of void_radius */
  TW_DISC_FREE        /* held nowhere */
} tw_disc_support;

typedef enum tw_disc_face { TW_DISC_METAL_FACE, TW_DISC_CERAMIC_FACE } tw_disc_face;

/* sign of the charge for a push from the carrier, as found by pushing once; unknown is taken as
 * poled away from the metal: plus from the metal side, minus from the ceramic side */
typedef enum tw_disc_poling {
  TW_DISC_POLING_UNKNOWN,
  TW_DISC_POLING_PLUS,
  TW_DISC_POLING_MINUS
} tw_disc_poling;

typedef struct tw_disc_spec {
  tw_disc_solid metal;
  double metal_radius, metal_thickness;
  tw_disc_ceramic ceramic;
  double ceramic_radius, ceramic_thickness; /* thickness 0 = bare metal plate, no charge */
  double electrode_radius;                  /* 0 = up to the ceramic's edge */
  tw_disc_solid bond;
  double bond_thickness; /* 0 = none */
  tw_disc_solid silver;
  double silver_thickness; /* of the free face, over the electrode; 0 = none */
  double hole_radius;      /* through everything; 0 = none */
  double ceramic_eccentricity, ceramic_eccentricity_azimuth; /* m, rad */
  tw_disc_poling poling;

  tw_disc_support support;
  bool bonded;                 /* flat: stuck down instead of free to slide and lift */
  double ledge_radius;         /* ledge */
  double foundation_stiffness; /* Pa/m, foundation */
  double void_radius;          /* flat: the hole; else how far the backing reaches, 0 = all over */
  double void_depth;           /* from the plane of the support to the backing; 0 = no backing */
  double backing_stiffness;    /* Pa/m, of the floor of the void, pushes only; 0 = rigid */
  bool backing_elsewhere;      /* whoever loads the disc minds the backing (as the seat does):
                                  tw_disc_press then knows of none, and the disc is solved sooner */

  tw_disc_face contact_face; /* the face that the carrier touches */
  double contact_radius;     /* of the carrier's ring on the disc; 0 = centre */
  double carrier_mass;       /* kg, moves with that ring in tw_disc_measure */
} tw_disc_spec;

/* zero everything, then brass, PZT-5A, epoxy, silver, rim support, carrier on the ceramic face */
void tw_disc_spec_default(tw_disc_spec *spec);

/* Check the numbers without solving: TW_BAD_INPUT with the path of the design field to change. */
tw_status tw_disc_spec_check(const tw_disc_spec *spec, tw_fault *fault);

/* ---- the solved disc ----------------------------------------------------------------------- */

typedef struct tw_disc tw_disc;

/* Solve. Errors: TW_BAD_INPUT (impossible geometry or constants), TW_NO_MEMORY. */
tw_status tw_disc_new(const tw_disc_spec *spec, tw_disc **disc, tw_fault *fault);
void tw_disc_free(tw_disc *disc);
const tw_disc_spec *tw_disc_spec_of(const tw_disc *disc); /* borrowed */

/* One figure, or why there is none (a disc held nowhere has no stiffness). */
typedef struct tw_disc_value {
  double value; /* 0 when not known */
  bool known;
  const char *why_not; /* static text; NULL when known */
} tw_disc_value;

typedef struct tw_disc_measures {
  double contact_radius;                 /* m, where the loads below stand */
  tw_disc_value capacitance_blocked;     /* F, no bending, no stretching */
  tw_disc_value capacitance_mounted;     /* F, in the support, load constant */
  tw_disc_value capacitance_free;        /* F, bare disc, held nowhere: what a meter shows */
  tw_disc_value charge_per_newton;       /* C/N */
  tw_disc_value voltage_per_newton_open; /* V/N: charge over capacitance_mounted, same sign */
  tw_disc_value stiffness_short;         /* N/m at the contact ring */
  tw_disc_value stiffness_open;          /* N/m */
  tw_disc_value coupling_squared;        /* 1 - short/open */
  tw_disc_value resonance_free;          /* Hz, first with no direction, free edge, short */
  tw_disc_value resonance_free_open;     /* Hz, open */
  tw_disc_value resonance_mounted;       /* Hz, in the support, short */
  tw_disc_value resonance_mounted_open;  /* Hz, open */
  tw_disc_value resonance_loaded;        /* Hz, with the carrier's mass, outside capacitance */
  tw_disc_value tilt_compliance;         /* rad/(N m), ring moment at the contact radius, short */
  tw_disc_value charge_per_moment;       /* C/(N m), tilt towards the ceramic's eccentricity */
  tw_disc_value thickness_charge;        /* C/N, squeeze between carrier and support; part of
                                            charge_per_newton only on a flat support */
  tw_disc_value charge_per_kelvin;       /* C/K, pyroelectric and unequal expansion */
} tw_disc_measures;

/* All figures at once; `outside_capacitance` (>= 0 or TW_DISC_SHORT) counts for resonance_loaded.
 * The backing of a void does not count here: see tw_disc_press. Definitions:
 * docs/guide/contract.md. */
tw_status tw_disc_measure(const tw_disc *disc, double outside_capacitance,
                          tw_disc_measures *measures, tw_fault *fault);
/* the same without resonances and tilt compliance, which take most of the time */
tw_status tw_disc_measure_statics(const tw_disc *disc, tw_disc_measures *measures, tw_fault *fault);
/* resonance_loaded alone */
tw_status tw_disc_loaded_resonance(const tw_disc *disc, double outside_capacitance,
                                   tw_disc_value *value, tw_fault *fault);

/* What a centred ring load at `radius` does, per newton. */
typedef struct tw_disc_ring {
  double radius;
  double charge;                          /* C/N */
  double voltage_open;                    /* V/N */
  double deflection;                      /* m/N at the ring, short */
  double stiffness_short, stiffness_open; /* N/m */
  bool unbending; /* flat on a rigid face, or loaded on the support: the last three are 0 */
} tw_disc_ring;

/* TW_BAD_INPUT outside the disc, TW_NO_ANSWER where the disc is held nowhere. */
tw_status tw_disc_at(const tw_disc *disc, double radius, tw_disc_ring *ring, tw_fault *fault);

/* Resonance number `index` (0 = first) of the motion without direction; `free_edge`: as if nothing
 * held the disc, else in its support. `mass` (kg) moves with a ring at `radius`. `elements` a
 * radius, 0 = 20. TW_NO_ANSWER on a rigid flat or held nowhere (unless free_edge). */
typedef struct tw_disc_vibration {
  bool free_edge;
  int index; /* 0 .. 3 */
  double mass, radius, outside_capacitance;
  int elements;
} tw_disc_vibration;
tw_status tw_disc_resonance(const tw_disc *disc, tw_disc_vibration ask, double *hertz,
                            tw_fault *fault);

/* A ring that leans: line load cos(azimuth) of unit moment at `radius`, short circuit. `tilt` in
 * rad/(N m); `half_charge` (C/(N m), without sign) of one half of the electrode, the other half
 * has the opposite. Errors as tw_disc_at. */
tw_status tw_disc_tilt(const tw_disc *disc, double radius, double *tilt, double *half_charge,
                       tw_fault *fault);

/* Deflection per volt at `radius`, towards the ceramic, for poling away from the metal; zero on
 * the support. By reciprocity also the charge of a ring load (docs/models/disc.md, reciprocity).
 * 0 outside the disc. */
double tw_disc_influence(const tw_disc *disc, double radius);

/* ---- a disc as it was measured --------------------------------------------------------------- */

/* What was measured on one disc; 0 = not measured. */
typedef struct tw_disc_measured {
  double capacitance;         /* F, bare, on a meter */
  double capacitance_mounted; /* F, in its support */
  double resonance_free;      /* Hz, bare, short circuit (least impedance) */
  double resonance_mounted;   /* Hz, in its support, short circuit */
  double charge_per_newton;   /* C/N at the contact radius, signed */
} tw_disc_measured;

/* What it took to meet the measurements, and how far those that were not used are off. */
typedef struct tw_disc_match {
  double permittivity, stiffness, piezo; /* factors on the assumed constants, 1 = as assumed */
  double capacitance_off, capacitance_mounted_off, resonance_free_off, resonance_mounted_off,
      charge_off; /* model over measured - 1, after matching; 0 where nothing was measured */
} tw_disc_match;

/* Charge and capacitance of discs of one size go together: Q ~ C^0.85, and what is left scatters by
 * 6 % (standard deviation). From published ceramics, tests/published/test_disc_law.c; model page:
 * docs/models/disc.md 3a. */
#define TW_DISC_CHARGE_EXPONENT 0.85
#define TW_DISC_CHARGE_REST     0.06

/* Change the constants of `spec`: capacitance (bare, else mounted) scales the permittivity,
 * resonance (free, else mounted) the stiffness of every layer, one push d31 and d33 and, where the
 * poling is unknown, its sign; without a push d31 and d33 go with the capacitance, as above. No
 * thickness is touched. TW_BAD_INPUT when a factor would leave 0.2 .. 5 (field measured.*). Source:
 * docs/models/disc.md, measured. */
tw_status tw_disc_spec_match(tw_disc_spec *spec, const tw_disc_measured *measured,
                             tw_disc_match *match, tw_fault *fault);

/* ---- from a design file ---------------------------------------------------------------------- */

struct tw_design;

/* The disc of a design: fields disc.*, support.*, the carrier's contact circle and mass from
 * seat.*; without a seat the load stands on the centre. measured.* is applied as above. Errors:
 * TW_BAD_INPUT with the field. */
tw_status tw_disc_spec_from_design(const struct tw_design *design, tw_disc_spec *spec,
                                   tw_fault *fault);
/* The same, telling what the measurements changed (`match` may be NULL). */
tw_status tw_disc_matched_from_design(const struct tw_design *design, tw_disc_spec *spec,
                                      tw_disc_match *match, tw_fault *fault);

/* ---- points on the disc: what the seat needs ----------------------------------------------- */

/* Charge per newton q[n] (C/N) of point loads at (radius[i], azimuth[i]), with the ceramic's
 * eccentricity to first order. TW_BAD_INPUT outside the disc. */
tw_status tw_disc_charge(const tw_disc *disc, size_t n, const double *radius, const double *azimuth,
                         double *charge, tw_fault *fault);

/* Deflection at point i per newton at point j, compliance[i * n + j] (m/N): symmetric, positive
 * definite unless points coincide or stand on the support. Harmonics 0..TW_DISC_HARMONICS from
 * ring elements with nodes at the points, the rest in closed form for the laminate at the point.
 * Errors: TW_BAD_INPUT (point outside the disc, not finite), TW_NO_ANSWER (held nowhere),
 * TW_NO_MEMORY. Source: docs/models/disc.md, points. */
tw_status tw_disc_compliance(const tw_disc *disc, size_t n, const double *radius,
                             const double *azimuth, double outside_capacitance, double *compliance,
                             tw_fault *fault);

/* Both of the above in the shape that the seat takes (tw_seat_disc_fn). */
typedef struct tw_disc_view {
  const tw_disc *disc;
  double outside_capacitance;
} tw_disc_view;
tw_status tw_disc_points(const void *view, size_t n, const double *radius, const double *azimuth,
                         double *compliance, double *charge, tw_fault *fault);

/* ---- a void that is used up ---------------------------------------------------------------- */

/* m, what stands on the metal's face into the void: ceramic, bond and silver where the carrier
 * touches the metal; 0 where it touches the ceramic, and on a flat */
double tw_disc_into_void(const tw_disc_spec *spec);

/* The hollow behind the disc as a design states it. */
typedef struct tw_disc_void {
  double depth;   /* m, from the plane of the support; 0: not stated, nothing behind the disc */
  double radius;  /* m, as stated; 0: up to `edge` */
  double edge;    /* m, of the support: the ledge, or the plate's rim */
  double ceramic; /* m, tw_disc_into_void */
} tw_disc_void;
/* False, and nothing but zeros, when the design's support has no hollow. */
bool tw_disc_void_from_design(const struct tw_design *design, tw_disc_void *out);

/* Gap between the unloaded disc and the backing at `radius` (m); less under the ceramic when the
 * ceramic faces the backing. Huge (1 m) where there is no backing. */
double tw_disc_gap(const tw_disc *disc, double radius);

typedef struct tw_disc_backed {
  double charge;       /* C, of the whole load */
  double charge_slope; /* C/N for a little more load */
  double deflection;   /* m, at the loaded ring */
  double slope;        /* m/N, for a little more load */
  double centre_deflection;
  double clearance;     /* m, least gap left; 0 = touching */
  double backing_force; /* N, taken by the backing */
  double inner, outer;  /* m, radii between which the disc touches; 0, 0 = nowhere */
} tw_disc_backed;

/* A ring load `force` >= 0 at `radius` with the one-sided backing of void_depth under the disc:
 * linear until the void is used up, then what the backing leaves. Source: docs/models/disc.md,
 * void. Errors as tw_disc_at. */
tw_status tw_disc_press(const tw_disc *disc, double radius, double force,
                        double outside_capacitance, tw_disc_backed *result, tw_fault *fault);

/* ---- stress -------------------------------------------------------------------------------- */

typedef enum tw_disc_layer {
  TW_DISC_LAYER_SILVER,
  TW_DISC_LAYER_CERAMIC,
  TW_DISC_LAYER_BOND,
  TW_DISC_LAYER_METAL
} tw_disc_layer;

/* Stress of one face of one layer under a ring load, tension positive, per newton of push. */
typedef struct tw_disc_stress {
  tw_disc_layer layer;
  bool outer;                       /* the face away from the metal's bare face */
  double centre_short, centre_open; /* Pa/N at the centre (at the hole's edge: hoop) */
  double peak_tension, peak_radius; /* Pa/N: largest principal anywhere, short; where */
} tw_disc_stress;

#define TW_DISC_STRESS_ROWS 8
/* Fills rows from the ceramic's free side to the bare metal face; *count <= TW_DISC_STRESS_ROWS.
 * Local stress under a sharp foot is not in it: a load on one leg is bounded by that of a centred
 * ring of tw_disc_point_ring. Errors as tw_disc_at. */
tw_status tw_disc_stresses(const tw_disc *disc, double radius, tw_disc_stress *rows, size_t *count,
                           tw_fault *fault);

/* stress in the plane of a layer, Pa/N of push, tension positive */
typedef struct tw_disc_planar {
  double radial, hoop;
} tw_disc_planar;

/* The stress of one layer along the radius: at the n radii `at`, on both faces (`outer`: away from
 * the metal's bare face); between the faces it runs straight. Same load as tw_disc_stresses, short
 * circuit; 0 where the layer does not reach. On the border of two zones the inner one counts.
 * Errors as tw_disc_stresses. Source: docs/models/disc.md, stress. */
tw_status tw_disc_stress_along(const tw_disc *disc, double radius, tw_disc_layer layer, size_t n,
                               const double *at, tw_disc_planar *inner, tw_disc_planar *outer,
                               tw_fault *fault);

/* radius of the ring that stresses the disc's centre as a load does that is spread over a patch of
 * radius `patch` (>= 0). Source: docs/models/disc.md, stress (Roark's equivalent radius). */
double tw_disc_point_ring(const tw_disc *disc, double patch);

const char *tw_disc_layer_name(tw_disc_layer layer);
const char *tw_disc_support_name(tw_disc_support support);

#endif
