/* seat.h: the carrier on its seat: rest, touch, trip, return, and what a crash does to it.
 *
 * One contact engine serves four families (pivot, tripod, plate, bonded): a rigid carrier with six
 * small displacements, one-sided contacts that have a stiffness of their own or share the coupled
 * compliance of the disc, Coulomb friction as elastic-plastic springs, springs, and a tip that is
 * pushed by a wall through the compliance of stem and tip contact. SI units; axes and signs as in
 * docs/guide/contract.md (+Z from the tip into the spindle; a direction is that of the force on the
 * tip). A tw_seat_model is immutable and may be shared by threads; every thread has a tw_seat_work
 * of its own. The caller owns both; nothing is allocated after tw_seat_work_new. Rotations are
 * small: results past TW_SEAT_SMALL_ROTATION carry a flag. Equations, sources, checks:
 * docs/models/seat.md.
 */
#ifndef TRIPWRIGHT_SEAT_H
#define TRIPWRIGHT_SEAT_H

#include "tripwright/base.h"

/* points that share one coupled compliance (disc contacts and backing points) */
#define TW_SEAT_GROUP 64
/* contacts and springs of one model */
#define TW_SEAT_CONTACTS 160
#define TW_SEAT_SPRINGS  16
/* points of a measured force-travel table */
#define TW_SEAT_TABLE 24
/* directions of the default map: azimuth 0, 15 .. 345 at elevation 0, 15 .. 75, and the pole */
#define TW_SEAT_DIRECTIONS 145
/* rad; beyond it small-rotation kinematics is off by more than about 0.1 % (docs/models/seat.md) */
#define TW_SEAT_SMALL_ROTATION 0.035

/* ---- the disc as the seat sees it ---------------------------------------------------------- */

/* Compliance (m/N, n x n, row by row) and charge per newton (C/N, n) of point loads at polar
 * places (radius m, azimuth rad) on the disc, load and deflection positive from the carrier. */
typedef tw_status (*tw_seat_disc_fn)(const void *disc, size_t n, const double *radius,
                                     const double *azimuth, double *compliance, double *charge,
                                     tw_fault *fault);

/* A uniform thin plate: the disc of the check cases, not of a design. */
typedef struct tw_seat_plate {
  double radius;           /* m, of the supported edge */
  double centre_stiffness; /* N/m, point load at the centre */
  double poisson;
  bool clamped;     /* edge clamped instead of simply supported */
  double charge;    /* C/N of a point load at the centre; g = 1 - (r/radius)^2 */
  size_t harmonics; /* 0 = 24 */
} tw_seat_plate;

/* a tw_seat_disc_fn; `disc` is a tw_seat_plate. Source: docs/models/seat.md section 2. */
tw_status tw_seat_plate_points(const void *plate, size_t n, const double *radius,
                               const double *azimuth, double *compliance, double *charge,
                               tw_fault *fault);
double tw_seat_plate_rigidity(const tw_seat_plate *plate); /* D, N m */

/* ---- a probe's seat in plain numbers ------------------------------------------------------- */

/* design.h has the names TW_SEAT_... for the words of seat.kind */
typedef enum tw_seat_kind {
  TW_SEATED_PIVOT,
  TW_SEATED_TRIPOD_FLAT,
  TW_SEATED_TRIPOD_VEE,
  TW_SEATED_PLATE_ABOVE, /* disc between spring and plate */
  TW_SEATED_PLATE_BELOW, /* disc between plate and lip */
  TW_SEATED_BONDED
} tw_seat_kind;

typedef enum tw_seat_preload_kind {
  TW_SEAT_BY_FORCE,        /* force given, closing movement found */
  TW_SEAT_BY_INTERFERENCE, /* closing movement given, force found */
  TW_SEAT_BY_SPRING,       /* a spring of `spring_rate` that gives `force` at rest */
  TW_SEAT_BY_TABLE         /* a measured spring, compressed by `interference` */
} tw_seat_preload_kind;

