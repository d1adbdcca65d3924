/* store.c: builds of a study in a SQLite file. */
#include "tripwright/files.h"
#include "tripwright/study_store.h"

#include <sqlite3.h>
#include <stdio.h>
#include <string.h>

/* table study: one row a property; table build: states then numbers of one build */
#define SCHEMA                                                                                     \
  "CREATE TABLE IF NOT EXISTS study(name TEXT PRIMARY KEY, value TEXT NOT NULL) WITHOUT ROWID;"    \
  "CREATE TABLE IF NOT EXISTS build(number INTEGER PRIMARY KEY, data BLOB NOT NULL)"
#define FORMAT  "tripwright study 1"
#define WAIT_MS 2000

struct tw_store {
  sqlite3 *base;
  char *path;
  size_t outputs;
  unsigned char *row; /* one build as it is stored */
};

static size_t row_size(size_t outputs)
{
  return outputs * (1 + sizeof(double));
}

/* translate what SQLite says into cause and cure */
static tw_status trouble(const tw_store *store, int code, const char *doing, tw_fault *fault)
{
  switch (code & 0xff) {
  case SQLITE_NOMEM:
    return tw_fail(fault, TW_NO_MEMORY, "", NULL, "%s: no memory", store->path);
  case SQLITE_FULL:
    return tw_fail(fault, TW_NO_FILE, "", "make room and run the same command again",
                   "%s: the disk is full; the builds stored before are safe", store->path);
  case SQLITE_IOERR:
    return tw_fail(fault, TW_NO_FILE, "", "make room or choose another folder, then run it again",
                   "%s: %s failed (%s); the builds stored before are safe", store->path, doing,
                   sqlite3_errmsg(store->base));
  case SQLITE_NOTADB:
  case SQLITE_CORRUPT:
    return tw_fail(fault, TW_BAD_INPUT, "", "name another file; this one is left as it is",
                   "%s is no study file, or it is damaged", store->path);
  case SQLITE_BUSY:
  case SQLITE_LOCKED:
    return tw_fail(fault, TW_NO_FILE, "", "wait for it, or name another file",
                   "%s is being written by another run", store->path);
  case SQLITE_READONLY:
  case SQLITE_CANTOPEN:
  case SQLITE_PERM:
    return tw_fail(fault, TW_NO_FILE, "", "choose a folder that can be written",
                   "%s cannot be opened for writing", store->path);
  default:
    return tw_fail(fault, TW_NO_FILE, "", NULL, "%s: %s: %s", store->path, doing,
                   sqlite3_errmsg(store->base));
  }
}

static tw_status run(const tw_store *store, const char *sql, const char *doing, tw_fault *fault)
{
  const int code = sqlite3_exec(store->base, sql, NULL, NULL, NULL);
  return code == SQLITE_OK ? TW_OK : trouble(store, code, doing, fault);
}

static tw_status prepare(const tw_store *store, const char *sql, sqlite3_stmt **out,
                         tw_fault *fault)
{
  const int code = sqlite3_prepare_v2(store->base, sql, -1, out, NULL);
  return code == SQLITE_OK ? TW_OK : trouble(store, code, "reading", fault);
}

void tw_store_close(tw_store *store)
{
  if (store) {
    sqlite3_close(store->base);
    tw_free(store->path);
    tw_free(store->row);
    tw_free(store);
  }
}

/* ---- whose file it is ------------------------------------------------------------------------ */

typedef struct property {
  const char *name;
  char value[640];
  const char *words; /* what differs, for the message */
} property;

enum { PROPERTIES = 6 };

static void properties_of(const tw_store_key *key, property *p)
{
  p[0] = (property){"format", FORMAT, "another format"};
  p[1] = (property){"design", "", "another design"};
  p[2] = (property){"level", "", "another level of the model"};
  p[3] = (property){"design_hash", "", "an earlier state of this design"};
  p[4] = (property){"outputs", "", "other measures"};
  p[5] = (property){"sampler_hash", "", "other tolerances or another seed"};
  snprintf(p[1].value, sizeof p[1].value, "%s", key->design);
  snprintf(p[2].value, sizeof p[2].value, "%s", key->level);
  snprintf(p[3].value, sizeof p[3].value, "%016llx", (unsigned long long)key->design_hash);
  snprintf(p[4].value, sizeof p[4].value, "%s", key->outputs);
  snprintf(p[5].value, sizeof p[5].value, "%016llx", (unsigned long long)key->sampler_hash);
}

