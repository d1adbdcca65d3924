/* random.c: counter-based streams on Philox, and the distributions drawn from them. */
#include "tripwright/random.h"
#include "tripwright/constants.h"

#include <Random123/philox.h>
#include <assert.h>
#include <math.h>

void tw_random_start(tw_random *random, uint64_t seed, uint64_t stream)
{
  *random = (tw_random){.key = {(uint32_t)seed, (uint32_t)(seed >> 32)},
                        .counter = {0, 0, (uint32_t)stream, (uint32_t)(stream >> 32)}};
}

/* the next block: word[] = philox(counter, key), counter + 1 */
static void refill(tw_random *random)
{
  philox4x32_ctr_t counter;
  philox4x32_key_t key;
  for (int i = 0; i < 4; i++) {
    counter.v[i] = random->counter[i];
  }
  key.v[0] = random->key[0];
  key.v[1] = random->key[1];
  const philox4x32_ctr_t block = philox4x32(counter, key);
  for (int i = 0; i < 4; i++) {
    random->word[i] = block.v[i];
  }
  random->left = 4;
  if (++random->counter[0] == 0) {
    ++random->counter[1];
  }
}

uint32_t tw_random_word(tw_random *random)
{
  if (random->left == 0) {
    refill(random);
  }
  return random->word[4 - random->left--];
}

uint64_t tw_random_bits(tw_random *random)
{
  const uint64_t low = tw_random_word(random);
  return (uint64_t)tw_random_word(random) << 32 | low;
}

double tw_random_uniform(tw_random *random)
{
  /* 2^52 cells of equal width; the middle of the cell keeps both ends out */
  return ((double)(tw_random_bits(random) >> 12) + 0.5) * 0x1p-52;
}

uint64_t tw_random_below(tw_random *random, uint64_t count)
{
  assert(count > 0);
  /* refuse the ragged end of the range, so that every remainder is equally likely */
  const uint64_t ragged = (UINT64_MAX % count + 1) % count;
  uint64_t bits;
  do {
    bits = tw_random_bits(random);
  } while (bits > UINT64_MAX - ragged);
  return bits % count;
}

double tw_random_normal(tw_random *random)
{
  if (random->has_spare) {
    random->has_spare = false;
    return random->spare;
  }
  const double radius = sqrt(-2.0 * log(tw_random_uniform(random)));
  const double angle = 2.0 * TW_PI * tw_random_uniform(random);
  random->spare = radius * sin(angle);
  random->has_spare = true;
  return radius * cos(angle);
}

double tw_random_triangular(tw_random *random)
{
  const double first = tw_random_uniform(random);
  return first + tw_random_uniform(random) - 1.0;
}

double tw_random_arcsine(tw_random *random)
{
  return sin(TW_PI * (tw_random_uniform(random) - 0.5));
}

double tw_random_exponential(tw_random *random)
{
  return -log(tw_random_uniform(random));
}

double tw_random_gamma(tw_random *random, double shape)
{
  assert(shape > 0.0);
  if (shape < 1.0) {
    /* gamma(a) = gamma(a + 1) U^(1/a) */
    const double larger = tw_random_gamma(random, shape + 1.0);
    return larger * pow(tw_random_uniform(random), 1.0 / shape);
  }
  /* x = d v, v = (1 + c z)^3, accepted when log u < z^2/2 + d - d v + d log v */
  const double d = shape - 1.0 / 3.0, c = 1.0 / sqrt(9.0 * d);
  for (;;) {
    const double z = tw_random_normal(random), root = 1.0 + c * z;
    if (root <= 0.0) {
      continue;
    }
    const double v = root * root * root;
    if (log(tw_random_uniform(random)) < 0.5 * z * z + d - d * v + d * log(v)) {
      return d * v;
    }
  }
}

double tw_random_student(tw_random *random, double dof)
{
  const double z = tw_random_normal(random);
  return z / sqrt(2.0 * tw_random_gamma(random, 0.5 * dof) / dof);
}
