/* The log when things go wrong: killed while writing, a full disk, every n-th write failing, two
 * writers at once, bytes flipped. What was acknowledged is there, and the log is whole. */
#include "failing_disk.h"
#include "log_fixture.h"
#include "tripwright/random.h"

#include <signal.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <time.h>

static bool prove(void)
{
  return getenv("TW_PROVE") != NULL;
}

/* ---- killed ---------------------------------------------------------------------------------- */

/* writes until it is killed; says the number of each entry when it is acknowledged */
static void write_until_killed(int out)
{
  tw_logbook *log = log_open("killed.db", true);
  for (int32_t i = 0;; i++) {
    char id[TW_SHA256_TEXT];
    log_put(log, "k", (double)i, id);
    if (write(out, id, sizeof id) != (ssize_t)sizeof id) {
      _exit(1);
    }
  }
}

static size_t kill_one(long nanoseconds, char (*acknowledged)[TW_SHA256_TEXT], size_t most)
{
  int ends[2];
  assert_int_equal(pipe(ends), 0);
  const pid_t child = fork();
  if (child == 0) {
    close(ends[0]);
    write_until_killed(ends[1]);
  }
  close(ends[1]);
  nanosleep(&(struct timespec){nanoseconds / 1000000000, nanoseconds % 1000000000}, NULL);
  kill(child, SIGKILL);
  waitpid(child, NULL, 0);
  size_t n = 0;
  while (n < most && read(ends[0], acknowledged[n], TW_SHA256_TEXT) == TW_SHA256_TEXT) {
    n++;
  }
  close(ends[0]);
  return n;
}

static bool count_one(void *self, const tw_log_entry *entry)
{
  (void)entry;
  ++*(size_t *)self;
  return true;
}

static void test_killed(void **state)
{
  (void)state;
  enum { MOST = 4096 };
  const int kills = prove() ? 200 : 20;
  static char acknowledged[MOST][TW_SHA256_TEXT];
  size_t all = 0, journals = 0;
  tw_random random;
  tw_random_start(&random, 7, 0);
  for (int k = 0; k < kills; k++) {
    const size_t n = kill_one((long)(5e6 + 75e6 * tw_random_uniform(&random)), acknowledged, MOST);
    journals += access(log_path("killed.db-journal"), F_OK) == 0;
    if (access(log_path("killed.db"), F_OK) != 0) {
      assert_int_equal(n, 0);
      continue;
    }
    /* killed before the schema stood: there is no log yet, and the next writer makes it */
    tw_logbook *log = log_open("killed.db", all + n > 0 ? false : true);
    for (size_t i = 0; i < n; i++) {
      size_t count = 0;
      const tw_log_filter filter = {.id = acknowledged[i]};
      assert_int_equal(tw_logbook_each(log, &filter, count_one, &count, NULL), TW_OK);
      assert_int_equal(count, 1);
    }
    all += n;
    assert_true(tw_logbook_count(log) >= all);
    assert_int_equal(log_troubles(log), 0);
    tw_logbook_close(log);
  }
  print_message("killed %d times (%zu in a transaction): %zu entries acknowledged, none lost\n",
                kills, journals, all);
  assert_true(all > (size_t)kills / 4);
}

/* ---- two writers ----------------------------------------------------------------------------- */

static void test_two_writers(void **state)
{
  (void)state;
  const int each = prove() ? 1000 : 40;
  pid_t child[2];
  for (int k = 0; k < 2; k++) {
    child[k] = fork();
    if (child[k] == 0) {
      tw_logbook *log = log_open("two.db", true);
      for (int i = 0; i < each; i++) {
        log_put(log, k ? "b" : "a", i, NULL);
      }
      tw_logbook_close(log);
      _exit(0);
    }
  }
  for (int k = 0; k < 2; k++) {
    int status = 0;
    waitpid(child[k], &status, 0);
    assert_true(WIFEXITED(status) && WEXITSTATUS(status) == 0);
  }
  tw_logbook *log = log_open("two.db", false);
  assert_int_equal(tw_logbook_count(log), 2 * (size_t)each);
  assert_int_equal(log_troubles(log), 0);
  tw_logbook_close(log);
}

/* ---- the disk says no ------------------------------------------------------------------------ */

/* every n-th operation fails, once or for good: each entry is there wholly or not at all, those
 * that were acknowledged are, and afterwards the log goes on */
static void fail_everywhere(bool on, int code)
{
  char name[40], id[TW_SHA256_TEXT];
  long n = 1;
  int refused = 0;
  for (bool reached = true; reached; n++) {
    snprintf(name, sizeof name, "disk%d-%d-%ld.db", on, code, n);
    failing_disk_at(0, false, code);
    tw_logbook *log = log_open(name, true);
    log_put(log, "1", 0.5, NULL);
    failing_disk_at(n, on, code);
    size_t good = 1;
    for (int i = 0; i < 2; i++) {
      tw_fault fault = {0};
      const tw_status status = log_try(log, "1", i, id, &fault);
      good += status == TW_OK;
      refused += status != TW_OK;
      assert_true(status == TW_OK || fault.text[0]);
    }
    reached = failing_seen >= n;
    failing_disk_at(0, false, code);
    tw_logbook_close(log);
    log = log_open(name, true);
    /* an entry whose commit was done when its journal could not be removed may be there or not */
    assert_true(tw_logbook_count(log) >= good);
    assert_true(tw_logbook_count(log) <= 3);
    assert_int_equal(log_troubles(log), 0);
    log_put(log, "1", 9.0, NULL);
    assert_int_equal(log_troubles(log), 0);
    tw_logbook_close(log);
  }
  assert_true(refused > 3);
  print_message("failed at each of %ld operations%s: %d entries refused, none lost\n", n - 2,
                on ? " and for good" : "", refused);
}