typedef struct tw_seat_spec {
  tw_seat_kind kind;
  double reach; /* m, ball-tip centre to the reference point (contract.md) */

  /* contact with the disc (pivot, plate below, bonded foot) */
  size_t points;        /* 3 or more; 24 stands for a ring */
  double point_azimuth; /* rad, of the first point */
  double lobe_height;   /* m, half the flatness: gap = height (1 - cos lobes(phi - azimuth)) */
  size_t lobes;         /* 2, 3 .. ; 0 = flat */
  double lobe_azimuth;  /* rad, of a high point */
  double eccentricity;  /* m, of carrier, ball and flat from the disc's centre */
  double eccentricity_azimuth;

  /* pivot */
  double ball_radius, flat_radius, flat_height; /* m */
  double socket_angle;                          /* rad, psi */
  size_t socket_points;                         /* 0 = 12 */
  double socket_stiffness;                      /* N/m, axial, of the whole socket */
  /* tripod */
  double pitch_radius;   /* m */
  double vee_angle;      /* rad, beta */
  double seat_azimuth;   /* rad, of the first seat */
  double seat_stiffness; /* N/m of each contact (tripod), of the whole lip (plate above) */
  /* plate */
  double tipping_radius;  /* m */
  size_t lip_points;      /* 0 = 24 */
  bool guided;            /* radial guide (plate, tripod on flats) */
  double guide_stiffness; /* N/m, 0 = a hundred times that of the contacts */
  /* bonded */
  double bond_radius; /* m */

  /* friction; tangential stiffness from the presliding length, or, where that is 0, from the
   * normal stiffness x 0.8 (socket, seats) or the ring's axial stiffness x 16 (disc) */
  double friction_socket, friction_flat;
  double presliding_socket, presliding_flat; /* m, movement at which sliding is full */

  tw_seat_preload_kind preload;
  double force;          /* N */
  double interference;   /* m */
  double loop_stiffness; /* N/m of the closed loop beside disc and socket, 0 = rigid */
  double relaxation;     /* share of the preload that has gone */
  double spring_rate;    /* N/m, of the preload spring (tripod, plate), 0 = dead load */
  double table_travel[TW_SEAT_TABLE], table_force[TW_SEAT_TABLE]; /* m, N, rising */
  size_t table_points;

  /* the disc; none for an opening contact */
  tw_seat_disc_fn disc_points;
  const void *disc;         /* borrowed while the model is built */
  double void_depth;        /* m, gap under the disc to a one-sided backing; 0 = no backing */
  double void_radius;       /* m, out to which the backing can be touched */
  double void_step_radius;  /* m, past it the gap is void_depth_outer (ceramic edge); 0 = no step */
  double void_depth_outer;  /* m */
  double disc_hole_radius;  /* m, hole in the middle of the disc; 0 = none */
  double backing_stiffness; /* Pa/m of the floor; 0 = rigid */

  /* stylus and tip */
  double side_stiffness, axial_stiffness; /* N/m, 0 = rigid */
  double hertz;                           /* N/m^1.5, 0 = rigid */

  /* carrier and what pulls at it */
  double mass;        /* kg, carrier and stylus */
  double mass_height; /* m, of its centre above the reference point */
  double gravity[3];  /* m/s2, in the probe's axes; all 0 = left out */
} tw_seat_spec;

/* a spec with the contract's defaults: points 3, dead preload, no friction, no gravity */
void tw_seat_spec_default(tw_seat_kind kind, tw_seat_spec *spec);

/* The seat that a design describes, with the stem solved. The disc is left out (disc_points NULL):
 * the caller adds it in the electrical state that its circuit holds. Source of every number:
 * fields.def; orientation turns the weight. */
struct tw_design;
struct tw_stylus;
tw_status tw_seat_spec_from_design(const struct tw_design *design, const struct tw_stylus *stylus,
                                   tw_seat_spec *out, tw_fault *fault);

/* ---- the same in single parts (any carrier on any contacts) -------------------------------- */

typedef struct tw_seat_contact {
  double place[3];    /* m, from the reference point */
  double normal[3];   /* unit, the way the seat pushes the carrier */
  double compression; /* m, of the undisplaced carrier; negative = gap */
  double stiffness;   /* N/m, own; not used in the group */
  double friction;
  double tangent_stiffness; /* N/m */
  double charge;            /* C/N */
  bool grouped;             /* shares the coupled compliance */
  bool backing;             /* holds the disc from the far side, not the carrier (grouped only) */
  bool senses;              /* part of the opening circuit */
} tw_seat_contact;

