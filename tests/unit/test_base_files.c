/* What is read is a file: a pipe, a device or a folder behind a path is refused at once. */
#include "near.h"
#include "tripwright/files.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <unistd.h>

/* a read that waits ends this test instead of the whole run, s */
#define PATIENCE 5

static char folder[] = "/tmp/tripwright-files-XXXXXX";

static const char *in_folder(const char *name)
{
  static char path[200];
  snprintf(path, sizeof path, "%s/%s", folder, name);
  return path;
}

static int make_folder(void **state)
{
  (void)state;
  alarm(PATIENCE);
  return mkdtemp(folder) ? 0 : -1;
}

static int remove_folder(void **state)
{
  (void)state;
  static const char *const names[] = {"pipe", "link", "file", "socket"};
  for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
    remove(in_folder(names[i]));
  }
  return rmdir(folder);
}

static void refuses(const char *path, const char *word)
{
  tw_fault fault = {0};
  char *text;
  size_t length;
  assert_int_equal(tw_file_read(path, 1000, &fault, &text, &length), TW_NO_FILE);
  assert_non_null(strstr(fault.text, word));
  assert_true(fault.hint[0] != '\0');
  assert_null(text);
}

static void a_pipe_is_not_waited_for(void **state)
{
  (void)state;
  assert_int_equal(mkfifo(in_folder("pipe"), 0600), 0);
  refuses(in_folder("pipe"), "is a pipe");
  char target[200];
  snprintf(target, sizeof target, "%s", in_folder("pipe"));
  assert_int_equal(symlink(target, in_folder("link")), 0);
  refuses(in_folder("link"), "is a pipe");
}

static void devices_folders_and_sockets_are_refused(void **state)
{
  (void)state;
  refuses("/dev/null", "is a device");
  refuses("/dev/zero", "is a device");
  refuses(folder, "is a folder");
  struct sockaddr_un address = {.sun_family = AF_UNIX};
  const char *path = in_folder("socket");
  assert_true(strlen(path) < sizeof address.sun_path);
  memcpy(address.sun_path, path, strlen(path) + 1);
  const int fd = socket(AF_UNIX, SOCK_STREAM, 0);
  assert_int_equal(bind(fd, (struct sockaddr *)&address, sizeof address), 0);
  tw_fault fault = {0};
  FILE *open;
  assert_int_equal(tw_file_open(in_folder("socket"), &fault, &open), TW_NO_FILE);
  assert_null(open);
  close(fd);
}

static void a_file_and_the_standard_input_are_read(void **state)
{
  (void)state;
  char *text;
  size_t length;
  assert_int_equal(tw_file_replace(in_folder("file"), "abc", 3, NULL), TW_OK);
  assert_int_equal(tw_file_read(in_folder("file"), 3, NULL, &text, &length), TW_OK);
  assert_string_equal(text, "abc");
  tw_free(text);
  assert_int_equal(tw_file_read(in_folder("file"), 2, NULL, &text, &length), TW_BAD_INPUT);
  assert_non_null(freopen(in_folder("file"), "rb", stdin));
  assert_int_equal(tw_file_read("-", 100, NULL, &text, &length), TW_OK);
  assert_int_equal(length, 3);
  tw_free(text);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(a_pipe_is_not_waited_for),
      cmocka_unit_test(devices_folders_and_sockets_are_refused),
      cmocka_unit_test(a_file_and_the_standard_input_are_read),
  };
  return cmocka_run_group_tests(tests, make_folder, remove_folder);
}
