/* base.h: what every room stands on: status, faults, messages, memory, progress.
 *
 * SI units everywhere inside; a unit stands in a name only at the edge. Nothing here is global
 * except the allocation counter that the fault tests use; all functions may be called from
 * several threads on different objects. Who creates an object with tw_*_new frees it with
 * tw_*_free; every *_free takes NULL.
 */
#ifndef TRIPWRIGHT_BASE_H
#define TRIPWRIGHT_BASE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* name, text */
#define TW_STATUS_TABLE(X)                                                                         \
  X(TW_OK, "done")                                                                                 \
  X(TW_NO_MEMORY, "out of memory")                                                                 \
  X(TW_BAD_INPUT, "the input is wrong")                                                            \
  X(TW_NO_ANSWER, "no numerical answer")                                                           \
  X(TW_NO_FILE, "file or network")                                                                 \
  X(TW_CANCELLED, "cancelled")                                                                     \
  X(TW_INTERNAL, "internal error")

typedef enum tw_status {
#define X(name, text) name,
  TW_STATUS_TABLE(X)
#undef X
} tw_status;

/* describe a status in plain words; never NULL */
const char *tw_status_text(tw_status status);

/* Why something failed: filled by the function that failed, owned by the caller, may be NULL
 * wherever it is taken. `field` is the path of the design field to change, or empty. */
typedef struct tw_fault {
  tw_status status;
  char field[64];
  char text[240];
  char hint[240];
} tw_fault;

/* fill `fault` (if not NULL) and return `status`, so that a failure is one line */
tw_status tw_fail(tw_fault *fault, tw_status status, const char *field, const char *hint,
                  const char *format, ...) __attribute__((format(printf, 5, 6)));

/* ---- memory -------------------------------------------------------------------------------- */

void *tw_alloc(size_t count, size_t size);             /* zeroed; NULL when there is none */
void *tw_resize(void *old, size_t count, size_t size); /* contents kept; NULL leaves `old` */
char *tw_copy_text(const char *text);                  /* NULL gives NULL */
void tw_free(void *block);

/* Fault tests: the n-th allocation from now on fails (and with `always` every later one); 0 turns
 * it off. tw_alloc_seen counts since the last tw_alloc_fail_at. */
void tw_alloc_fail_at(long n, bool always);
long tw_alloc_seen(void);

/* An arena: many small pieces, freed together. */
typedef struct tw_arena tw_arena;
tw_arena *tw_arena_new(void);
void tw_arena_free(tw_arena *arena);
void *tw_arena_take(tw_arena *arena, size_t size); /* zeroed, aligned for any type */
char *tw_arena_text(tw_arena *arena, const char *text, size_t length);

/* ---- messages ------------------------------------------------------------------------------ */

typedef enum tw_severity { TW_ERROR, TW_WARNING, TW_NOTE } tw_severity;

/* where something stands in a file; line and column count from 1, 0 = unknown */
typedef struct tw_place {
  const char *file;
  int line, column;
} tw_place;

typedef struct tw_message {
  tw_severity severity;
  char *file; /* NULL when the message has no place */
  int line, column;
  char *field;   /* path of the design field, or NULL */
  char *text;    /* one sentence */
  char *hint;    /* what to do, or NULL */
  char *excerpt; /* the source line, or NULL */
} tw_message;

/* A list of messages; errors past TW_MESSAGE_LIMIT are counted, not kept. */
#define TW_MESSAGE_LIMIT 20
typedef struct tw_messages tw_messages;
tw_messages *tw_messages_new(void);
void tw_messages_free(tw_messages *messages);
void tw_messages_add(tw_messages *messages, tw_severity severity, tw_place place, const char *field,
                     const char *excerpt, const char *hint, const char *format, ...)
    __attribute__((format(printf, 7, 8)));
void tw_messages_add_fault(tw_messages *messages, const tw_fault *fault, tw_place place,
                           const char *excerpt);
size_t tw_messages_count(const tw_messages *messages);
size_t tw_messages_errors(const tw_messages *messages); /* all that were added, kept or not */
bool tw_messages_lost(const tw_messages *messages);     /* an allocation failed while adding */
const tw_message *tw_messages_at(const tw_messages *messages, size_t index);
/* "probe.yaml:12:9: error: field: text", the source line with a caret, "hint: ..."; returns the
 * length as snprintf does */
int tw_message_print(const tw_message *message, char *out, size_t size);

/* ---- progress ------------------------------------------------------------------------------ */

/* `tick` is called now and then with the part done (0..1); false asks the work to stop, which then
 * returns TW_CANCELLED with what is done kept. A NULL progress never stops. */
typedef struct tw_progress {
  bool (*tick)(void *self, double done, const char *what);
  void *self;
} tw_progress;
bool tw_progress_tick(const tw_progress *progress, double done, const char *what);

/* ---- small helpers ------------------------------------------------------------------------- */

/* the entry of `names` (count of them) nearest to `word` in spelling, or NULL if none is near */
const char *tw_nearest_name(const char *word, const char *const *names, size_t count);

#endif
