/* A log: entries added, corrected, read in order; two logs joined in any order; lines out and in;
 * documents; places that are refused. */
#include "log_fixture.h"

#include <sqlite3.h>
#include <sys/stat.h>

typedef struct seen {
  size_t count, replaced;
  double last;
  int64_t clock;
} seen;

static bool see(void *self, const tw_log_entry *entry)
{
  seen *s = self;
  s->count++;
  s->replaced += entry->replaced;
  assert_true(entry->clock > s->clock);
  s->clock = entry->clock;
  s->last = json_number_value(json_object_get(entry->body, "value"));
  return true;
}

static seen seen_of(tw_logbook *log, const tw_log_filter *filter)
{
  seen s = {0};
  assert_int_equal(tw_logbook_each(log, filter, see, &s, NULL), TW_OK);
  return s;
}

static void test_append_and_correct(void **state)
{
  (void)state;
  char id[TW_SHA256_TEXT];
  tw_logbook *log = log_open("a.db", true);
  log_put(log, "007", 0.105, id);
  log_put(log, "008", 0.2, NULL);
  json_t *body = log_reading("trip_force_side", 0.115);
  tw_log_draft draft = {.kind = "reading", .unit = "007", .replaces = id, .body = body};
  assert_int_equal(tw_logbook_append(log, &draft, 1, NULL, NULL), TW_OK);
  seen s = seen_of(log, &(tw_log_filter){.unit = "007"});
  assert_int_equal(s.count, 2);
  assert_int_equal(s.replaced, 1);
  s = seen_of(log, &(tw_log_filter){.unit = "007", .current = true});
  assert_int_equal(s.count, 1);
  assert_near(s.last, 0.115, 0);
  /* a second correction of the same entry stands beside the first */
  assert_int_equal(tw_logbook_append(log, &draft, 1, NULL, NULL), TW_OK);
  assert_int_equal(seen_of(log, &(tw_log_filter){.unit = "007", .current = true}).count, 2);
  assert_int_equal(seen_of(log, &(tw_log_filter){.id = id}).count, 1);
  json_decref(body);
  assert_int_equal(log_troubles(log), 0);
  tw_logbook_close(log);
}

static void assert_refused(tw_logbook *log, const tw_log_draft *draft, const char *word)
{
  tw_fault fault = {0};
  const size_t before = tw_logbook_count(log);
  assert_int_equal(tw_logbook_append(log, draft, 1, NULL, &fault), TW_BAD_INPUT);
  assert_non_null(strstr(fault.text, word));
  assert_int_equal(tw_logbook_count(log), before);
}

static void test_refusals(void **state)
{
  (void)state;
  static const char nowhere[] = "0123456789012345678901234567890123456789012345678901234567890123";
  tw_logbook *log = log_open(":memory:", true);
  json_t *body = json_pack("{s:s}", "measure", "x"), *own = json_pack("{s:s}", "seq", "1"),
         *empty = json_object();
  assert_refused(log, &(tw_log_draft){.kind = "bogus", .body = body}, "bogus");
  assert_refused(log, &(tw_log_draft){.kind = "reading", .body = empty}, "measure");
  assert_refused(log, &(tw_log_draft){.kind = "note", .body = own}, "seq");
  assert_refused(log, &(tw_log_draft){.kind = "reading", .body = body, .at = "3.4.26"}, "3.4.26");
  assert_refused(log, &(tw_log_draft){.kind = "reading", .body = body, .unit = ""}, "unit");
  assert_refused(log, &(tw_log_draft){.kind = "reading", .body = body, .replaces = nowhere},
                 "no entry");
  /* of two drafts the second is wrong: the first is not kept either */
  const tw_log_draft two[] = {{.kind = "reading", .body = body},
                              {.kind = "reading", .body = empty}};
  assert_int_equal(tw_logbook_append(log, two, 2, NULL, NULL), TW_BAD_INPUT);
  assert_int_equal(tw_logbook_count(log), 0);
  json_decref(body);
  json_decref(own);
  json_decref(empty);
  tw_logbook_close(log);
}

