/* program_points.c: where a program touches, and how far the machine runs on. */
#include "inner.h"
#include "program_inner.h"
#include "tripwright/qualify_fit.h"

#include <math.h>

double tw_stopping_distance(const tw_plan *plan, double feed)
{
  return feed * feed / (2.0 * plan->deceleration) + feed * plan->latency;
}

bool tw_program_in_ring(const tw_plan *p)
{
  return p->test == TW_TEST_RING || p->test == TW_TEST_OFFSET;
}

double tw_program_run(const tw_plan *p)
{
  /* in a ring every touch starts at its centre, so that no move runs along the wall */
  return tw_program_in_ring(p) ? 0.5 * (p->diameter - p->tip_diameter) : p->approach;
}

size_t tw_program_touches(const tw_plan *p)
{
  switch (p->test) {
  case TW_TEST_FEEDS:
    return p->touches * p->feeds;
  case TW_TEST_SPHERE:
    return 25;
  case TW_TEST_OFFSET:
    return p->touches * p->turns;
  case TW_TEST_REPEAT:
  case TW_TEST_RING:
  case TW_TEST_DRIFT:
    break;
  }
  return p->touches;
}

static void add_point(struct tw_checking *c, const double contact[3], const double along[3])
{
  struct tw_place_to_touch *t = &c->point[c->points++];
  t->run = tw_program_run(c->plan);
  for (int k = 0; k < 3; k++) {
    t->along[k] = along[k];
    t->start[k] = contact[k] - t->run * along[k];
  }
}

static void ring_points(struct tw_checking *c, size_t count)
{
  const tw_plan *p = c->plan;
  const double run = tw_program_run(p);
  for (size_t i = 0; i < count; i++) {
    const double turn = 2.0 * TW_PI * (double)i / (double)count;
    const double along[3] = {cos(turn), sin(turn), 0.0};
    double contact[3];
    for (int k = 0; k < 3; k++) {
      contact[k] = p->contact[k] + run * along[k];
    }
    add_point(c, contact, along);
  }
}

static void sphere_points(struct tw_checking *c)
{
  const tw_plan *p = c->plan;
  const double out = 0.5 * (p->diameter + p->tip_diameter);
  for (size_t i = 0; i < 25; i++) {
    double d[3], contact[3], along[3];
    tw_sphere_pattern(i, d);
    for (int k = 0; k < 3; k++) {
      contact[k] = p->contact[k] + out * d[k];
      along[k] = -d[k];
    }
    add_point(c, contact, along);
  }
}

void tw_program_points(struct tw_checking *c)
{
  const tw_plan *p = c->plan;
  c->points = 0;
  if (p->test == TW_TEST_SPHERE) {
    sphere_points(c);
  } else if (tw_program_in_ring(p)) {
    ring_points(c, p->touches);
  } else {
    /* the machine approaches along -d, d the force on the tip; up is positive */
    const double e = p->elevation, a = p->azimuth;
    const double along[3] = {-cos(e) * cos(a), -cos(e) * sin(a), -sin(e)};
    add_point(c, p->contact, along);
  }
}