typedef struct tw_seat_spring {
  double along[6];    /* generalised direction: force, moment about the reference point */
  double force, rate; /* force - rate * (along . q) */
  double charge;      /* C per N of its force */
  const double *travel,
      *table; /* or a table: force at `start` - along . q; borrowed for the call */
  size_t points;
  double start;
  /* a disc under it that a backing faces: the gap without load, and how much of it a newton takes,
   * where that is most; inside and outside of a step in the gap. All 0: nothing behind it. */
  double void_gap[2], void_give[2];
} tw_seat_spring;

typedef struct tw_seat_parts {
  const tw_seat_contact *contact;
  size_t contacts;
  const double *compliance; /* of the grouped contacts in their order, m/N, row by row */
  bool bilateral;           /* the group is bonded: it can pull */
  const tw_seat_spring *spring;
  size_t springs;
  double load[6];       /* constant wrench about the reference point */
  double closing_force; /* N, > 0: the group is closed until its sum is this */
  double tip[3];        /* m */
  double side_stiffness, axial_stiffness, hertz; /* 0 = rigid */
  double length;                                 /* m, scale of moments against forces */
} tw_seat_parts;

/* ---- model and workspace ------------------------------------------------------------------- */

typedef struct tw_seat_model tw_seat_model;
typedef struct tw_seat_work tw_seat_work;

/* Build and bring to rest. Errors: TW_BAD_INPUT (a number missing or impossible, with its field),
 * TW_NO_ANSWER (the preload cannot seat the carrier, with the reason), TW_NO_MEMORY. */
tw_status tw_seat_model_new(const tw_seat_spec *spec, tw_seat_model **out, tw_fault *fault);
tw_status tw_seat_model_from_parts(const tw_seat_parts *parts, tw_seat_model **out,
                                   tw_fault *fault);
void tw_seat_model_free(tw_seat_model *model);
tw_seat_work *tw_seat_work_new(const tw_seat_model *model); /* NULL: no memory */
void tw_seat_work_free(tw_seat_work *work);

typedef enum tw_seat_regime { TW_SEAT_FULL, TW_SEAT_PARTIAL, TW_SEAT_LOCKED } tw_seat_regime;

typedef struct tw_seat_rest {
  double preload;          /* N, on the disc, or on the seats */
  double closing;          /* m, trapped interference that gives it */
  double preload_rate;     /* N/m, change of preload with interference */
  double friction_moment;  /* N m, M_f (pivot) */
  double regime_ratio;     /* M_f over (preload x flat radius / 2); >= 1 partial, >= 2 locked */
  tw_seat_regime regime;   /* pivot: from regime_ratio; partial where nothing centres the carrier
                              (flats   without a guide); others: full until a touch shows otherwise */
  double tip[3];           /* m, place of the tip from the undisplaced one */
  bool has_backing;        /* a one-sided backing was given */
  double clearance;        /* m, least gap left to the backing; 0 = touching, or no backing */
  bool backed;             /* the void is used up at rest */
  double charge_gain;      /* C/N, small axial load at rest, as the disc is then supported */
  double charge_gain_free; /* C/N, the same without backing */
  size_t contacts, open;   /* contacts that could and do not carry load */
  size_t sensing;          /* contacts that sense by opening */
  double least_sensing;    /* N, the least load among them */
  double residual;         /* N, largest force left over */
  double complementarity;  /* m N, largest |load x gap| of the coupled group */
} tw_seat_rest;
void tw_seat_rest_of(const tw_seat_model *model, tw_seat_rest *out);

/* ---- a touch ------------------------------------------------------------------------------- */

typedef enum tw_seat_metric {
  TW_SEAT_BY_CHARGE, /* |charge| from rest reaches `threshold` */
  TW_SEAT_BY_OPENING /* the least sensing contact force falls to `opening_force` */
} tw_seat_metric;

