/* build.h: private: a spec on its way to single parts, one builder a family. */
#ifndef TW_SEAT_BUILD_H
#define TW_SEAT_BUILD_H

#include "making.h"

/* points that stand for a full ring, and for a bonded foot */
enum { SEAT_RING_POINTS = 24, SEAT_FOOT_POINTS = 12, SEAT_SOCKET_POINTS = 12 };

/* tangential over normal stiffness of a contact without a presliding length, and of the flat over
 * the disc's axial stiffness: the regularisation of the check cases, docs/models/seat.md 3 */
#define SEAT_TANGENT_OVER_NORMAL     0.8
#define SEAT_FLAT_TANGENT_OVER_AXIAL 16.0

typedef struct seat_build {
  const tw_seat_spec *spec;
  tw_seat_contact contact[TW_SEAT_CONTACTS];
  size_t contacts;
  tw_seat_spring spring[TW_SEAT_SPRINGS];
  size_t springs;
  size_t grouped; /* entries of the four below */
  double radius[TW_SEAT_GROUP], azimuth[TW_SEAT_GROUP], charge[TW_SEAT_GROUP];
  double compliance[TW_SEAT_GROUP * TW_SEAT_GROUP];
  double axial;   /* N/m, of the carrier's contacts on the disc under an even load */
  double preload; /* N, as far as it is known before the rest */
  tw_seat_parts parts;
  tw_fault *fault;
} seat_build;

tw_status tw_seat_build_pivot(seat_build *b);
tw_status tw_seat_build_tripod(seat_build *b);
tw_status tw_seat_build_plate_above(seat_build *b);
tw_status tw_seat_build_plate_below(seat_build *b);
tw_status tw_seat_build_bonded(seat_build *b);

/* common pieces (build.c) */
tw_seat_contact *tw_seat_add_contact(seat_build *b, const double place[3], const double normal[3]);
tw_seat_spring *tw_seat_add_spring(seat_build *b, const double place[3], const double along[3],
                                   double force, double rate);
/* contact points of the carrier on the disc: ring of `points` of radius a about the eccentric
 * centre at height z, pushed along `sign` z; then the disc's compliance, with a backing if any */
tw_status tw_seat_add_disc_ring(seat_build *b, double a, size_t points, double z, double sign);
/* The void under a disc that a spring presses: `points` points share a newton evenly at these radii
 * and azimuths; fills gap and give of the spring. */
tw_status tw_seat_void_under(seat_build *b, size_t points, const double *radius,
                             const double *azimuth, tw_seat_spring *spring);
/* three springs that keep the carrier in the middle, and from turning about its axis */
void tw_seat_add_guide(seat_build *b, double stiffness, double radius);
/* preload of a spring that presses on the carrier's middle: force at rest and rate */
tw_status tw_seat_spring_preload(seat_build *b, double *force, double *rate);
/* `value` finite and within the limits, else the fault names the field */
tw_status tw_seat_need(seat_build *b, const char *field, double value, double least, double most);

#endif