/* the stored property, "" if there is none */
static tw_status stored(const tw_store *store, const char *name, char *value, size_t size,
                        tw_fault *fault)
{
  sqlite3_stmt *get = NULL;
  tw_status status = prepare(store, "SELECT value FROM study WHERE name = ?1", &get, fault);
  value[0] = '\0';
  if (status == TW_OK) {
    sqlite3_bind_text(get, 1, name, -1, SQLITE_STATIC);
    const int code = sqlite3_step(get);
    if (code == SQLITE_ROW) {
      const unsigned char *text = sqlite3_column_text(get, 0);
      snprintf(value, size, "%s", text ? (const char *)text : "");
    } else if (code != SQLITE_DONE) {
      status = trouble(store, code, "reading", fault);
    }
  }
  sqlite3_finalize(get);
  return status;
}

static tw_status write_property(const tw_store *store, const property *p, tw_fault *fault)
{
  sqlite3_stmt *put = NULL;
  tw_status status = prepare(store, "INSERT INTO study(name, value) VALUES(?1, ?2)", &put, fault);
  if (status == TW_OK) {
    sqlite3_bind_text(put, 1, p->name, -1, SQLITE_STATIC);
    sqlite3_bind_text(put, 2, p->value, -1, SQLITE_STATIC);
    const int code = sqlite3_step(put);
    status = code == SQLITE_DONE ? TW_OK : trouble(store, code, "writing", fault);
  }
  sqlite3_finalize(put);
  return status;
}

/* a new file is signed, an old one compared */
static tw_status sign_or_compare(const tw_store *store, const tw_store_key *key, tw_fault *fault)
{
  property p[PROPERTIES];
  char value[sizeof p[0].value];
  properties_of(key, p);
  tw_status status = stored(store, p[0].name, value, sizeof value, fault);
  const bool fresh = value[0] == '\0';
  for (int i = 0; status == TW_OK && i < PROPERTIES; i++) {
    if (fresh) {
      status = write_property(store, &p[i], fault);
      continue;
    }
    status = stored(store, p[i].name, value, sizeof value, fault);
    if (status == TW_OK && strcmp(value, p[i].value) != 0) {
      /* a hash says nothing to a person */
      const bool plain = strstr(p[i].name, "hash") == NULL;
      return tw_fail(fault, TW_BAD_INPUT, "",
                     "name another file, or delete this one if it is no longer wanted",
                     plain ? "%s belongs to %s (%.60s, not %.60s)" : "%s belongs to %s",
                     store->path, p[i].words, value, p[i].value);
    }
  }
  return status;
}

/* no file of other content is touched: tables are made only in an empty file */
static tw_status make_tables(const tw_store *store, tw_fault *fault)
{
  sqlite3_stmt *get = NULL;
  tw_status status = prepare(store,
                             "SELECT count(*), sum(name IN ('study', 'build')) FROM sqlite_master "
                             "WHERE type = 'table'",
                             &get, fault);
  if (status != TW_OK) {
    return status;
  }
  int tables = 0, own = 0;
  const int code = sqlite3_step(get);
  if (code == SQLITE_ROW) {
    tables = sqlite3_column_int(get, 0);
    own = sqlite3_column_int(get, 1);
  } else {
    status = trouble(store, code, "reading", fault);
  }
  sqlite3_finalize(get);
  if (status == TW_OK && tables > 0 && own != 2) {
    return trouble(store, SQLITE_NOTADB, "reading", fault);
  }
  return status == TW_OK && tables == 0 ? run(store, SCHEMA, "writing", fault) : status;
}

static tw_status open_base(tw_store *store, const tw_store_key *key, tw_fault *fault)
{
  const int code =
      sqlite3_open_v2(store->path, &store->base, SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE, NULL);
  if (code != SQLITE_OK) {
    return trouble(store, code, "opening", fault);
  }
  sqlite3_busy_timeout(store->base, WAIT_MS);
  tw_status status = run(store, "BEGIN IMMEDIATE", "opening", fault);
  if (status != TW_OK) {
    return status;
  }
  status = make_tables(store, fault);
  if (status == TW_OK) {
    status = sign_or_compare(store, key, fault);
  }
  if (status == TW_OK) {
    status = run(store, "COMMIT", "writing", fault);
  }
  if (status != TW_OK) {
    sqlite3_exec(store->base, "ROLLBACK", NULL, NULL, NULL);
  }
  return status;
}