typedef struct tw_seat_options {
  tw_seat_metric metric;
  double threshold;          /* C, > 0 */
  int polarity;              /* +1, -1: only that sign trips; 0: both */
  double threshold_negative; /* C, polarity 0: of a negative charge; 0: the same */
  double opening_force;      /* N */
  bool friction;             /* false: leave friction out */
  size_t prior_touches;      /* same direction, before the counted one; 1 */
  double overtravel;         /* m past the trip, before withdrawal; 0.1 mm */
  double search_force;       /* N, where the search ends; 5 */
  double search_travel;      /* m; 6 mm */
  size_t steps;              /* load steps to a trip; 0 = as many as it takes, from 8 */
  bool contributions;        /* also run in stages */
  bool from_assembly; /* charge counts from rest after assembly, not from before each touch: a
                         sense that holds its charge, and the check cases */
} tw_seat_options;
void tw_seat_options_default(tw_seat_options *options);

typedef enum tw_seat_state {
  TW_SEAT_TRIPPED,
  TW_SEAT_NO_TRIP,
  TW_SEAT_NO_ANSWER,
  TW_SEAT_TRIPPED_AT_REST /* before the counted touch begins: force and pretravel are 0;
                             `armed_once` tells whether it was so from assembly on */
} tw_seat_state;

typedef enum tw_seat_mechanism {
  TW_SEAT_NONE,
  TW_SEAT_BEFORE_LIFTOFF,
  TW_SEAT_BY_LIFTOFF,
  TW_SEAT_BOTH,
  TW_SEAT_OPENING
} tw_seat_mechanism;
const char *tw_seat_mechanism_name(tw_seat_mechanism mechanism);

/* causes in the order of the contract */
enum { TW_SEAT_DEAD_ZONE, TW_SEAT_FRICTION, TW_SEAT_THRESHOLD, TW_SEAT_FORCE_PARTS };
enum { TW_SEAT_STEM, TW_SEAT_TIP, TW_SEAT_ROTATION, TW_SEAT_TRANSLATION, TW_SEAT_TRAVEL_PARTS };

/* share of its load at rest under which a contact counts as about to open: a seat that trips on a
 * small remaining force opens nothing before its trip */
#define TW_SEAT_RELIEVED 0.1

typedef struct tw_seat_touch_result {
  double azimuth, elevation; /* rad */
  tw_seat_state state;
  tw_seat_mechanism mechanism;
  double force;         /* N at the trip */
  double pretravel;     /* m, machine travel from first force to the trip */
  double coordinate;    /* m, machine coordinate of the trip along d, from the tip's place at rest
                           after assembly: what a map of trip points shows */
  double charge;        /* C at the trip, signed, from rest before the touch */
  double return_offset; /* m, horizontal displacement left after overtravel and withdrawal */
  double return_tip[2]; /* m, its x and y */
  double force_part[TW_SEAT_FORCE_PARTS];   /* N, sum = force; all 0 unless asked for */
  double travel_part[TW_SEAT_TRAVEL_PARTS]; /* m, sum = pretravel */
  double disc_load;                         /* N on the disc at the trip */
  double clearance; /* m, gap to the backing at the trip, as in tw_seat_rest */
  double rotation;  /* rad, largest turn on the way */
  bool large_rotation;
  tw_seat_regime regime; /* as this touch leaves the seat */
  size_t open;           /* contacts open at the trip that carried load at rest */
  size_t relieved; /* of the sense: contacts that have lost nearly all of the load they had at rest
                      (TW_SEAT_RELIEVED of it or less is left), open ones too */
  double searched_force, searched_travel; /* how far the search went (no trip) */
  bool armed_once;   /* armed after assembly: if then TRIPPED_AT_REST, the prior touch left it so */
  double residual;   /* N, at the trip */
  double step_error; /* bound of the share by which the load steps leave force and travel off a
                        converged run; 0: `steps` was given */
  size_t solves, iterations, bisections; /* work done for this direction */
} tw_seat_touch_result;

/* One direction, from rest after assembly: prior touches, withdrawal, counted touch. No trip is an
 * answer (TW_OK, state TW_SEAT_NO_TRIP). TW_NO_ANSWER when no balance is found on the way, with
 * the travel, the residual and its class in the fault. Afterwards `work` holds the trip. */
tw_status tw_seat_touch(const tw_seat_model *model, tw_seat_work *work, double azimuth,
                        double elevation, const tw_seat_options *options,
                        tw_seat_touch_result *result, tw_fault *fault);

/* ---- directions that are alike -------------------------------------------------------------- */

