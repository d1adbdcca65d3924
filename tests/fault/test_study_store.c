/* The file of a study: resuming, merging, files of others, a full disk, a kill. */
#include "near.h"
#include "tripwright/random.h"
#include "tripwright/study_store.h"

#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

static char folder[256];

static const char *path_of(const char *name)
{
  static char path[4][512];
  static int next;
  char *p = path[next++ % 4];
  snprintf(p, sizeof path[0], "%s/%s", folder, name);
  return p;
}

static int make_folder(void **state)
{
  (void)state;
  snprintf(folder, sizeof folder, "%s/study_store_XXXXXX",
           getenv("TMPDIR") ? getenv("TMPDIR") : "/tmp");
  return mkdtemp(folder) ? 0 : -1;
}

static int remove_folder(void **state)
{
  (void)state;
  static const char *const names[] = {"a.study", "b.study", "c.study", "text", "other.db"};
  for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
    unlink(path_of(names[i]));
  }
  return rmdir(folder);
}

static tw_status slow_model(void *self, int worker, const double *x, double *y,
                            unsigned char *outcome, tw_fault *fault)
{
  (void)worker;
  (void)fault;
  const long pause = self ? *(const long *)self : 0;
  if (pause) {
    nanosleep(&(struct timespec){0, pause}, NULL);
  }
  y[0] = x[0] * x[1];
  y[1] = x[0] + x[1];
  outcome[0] = TW_OUTCOME_OK;
  outcome[1] = x[0] > 0.0 ? TW_OUTCOME_OK : TW_OUTCOME_NO_TRIP;
  return TW_OK;
}

static tw_sampler *some_sampler(uint64_t seed)
{
  const tw_varied in[2] = {{"a", TW_LAW_UNIFORM, .centre = 0.0, .minus = 1.0, .plus = 3.0},
                           {"b", TW_LAW_UNIFORM, .centre = 1.0, .minus = 0.5, .plus = 0.5}};
  tw_sampler *s = NULL;
  assert_int_equal(tw_sampler_new(in, 2, NULL, 0, seed, &s, NULL), TW_OK);
  return s;
}

static tw_store_key key_of(const tw_sampler *s)
{
  return (tw_store_key){
      "pillar indexer, revision 3", 0x1234, tw_sampler_hash(s), "engine", "product sum", 2};
}

static tw_builds *new_builds(uint64_t first, size_t count)
{
  tw_builds *b = NULL;
  assert_int_equal(tw_builds_new(first, count, 2, &b, NULL), TW_OK);
  return b;
}

static tw_store *open_store(const char *name, const tw_sampler *s)
{
  const tw_store_key key = key_of(s);
  tw_store *store = NULL;
  tw_fault fault = {0};
  if (tw_store_open(path_of(name), &key, &store, &fault) != TW_OK) {
    fail_msg("%s", fault.text);
  }
  return store;
}

/* run builds first .. first + count - 1 with the file, as a command would */
static uint64_t run_stored(const char *name, const tw_sampler *s, uint64_t first, size_t count,
                           int threads, long *pause)
{
  const tw_study_model model = {2, 2, slow_model, pause};
  tw_store *store = open_store(name, s);
  tw_builds *b = new_builds(first, count);
  assert_int_equal(tw_store_load(store, b, NULL), TW_OK);
  const tw_spread_options options = {threads, 50, tw_store_save, store};
  assert_int_equal(tw_spread_run(&model, s, b, &options, NULL, NULL), TW_OK);
  const uint64_t hash = tw_builds_hash(b);
  tw_builds_free(b);
  tw_store_close(store);
  return hash;
}

/* the hash of builds 0 .. count - 1 without any file */
static uint64_t plain_hash(const tw_sampler *s, size_t count)
{
  const tw_study_model model = {2, 2, slow_model, NULL};
  tw_builds *b = new_builds(0, count);
  assert_int_equal(tw_spread_run(&model, s, b, NULL, NULL, NULL), TW_OK);
  const uint64_t hash = tw_builds_hash(b);
  tw_builds_free(b);
  return hash;
}

static size_t stored_count(const char *name, const tw_sampler *s)
{
  tw_store *store = open_store(name, s);
  size_t count = 0;
  assert_int_equal(tw_store_count(store, &count, NULL), TW_OK);
  tw_store_close(store);
  return count;
}

