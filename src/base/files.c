/* files.c: files read whole, and written whole or not at all. */
#define _XOPEN_SOURCE 700 /* realpath */
#include "tripwright/files.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

enum { NAMES = 512 };

/* the folder of a file is not there, or it holds a file of nearly that name; "" when neither */
static void hint_of_missing(const char *file, char hint[200])
{
  char folder[PATH_MAX], *kept[NAMES];
  const char *names[NAMES], *slash = strrchr(file, '/'), *name = slash ? slash + 1 : file;
  const size_t length = slash ? (size_t)(slash - file) : 1;
  hint[0] = '\0';
  if (length >= sizeof folder) {
    return;
  }
  snprintf(folder, sizeof folder, "%.*s", (int)(length ? length : 1), slash ? file : ".");
  DIR *open = opendir(folder);
  if (!open) {
    snprintf(hint, 200, "there is no folder %.150s", folder);
    return;
  }
  size_t count = 0;
  for (const struct dirent *e; count < NAMES && (e = readdir(open));) {
    const size_t size = strlen(e->d_name) + 1;
    kept[count] = e->d_name[0] == '.' ? NULL : tw_alloc(size, 1);
    if (kept[count]) {
      memcpy(kept[count], e->d_name, size);
      names[count] = kept[count];
      count++;
    }
  }
  closedir(open);
  const char *near = tw_nearest_name(name, names, count);
  if (near) {
    snprintf(hint, 200, "did you mean %.*s%.120s?", slash && length < 60 ? (int)length + 1 : 0,
             file, near);
  }
  while (count) {
    tw_free(kept[--count]);
  }
}

static tw_status no_file(const char *file, tw_fault *fault)
{
  const int why = errno;
  char hint[200] = "";
  if (why == ENOENT) {
    hint_of_missing(file, hint);
  }
  return tw_fail(fault, TW_NO_FILE, "", hint, "%.160s: %s", file, strerror(why));
}

/* a pipe or a device would be waited for without an end: a path must lead to a file */
static tw_status check_kind(const char *file, int fd, tw_fault *fault)
{
  struct stat about;
  if (fstat(fd, &about) != 0) {
    return no_file(file, fault);
  }
  if (S_ISDIR(about.st_mode)) {
    return tw_fail(fault, TW_NO_FILE, "", "name the file in it", "%.160s is a folder", file);
  }
  if (!S_ISREG(about.st_mode)) {
    return tw_fail(fault, TW_NO_FILE, "",
                   "name a file; what comes through a pipe is read when - stands for the file",
                   "%.160s is a %s, not a file", file,
                   S_ISFIFO(about.st_mode)   ? "pipe"
                   : S_ISSOCK(about.st_mode) ? "socket"
                                             : "device");
  }
  return TW_OK;
}

/* without O_NONBLOCK the open itself waits for someone who writes into the pipe */
static tw_status open_file(const char *file, int *fd, tw_fault *fault)
{
  *fd = open(file, O_RDONLY | O_NONBLOCK | O_NOCTTY | O_CLOEXEC);
  if (*fd < 0) {
    return no_file(file, fault);
  }
  const tw_status status = check_kind(file, *fd, fault);
  if (status != TW_OK) {
    close(*fd);
  }
  return status;
}

static tw_status open_input(int *fd, tw_fault *fault)
{
  struct stat about;
  *fd = fcntl(STDIN_FILENO, F_DUPFD_CLOEXEC, 0);
  if (*fd < 0) {
    return no_file("standard input", fault);
  }
  if (fstat(*fd, &about) == 0 && S_ISDIR(about.st_mode)) {
    close(*fd);
    return tw_fail(fault, TW_NO_FILE, "", "name the file in it", "standard input is a folder");
  }
  return TW_OK;
}

tw_status tw_file_open(const char *file, tw_fault *fault, FILE **out)
{
  int fd = -1;
  *out = NULL;
  const tw_status status =
      strcmp(file, "-") == 0 ? open_input(&fd, fault) : open_file(file, &fd, fault);
  if (status != TW_OK) {
    return status;
  }
  *out = fdopen(fd, "rb");
  if (!*out) {
    close(fd);
    return tw_fail(fault, TW_NO_MEMORY, "", "", "out of memory");
  }
  return TW_OK;
}

