/* plan.h: where everything of the probe lies, in metres, before a line is drawn.
 *
 * z = 0 at the ball-tip centre at rest, up into the spindle; r from the axis. What the design does
 * not say (the outer shape of a holder, say) is chosen here so that the parts fit around what it
 * does say; such things are drawn but never dimensioned.
 */
#ifndef TW_REPORT_PLAN_H
#define TW_REPORT_PLAN_H

#include "tripwright/design.h"

enum { TW_PLAN_STEPS = 12 };

typedef struct tw_layout {
  const tw_design *design;
  int seat, support, holddown, screws, link;
  bool has_disc;

  /* stylus: steps of the stem from the tip up */
  double ball, reach, covered;
  int steps;
  double step_radius[TW_PLAN_STEPS], step_top[TW_PLAN_STEPS];
  double stem_top, stem_radius; /* where the stem ends in the carrier; radius there */

  /* carrier */
  double head, flat_radius, flat_height, socket_angle; /* pivot */
  int socket_shape;
  double pitch_radius, tipping_radius, bond_radius;
  bool disc_below, vee;
  double carrier_top;    /* the highest of it */
  double carrier_radius; /* the widest of it, the ball head apart */

  /* disc, from below; z of the lowest face, thicknesses of the layers upwards */
  double disc_low, disc_top, metal, ceramic, bond, silver;
  double metal_radius, ceramic_radius, hole_radius;
  bool ceramic_low; /* the ceramic faces down */
  double metal_low, ceramic_face_low;

  /* support; `up` when it stands above the disc */
  bool support_up;
  double ledge_radius, hollow_radius, hollow_depth; /* depth < 0: nothing behind the disc */
  double support_plane, support_end;

  /* spring of plate and tripod */
  bool has_spring;
  double spring_low, spring_top, spring_radius;

  /* holder: a can with a shoulder for the board; its flange rests on the housing's floor */
  double holder_low, holder_top, holder_radius, bore; /* bore: for the stem */
  double body_radius;                                 /* below the flange */
  double flange_low;                                  /* the tipping plane */
  double cavity, board_cavity;                        /* inner radius around disc and board */
  double bridge_low, bridge_top; /* what presses on support or spring: the clamp */
  double cover_low;

  /* board */
  double board_low, board_top, board_radius, board_hole, parts_top;

  /* hold-down and housing */
  double foam_low, foam_top, foam_outer, foam_inner;
  double tipping_edge;
  double house_low, house_top, house_radius, house_inner, wall, opening;
  double ceiling; /* underside of the plug that closes the housing */
  double shank_radius, shank_top;
  double screw_z, screw_radius, plug_radius;
  int screw_count;
  double short_of; /* how far the parts stand out of the housing; <= 0: they fit */

  /* ghosts */
  double swivel; /* rad */
  double travel_side, travel_axial;
  double turn_z; /* height about which the carrier turns */
} tw_layout;

/* TW_BAD_INPUT when the design lacks what a section needs (stylus, seat) */
tw_status tw_layout_make(const tw_design *design, tw_layout *plan, tw_fault *fault);

#endif