/* a hand that changes the file directly is refused by the file itself */
static void test_never_changed(void **state)
{
  (void)state;
  static const char *const sql[] = {"UPDATE entry SET unit = '9'", "DELETE FROM entry",
                                    "DELETE FROM document", "UPDATE document SET bytes = 0"};
  char sum[TW_SHA256_TEXT];
  sqlite3 *base = NULL;
  tw_logbook *log = log_open("never.db", true);
  log_put(log, "1", 1.0, NULL);
  assert_int_equal(tw_logbook_keep_bytes(log, "a.txt", "abc", 3, sum, NULL), TW_OK);
  tw_logbook_close(log);
  assert_int_equal(sqlite3_open(log_path("never.db"), &base), SQLITE_OK);
  for (size_t i = 0; i < sizeof sql / sizeof sql[0]; i++) {
    assert_int_equal(sqlite3_exec(base, sql[i], NULL, NULL, NULL), SQLITE_CONSTRAINT);
  }
  sqlite3_close(base);
}

/* ---- joining --------------------------------------------------------------------------------- */

static tw_status merge(tw_logbook *log, const char *name, tw_log_taken *taken, tw_fault *fault)
{
  tw_messages *messages = tw_messages_new();
  tw_log_taken own;
  const tw_status status =
      tw_logbook_merge(log, log_path(name), messages, taken ? taken : &own, fault);
  tw_messages_free(messages);
  return status;
}

static void make_log(const char *name, int entries)
{
  tw_logbook *log = log_open(name, true);
  for (int i = 0; i < entries; i++) {
    log_put(log, name, i * 0.1, NULL);
  }
  tw_logbook_close(log);
}

static void test_merge_in_all_orders(void **state)
{
  (void)state;
  static const char *const name[] = {"m0.db", "m1.db", "m2.db"};
  static const int order[6][3] = {{0, 1, 2}, {0, 2, 1}, {1, 0, 2}, {1, 2, 0}, {2, 0, 1}, {2, 1, 0}};
  char first[TW_SHA256_TEXT] = "", sum[TW_SHA256_TEXT];
  for (int i = 0; i < 3; i++) {
    make_log(name[i], 5 + i);
  }
  for (int k = 0; k < 6; k++) {
    char into[32];
    snprintf(into, sizeof into, "order%d.db", k);
    tw_logbook *log = log_open(into, true);
    for (int i = 0; i < 6; i++) { /* each twice: nothing new the second time */
      tw_log_taken taken;
      assert_int_equal(merge(log, name[order[k][i % 3]], &taken, NULL), TW_OK);
      assert_int_equal(taken.entries, i < 3 ? (size_t)(5 + order[k][i]) : 0);
    }
    log_digest(log, sum);
    assert_int_equal(log_troubles(log), 0);
    tw_logbook_close(log);
    if (k == 0) {
      memcpy(first, sum, sizeof sum);
    }
    assert_string_equal(sum, first);
  }
}

static void copy_file(const char *from, const char *to)
{
  size_t length;
  char *text = log_file_text(from, &length);
  FILE *f = fopen(to, "wb");
  assert_non_null(f);
  assert_int_equal(fwrite(text, 1, length, f), length);
  fclose(f);
  free(text);
}

/* a copy gets a writer of its own; only a copied state folder makes a clone, and it is refused */
static void test_copies_and_clones(void **state)
{
  (void)state;
  char before[TW_SHA256_TEXT], after[TW_SHA256_TEXT];
  tw_fault fault = {0};
  make_log("c.db", 3);
  copy_file(log_path("c.db"), log_path("copy.db"));
  tw_logbook *copy = log_open("copy.db", true), *log = log_open("c.db", true);
  log_put(copy, "x", 9.0, NULL);
  log_put(log, "y", 8.0, NULL);
  assert_int_equal(merge(log, "copy.db", NULL, NULL), TW_OK);
  assert_int_equal(tw_logbook_count(log), 5);
  tw_logbook_close(copy);

  /* a twin of the whole machine writes under the same name: what it wrote as its last entry */
  log_put(log, "z", 7.0, NULL);
  log_digest(log, before);
  size_t length;
  tw_messages *messages = tw_messages_new();
  size_t lines;
  assert_int_equal(tw_logbook_export(log, log_path("own.jsonl"), messages, &lines, NULL), TW_OK);
  char *text = log_file_text(log_path("own.jsonl"), &length);
  char *end = text + length - 1;
  while (end > text && end[-1] != '\n') {
    end--;
  }
  json_t *line = json_loads(end, JSON_DISABLE_EOF_CHECK, NULL);
  json_object_set_new(line, "value", json_real(6.0));
  json_object_del(line, "id");
  char id[TW_SHA256_TEXT], *other = NULL;
  assert_int_equal(tw_canonical_sha256(line, id, NULL, NULL), TW_OK);
  json_object_set_new(line, "id", json_string(id));
  assert_int_equal(tw_canonical(line, &other, NULL), TW_OK);
  tw_log_taken taken;
  assert_int_equal(
      tw_logbook_import_text(log, "twin", other, strlen(other), messages, &taken, &fault),
      TW_BAD_INPUT);
  assert_non_null(strstr(fault.text, "copied"));
  assert_int_equal(taken.entries, 0);
  log_digest(log, after);
  assert_string_equal(before, after);
  tw_messages_free(messages);
  tw_free(other);
  free(text);
  json_decref(line);
  tw_logbook_close(log);
}

