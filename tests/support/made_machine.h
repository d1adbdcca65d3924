/* made_machine.h: a machine and a probe that were made up, and that carry out motion programs: the
 * ball off the spindle axis, lobing that turns with the spindle, a delay, noise. Its truth is
 * known, so that what comes back through the whole chain can be held against it. Written from the
 * geometry alone; it shares nothing with the code under test but the list of moves. */
#ifndef TW_TEST_MADE_MACHINE_H
#define TW_TEST_MADE_MACHINE_H

#include "tripwright/qualify_program.h"
#include "tripwright/random.h"

#include <math.h>

#define MADE_PI 3.14159265358979323846

typedef struct made_machine {
  double ball[2]; /* spindle axis to ball centre, spindle at 0 */
  double radius;  /* mean distance from the ball centre to the surface at the trip, feed 0 */
  double lobe[3]; /* amplitudes of 2, 3 and 6 lobes */
  double delay;   /* from the trip to the position that is recorded */
  double noise;   /* standard deviation along the travel */
  double centre[2], bore; /* a ring: its centre and diameter; bore 0: a wall */
  double normal, wall;    /* a wall: azimuth of its outward normal, distance from the origin */
  tw_random random;
} made_machine;

typedef struct made_touch {
  double at[3], along[3], feed, spindle; /* recorded; direction of travel */
} made_touch;

/* azimuth of the force in the probe's own frame */
static inline double made_radius(const made_machine *m, double azimuth)
{
  return m->radius + m->lobe[0] * cos(2 * azimuth - 0.3) + m->lobe[1] * cos(3 * azimuth - 0.7) +
         m->lobe[2] * cos(6 * azimuth + 0.4);
}

/* what is left to go until the trip, the spindle axis at x, y */
static inline double made_gap(const made_machine *m, double x, double y, double spindle)
{
  const double bx = x + cos(spindle) * m->ball[0] - sin(spindle) * m->ball[1];
  const double by = y + sin(spindle) * m->ball[0] + cos(spindle) * m->ball[1];
  if (m->bore > 0) {
    const double dx = m->centre[0] - bx, dy = m->centre[1] - by;
    return m->bore / 2 - hypot(dx, dy) - made_radius(m, atan2(dy, dx) - spindle);
  }
  return bx * cos(m->normal) + by * sin(m->normal) - m->wall - made_radius(m, m->normal - spindle);
}

/* the recorded position of a touch from one place towards another; 0: no trip on the way */
static inline int made_trip(made_machine *m, const double *from, const double *to, double feed,
                            double spindle, made_touch *out)
{
  double u[3], length = 0;
  for (int k = 0; k < 3; k++) {
    length = hypot(length, to[k] - from[k]);
  }
  for (int k = 0; k < 3; k++) {
    u[k] = (to[k] - from[k]) / length;
  }
  double low = 0, high = length;
  if (made_gap(m, from[0], from[1], spindle) <= 0 || made_gap(m, to[0], to[1], spindle) > 0) {
    return 0;
  }
  for (int i = 0; i < 80; i++) {
    const double s = (low + high) / 2;
    *(made_gap(m, from[0] + s * u[0], from[1] + s * u[1], spindle) > 0 ? &low : &high) = s;
  }
  const double way = low + feed * m->delay + m->noise * tw_random_normal(&m->random);
  for (int k = 0; k < 3; k++) {
    out->at[k] = from[k] + way * u[k];
    out->along[k] = u[k];
  }
  out->feed = feed;
  out->spindle = spindle;
  return 1;
}

/* carry out a program; the touches that count, in order; fewer than the program's: one missed */
static inline size_t made_run(made_machine *m, const tw_program *g, made_touch *out, size_t room)
{
  double at[3] = {0}, spindle = 0;
  size_t n = 0;
  for (size_t i = 0; i < g->count; i++) {
    const tw_move *move = &g->move[i];
    made_touch trip;
    if (move->kind == TW_MOVE_TURN) {
      spindle = move->value;
    }
    if (move->kind == TW_MOVE_TOUCH || move->kind == TW_MOVE_COUNTED) {
      if (!made_trip(m, at, move->to, move->feed, spindle, &trip)) {
        return n;
      }
      if (move->kind == TW_MOVE_COUNTED && n < room) {
        out[n++] = trip;
      }
    }
    for (int k = 0; k < 3 && move->feed > 0 && move->kind != TW_MOVE_RECORD; k++) {
      at[k] = move->to[k];
    }
  }
  return n;
}

#endif
