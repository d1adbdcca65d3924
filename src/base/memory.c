/* memory.c: allocation with a counter that can be told to fail, and the arena. */
#include "tripwright/base.h"

#include <limits.h>
#include <stdalign.h>
#include <stdatomic.h>
#include <stdlib.h>
#include <string.h>

static atomic_long seen;
static atomic_long fail_at;
static atomic_bool fail_always;

void tw_alloc_fail_at(long n, bool always)
{
  atomic_store(&seen, 0);
  atomic_store(&fail_always, always);
  atomic_store(&fail_at, n);
}

long tw_alloc_seen(void)
{
  return atomic_load(&seen);
}

static bool refused(void)
{
  const long number = atomic_fetch_add(&seen, 1) + 1;
  const long limit = atomic_load(&fail_at);
  return limit > 0 && (number == limit || (number > limit && atomic_load(&fail_always)));
}

static bool too_large(size_t count, size_t size)
{
  return size != 0 && count > (size_t)PTRDIFF_MAX / size;
}

void *tw_alloc(size_t count, size_t size)
{
  if (refused() || too_large(count, size)) {
    return NULL;
  }
  return calloc(count ? count : 1, size ? size : 1);
}

void *tw_resize(void *old, size_t count, size_t size)
{
  if (refused() || too_large(count, size)) {
    return NULL;
  }
  const size_t bytes = count * size;
  return realloc(old, bytes ? bytes : 1);
}

char *tw_copy_text(const char *text)
{
  if (!text) {
    return NULL;
  }
  const size_t length = strlen(text) + 1;
  char *copy = tw_alloc(length, 1);
  return copy ? memcpy(copy, text, length) : NULL;
}

void tw_free(void *block)
{
  free(block);
}

/* ---- arena: blocks in a list, pieces cut from the newest ------------------------------------ */

#define TW_ARENA_BLOCK 16384

struct block {
  struct block *older;
  size_t used, size;
};

struct tw_arena {
  struct block *newest;
};

/* a block's payload starts at the next aligned place after its head */
static const size_t head =
    (sizeof(struct block) + alignof(max_align_t) - 1) / alignof(max_align_t) * alignof(max_align_t);

tw_arena *tw_arena_new(void)
{
  return tw_alloc(1, sizeof(tw_arena));
}

void tw_arena_free(tw_arena *arena)
{
  if (!arena) {
    return;
  }
  for (struct block *b = arena->newest; b;) {
    struct block *older = b->older;
    tw_free(b);
    b = older;
  }
  tw_free(arena);
}

void *tw_arena_take(tw_arena *arena, size_t size)
{
  if (size > (size_t)PTRDIFF_MAX / 2) {
    return NULL;
  }
  const size_t unit = alignof(max_align_t);
  size = (size + unit - 1) / unit * unit;
  struct block *b = arena->newest;
  if (!b || b->size - b->used < size) {
    const size_t payload = size > TW_ARENA_BLOCK ? size : TW_ARENA_BLOCK;
    b = tw_alloc(1, head + payload);
    if (!b) {
      return NULL;
    }
    b->older = arena->newest;
    b->size = payload;
    arena->newest = b;
  }
  char *piece = (char *)b + head + b->used;
  b->used += size;
  return piece;
}

char *tw_arena_text(tw_arena *arena, const char *text, size_t length)
{
  char *copy = tw_arena_take(arena, length + 1);
  if (copy) {
    memcpy(copy, text, length);
  }
  return copy;
}