tw_status tw_store_open(const char *path, const tw_store_key *key, tw_store **out, tw_fault *fault)
{
  *out = NULL;
  tw_store *store = tw_alloc(1, sizeof *store);
  if (!store || !(store->path = tw_copy_text(path)) ||
      !(store->row = tw_alloc(row_size(key->output_count), 1))) {
    tw_store_close(store);
    return tw_fail(fault, TW_NO_MEMORY, "", NULL, "no memory to open %s", path);
  }
  store->outputs = key->output_count;
  const tw_status status = open_base(store, key, fault);
  if (status != TW_OK) {
    tw_store_close(store);
    return status;
  }
  *out = store;
  return TW_OK;
}

/* ---- builds ---------------------------------------------------------------------------------- */

tw_status tw_store_count(tw_store *store, size_t *count, tw_fault *fault)
{
  sqlite3_stmt *get = NULL;
  tw_status status = prepare(store, "SELECT count(*) FROM build", &get, fault);
  if (status == TW_OK) {
    const int code = sqlite3_step(get);
    *count = code == SQLITE_ROW ? (size_t)sqlite3_column_int64(get, 0) : 0;
    status = code == SQLITE_ROW ? TW_OK : trouble(store, code, "reading", fault);
  }
  sqlite3_finalize(get);
  return status;
}

tw_status tw_store_load(tw_store *store, tw_builds *builds, tw_fault *fault)
{
  sqlite3_stmt *get = NULL;
  tw_status status = prepare(
      store, "SELECT number, data FROM build WHERE number >= ?1 AND number - ?1 < ?2", &get, fault);
  if (status != TW_OK) {
    return status;
  }
  const size_t out = store->outputs;
  sqlite3_bind_int64(get, 1, (sqlite3_int64)builds->first);
  sqlite3_bind_int64(get, 2, (sqlite3_int64)builds->count);
  int code;
  while ((code = sqlite3_step(get)) == SQLITE_ROW) {
    const size_t at = (size_t)((uint64_t)sqlite3_column_int64(get, 0) - builds->first);
    const unsigned char *data = sqlite3_column_blob(get, 1);
    if (!data || (size_t)sqlite3_column_bytes(get, 1) != row_size(out)) {
      code = SQLITE_CORRUPT;
      break;
    }
    memcpy(&builds->outcome[at * out], data, out);
    memcpy(&builds->y[at * out], &data[out], out * sizeof *builds->y);
  }
  sqlite3_finalize(get);
  return code == SQLITE_DONE ? TW_OK : trouble(store, code, "reading", fault);
}

static int insert_builds(tw_store *store, sqlite3_stmt *put, const tw_builds *builds, size_t index,
                         size_t count)
{
  const size_t out = store->outputs;
  int code = SQLITE_DONE;
  for (size_t i = index; i < index + count && code == SQLITE_DONE; i++) {
    if (!tw_builds_has(builds, i)) {
      continue;
    }
    memcpy(store->row, &builds->outcome[i * out], out);
    memcpy(&store->row[out], &builds->y[i * out], out * sizeof *builds->y);
    sqlite3_bind_int64(put, 1, (sqlite3_int64)(builds->first + i));
    sqlite3_bind_blob(put, 2, store->row, (int)row_size(out), SQLITE_STATIC);
    code = sqlite3_step(put);
    sqlite3_reset(put);
  }
  return code;
}

