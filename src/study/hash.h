/* hash.h: a 64-bit hash of numbers and texts, the same on every machine of one byte order. */
#ifndef TW_STUDY_HASH_H
#define TW_STUDY_HASH_H

#include <stddef.h>
#include <stdint.h>

#define TW_HASH_START UINT64_C(0xcbf29ce484222325)

/* FNV-1a (Fowler, Noll, Vo), 64 bits */
static inline uint64_t tw_hash_bytes(uint64_t hash, const void *bytes, size_t size)
{
  const unsigned char *at = bytes;
  for (size_t i = 0; i < size; i++) {
    hash = (hash ^ at[i]) * UINT64_C(0x100000001b3);
  }
  return hash;
}

/* finish: every bit of the argument moves half of the result (finaliser of splitmix64) */
static inline uint64_t tw_hash_mix(uint64_t x)
{
  x ^= x >> 30;
  x *= UINT64_C(0xbf58476d1ce4e5b9);
  x ^= x >> 27;
  x *= UINT64_C(0x94d049bb133111eb);
  return x ^ x >> 31;
}

#endif
