/* disc_scenes.h: the discs that several tests share, solved or failing the test. */
#ifndef TW_TEST_DISC_SCENES_H
#define TW_TEST_DISC_SCENES_H

#include "near.h"
#include "tripwright/disc.h"

#include <string.h>

/* D20: 20 mm plate 0.2 mm, ceramic 14 mm 0.2 mm; D15: 15 mm 0.1 mm, 10 mm 0.1 mm; A PZT-5A, H
 * PZT-5H; brass; loads from the metal side */
static inline tw_disc_spec disc_named(const char *name)
{
  tw_disc_spec s;
  tw_disc_spec_default(&s);
  const bool large = strncmp(name, "D20", 3) == 0;
  s.metal_radius = large ? 10e-3 : 7.5e-3;
  s.ceramic_radius = large ? 7e-3 : 5e-3;
  s.metal_thickness = s.ceramic_thickness = large ? 0.2e-3 : 0.1e-3;
  s.ceramic = name[3] == 'H' ? TW_DISC_PZT_5H : TW_DISC_PZT_5A;
  s.contact_face = TW_DISC_METAL_FACE;
  s.contact_radius = 2e-3;
  return s;
}

/* D20 on a ledge of 9 mm with glue and silver, pressed by a carrier of 3 mm radius on the face that
 * the library takes for usual */
static inline tw_disc_spec disc_on_ledge(double electrode_radius)
{
  tw_disc_spec s;
  tw_disc_spec_default(&s);
  s.metal_radius = 10e-3;
  s.metal_thickness = s.ceramic_thickness = 0.2e-3;
  s.ceramic_radius = 7e-3;
  s.electrode_radius = electrode_radius;
  s.bond_thickness = 10e-6;
  s.silver_thickness = 5e-6;
  s.support = TW_DISC_LEDGE;
  s.ledge_radius = 9e-3;
  s.contact_radius = 3e-3;
  return s;
}

static inline tw_disc *disc_solved(const tw_disc_spec *spec)
{
  tw_disc *disc = NULL;
  tw_fault fault;
  if (tw_disc_new(spec, &disc, &fault) != TW_OK) {
    fail_msg("%s: %s", fault.field, fault.text);
  }
  return disc;
}

static inline tw_disc_measures disc_measured(const tw_disc *disc)
{
  tw_disc_measures m;
  tw_fault fault;
  if (tw_disc_measure(disc, TW_DISC_SHORT, &m, &fault) != TW_OK) {
    fail_msg("%s: %s", fault.field, fault.text);
  }
  return m;
}

static inline tw_disc_ring disc_ring(const tw_disc *disc, double radius)
{
  tw_disc_ring ring;
  tw_fault fault;
  if (tw_disc_at(disc, radius, &ring, &fault) != TW_OK) {
    fail_msg("%s: %s", fault.field, fault.text);
  }
  return ring;
}

/* `n` points of a ring of radius `a` whose centre is off by `shift` along azimuth 0 */
static inline void disc_points_of(size_t n, double a, double shift, double *r, double *az)
{
  for (size_t i = 0; i < n; i++) {
    const double t = 2.0 * acos(-1.0) * (double)i / (double)n;
    r[i] = hypot(a * cos(t) + shift, a * sin(t));
    az[i] = atan2(a * sin(t), a * cos(t) + shift);
  }
}

#endif