static void resumes_where_it_stopped(void **state)
{
  (void)state;
  tw_sampler *s = some_sampler(1);
  run_stored("a.study", s, 0, 300, 2, NULL);
  assert_int_equal(stored_count("a.study", s), 300);
  assert_true(run_stored("a.study", s, 0, 1000, 1, NULL) == plain_hash(s, 1000));
  assert_int_equal(stored_count("a.study", s), 1000);
  /* nothing is computed twice: a model that would stop is not called */
  tw_store *store = open_store("a.study", s);
  tw_builds *b = new_builds(0, 1000);
  assert_int_equal(tw_store_load(store, b, NULL), TW_OK);
  assert_int_equal(tw_builds_done(b), 1000);
  tw_builds_free(b);
  tw_store_close(store);
  unlink(path_of("a.study"));
  tw_sampler_free(s);
}

static void parts_merge_to_the_same(void **state)
{
  (void)state;
  tw_sampler *s = some_sampler(1);
  run_stored("a.study", s, 0, 600, 2, NULL);
  run_stored("b.study", s, 500, 500, 1, NULL);
  tw_store *store = open_store("a.study", s);
  assert_int_equal(tw_store_merge(store, path_of("b.study"), NULL), TW_OK);
  tw_builds *b = new_builds(0, 1000);
  assert_int_equal(tw_store_load(store, b, NULL), TW_OK);
  assert_int_equal(tw_builds_done(b), 1000);
  assert_true(tw_builds_hash(b) == plain_hash(s, 1000));
  /* a part of another seed is refused, and nothing of it is taken */
  tw_sampler *other = some_sampler(2);
  run_stored("c.study", other, 1000, 10, 1, NULL);
  tw_fault fault = {0};
  assert_int_equal(tw_store_merge(store, path_of("c.study"), &fault), TW_BAD_INPUT);
  assert_non_null(strstr(fault.text, "belongs to another study"));
  size_t count = 0;
  assert_int_equal(tw_store_count(store, &count, NULL), TW_OK);
  assert_int_equal(count, 1000);
  assert_int_equal(tw_store_merge(store, path_of("none.study"), &fault), TW_NO_FILE);
  tw_builds_free(b);
  tw_store_close(store);
  unlink(path_of("a.study"));
  unlink(path_of("b.study"));
  unlink(path_of("c.study"));
  tw_sampler_free(other);
  tw_sampler_free(s);
}

static void files_of_others_are_refused(void **state)
{
  (void)state;
  tw_sampler *s = some_sampler(1), *other = some_sampler(9);
  run_stored("a.study", s, 0, 10, 1, NULL);
  const tw_store_key own = key_of(s);
  const struct {
    tw_store_key key;
    const char *says;
  } wrong[] = {
      {{"watch plate probe, revision 1", own.design_hash, own.sampler_hash, own.level, own.outputs,
        2},
       "another design"},
      {{own.design, 0x1235, own.sampler_hash, own.level, own.outputs, 2}, "an earlier state"},
      {{own.design, own.design_hash, tw_sampler_hash(other), own.level, own.outputs, 2},
       "another seed"},
      {{own.design, own.design_hash, own.sampler_hash, "fast", own.outputs, 2}, "another level"},
      {{own.design, own.design_hash, own.sampler_hash, own.level, "product", 1}, "other measures"},
  };
  for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++) {
    tw_store *store = NULL;
    tw_fault fault = {0};
    assert_int_equal(tw_store_open(path_of("a.study"), &wrong[i].key, &store, &fault),
                     TW_BAD_INPUT);
    assert_null(store);
    assert_non_null(strstr(fault.text, wrong[i].says));
    assert_true(fault.hint[0] != '\0');
  }
  /* nothing was lost */
  assert_int_equal(stored_count("a.study", s), 10);
  /* a text file, and a database of something else, stay as they are */
  FILE *text = fopen(path_of("text"), "w");
  assert_non_null(text);
  for (int i = 0; i < 300; i++) {
    fputs("probe readings\n", text);
  }
  fclose(text);
  struct stat before, after;
  assert_int_equal(stat(path_of("text"), &before), 0);
  tw_store *store = NULL;
  tw_fault fault = {0};
  assert_int_equal(tw_store_open(path_of("text"), &own, &store, &fault), TW_BAD_INPUT);
  assert_non_null(strstr(fault.text, "no study file"));
  assert_int_equal(stat(path_of("text"), &after), 0);
  assert_int_equal(before.st_size, after.st_size);
  assert_int_equal(tw_store_open("/nonexistent-folder/x.study", &own, &store, &fault), TW_NO_FILE);
  unlink(path_of("a.study"));
  tw_sampler_free(other);
  tw_sampler_free(s);
}

