/* engine.h: private to the seat room. The model as flat arrays, the workspace, and the steps from
 * one equilibrium to the next.
 *
 * Unknowns v[0..6]: displacement of the reference point (m), turn x length scale (m), and the
 * closing movement of the coupled group (m), which is free only while the preload is set. Rows are
 * scaled alike, so that every entry of a residual is a force in newtons. */
#ifndef TW_SEAT_ENGINE_H
#define TW_SEAT_ENGINE_H

#include "tripwright/seat.h"

enum { SEAT_DOF = 6, SEAT_ALL = 7 };

/* ---- tolerances: each with its unit and reason --------------------------------------------- */

/* residual over the model's force scale: four digits below the 1e-6 that a figure may show */
#define SEAT_RESIDUAL 1e-10
/* and, for stiff contacts, this share of stiffness x displacement: a few units of rounding */
#define SEAT_ROUNDING 1e-15
/* loads and gaps of the coupled group below this share of scale count as zero */
#define SEAT_COMPLEMENTARITY 1e-12
/* but never more than this share of the force scale */
#define SEAT_ROUNDING_MOST 1e-8
/* a tangential force this much past its limit still counts as at it: rounding of the kept slip */
#define SEAT_STICKS 1e-9
/* a contact carried load at rest if it had more than this share of the force scale */
#define SEAT_LOADED 1e-9
/* shift of a Newton matrix over its largest diagonal: only so that a direction without stiffness
 * (the turn of a round carrier about its axis) does not stop the elimination */
#define SEAT_SHIFT 1e-13
/* an event is located to this share of the machine travel of the step it lies in, or until its
 * measure is this close to zero: both far below the residual's effect on a force */
#define SEAT_LOCATE 1e-12
#define SEAT_EVENT  1e-8
/* halvings of one load step, and of one Newton step */
#define SEAT_BISECTIONS 9
#define SEAT_BACKTRACKS 14
#define SEAT_NEWTON     40
/* Newton steps towards an event before it is bracketed instead */
#define SEAT_LANDING 12
/* rounds of held friction limits, where nothing else converges */
#define SEAT_LAGS 120
/* kept factorisations of the coupled group */
#define SEAT_SETS 32

/* ---- model --------------------------------------------------------------------------------- */

/* One contact. Grouped ones come first in the model. */
typedef struct seat_contact {
  double row[SEAT_ALL];              /* compression = start - row . v */
  double slide[2][SEAT_DOF];         /* tangential displacement = slide . v */
  double stick[SEAT_DOF * SEAT_DOF]; /* N/m, of the contact while it sticks: tangent slide' slide */
  double start;                      /* m */
  double stiffness, friction, tangent, charge;
  double pressed; /* N/m with all its neighbours loaded: turns a small gap into the missing load */
  bool backing, senses;
} seat_contact;

typedef struct seat_spring {
  double row[SEAT_DOF];
  double force, rate, charge, start;
  double void_gap[2], void_give[2]; /* as in tw_seat_spring */
  size_t points;
  double travel[TW_SEAT_TABLE], table[TW_SEAT_TABLE], slope[TW_SEAT_TABLE];
} seat_spring;

/* a point of a path: what has to be restored to go back to it */
typedef struct seat_state {
  double v[SEAT_ALL];
  double slip[TW_SEAT_CONTACTS][2];
  uint64_t set; /* grouped contacts that carry load */
  double x;     /* m, machine coordinate along the direction */
} seat_state;

/* rows of many contacts side by side, so that one product runs over all of them */
typedef double seat_rows[SEAT_DOF][TW_SEAT_CONTACTS];

struct tw_seat_model {
  size_t contacts, grouped;
  seat_contact contact[TW_SEAT_CONTACTS];
  size_t rubbing; /* contacts with friction: which they are, and their slides */
  size_t rubs_at[TW_SEAT_CONTACTS];
  seat_rows slide[2];
  seat_rows own; /* rows of the contacts with a stiffness of their own */
  size_t springs;
  seat_spring spring[TW_SEAT_SPRINGS];
  double compliance[TW_SEAT_GROUP * TW_SEAT_GROUP];
  bool bilateral, rubs;  /* rubs: at least one contact has friction */
  double load[SEAT_ALL]; /* last entry: closing force, if any */
  double tip[3];
  double side, axial, hertz; /* compliance m/N, m/N; N/m^1.5, 0 = rigid */
  double length;             /* m */
  double force_scale, gap_scale, stiffness_scale;
  double disc_radius[TW_SEAT_GROUP], disc_azimuth[TW_SEAT_GROUP]; /* of the grouped points */
  seat_state rest;
  double rest_load[TW_SEAT_CONTACTS];
  tw_seat_rest answer;
  tw_seat_symmetry symmetry;
};

