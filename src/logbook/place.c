/* place.c: is the folder one in which a data base is safe? docs/models/logbook.md 2. */
#define _XOPEN_SOURCE 700 /* realpath */
#include "inside.h"

#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/vfs.h>
#include <unistd.h>

/* names that programs for syncing give the folder that they sync, or a mark in it (common practice,
 * no source) */
static const char *const folder_name[] = {
    "Dropbox",          "Nextcloud", "ownCloud", "OneDrive", "Google Drive", "iCloud Drive",
    "Mobile Documents", "Syncthing", "Seafile",  "MEGA",     "pCloud Drive"};
static const char *const mark[] = {".stfolder",        ".dropbox",      ".owncloudsync.log",
                                   ".sync_journal.db", ".seafile-data", ".tresorit"};

/* file systems whose locks reach only one machine, or not even that: numbers of statfs(2), Linux */
static const struct {
  unsigned long magic;
  const char *name;
} network[] = {{0x6969, "NFS"},      {0xff534d42, "CIFS"}, {0xfe534d42, "SMB2"},
               {0x517b, "SMB"},      {0x5346414f, "AFS"},  {0x6b414653, "AFS"},
               {0x73757245, "Coda"}, {0x00c36400, "Ceph"}, {0x65735546, "FUSE"}};

static tw_status refuse(const char *file, const char *sign, tw_fault *fault)
{
  return tw_fail(
      fault, TW_BAD_INPUT, "",
      "keep the log in a folder of this machine; tripwright log share FOLDER passes "
      "entries on through a synced folder",
      "%.100s: the folder looks synced or shared (%.60s), and a log written there can be "
      "damaged",
      file, sign);
}

/* one folder on the way to the root */
static const char *sign_of(const char *folder)
{
  const char *slash = strrchr(folder, '/'), *name = slash ? slash + 1 : folder;
  for (size_t i = 0; i < sizeof folder_name / sizeof folder_name[0]; i++) {
    if (strncmp(name, folder_name[i], strlen(folder_name[i])) == 0) {
      return folder_name[i];
    }
  }
  for (size_t i = 0; i < sizeof mark / sizeof mark[0]; i++) {
    char path[PATH_MAX + 32];
    snprintf(path, sizeof path, "%s/%s", folder, mark[i]);
    if (access(path, F_OK) == 0) {
      return mark[i];
    }
  }
  return NULL;
}

static const char *network_of(const char *folder)
{
  struct statfs about;
  if (statfs(folder, &about) != 0) {
    return NULL;
  }
  for (size_t i = 0; i < sizeof network / sizeof network[0]; i++) {
    if (((unsigned long)about.f_type & 0xffffffffUL) == network[i].magic) {
      return network[i].name;
    }
  }
  return NULL;
}

tw_status tw_logbook_place(const char *file, tw_fault *fault)
{
  char real[PATH_MAX], folder[PATH_MAX];
  const char *slash = strrchr(file, '/');
  snprintf(folder, sizeof folder, "%.*s", slash ? (int)(slash - file) + 1 : 1, slash ? file : ".");
  if (!realpath(folder, real)) {
    return TW_OK; /* opening says what is wrong with it */
  }
  const char *sign = network_of(real);
  for (char *end = real; !sign && real[0];) {
    sign = sign_of(real);
    end = strrchr(real, '/');
    if (!end) {
      break;
    }
    *end = '\0';
  }
  return sign ? refuse(file, sign, fault) : TW_OK;
}
