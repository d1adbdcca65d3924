/* random_carriers.h: carriers on random contacts that a known set of contact forces balances, so
 * that a rest exists by construction. Each is made from its number alone. */
#ifndef TW_TEST_RANDOM_CARRIERS_H
#define TW_TEST_RANDOM_CARRIERS_H

#include "tripwright/seat.h"

#include <math.h>
#include <stdint.h>
#include <string.h>

#define CARRIER_MOST  10
#define CARRIER_GROUP 4

typedef struct random_carrier {
  tw_seat_contact contact[CARRIER_MOST];
  double compliance[CARRIER_GROUP * CARRIER_GROUP];
  tw_seat_parts parts;
  double azimuth, elevation, step; /* of the push */
} random_carrier;

/* splitmix64 */
static inline double carrier_uniform(uint64_t *state, double low, double high)
{
  uint64_t z = (*state += 0x9E3779B97F4A7C15u);
  z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9u;
  z = (z ^ (z >> 27)) * 0x94D049BB133111EBu;
  z ^= z >> 31;
  return low + (high - low) * ((double)(z >> 11) * 0x1p-53);
}

static inline void carrier_contact(uint64_t *s, double friction, bool grouped, tw_seat_contact *c)
{
  const double pi = 3.14159265358979323846;
  const double phi = carrier_uniform(s, 0, 2 * pi), r = carrier_uniform(s, 3e-3, 1e-2);
  const double tilt = carrier_uniform(s, 0, 1), turn = carrier_uniform(s, 0, 2 * pi);
  c->place[0] = r * cos(phi);
  c->place[1] = r * sin(phi);
  c->place[2] = carrier_uniform(s, -4e-3, 4e-3);
  c->normal[0] = sin(tilt) * cos(turn);
  c->normal[1] = sin(tilt) * sin(turn);
  c->normal[2] = cos(tilt);
  c->compression = carrier_uniform(s, -2e-6, 2e-6);
  c->stiffness = pow(10, carrier_uniform(s, 5, 7));
  c->friction = friction;
  c->tangent_stiffness = 0.8 * c->stiffness;
  c->grouped = grouped;
  c->charge = 1;
}

/* 4 to 10 contacts, normals within 57 deg of +Z, three in ten with four of them coupled */
static inline void random_carrier_make(uint64_t number, double friction, random_carrier *c)
{
  uint64_t s = number * 0xD1342543DE82EF95u + 1;
  memset(c, 0, sizeof *c);
  const size_t n = 4 + (size_t)carrier_uniform(&s, 0, 7);
  const bool coupled = carrier_uniform(&s, 0, 1) < 0.3;
  for (size_t i = 0; i < n; i++) {
    tw_seat_contact *k = &c->contact[i];
    carrier_contact(&s, friction, coupled && i < CARRIER_GROUP, k);
    /* the load that balances a positive force on every contact */
    const double force = carrier_uniform(&s, 0.05, 0.5);
    for (int a = 0; a < 3; a++) {
      const int b = (a + 1) % 3, d = (a + 2) % 3;
      c->parts.load[a] -= force * k->normal[a];
      c->parts.load[3 + a] -= force * (k->place[b] * k->normal[d] - k->place[d] * k->normal[b]);
    }
  }
  if (coupled) { /* C = (A A' + 0.3 I) um/N */
    double a[CARRIER_GROUP * CARRIER_GROUP];
    for (int i = 0; i < CARRIER_GROUP * CARRIER_GROUP; i++) {
      a[i] = carrier_uniform(&s, -1, 1);
    }
    for (int i = 0; i < CARRIER_GROUP; i++) {
      for (int j = 0; j < CARRIER_GROUP; j++) {
        double sum = i == j ? 0.3 : 0;
        for (int k = 0; k < CARRIER_GROUP; k++) {
          sum += a[i * CARRIER_GROUP + k] * a[j * CARRIER_GROUP + k];
        }
        c->compliance[i * CARRIER_GROUP + j] = 1e-6 * sum;
      }
      c->contact[i].tangent_stiffness = 0.8 / c->compliance[i * CARRIER_GROUP + i];
    }
  }
  c->parts.contact = c->contact;
  c->parts.contacts = n;
  c->parts.compliance = c->compliance;
  c->parts.tip[2] = -0.04;
  c->parts.side_stiffness = 5300;
  c->parts.axial_stiffness = 2e7;
  c->parts.length = 0.01;
  c->azimuth = carrier_uniform(&s, 0, 6.283185307179586);
  c->elevation = carrier_uniform(&s, 0, 1.5);
  c->step = carrier_uniform(&s, 2e-6, 8e-6);
}

#endif
