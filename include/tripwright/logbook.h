/* logbook.h: the unit log: what was built, read, tested, shipped, kept for good in one SQLite file.
 *
 * Entries are only ever added; a correction is a new entry that names the one it replaces. An entry
 * is told by the SHA-256 of its canonical JSON (digest.h), so that logs of several benches merge to
 * one whatever the order. Model, schema and limits: docs/models/logbook.md.
 *
 * Numbers in bodies are SI. A tw_logbook belongs to one thread at a time; several logs, and several
 * processes on one file, may be used at once. Entries handed to a visitor are valid only during the
 * call. Texts given out are freed with tw_free.
 */
#ifndef TRIPWRIGHT_LOGBOOK_H
#define TRIPWRIGHT_LOGBOOK_H

#include "tripwright/base.h"
#include "tripwright/digest.h"

#include <jansson.h>

/* what an entry can be: its word, the keys of the body that it needs, what it is */
#define TW_LOG_KINDS(X)                                                                            \
  X(DESIGN, "design", "revision", "a revision of a design, its packed file kept as a document")    \
  X(UNIT, "unit", "", "a unit begun, with the revision it is built after")                         \
  X(LOT, "lot", "lot", "a lot of parts that came in")                                              \
  X(FITTED, "fitted", "lot", "a part of a lot, fitted into a unit")                                \
  X(READING, "reading", "measure", "one figure, as an instrument showed it")                       \
  X(CAPTURE, "capture", "document", "a recording, kept as a document")                             \
  X(TEST, "test", "step passed", "a test passed or not, with its documents")                       \
  X(ADJUSTMENT, "adjustment", "what", "something set or trimmed")                                  \
  X(EVENT, "event", "what", "a fault, a repair, an instrument found wrong")                        \
  X(NOTE, "note", "note", "words")                                                                 \
  X(SHIPPED, "shipped", "", "the unit left the shop")                                              \
  X(RETURNED, "returned", "", "the unit came back")                                                \
  X(WITHDRAWAL, "withdrawal", "why", "an earlier entry does not hold, and nothing takes its place")

typedef enum tw_log_kind {
#define X(id, word, needs, about) TW_LOG_##id,
  TW_LOG_KINDS(X)
#undef X
      TW_LOG_KIND_COUNT
} tw_log_kind;
const char *tw_log_kind_word(tw_log_kind kind);
const char *tw_log_kind_about(tw_log_kind kind);
/* TW_LOG_KIND_COUNT: no such kind */
tw_log_kind tw_log_kind_named(const char *word);

#define TW_LOG_SCHEMA   2
#define TW_LOG_WRITER   17            /* 16 hexadecimal digits */
#define TW_LOG_TIME     21            /* 2026-11-29T12:00:00Z */
#define TW_LOG_DOCUMENT (1024 * 1024) /* bytes up to which a document is kept in the log itself */

/* ---- opening --------------------------------------------------------------------------------- */

typedef struct tw_logbook tw_logbook;

typedef struct tw_logbook_options {
  bool write;        /* else only read */
  bool create;       /* make the file if there is none */
  bool anywhere;     /* also in a folder that is synced or shared over a network */
  const char *state; /* folder for who writes; NULL: TRIPWRIGHT_STATE, XDG_STATE_HOME/tripwright or
                        ~/.local/state/tripwright */
} tw_logbook_options;

/* Open a log; ":memory:" is one that is gone when it is closed. An older schema is brought up to
 * date after a backup beside it (FILE.schema-N); a newer one can be read, not written. TW_NO_FILE,
 * TW_BAD_INPUT (no log, damaged, newer), TW_NO_MEMORY. */
tw_status tw_logbook_open(const char *file, const tw_logbook_options *options, tw_logbook **out,
                          tw_fault *fault);
void tw_logbook_close(tw_logbook *log);
const char *tw_logbook_path(const tw_logbook *log);
/* Is this a place where a log may be written? TW_BAD_INPUT names the sign by which the folder is
 * known to be synced or shared. */
tw_status tw_logbook_place(const char *file, tw_fault *fault);

/* ---- writing --------------------------------------------------------------------------------- */

/* An entry to be. `body` is borrowed: an object without the keys id, writer, seq, clock, at, kind,
 * unit, replaces and sha256. */
typedef struct tw_log_draft {
  const char *kind, *unit; /* unit NULL: about no unit */
  const char *replaces;    /* id of the entry that this one corrects or withdraws, or NULL */
  const char *at;          /* UTC, "2026-11-29T12:00:00Z" or "2026-11-29"; NULL: now */
  const json_t *body;
} tw_log_draft;