static void test_every_write_fails(void **state)
{
  (void)state;
  fail_everywhere(false, SQLITE_FULL);
  fail_everywhere(true, SQLITE_IOERR_WRITE);
  if (prove()) {
    fail_everywhere(false, SQLITE_IOERR_WRITE);
  }
}

/* the file must not grow: SQLite says so, what was there stays, and with room again it goes on */
static void test_full_disk(void **state)
{
  (void)state;
  tw_logbook *log = log_open("full.db", true);
  size_t kept = 0;
  tw_fault fault = {0};
  log_put(log, "1", 0.0, NULL);
  struct rlimit before, small;
  getrlimit(RLIMIT_FSIZE, &before);
  small = before;
  small.rlim_cur = 120000;
  signal(SIGXFSZ, SIG_IGN);
  assert_int_equal(setrlimit(RLIMIT_FSIZE, &small), 0);
  tw_status status = TW_OK;
  for (kept = 1; kept < 2000 && status == TW_OK; kept++) {
    status = log_try(log, "1", (double)kept, NULL, &fault);
  }
  setrlimit(RLIMIT_FSIZE, &before);
  assert_int_equal(status, TW_NO_FILE);
  assert_non_null(strstr(fault.text, "safe"));
  assert_int_equal(tw_logbook_count(log), kept - 1);
  assert_int_equal(log_troubles(log), 0);
  log_put(log, "1", 1.0, NULL);
  tw_logbook_close(log);
}

/* ---- flipped bytes --------------------------------------------------------------------------- */

static void make_flippable(char sum[TW_SHA256_TEXT])
{
  char document[TW_SHA256_TEXT];
  tw_logbook *log = log_open("flip.db", true);
  json_t *body = log_reading("trip_force_side", 0.25);
  tw_log_draft draft[200];
  for (int i = 0; i < 200; i++) {
    draft[i] = (tw_log_draft){.kind = "reading", .unit = "7", .body = body};
  }
  assert_int_equal(tw_logbook_append(log, draft, 200, NULL, NULL), TW_OK);
  assert_int_equal(tw_logbook_keep_bytes(log, "a", "some text", 9, document, NULL), TW_OK);
  json_decref(body);
  log_digest(log, sum);
  tw_logbook_close(log);
}

/* opened, checked, exported: told, or else nothing that is read has changed */
static void try_flipped(const char *sum, bool *told, bool *same)
{
  tw_logbook *log = NULL;
  tw_fault fault = {0};
  char now[TW_SHA256_TEXT] = "";
  const tw_logbook_options read = {.write = false};
  *told = *same = false;
  if (tw_logbook_open(log_path("flipped.db"), &read, &log, &fault) != TW_OK) {
    *told = fault.text[0] != '\0';
    return;
  }
  tw_messages *messages = tw_messages_new();
  tw_log_health health;
  const tw_status status = tw_logbook_check(log, messages, &health, &fault);
  *told = status != TW_OK || health.troubles > 0;
  tw_messages_free(messages);
  messages = tw_messages_new();
  size_t lines;
  if (!*told) {
    log_digest(log, now);
    *same = strcmp(now, sum) == 0;
  } else { /* and as much as can be read is saved, without an accident */
    (void)tw_logbook_export(log, log_path("saved.jsonl"), messages, &lines, &fault);
  }
  tw_messages_free(messages);
  tw_logbook_close(log);
}

static void test_flipped_bytes(void **state)
{
  (void)state;
  char sum[TW_SHA256_TEXT];
  size_t length, found = 0, harmless = 0;
  const size_t wanted = prove() ? 200 : 60;
  tw_random random;
  make_flippable(sum);
  char *whole = log_file_text(log_path("flip.db"), &length), *copy = malloc(length);
  tw_random_start(&random, 3, 0);
  while (found < wanted && harmless < 10 * wanted) {
    bool told, same;
    memcpy(copy, whole, length);
    const size_t at = (size_t)tw_random_below(&random, length);
    copy[at] ^= (char)(1 << tw_random_below(&random, 8));
    FILE *f = fopen(log_path("flipped.db"), "wb");
    assert_int_equal(fwrite(copy, 1, length, f), length);
    fclose(f);
    try_flipped(sum, &told, &same);
    found += told;
    harmless += !told && same;
    if (!told && !same) {
      fail_msg("byte %zu: flipped, not told, and another content", at);
    }
    /* reading made nothing worse */
    size_t after_length;
    char *after = log_file_text(log_path("flipped.db"), &after_length);
    assert_int_equal(after_length, length);
    assert_memory_equal(after, copy, length);
    free(after);
  }
  free(whole);
  free(copy);
  print_message("flipped bits: %zu told by the check, %zu in bytes that nothing is read from\n",
                found, harmless);
  assert_int_equal(found, wanted);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_killed),
      cmocka_unit_test(test_two_writers),
      cmocka_unit_test(test_every_write_fails),
      cmocka_unit_test(test_full_disk),
      cmocka_unit_test(test_flipped_bytes),
  };
  failing_disk_install();
  return cmocka_run_group_tests(tests, log_set_up, log_tear_down);
}
