/* program_place.c: where a program goes, against artefact, floor, stylus and travels. */
#include "program_inner.h"

#include <math.h>

#define MM     1e3
#define MM_MIN 6e4
/* no machine of a workshop is larger, unless its travels are stated */
#define TW_UNSTATED_TRAVEL 2.0
/* two heights that differ by less than the printed digits are the same */
#define TW_SAME_HEIGHT 1e-7

#define refuse tw_program_refuse

/* Where ball and surface meet, against the top: a touch above it finds air. A side must lie below
 * the top by the placement, too. */
static void check_meeting(struct tw_checking *c)
{
  const tw_plan *p = c->plan;
  for (size_t i = 0; i < c->points; i++) {
    const struct tw_place_to_touch *t = &c->point[i];
    const double centre = t->start[2] + t->run * t->along[2];
    /* the surface lies one radius further along the travel */
    const double meets = centre + 0.5 * p->tip_diameter * t->along[2];
    const double side = hypot(t->along[0], t->along[1]);
    if (meets > p->top - side * p->placement + TW_SAME_HEIGHT) {
      refuse(c, "at", "touch lower, or correct the top",
             "the ball would meet the surface at Z %.3f mm, but the top is at %.3f mm; a side is "
             "touched at least one placement (%.3f mm) below it",
             meets * MM, p->top * MM, p->placement * MM);
      return;
    }
  }
}

/* lowest position of the centre of the ball: a missed trip ends at the target */
static double lowest_target(const struct tw_checking *c)
{
  double lowest = c->plan->clearance;
  for (size_t i = 0; i < c->points; i++) {
    const struct tw_place_to_touch *t = &c->point[i];
    const double target = t->start[2] + (t->run + c->plan->placement) * t->along[2];
    lowest = fmin(lowest, fmin(t->start[2], target));
  }
  return lowest;
}

static void check_floor(struct tw_checking *c)
{
  const tw_plan *p = c->plan;
  const double air = lowest_target(c) - 0.5 * p->tip_diameter - p->floor;
  if (isfinite(p->floor) && air < p->placement - TW_SAME_HEIGHT) {
    refuse(c, "floor", "touch higher",
           "at its lowest the ball is %.3f mm above the floor; one placement is %.3f mm", air * MM,
           p->placement * MM);
  }
}

/* one axis of every position that the program goes to */
static void check_axis(struct tw_checking *c, int axis)
{
  const tw_plan *p = c->plan;
  const bool stated = isfinite(p->travel[axis][0]) && isfinite(p->travel[axis][1]);
  const double low = stated ? p->travel[axis][0] : -TW_UNSTATED_TRAVEL;
  const double high = stated ? p->travel[axis][1] : TW_UNSTATED_TRAVEL;
  double least = axis == 2 ? p->clearance : (double)INFINITY;
  double most = axis == 2 ? p->clearance : -(double)INFINITY;
  for (size_t i = 0; i < c->points; i++) {
    const struct tw_place_to_touch *t = &c->point[i];
    const double end = t->start[axis] + (t->run + p->placement) * t->along[axis];
    least = fmin(least, fmin(t->start[axis], end));
    most = fmax(most, fmax(t->start[axis], end));
  }
  if (least < low - TW_SAME_HEIGHT || most > high + TW_SAME_HEIGHT) {
    refuse(c, stated ? "travel" : "at",
           stated ? "place the artefact elsewhere, or correct the travels"
                  : "was the unit meant? state the machine's --travel if it is that large",
           "%c goes from %.3f to %.3f mm; %s from %.3f to %.3f mm", "XYZ"[axis], least * MM,
           most * MM, stated ? "the travel is" : "without stated travels it may go", low * MM,
           high * MM);
  }
}

static void check_heights(struct tw_checking *c)
{
  const tw_plan *p = c->plan;
  const double air = p->clearance - 0.5 * p->tip_diameter - p->top;
  if (air < p->placement - TW_SAME_HEIGHT) {
    refuse(c, "clearance", "raise the clearance above the artefact and its clamps",
           "at %.3f mm the ball hangs down to %.3f mm; the top is at %.3f mm, and one placement "
           "(%.3f mm) must be free under the ball",
           p->clearance * MM, (p->clearance - 0.5 * p->tip_diameter) * MM, p->top * MM,
           p->placement * MM);
  }
  if (p->test == TW_TEST_SPHERE && !(p->top >= p->contact[2] + 0.5 * p->diameter)) {
    refuse(c, "top", "it is the highest part of all", "the top is below the top of the sphere");
  }
  double lowest = (double)INFINITY;
  for (size_t i = 0; i < c->points; i++) {
    lowest = fmin(lowest, c->point[i].start[2]);
  }
  if (lowest < p->clearance && !c->words->guarded[0] && !p->entry_secured) {
    refuse(c, "clearance",
           "name a guarded word in the words file, or make sure that the way straight "
           "down to every start is free and say entry-secured",
           "starts lie %.3f mm below the clearance, and there is no guarded move to go there",
           (p->clearance - lowest) * MM);
  }
  if (lowest < p->clearance && c->words->guarded[0] &&
      !(tw_stopping_distance(p, p->feed_position) < p->overtravel)) {
    refuse(c, "position-feed", "slow down: guarded moves run at this feed",
           "from %g mm/min a guarded move needs %.3f mm to stop; the overtravel is %.3f mm",
           p->feed_position * MM_MIN, tw_stopping_distance(p, p->feed_position) * MM,
           p->overtravel * MM);
  }
  if (p->reach > 0.0 && p->top - lowest > p->reach) {
    refuse(c, "reach", "use a longer stylus, or touch higher",
           "%.3f mm below the top is more than the stylus reaches, %.3f mm", (p->top - lowest) * MM,
           p->reach * MM);
  }
}

void tw_program_check_places(struct tw_checking *c)
{
  check_heights(c);
  check_meeting(c);
  check_floor(c);
  for (int axis = 0; axis < 3; axis++) {
    check_axis(c, axis);
  }
}
