/* write.c: replace a design file in one step, and only if it is still the one that was read. */
#define _XOPEN_SOURCE 700 /* realpath */
#include "inside.h"

#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

static tw_status system_fault(tw_fault *fault, const char *what, const char *file)
{
  return tw_fail(fault, TW_NO_FILE, "", "the old file is unchanged", "%s %.120s: %s", what, file,
                 strerror(errno));
}

static bool write_all(int fd, const char *text, size_t length)
{
  while (length > 0) {
    const ssize_t n = write(fd, text, length);
    if (n < 0 && errno == EINTR) {
      continue;
    }
    if (n <= 0) {
      return false;
    }
    text += n;
    length -= (size_t)n;
  }
  return true;
}

/* make the rename itself last */
static void sync_folder(const char *file)
{
  char folder[PATH_MAX];
  const char *slash = strrchr(file, '/');
  snprintf(folder, sizeof folder, "%.*s", slash ? (int)(slash - file) + 1 : 1, slash ? file : ".");
  const int fd = open(folder, O_RDONLY);
  if (fd >= 0) {
    (void)fsync(fd);
    close(fd);
  }
}

tw_status tw_file_replace(const char *file, const char *text, size_t length, tw_fault *fault)
{
  char real[PATH_MAX], temporary[PATH_MAX + 16];
  struct stat about;
  /* a link stays a link: its target is replaced */
  if (!realpath(file, real) || stat(real, &about) != 0) {
    return system_fault(fault, "find", file);
  }
  snprintf(temporary, sizeof temporary, "%s.XXXXXX", real);
  const int fd = mkstemp(temporary);
  if (fd < 0) {
    return system_fault(fault, "write beside", file);
  }
  const bool written =
      write_all(fd, text, length) && fchmod(fd, about.st_mode & 07777) == 0 && fsync(fd) == 0;
  const int error = errno;
  if (close(fd) != 0 || !written || rename(temporary, real) != 0) {
    errno = written ? errno : error;
    const tw_status status = system_fault(fault, "write", file);
    unlink(temporary);
    return status;
  }
  sync_folder(real);
  return TW_OK;
}

/* the text on disk, if it is still that of `design` */
static tw_status unchanged_text(const tw_design *design, tw_fault *fault, char **text,
                                size_t *length)
{
  const tw_store *store = design->store;
  if (!store->from_disk) {
    return tw_fail(fault, TW_NO_FILE, "", "save the design first", "this design is in no file");
  }
  const tw_status status = tw_file_read(store->file, TW_FILE_LIMIT, fault, text, length);
  if (status != TW_OK) {
    return status;
  }
  if (*length != store->length || tw_text_hash(*text, *length) != store->hash) {
    tw_free(*text);
    *text = NULL;
    return tw_fail(fault, TW_NO_FILE, "", "read it again, then make the change",
                   "%.120s was changed on disk meanwhile; nothing is written", store->file);
  }
  return TW_OK;
}

tw_status tw_design_write(const tw_design *design, size_t n, const tw_set *sets,
                          const tw_read_options *options, tw_messages *messages)
{
  char *old = NULL, *text = NULL;
  size_t length = 0;
  tw_fault fault = {0};
  tw_design *check = NULL;
  tw_status status = unchanged_text(design, &fault, &old, &length);
  if (status == TW_OK) {
    status = tw_design_edit(old, length, n, sets, &fault, &text);
  }
  tw_free(old);
  if (status == TW_OK) {
    const size_t errors = tw_messages_errors(messages);
    status = tw_design_parse(text, strlen(text), design->store->file, options, messages, &check);
    if (tw_messages_errors(messages) > errors) {
      fault.text[0] = '\0'; /* said already */
    }
    tw_design_free(check);
  }
  if (status == TW_OK) {
    status = tw_file_replace(design->store->file, text, strlen(text), &fault);
  }
  tw_free(text);
  if (status != TW_OK && fault.text[0]) {
    tw_messages_add_fault(messages, &fault, (tw_place){0}, NULL);
  }
  return status;
}