/* Append all of them or none, in one transaction; when it returns TW_OK they survive a loss of
 * power. `ids` (count of them) may be NULL. */
tw_status tw_logbook_append(tw_logbook *log, const tw_log_draft *draft, size_t count,
                            char (*ids)[TW_SHA256_TEXT], tw_fault *fault);
/* Keep a file as a document: up to TW_LOG_DOCUMENT in the log, larger ones in the folder keep/
 * beside it. `sha256` is its name in bodies. */
tw_status tw_logbook_keep(tw_logbook *log, const char *file, char sha256[TW_SHA256_TEXT],
                          tw_fault *fault);
/* the same of bytes in memory */
tw_status tw_logbook_keep_bytes(tw_logbook *log, const char *name, const void *bytes, size_t size,
                                char sha256[TW_SHA256_TEXT], tw_fault *fault);

/* ---- reading --------------------------------------------------------------------------------- */

typedef struct tw_log_entry {
  char id[TW_SHA256_TEXT], writer[TW_LOG_WRITER], at[TW_LOG_TIME];
  int64_t seq, clock;
  const char *kind, *unit, *replaces; /* unit and replaces NULL where there is none */
  const json_t *body;
  bool replaced; /* a later entry corrects or withdraws it */
} tw_log_entry;

/* What to look for; NULL and false ask for nothing. */
typedef struct tw_log_filter {
  const char *id; /* the id or its first digits */
  const char *kind, *unit;
  const char *measure, *lot, *fault, *instrument, *process; /* keys of the body */
  const char *revision;  /* of units begun with it: everything about them */
  bool wrong_instrument; /* read with an instrument that an event names as wrong */
  bool current;          /* leave out what was replaced, and withdrawals */
} tw_log_filter;

/* false stops the reading */
typedef bool tw_log_visit(void *self, const tw_log_entry *entry);
/* Every entry that fits, in the order (clock, writer, seq), which is that of writing. */
tw_status tw_logbook_each(tw_logbook *log, const tw_log_filter *filter, tw_log_visit *visit,
                          void *self, tw_fault *fault);
/* the entry as one JSON object, as it is exported; NULL without memory */
json_t *tw_log_entry_json(const tw_log_entry *entry);
size_t tw_logbook_count(tw_logbook *log);

/* ---- two logs, files of lines ---------------------------------------------------------------- */

typedef struct tw_log_taken {
  size_t entries, documents; /* new here */
  size_t known;              /* were here already */
  size_t left_out;           /* damaged: named in the messages */
} tw_log_taken;

/* The union with another log. A copied log that went on twice (one writer and number with two ids)
 * is refused as a whole, TW_BAD_INPUT, and nothing changes. */
tw_status tw_logbook_merge(tw_logbook *log, const char *file, tw_messages *messages,
                           tw_log_taken *taken, tw_fault *fault);
/* Entries and documents of a file of JSON lines; every id is computed anew. Lines that are damaged
 * are named in `messages` and left out. */
tw_status tw_logbook_import(tw_logbook *log, const char *file, tw_messages *messages,
                            tw_log_taken *taken, tw_fault *fault);
tw_status tw_logbook_import_text(tw_logbook *log, const char *name, const char *text, size_t length,
                                 tw_messages *messages, tw_log_taken *taken, tw_fault *fault);
/* All entries and documents as JSON lines, written whole or not at all. Of a damaged log as much as
 * can be read, from both ends; `messages` says what is missing. */
tw_status tw_logbook_export(tw_logbook *log, const char *file, tw_messages *messages, size_t *lines,
                            tw_fault *fault);
/* Through a synced folder: append what this writer wrote to FOLDER/log-WRITER.jsonl, take over what
 * the others wrote. */
tw_status tw_logbook_share(tw_logbook *log, const char *folder, tw_messages *messages,
                           size_t *given, tw_log_taken *taken, tw_fault *fault);

/* A copy in one step, checked before it takes its name. */
tw_status tw_logbook_backup(tw_logbook *log, const char *file, tw_fault *fault);

/* ---- is it whole? ---------------------------------------------------------------------------- */

typedef struct tw_log_health {
  size_t entries, documents, writers;
  size_t troubles; /* each named in the messages */
} tw_log_health;

/* Pages, keys, every id and every document computed anew, numbers of each writer without a gap, the
 * triggers that refuse changes. Nothing is written. */
tw_status tw_logbook_check(tw_logbook *log, tw_messages *messages, tw_log_health *health,
                           tw_fault *fault);

#endif