/* Write failures for real: the file may grow to so many bytes and not further. */
static void full_disk_loses_nothing(void **state)
{
  (void)state;
  tw_sampler *s = some_sampler(1);
  const tw_study_model model = {2, 2, slow_model, NULL};
  const uint64_t truth = plain_hash(s, 3000);
  struct rlimit old, small;
  assert_int_equal(getrlimit(RLIMIT_FSIZE, &old), 0);
  signal(SIGXFSZ, SIG_IGN);
  size_t last = 0;
  for (rlim_t bytes = 4096; bytes <= 65536; bytes += 4096) {
    small = old;
    small.rlim_cur = bytes;
    assert_int_equal(setrlimit(RLIMIT_FSIZE, &small), 0);
    const tw_store_key key = key_of(s);
    tw_store *store = NULL;
    tw_builds *b = new_builds(0, 3000);
    tw_fault fault = {0};
    tw_status status = tw_store_open(path_of("a.study"), &key, &store, &fault);
    if (status == TW_OK) {
      assert_int_equal(tw_store_load(store, b, NULL), TW_OK);
      assert_int_equal(tw_builds_done(b), last);
      const tw_spread_options options = {2, 50, tw_store_save, store};
      status = tw_spread_run(&model, s, b, &options, NULL, &fault);
    }
    tw_store_close(store);
    tw_builds_free(b);
    assert_int_equal(setrlimit(RLIMIT_FSIZE, &old), 0);
    assert_int_equal(status, TW_NO_FILE);
    assert_true(fault.text[0] != '\0' && fault.hint[0] != '\0');
    const size_t now = stored_count("a.study", s);
    assert_true(now >= last && now < 3000 && now % 50 == 0);
    last = now;
  }
  assert_true(last > 500);
  /* with room again the study completes, and is the same */
  assert_true(run_stored("a.study", s, 0, 3000, 2, NULL) == truth);
  unlink(path_of("a.study"));
  tw_sampler_free(s);
}

static void a_kill_loses_one_round_at_most(void **state)
{
  (void)state;
  tw_sampler *s = some_sampler(4);
  const uint64_t truth = plain_hash(s, 1000);
  const char *prove = getenv("TW_PROVE");
  const int kills = prove && strcmp(prove, "1") == 0 ? 100 : 8;
  tw_random random;
  tw_random_start(&random, 1, 1);
  long pause = 100000;
  size_t last = 0;
  int hit = 0;
  for (int i = 0; i < kills; i++) {
    const pid_t child = fork();
    assert_true(child >= 0);
    if (child == 0) {
      run_stored("a.study", s, 0, 1000, 1, &pause);
      _exit(0);
    }
    const long wait = 1000000 + (long)tw_random_below(&random, 40000000);
    nanosleep(&(struct timespec){0, wait}, NULL);
    kill(child, SIGKILL);
    int result;
    assert_int_equal(waitpid(child, &result, 0), child);
    hit += WIFSIGNALED(result);
    const size_t now = stored_count("a.study", s);
    assert_true(now >= last);
    last = now;
    if (last == 1000) {
      unlink(path_of("a.study"));
      last = 0;
    }
  }
  print_message("killed %d of %d runs, %zu builds were kept\n", hit, kills, last);
  assert_true(hit > 0);
  assert_true(run_stored("a.study", s, 0, 1000, 2, NULL) == truth);
  unlink(path_of("a.study"));
  tw_sampler_free(s);
}

static void two_writers_do_not_mix(void **state)
{
  (void)state;
  tw_sampler *s = some_sampler(4);
  tw_store *first = open_store("a.study", s), *second = open_store("a.study", s);
  tw_builds *b = new_builds(0, 100);
  const tw_study_model model = {2, 2, slow_model, NULL};
  assert_int_equal(tw_spread_run(&model, s, b, NULL, NULL, NULL), TW_OK);
  assert_int_equal(tw_store_save(first, b, 0, 60, NULL), TW_OK);
  assert_int_equal(tw_store_save(second, b, 40, 60, NULL), TW_OK);
  size_t count = 0;
  assert_int_equal(tw_store_count(first, &count, NULL), TW_OK);
  assert_int_equal(count, 100);
  tw_builds_free(b);
  tw_store_close(first);
  tw_store_close(second);
  unlink(path_of("a.study"));
  tw_sampler_free(s);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(resumes_where_it_stopped),       cmocka_unit_test(parts_merge_to_the_same),
      cmocka_unit_test(files_of_others_are_refused),    cmocka_unit_test(full_disk_loses_nothing),
      cmocka_unit_test(a_kill_loses_one_round_at_most), cmocka_unit_test(two_writers_do_not_mix),
  };
  return cmocka_run_group_tests(tests, make_folder, remove_folder);
}
