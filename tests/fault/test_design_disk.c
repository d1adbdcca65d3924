/* The disk says no while a design is written: the old file stays whole, nothing is left beside it.
 */
#include "design_fixture.h"

#include <dirent.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <unistd.h>

static char folder[] = "/tmp/tripwright-disk-XXXXXX";
static char file[200];
static const char before[] = "disc: {part: brass_20_6k3}\nsupport: {kind: rim}\n";

static void write_file(void)
{
  FILE *f = fopen(file, "wb");
  assert_non_null(f);
  assert_int_equal(fwrite(before, 1, strlen(before), f), strlen(before));
  assert_int_equal(fclose(f), 0);
}

static int set_up(void **state)
{
  if (!mkdtemp(folder) || open_all(state) != 0) {
    return -1;
  }
  snprintf(file, sizeof file, "%s/probe.yaml", folder);
  return 0;
}

static int tear_down(void **state)
{
  unlink(file);
  rmdir(folder);
  return close_all(state);
}

static size_t files_in_folder(void)
{
  size_t n = 0;
  DIR *dir = opendir(folder);
  assert_non_null(dir);
  for (struct dirent *e; (e = readdir(dir));) {
    n += e->d_name[0] != '.' || strlen(e->d_name) > 2;
  }
  closedir(dir);
  return n;
}

static void assert_old_and_alone(void)
{
  char got[200];
  FILE *f = fopen(file, "rb");
  assert_non_null(f);
  const size_t n = fread(got, 1, sizeof got - 1, f);
  got[n] = '\0';
  fclose(f);
  assert_string_equal(got, before);
  assert_int_equal(files_in_folder(), 1);
}

/* read, then write a change under what `harm` does; the message must hold `says` */
static void write_under(void (*harm)(bool), const char *says)
{
  const tw_read_options options = {.units = units, .library = library, .need = TW_NEED_DISC};
  const tw_set set = {"support.kind", "clamped"};
  tw_messages *messages = tw_messages_new();
  tw_design *design = NULL;
  write_file();
  assert_int_equal(tw_design_read(file, &options, messages, &design), TW_OK);
  harm(true);
  const tw_status status = tw_design_write(design, 1, &set, &options, messages);
  harm(false);
  assert_int_equal(status, TW_NO_FILE);
  const tw_message *last = tw_messages_at(messages, tw_messages_count(messages) - 1);
  assert_non_null(last);
  assert_non_null(strstr(last->text, says));
  assert_old_and_alone();
  tw_design_free(design);
  tw_messages_free(messages);
}

/* no file may grow past ten bytes */
static void limit_size(bool on)
{
  static struct rlimit old;
  if (on) {
    signal(SIGXFSZ, SIG_IGN);
    getrlimit(RLIMIT_FSIZE, &old);
    const struct rlimit ten = {10, old.rlim_max};
    assert_int_equal(setrlimit(RLIMIT_FSIZE, &ten), 0);
  } else {
    setrlimit(RLIMIT_FSIZE, &old);
  }
}

static void a_full_disk_leaves_the_old_file(void **state)
{
  (void)state;
  write_under(limit_size, "File too large");
}

static void lock_folder(bool on)
{
  assert_int_equal(chmod(folder, on ? 0555 : 0755), 0);
}

static void a_locked_folder_leaves_the_old_file(void **state)
{
  (void)state;
  if (geteuid() == 0) {
    print_message("skipped: the superuser may write everywhere\n");
    skip();
  }
  write_under(lock_folder, "Permission denied");
}

static void a_link_stays_a_link(void **state)
{
  (void)state;
  const tw_read_options options = {.units = units, .library = library, .need = TW_NEED_DISC};
  const tw_set set = {"support.kind", "clamped"};
  tw_messages *messages = tw_messages_new();
  tw_design *design = NULL;
  char link[240];
  struct stat about;
  write_file();
  snprintf(link, sizeof link, "%s/link.yaml", folder);
  assert_int_equal(symlink("probe.yaml", link), 0);
  assert_int_equal(tw_design_read(link, &options, messages, &design), TW_OK);
  assert_int_equal(tw_design_write(design, 1, &set, &options, messages), TW_OK);
  assert_int_equal(lstat(link, &about), 0);
  assert_true(S_ISLNK(about.st_mode));
  tw_design_free(design);
  assert_int_equal(tw_design_read(file, &options, messages, &design), TW_OK);
  assert_int_equal(tw_design_choice(design, TW_F_support_kind), TW_SUPPORT_CLAMPED);
  tw_design_free(design);
  tw_messages_free(messages);
  unlink(link);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(a_full_disk_leaves_the_old_file),
      cmocka_unit_test(a_locked_folder_leaves_the_old_file),
      cmocka_unit_test(a_link_stays_a_link),
  };
  return cmocka_run_group_tests(tests, set_up, tear_down);
}
