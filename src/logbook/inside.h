/* inside.h: what the parts of the log share. */
#ifndef TW_LOGBOOK_INSIDE_H
#define TW_LOGBOOK_INSIDE_H

#include "tripwright/logbook.h"

#include <sqlite3.h>
#include <stdio.h>

struct tw_logbook {
  sqlite3 *base;
  char *path;
  char *state; /* folder, NULL: not known yet */
  bool write, memory;
  char writer[TW_LOG_WRITER]; /* "" until the first write */
  int64_t written;            /* last number given by this process, 0: none */
};

/* ---- sql.c: SQLite in words ---- */
/* what SQLite says, as cause and cure */
tw_status tw_log_trouble(const tw_logbook *log, int code, const char *doing, tw_fault *fault);
tw_status tw_log_run(const tw_logbook *log, const char *sql, const char *doing, tw_fault *fault);
tw_status tw_log_prepare(const tw_logbook *log, const char *sql, sqlite3_stmt **out,
                         tw_fault *fault);
/* one whole number; 0 for none */
tw_status tw_log_number(const tw_logbook *log, const char *sql, const char *text, int64_t *out,
                        tw_fault *fault);
/* COMMIT after TW_OK, else ROLLBACK; the status that holds then */
tw_status tw_log_end(const tw_logbook *log, tw_status status, tw_fault *fault);
/* a statement with no rows has run */
tw_status tw_log_done(const tw_logbook *log, sqlite3_stmt *statement, const char *doing,
                      tw_fault *fault);
const char *tw_log_column(sqlite3_stmt *statement, int column); /* "" for NULL */
tw_status tw_log_no_memory(tw_fault *fault);

/* ---- schema.c ---- */
#define TW_LOG_APPLICATION 0x54574c47 /* "TWLG", SQLite's application_id */
/* make the tables in an empty file, or bring an older one up to date; *version is what stands there
 * afterwards */
tw_status tw_log_schema_make(tw_logbook *log, tw_fault *fault);
tw_status tw_log_schema_migrate(tw_logbook *log, int64_t from, tw_fault *fault);
/* objects of the schema that are missing or differ from what this version makes */
tw_status tw_log_schema_check(tw_logbook *log, tw_messages *messages, size_t *troubles,
                              tw_fault *fault);

/* ---- copy.c ---- */
tw_status tw_log_vacuum_into(const tw_logbook *log, const char *file, tw_fault *fault);
tw_status tw_log_rename_synced(const char *from, const char *to, tw_fault *fault);

/* ---- writer.c: who writes ---- */
/* log->writer, within a transaction that may write */
tw_status tw_log_writer(tw_logbook *log, tw_fault *fault);
/* remember the last number, so that a restored copy is seen; failure is silent and harmless */
void tw_log_writer_remember(tw_logbook *log);
/* all writers that this place has been, the present one too: visit each */
tw_status tw_log_writers_here(tw_logbook *log, char (**out)[TW_LOG_WRITER], size_t *count,
                              tw_fault *fault);

/* ---- entry.c: entry and JSON object ---- */
/* the keys that are not of the body */
bool tw_log_reserved(const char *key);
/* An object as exported, or without its id: `entry` borrows from it; the body is new, owned by the
 * caller (json_decref). With `id` its id is computed anew, and a wrong one refused. */
tw_status tw_log_entry_of(const json_t *object, tw_log_entry *entry, json_t **body,
                          tw_fault *fault);
/* id over entry and body; `text` (may be NULL): the canonical body alone */
tw_status tw_log_entry_id(const tw_log_entry *entry, char id[TW_SHA256_TEXT], tw_fault *fault);
bool tw_log_time_is_right(const char *at);
void tw_log_now(char at[TW_LOG_TIME]);

/* ---- append.c ---- */
tw_status tw_log_insert_prepare(const tw_logbook *log, sqlite3_stmt **out, tw_fault *fault);
/* one row, body made canonical */
tw_status tw_log_insert(const tw_logbook *log, sqlite3_stmt *insert, const tw_log_entry *entry,
                        tw_fault *fault);

/* ---- read.c ---- */
#define TW_LOG_COLUMNS "e.id, e.writer, e.seq, e.clock, e.at, e.kind, e.unit, e.replaces, e.body"
/* a row of those columns; the body is new (json_decref) */
tw_status tw_log_row(const tw_logbook *log, sqlite3_stmt *row, tw_log_entry *entry, json_t **body,
                     tw_fault *fault);

/* ---- document.c ---- */
/* the file in keep/ of a document; freed with tw_free */
char *tw_log_keep_path(const tw_logbook *log, const char *sha256);
tw_status tw_log_document_put(tw_logbook *log, const char *sha256, const char *name, int64_t bytes,
                              const void *content, tw_fault *fault);

/* ---- export.c ---- */
/* a line of canonical JSON; the object is freed, NULL is no memory */
tw_status tw_log_put_line(FILE *out, json_t *object, tw_fault *fault);
/* of a row sha256, name, bytes, content; content as base64, if the log has it */
json_t *tw_log_document_object(sqlite3_stmt *row);

/* ---- check.c ---- */
/* pages, schema and entries of a backup; gaps and files in keep/ are as they were in the log */
tw_status tw_log_check_copy(tw_logbook *copy, tw_messages *messages, tw_log_health *health,
                            tw_fault *fault);

/* ---- take.c: entries from outside ---- */
typedef struct tw_log_take {
  tw_logbook *log;
  sqlite3_stmt *insert, *of_number;
  tw_log_taken *taken;
} tw_log_take;
tw_status tw_log_take_begin(tw_log_take *take, tw_logbook *log, tw_log_taken *taken,
                            tw_fault *fault);
/* one entry whose id is right: new, known, or a clone (TW_BAD_INPUT) */
tw_status tw_log_take_entry(tw_log_take *take, const tw_log_entry *entry, tw_fault *fault);
/* a document; content NULL: only its name */
tw_status tw_log_take_document(tw_log_take *take, const char *sha256, const char *name,
                               int64_t bytes, const void *content, tw_fault *fault);
tw_status tw_log_take_end(tw_log_take *take, tw_status status, tw_fault *fault);

#endif
