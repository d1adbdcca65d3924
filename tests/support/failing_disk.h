/* failing_disk.h: a file system for SQLite on which the n-th write (or change of length, or sync)
 * fails, and perhaps every later one. Put in front of the real one with failing_disk_install. */
#ifndef TW_TEST_FAILING_DISK_H
#define TW_TEST_FAILING_DISK_H

#include <sqlite3.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

typedef struct failing_file {
  sqlite3_file base;
  sqlite3_file *real;
} failing_file;

static long failing_at, failing_seen;
static bool failing_on;
static int failing_with = SQLITE_IOERR_WRITE;
static sqlite3_vfs failing_vfs;
static sqlite3_vfs *failing_real;

/* the n-th operation from now on fails with `code` (0: none), and with `on` every later one */
static inline void failing_disk_at(long n, bool on, int code)
{
  failing_at = n;
  failing_seen = 0;
  failing_on = on;
  failing_with = code;
}

static inline bool failing_now(void)
{
  failing_seen++;
  return failing_at > 0 &&
         (failing_seen == failing_at || (failing_on && failing_seen > failing_at));
}

static inline sqlite3_file *failing_of(sqlite3_file *file)
{
  return ((failing_file *)(void *)file)->real;
}

static inline int failing_close(sqlite3_file *f)
{
  sqlite3_file *real = failing_of(f);
  const int code = real->pMethods ? real->pMethods->xClose(real) : SQLITE_OK;
  free(real);
  return code;
}

static inline int failing_read(sqlite3_file *f, void *to, int n, sqlite3_int64 at)
{
  return failing_of(f)->pMethods->xRead(failing_of(f), to, n, at);
}

static inline int failing_write(sqlite3_file *f, const void *from, int n, sqlite3_int64 at)
{
  if (failing_now()) { /* half of it reaches the disk, as when the power goes */
    failing_of(f)->pMethods->xWrite(failing_of(f), from, n / 2, at);
    return failing_with;
  }
  return failing_of(f)->pMethods->xWrite(failing_of(f), from, n, at);
}

static inline int failing_truncate(sqlite3_file *f, sqlite3_int64 size)
{
  return failing_now() ? SQLITE_IOERR_TRUNCATE
                       : failing_of(f)->pMethods->xTruncate(failing_of(f), size);
}

static inline int failing_sync(sqlite3_file *f, int flags)
{
  return failing_now() ? SQLITE_IOERR_FSYNC : failing_of(f)->pMethods->xSync(failing_of(f), flags);
}

static inline int failing_size(sqlite3_file *f, sqlite3_int64 *size)
{
  return failing_of(f)->pMethods->xFileSize(failing_of(f), size);
}

static inline int failing_lock(sqlite3_file *f, int level)
{
  return failing_of(f)->pMethods->xLock(failing_of(f), level);
}

static inline int failing_unlock(sqlite3_file *f, int level)
{
  return failing_of(f)->pMethods->xUnlock(failing_of(f), level);
}

static inline int failing_reserved(sqlite3_file *f, int *out)
{
  return failing_of(f)->pMethods->xCheckReservedLock(failing_of(f), out);
}

static inline int failing_control(sqlite3_file *f, int op, void *arg)
{
  return failing_of(f)->pMethods->xFileControl(failing_of(f), op, arg);
}

static inline int failing_sector(sqlite3_file *f)
{
  return failing_of(f)->pMethods->xSectorSize(failing_of(f));
}

static inline int failing_character(sqlite3_file *f)
{
  return failing_of(f)->pMethods->xDeviceCharacteristics(failing_of(f));
}

static const sqlite3_io_methods failing_methods = {
    .iVersion = 1,
    .xClose = failing_close,
    .xRead = failing_read,
    .xWrite = failing_write,
    .xTruncate = failing_truncate,
    .xSync = failing_sync,
    .xFileSize = failing_size,
    .xLock = failing_lock,
    .xUnlock = failing_unlock,
    .xCheckReservedLock = failing_reserved,
    .xFileControl = failing_control,
    .xSectorSize = failing_sector,
    .xDeviceCharacteristics = failing_character,
};

static inline int failing_open(sqlite3_vfs *vfs, const char *name, sqlite3_file *file, int flags,
                               int *out)
{
  failing_file *f = (failing_file *)(void *)file;
  (void)vfs;
  f->base.pMethods = NULL;
  f->real = calloc(1, (size_t)failing_real->szOsFile);
  const int code = failing_real->xOpen(failing_real, name, f->real, flags, out);
  if (code != SQLITE_OK) {
    free(f->real);
    return code;
  }
  f->base.pMethods = &failing_methods;
  return SQLITE_OK;
}

/* the removal of the journal is what makes a commit: it may fail too */
static inline int failing_delete(sqlite3_vfs *vfs, const char *name, int sync)
{
  (void)vfs;
  return failing_now() ? SQLITE_IOERR_DELETE : failing_real->xDelete(failing_real, name, sync);
}

static inline void failing_disk_install(void)
{
  failing_real = sqlite3_vfs_find(NULL);
  failing_vfs = *failing_real;
  failing_vfs.zName = "failing";
  failing_vfs.szOsFile = (int)sizeof(failing_file);
  failing_vfs.pNext = NULL;
  failing_vfs.xOpen = failing_open;
  failing_vfs.xDelete = failing_delete;
  sqlite3_vfs_register(&failing_vfs, 1);
}

#endif