/* a backup that is put back is older than what was written: its writer gets another name */
static void test_restored_backup(void **state)
{
  (void)state;
  make_log("r.db", 3);
  copy_file(log_path("r.db"), log_path("r.saved"));
  tw_logbook *log = log_open("r.db", true);
  log_put(log, "1", 1.0, NULL);
  tw_logbook_close(log);
  copy_file(log_path("r.db"), log_path("r.went-on"));
  copy_file(log_path("r.saved"), log_path("r.db")); /* over it: the same place on the disk */
  log = log_open("r.db", true);
  log_put(log, "1", 2.0, NULL);
  assert_int_equal(merge(log, "r.went-on", NULL, NULL), TW_OK);
  assert_int_equal(tw_logbook_count(log), 5);
  assert_int_equal(log_troubles(log), 0);
  tw_logbook_close(log);
}

static void test_lines_out_and_in(void **state)
{
  (void)state;
  char before[TW_SHA256_TEXT], after[TW_SHA256_TEXT], sum[TW_SHA256_TEXT];
  make_log("l.db", 20);
  tw_messages *messages = tw_messages_new();
  tw_logbook *log = log_open("l.db", true), *other = log_open("l2.db", true);
  size_t lines;
  tw_log_taken taken;
  assert_int_equal(tw_logbook_keep_bytes(log, "a.txt", "abc", 3, sum, NULL), TW_OK);
  assert_int_equal(tw_logbook_export(log, log_path("l.jsonl"), messages, &lines, NULL), TW_OK);
  assert_int_equal(lines, 21);
  assert_int_equal(tw_logbook_import(other, log_path("l.jsonl"), messages, &taken, NULL), TW_OK);
  assert_int_equal(taken.entries, 20);
  assert_int_equal(taken.documents, 1);
  log_digest(log, before);
  log_digest(other, after);
  assert_string_equal(before, after);
  assert_int_equal(tw_messages_count(messages), 0);
  /* every line changed in one digit is named and left out, the others come in */
  size_t length;
  char *text = log_file_text(log_path("l.jsonl"), &length), *at = strstr(text, "\"value\":0.5");
  assert_non_null(at);
  at[8] = '1';
  tw_logbook *third = log_open(":memory:", true);
  assert_int_equal(tw_logbook_import_text(third, "l.jsonl", text, length, messages, &taken, NULL),
                   TW_OK);
  assert_int_equal(taken.entries, 19);
  assert_int_equal(taken.left_out, 1);
  assert_int_equal(tw_messages_at(messages, 0)->line, 6);
  assert_int_equal(log_troubles(third), 1); /* a gap */
  free(text);
  tw_messages_free(messages);
  tw_logbook_close(third);
  tw_logbook_close(other);
  tw_logbook_close(log);
}

/* two benches through one folder: each adds to its own file only */
static void test_share(void **state)
{
  (void)state;
  char command[200], first[TW_SHA256_TEXT], second[TW_SHA256_TEXT];
  snprintf(command, sizeof command, "mkdir '%s/folder'", log_folder);
  assert_int_equal(system(command), 0);
  tw_logbook *a = log_open("bench-a.db", true), *b = log_open("bench-b.db", true);
  tw_messages *messages = tw_messages_new();
  size_t given;
  tw_log_taken taken;
  for (int round = 0; round < 3; round++) {
    log_put(a, "1", round, NULL);
    log_put(b, "2", round, NULL);
    for (int k = 0; k < 2; k++) {
      tw_logbook *const one = k ? b : a;
      assert_int_equal(tw_logbook_share(one, log_path("folder"), messages, &given, &taken, NULL),
                       TW_OK);
      assert_int_equal(given, 1);
    }
  }
  assert_int_equal(tw_logbook_share(a, log_path("folder"), messages, &given, &taken, NULL), TW_OK);
  assert_int_equal(given, 0);
  assert_int_equal(taken.entries, 1);
  log_digest(a, first);
  log_digest(b, second);
  assert_string_equal(first, second);
  assert_int_equal(tw_messages_count(messages), 0);
  tw_messages_free(messages);
  tw_logbook_close(a);
  tw_logbook_close(b);
}

