/* seat_scenes.h: scenes of docs/models/seat.md that tests and benchmarks share. */
#ifndef TW_TEST_SEAT_SCENES_H
#define TW_TEST_SEAT_SCENES_H

#include "tripwright/seat.h"
#include "tripwright/seat_forms.h"

#include <math.h>
#include <string.h>

#define SCENE_PI 3.14159265358979323846

static inline double scene_rad(double degrees)
{
  return degrees * SCENE_PI / 180.0;
}

/* the uniform disc of the check cases: simply supported, gain one */
static const tw_seat_plate scene_plate = {
    .radius = 9.5e-3, .centre_stiffness = 3e4, .poisson = 0.3, .charge = 1.0};

/* side and axial stiffness of a plain round stem */
static inline void scene_stem(tw_seat_spec *s, double young, double diameter)
{
  s->side_stiffness = 3.0 * young * SCENE_PI * pow(diameter, 4.0) / 64.0 / pow(s->reach, 3.0);
  s->axial_stiffness = young * SCENE_PI * diameter * diameter / 4.0 / s->reach;
}

/* pivot base case: R 5, a 3, h 4, L 40 mm, socket 45 deg, 3e6 N/m, ideal ring, P0 = 1 N, stem
 * carbide 1.4 mm of 600 GPa, no compliance at the tip */
static inline tw_seat_spec scene_pivot(double friction_socket, double friction_flat)
{
  tw_seat_spec s;
  tw_seat_spec_default(TW_SEATED_PIVOT, &s);
  s.reach = 0.04;
  s.points = 24;
  s.ball_radius = 5e-3;
  s.flat_radius = 3e-3;
  s.flat_height = 4e-3;
  s.socket_angle = scene_rad(45.0);
  s.socket_stiffness = 3e6;
  s.friction_socket = friction_socket;
  s.friction_flat = friction_flat;
  s.force = 1.0;
  s.disc_points = tw_seat_plate_points;
  s.disc = &scene_plate;
  scene_stem(&s, 600e9, 1.4e-3);
  return s;
}

/* tripod b 10, L 40 mm, S = 1 N, stem as above; stiff seats, as the closed forms assume */
static inline tw_seat_spec scene_tripod(bool vee)
{
  tw_seat_spec s;
  tw_seat_spec_default(vee ? TW_SEATED_TRIPOD_VEE : TW_SEATED_TRIPOD_FLAT, &s);
  s.reach = 0.04;
  s.pitch_radius = 0.01;
  s.vee_angle = scene_rad(45.0);
  s.seat_stiffness = 1e7;
  s.guided = !vee;
  s.force = 1.0;
  scene_stem(&s, 600e9, 1.4e-3);
  return s;
}

/* threshold of a net load T (N) at contact radius a on the plate of these scenes */
static inline double scene_threshold(double load, double a)
{
  const double r = a / scene_plate.radius;
  return load * (1.0 - r * r);
}

typedef struct scene_touch {
  tw_status status;
  tw_seat_rest rest;
  tw_seat_touch_result t;
  tw_fault fault;
} scene_touch;

/* one touch of one spec, with a model and a workspace of its own */
static inline scene_touch scene_run(const tw_seat_spec *spec, double azimuth_deg,
                                    double elevation_deg, const tw_seat_options *options)
{
  scene_touch out;
  memset(&out, 0, sizeof out);
  tw_seat_model *m = NULL;
  tw_seat_work *w = NULL;
  out.status = tw_seat_model_new(spec, &m, &out.fault);
  if (out.status == TW_OK) {
    tw_seat_rest_of(m, &out.rest);
    w = tw_seat_work_new(m);
    out.status = w == NULL ? TW_NO_MEMORY
                           : tw_seat_touch(m, w, scene_rad(azimuth_deg), scene_rad(elevation_deg),
                                           options, &out.t, &out.fault);
  }
  tw_seat_work_free(w);
  tw_seat_model_free(m);
  return out;
}

/* options of the check cases: charge from rest after assembly */
static inline tw_seat_options scene_options(double threshold, size_t prior)
{
  tw_seat_options o;
  tw_seat_options_default(&o);
  o.threshold = threshold;
  o.prior_touches = prior;
  o.from_assembly = true;
  return o;
}

#endif