tw_status tw_file_read(const char *file, size_t limit, tw_fault *fault, char **text, size_t *length)
{
  *text = NULL;
  *length = 0;
  FILE *f;
  const tw_status opened = tw_file_open(file, fault, &f);
  if (opened != TW_OK) {
    return opened;
  }
  char *all = NULL;
  size_t room = 0, used = 0;
  for (;;) {
    if (used == room) {
      room = room ? 2 * room : 8192;
      char *larger = tw_resize(all, room + 1, 1);
      if (!larger) {
        tw_free(all);
        fclose(f);
        return tw_fail(fault, TW_NO_MEMORY, "", "", "out of memory");
      }
      all = larger;
    }
    const size_t n = fread(all + used, 1, room - used, f);
    used += n;
    if (n == 0 || used > limit) {
      break;
    }
  }
  const bool failed = ferror(f) != 0;
  if (failed || used > limit) {
    const tw_status status =
        failed ? no_file(file, fault)
               : tw_fail(fault, TW_BAD_INPUT, "", "", "%.160s: more than %zu bytes", file, limit);
    tw_free(all);
    fclose(f);
    return status;
  }
  fclose(f);
  all[used] = '\0';
  *text = all;
  *length = used;
  return TW_OK;
}

char *tw_file_text(const char *file, size_t *length, tw_fault *fault)
{
  char *text = NULL;
  (void)tw_file_read(file, SIZE_MAX / 4, fault, &text, length);
  return text;
}

/* ---- writing -------------------------------------------------------------------------------- */

static tw_status cannot(tw_fault *fault, const char *what, const char *file)
{
  return tw_fail(fault, TW_NO_FILE, "", "is the folder there, with room, and may it be written to?",
                 "%s %.120s: %s", what, file, strerror(errno));
}

static bool write_all(int fd, const char *data, size_t size)
{
  while (size > 0) {
    const ssize_t n = write(fd, data, size);
    if (n < 0 && errno == EINTR) {
      continue;
    }
    if (n <= 0) {
      return false;
    }
    data += n;
    size -= (size_t)n;
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

/* a device or a pipe is written to: a rename would put a file in its place */
static tw_status write_into(const char *file, const void *data, size_t size, tw_fault *fault)
{
  const int fd = open(file, O_WRONLY | O_NOCTTY);
  if (fd < 0) {
    return cannot(fault, "write", file);
  }
  const bool written = write_all(fd, data, size);
  const int error = errno;
  if (close(fd) != 0 || !written) {
    errno = written ? errno : error;
    return cannot(fault, "write", file);
  }
  return TW_OK;
}

tw_status tw_file_replace(const char *file, const void *data, size_t size, tw_fault *fault)
{
  char real[PATH_MAX], temporary[PATH_MAX + 16];
  struct stat about;
  /* a link stays a link: its target is replaced; a file that is not there yet is made */
  if (!realpath(file, real)) {
    if (errno != ENOENT) {
      return cannot(fault, "find", file);
    }
    snprintf(real, sizeof real, "%s", file);
  }
  const bool there = stat(real, &about) == 0;
  if (there && !S_ISREG(about.st_mode) && !S_ISDIR(about.st_mode)) {
    return write_into(real, data, size, fault);
  }
  const mode_t mode = there ? about.st_mode & 07777 : 0644;
  snprintf(temporary, sizeof temporary, "%s.XXXXXX", real);
  const int fd = mkstemp(temporary);
  if (fd < 0) {
    return cannot(fault, "write beside", file);
  }
  const bool written = write_all(fd, data, size) && fchmod(fd, mode) == 0 && fsync(fd) == 0;
  const int error = errno;
  if (close(fd) != 0 || !written || rename(temporary, real) != 0) {
    errno = written ? errno : error;
    const tw_status status = cannot(fault, "write", file);
    unlink(temporary);
    return status;
  }
  sync_folder(real);
  return TW_OK;
}