/* ---- documents, backup, places ----------------------------------------------------------------
 */

static void test_documents(void **state)
{
  (void)state;
  const size_t large = TW_LOG_DOCUMENT + 1;
  char small_sum[TW_SHA256_TEXT], sum[TW_SHA256_TEXT], path[200], *bytes = calloc(large, 1);
  tw_logbook *log = log_open("d.db", true);
  assert_int_equal(tw_logbook_keep_bytes(log, "small", "abc", 3, small_sum, NULL), TW_OK);
  assert_int_equal(tw_logbook_keep_bytes(log, "large", bytes, large, sum, NULL), TW_OK);
  assert_int_equal(log_troubles(log), 0);
  snprintf(path, sizeof path, "%s/keep/%.2s/%s", log_folder, sum, sum);
  FILE *f = fopen(path, "r+b");
  assert_non_null(f);
  fputc('x', f);
  fclose(f);
  assert_int_equal(log_troubles(log), 1);
  unlink(path);
  assert_int_equal(log_troubles(log), 1);
  free(bytes);
  tw_logbook_close(log);
}

static void test_backup(void **state)
{
  (void)state;
  char before[TW_SHA256_TEXT], after[TW_SHA256_TEXT];
  tw_fault fault = {0};
  make_log("b.db", 10);
  tw_logbook *log = log_open("b.db", false);
  assert_int_equal(tw_logbook_backup(log, log_path("b.copy"), &fault), TW_OK);
  assert_int_equal(tw_logbook_backup(log, log_path("b.copy"), &fault), TW_BAD_INPUT);
  assert_int_equal(tw_logbook_backup(log, log_path("nowhere/b.copy"), &fault), TW_NO_FILE);
  tw_logbook *copy = log_open("b.copy", false);
  log_digest(log, before);
  log_digest(copy, after);
  assert_string_equal(before, after);
  assert_int_not_equal(log_try(log, "1", 1.0, NULL, &fault), TW_OK); /* opened for reading */
  tw_logbook_close(copy);
  tw_logbook_close(log);
}

static void test_places(void **state)
{
  (void)state;
  char command[200];
  tw_logbook *log = NULL;
  tw_fault fault = {0};
  snprintf(command, sizeof command, "mkdir -p '%s/synced/.stfolder' '%s/Nextcloud/shop'",
           log_folder, log_folder);
  assert_int_equal(system(command), 0);
  assert_int_equal(tw_logbook_place(log_path("log.db"), NULL), TW_OK);
  assert_int_equal(tw_logbook_place(log_path("synced/log.db"), &fault), TW_BAD_INPUT);
  assert_int_equal(tw_logbook_place(log_path("Nextcloud/shop/log.db"), &fault), TW_BAD_INPUT);
  assert_non_null(strstr(fault.text, "Nextcloud"));
  const tw_logbook_options plain = {.write = true, .create = true},
                           anyway = {.write = true, .create = true, .anywhere = true};
  assert_int_equal(tw_logbook_open(log_path("synced/log.db"), &plain, &log, &fault), TW_BAD_INPUT);
  assert_null(log);
  assert_int_not_equal(access(log_path("synced/log.db"), F_OK), 0);
  assert_int_equal(tw_logbook_open(log_path("synced/log.db"), &anyway, &log, &fault), TW_OK);
  tw_logbook_close(log);
}