/* ---- workspace ----------------------------------------------------------------------------- */

/* The group solved for one set of loaded points: everything is affine in v, so that a set seen
 * before costs one product. value = map[0] - map[1..7] . v, a load (N) inside the set, a gap (m)
 * outside; the points of a column stand side by side. */
typedef struct seat_set {
  uint64_t mask;
  bool known;
  double map[SEAT_ALL + 1][TW_SEAT_GROUP];
  double stiff[SEAT_ALL * SEAT_ALL];
} seat_set;

/* the sum of `stick` over a set of contacts, kept while the set stays */
typedef struct seat_stuck {
  bool known;
  uint64_t mask[(TW_SEAT_CONTACTS + 63) / 64];
  double stiff[SEAT_DOF * SEAT_DOF];
} seat_stuck;

/* what pushes: a wall at machine coordinate x along a direction, or x times a wrench */
typedef struct seat_drive {
  double row[SEAT_DOF]; /* tip displacement along the direction = row . v */
  double compliance;    /* m/N, stem */
  double hertz;         /* N/m^1.5, 0 = rigid */
  double give;          /* hertz^(-2/3), m/N^(2/3) */
  double wrench[SEAT_DOF];
  bool wall;     /* false: the tip is free, the wrench acts */
  bool friction; /* false: contacts do not rub */
} seat_drive;

/* why a step failed */
typedef enum seat_failure {
  SEAT_NO_FAILURE,
  SEAT_STALLED,
  SEAT_SINGULAR,
  SEAT_RAN_OUT
} seat_failure;

/* what a rubbing contact does at the place looked at */
typedef struct seat_rub {
  bool sticks, slides;
  double direction[2]; /* of sliding */
  double across;       /* N/m, stiffness across it */
} seat_rub;

struct tw_seat_work {
  const tw_seat_model *model;
  seat_state now;
  /* results at `now` */
  double load[TW_SEAT_CONTACTS]; /* N, >= 0 */
  double gap[TW_SEAT_CONTACTS];  /* m, >= 0 */
  double tangent[TW_SEAT_CONTACTS][2];
  double spring[TW_SEAT_SPRINGS];
  double spring_rate[TW_SEAT_SPRINGS], drive_rate; /* N/m */
  seat_rub rub[TW_SEAT_CONTACTS];
  double force;    /* N at the tip */
  double residual; /* N */
  seat_set *set;   /* of the group, at `now` */
  seat_stuck stuck;
  bool lagged;                    /* friction limits are held at `limit` */
  double limit[TW_SEAT_CONTACTS]; /* N */
  double sticks; /* SEAT_STICKS, or minus that: contacts at their limit start as sliding */
  double before_v[SEAT_ALL], before_x; /* the point before `now` on the same path */
  bool has_before;
  seat_failure failure;
  double failed_at; /* m, machine coordinate */
  /* counts */
  size_t solves, iterations, bisections;
  /* scratch */
  seat_set sets[SEAT_SETS];
  size_t next_set;
  double factor[TW_SEAT_GROUP * TW_SEAT_GROUP];
  seat_state keep[3];                 /* for the searches above */
  bool loaded[TW_SEAT_CONTACTS];      /* contacts that carried load when the touch began */
  double reference[TW_SEAT_CONTACTS]; /* loads from which charge counts */
  double reference_spring[TW_SEAT_SPRINGS];
};

/* ---- dense helpers (dense.c) --------------------------------------------------------------- */

/* a (n x n, row by row) is destroyed; b becomes the solution; false when singular */
bool tw_seat_lu_solve(size_t n, double *a, double *b);
/* the same for six unknowns and `count` right-hand sides b[count][6] */
bool tw_seat_solve_six(double *a, double (*b)[SEAT_DOF], size_t count);

/* ---- pieces -------------------------------------------------------------------------------- */

