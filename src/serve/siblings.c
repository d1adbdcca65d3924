/* siblings.c: other designs beside the one that is served, by name. */
#include "siblings.h"

#include <dirent.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

/* "a/b/probe.yaml" -> length of "a/b/" */
static size_t folder_length(const char *path)
{
  const char *slash = strrchr(path, '/');
  return slash ? (size_t)(slash - path) + 1 : 0;
}

static bool is_design_name(const char *name)
{
  const char *dot = strrchr(name, '.');
  return name[0] != '.' && strlen(name) < TW_SIBLING_NAME && dot &&
         (strcmp(dot, ".yaml") == 0 || strcmp(dot, ".yml") == 0) && strcmp(name, "shop.yaml") != 0;
}

/* a file itself, not a link that leads elsewhere */
static bool is_plain_file(const char *folder, size_t length, const char *name)
{
  char path[4096];
  struct stat about;
  const int used = snprintf(path, sizeof path, "%.*s%s", (int)length, folder, name);
  return used > 0 && (size_t)used < sizeof path && lstat(path, &about) == 0 &&
         S_ISREG(about.st_mode);
}

static int by_name(const void *a, const void *b)
{
  return strcmp(a, b);
}

void tw_siblings_list(const char *path, tw_siblings *out)
{
  const size_t length = folder_length(path);
  char folder[4096];
  *out = (tw_siblings){0};
  if (length >= sizeof folder) {
    return;
  }
  snprintf(folder, sizeof folder, "%.*s", (int)length, path);
  DIR *directory = opendir(length ? folder : ".");
  const struct dirent *entry;
  while (directory && out->count < TW_SIBLINGS_MOST && (entry = readdir(directory)) != NULL) {
    if (is_design_name(entry->d_name) && strcmp(entry->d_name, path + length) != 0 &&
        is_plain_file(folder, length, entry->d_name)) {
      snprintf(out->name[out->count++], TW_SIBLING_NAME, "%.*s", TW_SIBLING_NAME - 1,
               entry->d_name);
    }
  }
  if (directory) {
    closedir(directory);
  }
  qsort(out->name, out->count, sizeof out->name[0], by_name);
}

json_t *tw_siblings_json(const tw_siblings *siblings)
{
  json_t *list = json_array();
  for (size_t i = 0; i < siblings->count; i++) {
    json_t *name = json_string(siblings->name[i]); /* NULL when it is no UTF-8: left out */
    if (name) {
      json_array_append_new(list, name);
    }
  }
  return list;
}

bool tw_siblings_path(const tw_siblings *siblings, const char *path, const char *name, char *out,
                      size_t size)
{
  for (size_t i = 0; i < siblings->count; i++) {
    if (strcmp(siblings->name[i], name) == 0) {
      const int used =
          snprintf(out, size, "%.*s%s", (int)folder_length(path), path, siblings->name[i]);
      return used > 0 && (size_t)used < size;
    }
  }
  return false;
}