static void test_other_files(void **state)
{
  (void)state;
  tw_logbook *log = NULL;
  tw_fault fault = {0};
  sqlite3 *base = NULL;
  FILE *f = fopen(log_path("text"), "w");
  fprintf(f, "a text that is no log, and long enough not to be taken for an empty data base\n");
  fclose(f);
  assert_int_equal(sqlite3_open(log_path("other.db"), &base), SQLITE_OK);
  assert_int_equal(sqlite3_exec(base, "CREATE TABLE t(x)", NULL, NULL, NULL), SQLITE_OK);
  sqlite3_close(base);
  static const char *const names[] = {"text", "other.db"};
  for (int k = 0; k < 4; k++) {
    const tw_logbook_options o = {.write = k > 1, .create = k > 1, .anywhere = true};
    assert_int_equal(tw_logbook_open(log_path(names[k % 2]), &o, &log, &fault), TW_BAD_INPUT);
    assert_null(log);
  }
  assert_int_equal(
      tw_logbook_open(log_path("none.db"), &(tw_logbook_options){.write = false}, &log, &fault),
      TW_NO_FILE);
}

/* a later schema is read, and not written */
static void test_newer(void **state)
{
  (void)state;
  tw_logbook *log = NULL;
  tw_fault fault = {0};
  sqlite3 *base = NULL;
  make_log("newer.db", 2);
  assert_int_equal(sqlite3_open(log_path("newer.db"), &base), SQLITE_OK);
  assert_int_equal(sqlite3_exec(base, "PRAGMA user_version = 99", NULL, NULL, NULL), SQLITE_OK);
  sqlite3_close(base);
  log = log_open("newer.db", false);
  assert_int_equal(tw_logbook_count(log), 2);
  tw_logbook_close(log);
  const tw_logbook_options write = {.write = true, .anywhere = true};
  assert_int_equal(tw_logbook_open(log_path("newer.db"), &write, &log, &fault), TW_BAD_INPUT);
  assert_non_null(strstr(fault.text, "schema 99"));
}

/* ---- older schemas --------------------------------------------------------------------------- */

/* of the file that schema 1 made, its lines sorted by text: SHA-256 as exported by that program */
#define SCHEMA_1_SUM "42b21f867e929ae69180f883f8a8e89dbaaef3f1f7edfb9728c27b43576f0cf3"

static size_t of_measure(tw_logbook *log)
{
  return seen_of(log, &(tw_log_filter){.measure = "trip_force_side", .revision = "3"}).count;
}

/* a log made by schema 1: read as it is, brought up to date by the first write, ids unchanged */
static void test_schema_1(void **state)
{
  (void)state;
  char sum[TW_SHA256_TEXT], before[TW_SHA256_TEXT], after[TW_SHA256_TEXT];
  copy_file(TW_SOURCE_DIR "/tests/data/logbook-schema-1.db", log_path("v1.db"));
  assert_int_equal(tw_sha256_file(log_path("v1.db"), before, NULL, NULL), TW_OK);
  tw_logbook *log = log_open("v1.db", false);
  log_digest(log, sum);
  assert_string_equal(sum, SCHEMA_1_SUM);
  assert_int_equal(of_measure(log), 4);
  assert_int_equal(log_troubles(log), 0);
  tw_logbook_close(log);
  assert_int_equal(tw_sha256_file(log_path("v1.db"), after, NULL, NULL), TW_OK);
  assert_string_equal(before, after); /* reading changed nothing */

  log = log_open("v1.db", true);
  log_digest(log, sum);
  assert_string_equal(sum, SCHEMA_1_SUM);
  assert_int_equal(of_measure(log), 4);
  log_put(log, "004", 0.3, NULL);
  assert_int_equal(log_troubles(log), 0);
  tw_logbook_close(log);
  log = log_open("v1.db.schema-1", false); /* the log as it was */
  log_digest(log, sum);
  assert_string_equal(sum, SCHEMA_1_SUM);
  tw_logbook_close(log);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_append_and_correct),
      cmocka_unit_test(test_refusals),
      cmocka_unit_test(test_never_changed),
      cmocka_unit_test(test_merge_in_all_orders),
      cmocka_unit_test(test_copies_and_clones),
      cmocka_unit_test(test_restored_backup),
      cmocka_unit_test(test_lines_out_and_in),
      cmocka_unit_test(test_share),
      cmocka_unit_test(test_documents),
      cmocka_unit_test(test_backup),
      cmocka_unit_test(test_places),
      cmocka_unit_test(test_other_files),
      cmocka_unit_test(test_newer),
      cmocka_unit_test(test_schema_1),
  };
  return cmocka_run_group_tests(tests, log_set_up, log_tear_down);
}