tw_status tw_store_save(void *self, const tw_builds *builds, size_t index, size_t count,
                        tw_fault *fault)
{
  tw_store *store = self;
  sqlite3_stmt *put = NULL;
  tw_status status = run(store, "BEGIN IMMEDIATE", "writing", fault);
  if (status != TW_OK) {
    return status;
  }
  status = prepare(store, "INSERT OR IGNORE INTO build(number, data) VALUES(?1, ?2)", &put, fault);
  if (status == TW_OK) {
    const int code = insert_builds(store, put, builds, index, count);
    status = code == SQLITE_DONE ? TW_OK : trouble(store, code, "writing", fault);
  }
  sqlite3_finalize(put);
  if (status == TW_OK) {
    status = run(store, "COMMIT", "writing", fault);
  }
  if (status != TW_OK) {
    sqlite3_exec(store->base, "ROLLBACK", NULL, NULL, NULL);
  }
  return status;
}

/* ---- merging --------------------------------------------------------------------------------- */

/* one number of one row, or -1 */
static tw_status one_number(const tw_store *store, const char *sql, sqlite3_int64 *number,
                            tw_fault *fault)
{
  sqlite3_stmt *get = NULL;
  tw_status status = prepare(store, sql, &get, fault);
  *number = -1;
  if (status == TW_OK) {
    const int code = sqlite3_step(get);
    if (code == SQLITE_ROW) {
      *number = sqlite3_column_int64(get, 0);
    } else if (code != SQLITE_DONE) {
      status = trouble(store, code, "reading", fault);
    }
  }
  sqlite3_finalize(get);
  return status;
}

static tw_status merge_attached(const tw_store *store, const char *path, tw_fault *fault)
{
  sqlite3_int64 number;
  tw_status status =
      one_number(store, "SELECT count(*) FROM part.sqlite_master WHERE name IN ('study', 'build')",
                 &number, fault);
  if (status == TW_OK && number != 2) {
    return tw_fail(fault, TW_BAD_INPUT, "", "merge study files only", "%s is no study file", path);
  }
  if (status == TW_OK) {
    status = one_number(store,
                        "SELECT count(*) FROM main.study AS a LEFT JOIN part.study AS b "
                        "ON a.name = b.name WHERE b.value IS NULL OR a.value <> b.value",
                        &number, fault);
  }
  if (status == TW_OK && number != 0) {
    return tw_fail(fault, TW_BAD_INPUT, "", "merge parts of one study only",
                   "%s belongs to another study than %s", path, store->path);
  }
  if (status == TW_OK) {
    status = one_number(store,
                        "SELECT a.number FROM main.build AS a JOIN part.build AS b "
                        "ON a.number = b.number WHERE a.data <> b.data LIMIT 1",
                        &number, fault);
  }
  if (status == TW_OK && number >= 0) {
    return tw_fail(fault, TW_BAD_INPUT, "", "merge parts made by the same program only",
                   "build %lld differs between %s and %s", (long long)number, store->path, path);
  }
  return status == TW_OK ? run(store, "INSERT OR IGNORE INTO main.build SELECT * FROM part.build",
                               "merging", fault)
                         : status;
}

tw_status tw_store_merge(tw_store *store, const char *path, tw_fault *fault)
{
  FILE *there = NULL;
  const tw_status opened = strcmp(path, "-") == 0
                               ? tw_fail(fault, TW_NO_FILE, "", "name a study file",
                                         "a study file is not read from the standard input")
                               : tw_file_open(path, fault, &there);
  if (opened != TW_OK) {
    return opened;
  }
  fclose(there);
  sqlite3_stmt *attach = NULL;
  tw_status status = prepare(store, "ATTACH ?1 AS part", &attach, fault);
  if (status == TW_OK) {
    sqlite3_bind_text(attach, 1, path, -1, SQLITE_STATIC);
    const int code = sqlite3_step(attach);
    status = code == SQLITE_DONE ? TW_OK
                                 : tw_fail(fault, TW_BAD_INPUT, "", "merge study files only",
                                           "%s: %s", path, sqlite3_errmsg(store->base));
  }
  sqlite3_finalize(attach);
  if (status == TW_OK) {
    status = run(store, "BEGIN IMMEDIATE", "merging", fault);
    if (status == TW_OK) {
      status = merge_attached(store, path, fault);
      if (status == TW_OK) {
        status = run(store, "COMMIT", "merging", fault);
      }
      if (status != TW_OK) {
        sqlite3_exec(store->base, "ROLLBACK", NULL, NULL, NULL);
      }
    }
    sqlite3_exec(store->base, "DETACH part", NULL, NULL, NULL);
  }
  return status;
}
