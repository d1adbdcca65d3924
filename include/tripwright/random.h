/* random.h: counter-based random streams: the same numbers on any machine and any number of
 * threads.
 *
 * A stream is named by (seed, stream): number k of it is a pure function of the three, so build i
 * of a batch takes stream i and needs nothing from build i - 1. The generator is Philox 4x32 with
 * ten rounds (Salmon, Moraes, Dror, Shaw: "Parallel random numbers: as easy as 1, 2, 3", SC 2011).
 * A tw_random is a small value owned by the caller; use one a thread. All numbers are pure.
 */
#ifndef TRIPWRIGHT_RANDOM_H
#define TRIPWRIGHT_RANDOM_H

#include <stdbool.h>
#include <stdint.h>

typedef struct tw_random {
  uint32_t key[2];     /* the seed */
  uint32_t counter[4]; /* block number (two words), stream (two words) */
  uint32_t word[4];    /* the current block */
  unsigned left;       /* words of it not yet used */
  double spare;        /* second normal of a Box-Muller pair */
  bool has_spare;
} tw_random;

/* start stream `stream` of `seed` at its first number */
void tw_random_start(tw_random *random, uint64_t seed, uint64_t stream);

uint32_t tw_random_word(tw_random *random);
uint64_t tw_random_bits(tw_random *random);

/* uniform on the open interval (0, 1), 52 bits: never 0, never 1 */
double tw_random_uniform(tw_random *random);
/* integer 0 .. count - 1 without bias; count > 0 */
uint64_t tw_random_below(tw_random *random, uint64_t count);
/* mean 0, standard deviation 1 (Box and Muller 1958) */
double tw_random_normal(tw_random *random);
/* on (-1, 1): symmetric triangle; arcsine (a sine at random phase) */
double tw_random_triangular(tw_random *random);
double tw_random_arcsine(tw_random *random);
/* mean 1 */
double tw_random_exponential(tw_random *random);
/* shape > 0, scale 1 (Marsaglia and Tsang 2000) */
double tw_random_gamma(tw_random *random, double shape);
/* Student's t with `dof` > 0 degrees of freedom */
double tw_random_student(tw_random *random, double dof);

#endif