/* How a seat repeats about its axis: it is the same after every turn of a circle over `order` (1 ..
 * TW_SEAT_GROUP; 1: it does not repeat), and, if `mirrored`, on both sides of the upright plane
 * through the axis at the azimuth `plane` (rad). */
typedef struct tw_seat_symmetry {
  size_t order;
  bool mirrored;
  double plane;
} tw_seat_symmetry;

/* as the numbers of the built model show it (contacts, compliance, springs, weight, rest) */
void tw_seat_symmetry_of(const tw_seat_model *model, tw_seat_symmetry *out);

/* first[i] = the first of `count` directions (azimuth and elevation are read) of which direction i
 * is the turned or mirrored picture; i itself when there is none before it. */
void tw_seat_alike(const tw_seat_model *model, size_t count, const tw_seat_touch_result *direction,
                   size_t *first);
/* What a touch says of another direction that is alike: `to`, whose azimuth and elevation are set,
 * gets the numbers of `from`, with its return turned or mirrored. */
void tw_seat_carry_over(const tw_seat_model *model, const tw_seat_touch_result *from,
                        tw_seat_touch_result *to);

/* ---- the map -------------------------------------------------------------------------------- */

/* azimuth and elevation (rad) of direction `index` of the default map */
void tw_seat_direction(size_t index, double *azimuth, double *elevation);

/* Directions first .. first + count - 1 of the default map into result[0 .. count - 1]; each
 * stands alone, so that threads may share out the map in any way with the same result. A direction
 * without an answer has state TW_SEAT_NO_ANSWER; the first such fault is returned after the rest
 * is done. */
tw_status tw_seat_map(const tw_seat_model *model, tw_seat_work *work, size_t first, size_t count,
                      const tw_seat_options *options, tw_seat_touch_result *result,
                      tw_fault *fault);

/* Which sideways directions among `count` touches trip harder, which softer, and what the seat does
 * in each ("hardest at azimuth 60 deg (2.0 times the softest): two points share the lift-off;
 * softest at 0 deg: one point opens first"); TW_SEAT_UNEVEN bytes hold every such text. False, and
 * an empty text, when no sideways touch tripped or one trips at rest. */
#define TW_SEAT_UNEVEN 160
bool tw_seat_uneven(size_t count, const tw_seat_touch_result *touch, char *out, size_t size);

/* ---- along a direction --------------------------------------------------------------------- */

typedef struct tw_seat_row {
  double travel;     /* m, machine travel past first force */
  double force;      /* N along d at the tip */
  double charge;     /* C from rest before the touch */
  double tip;        /* m, displacement of the ball along d, without stem and tip contact */
  double carrier[6]; /* m, rad: displacement of the reference point and turn, from first force */
  double disc_load;  /* N */
  double least_seat; /* N, least force of a sensing contact */
  size_t open;
} tw_seat_row;

/* Force, charge, tip and carrier at `rows` evenly spaced travels 0 .. travel_end, well beyond the
 * trip, after the prior touches that `options` asks for. */
tw_status tw_seat_curve(const tw_seat_model *model, tw_seat_work *work, double azimuth,
                        double elevation, const tw_seat_options *options, double travel_end,
                        size_t rows, tw_seat_row *row, tw_fault *fault);

/* Load the tip along a direction up to `force`, hold, let go: charge (C) between held and free,
 * signed as the release shows it. */
tw_status tw_seat_release(const tw_seat_model *model, tw_seat_work *work, double azimuth,
                          double elevation, double force, const tw_seat_options *options,
                          double *charge, tw_fault *fault);

/* Answer of the seat at rest to a wrench (N, N m about the reference point) on the carrier, tip
 * free: acceleration, weight of a cable. */
tw_status tw_seat_wrench(const tw_seat_model *model, tw_seat_work *work, const double wrench[6],
                         const tw_seat_options *options, tw_seat_row *row, tw_fault *fault);

/* Places of the disc contacts (polar, about the disc's centre) and the loads that `work` holds
 * (after tw_seat_touch: at the trip; from a new workspace: at rest). Arrays of at least
 * TW_SEAT_GROUP; returns their number. For the stress in the ceramic. */
size_t tw_seat_disc_loads(const tw_seat_model *model, const tw_seat_work *work, double *radius,
                          double *azimuth, double *load);

#endif