/* the same for a stiffness of tw_seat_stiffness, with a shift far below any stiffness, so that a
 * free direction does not stop the elimination (newton.c) */
bool tw_seat_solve_shifted(double *stiffness, double (*b)[SEAT_DOF], size_t count);

/* loads and gaps of the group at v, starting from `*mask`; NULL when the matrix is not positive
 * definite or no set is found (group.c) */
seat_set *tw_seat_group_solve(const tw_seat_model *m, tw_seat_work *w, const double *v,
                              uint64_t *mask);
uint64_t tw_seat_group_glued(const tw_seat_model *m);
/* the group for one given set of loaded points; NULL as above */
seat_set *tw_seat_set_of(const tw_seat_model *m, tw_seat_work *w, uint64_t mask);
/* load x gap of point i at w->now, m N, from the compliance itself */
double tw_seat_pair(const tw_seat_model *m, const tw_seat_work *w, size_t i);

/* tip force of the wall at gap y = x - tip displacement, and its rate (driver.c) */
double tw_seat_drive_force(const seat_drive *drive, double y, double *rate);
void tw_seat_drive_along(const tw_seat_model *m, double azimuth, double elevation,
                         seat_drive *drive);

/* force of spring j at its displacement s, with rate and energy (spring.c) */
double tw_seat_spring_force(const seat_spring *spring, double s, double *rate, double *energy);
void tw_seat_table_slopes(size_t n, const double *x, const double *y, double *slope);

/* residual at v, with everything in `w` filled in (residual.c) */
bool tw_seat_residual(const tw_seat_model *m, tw_seat_work *w, const seat_drive *drive,
                      const double *v, double x, double *residual);
/* minus its derivative over the six unknowns of a load step (6 x 6), and over all seven (7 x 7), at
 * the place where tw_seat_residual was last asked */
void tw_seat_stiffness(const tw_seat_model *m, tw_seat_work *w, const seat_drive *drive,
                       double *stiffness);
void tw_seat_jacobian(const tw_seat_model *m, tw_seat_work *w, const seat_drive *drive,
                      double *jacobian);
/* tangential displacements at v of the contacts that rub: out[a][n] for rubs_at[n] */
void tw_seat_slides(const tw_seat_model *m, const double *v, double out[2][TW_SEAT_CONTACTS]);

/* equilibrium at machine coordinate x from w->now, whose slips it starts from; on success w->now is
 * the new point with its slips moved on; `guess` may be NULL; halves the step where one is too
 * long (newton.c) */
bool tw_seat_advance(const tw_seat_model *m, tw_seat_work *w, const seat_drive *drive, double x,
                     const double *guess);
/* what a load step is to end on: measure(v, x) = 0 with its rates, between two machine coordinates
 */
typedef struct seat_target {
  double (*measure)(const void *self, const tw_seat_work *w, double *rate, double *rate_x);
  const void *self;
  double from, to;
} seat_target;

/* the same for the equilibrium on a target, from a guess of x and v; false, with w->now as it was,
 * when plain Newton steps do not get there (newton.c) */
bool tw_seat_advance_to(const tw_seat_model *m, tw_seat_work *w, const seat_drive *drive,
                        const seat_target *target, double x, const double *guess);
const char *tw_seat_failure_name(seat_failure failure);

/* frictionless rest with the closing movement free or given (rest.c) */
tw_status tw_seat_find_rest(tw_seat_model *m, tw_seat_work *w, bool closing_free, tw_fault *fault);

void tw_seat_work_reset(const tw_seat_model *m, tw_seat_work *w);
/* the same, counts kept */
void tw_seat_work_reset_state(const tw_seat_model *m, tw_seat_work *w);
void tw_seat_state_copy(const tw_seat_model *m, seat_state *to, const seat_state *from);
double tw_seat_charge(const tw_seat_model *m, const tw_seat_work *w); /* C from the reference */
void tw_seat_set_reference(const tw_seat_model *m, tw_seat_work *w);
double tw_seat_disc_load(const tw_seat_model *m, const tw_seat_work *w);
double tw_seat_clearance(const tw_seat_model *m, const tw_seat_work *w);
double tw_seat_tip(const tw_seat_model *m, const double *v, int axis);
double tw_seat_turn(const tw_seat_model *m, const double *v);

#endif
