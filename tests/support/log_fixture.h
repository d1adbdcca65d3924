/* log_fixture.h: a folder of its own for the logs of a test, and entries to put into them. */
#ifndef TW_TEST_LOG_FIXTURE_H
#define TW_TEST_LOG_FIXTURE_H

#include "near.h"
#include "tripwright/logbook.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static char log_folder[64];

/* a path in the folder; eight are remembered */
static inline const char *log_path(const char *name)
{
  static char path[8][128];
  static int next;
  char *p = path[next++ % 8];
  snprintf(p, sizeof path[0], "%s/%s", log_folder, name);
  return p;
}

static inline int log_set_up(void **state)
{
  (void)state;
  /* in memory where there is such a place: a sync of the disk takes 10 ms and proves nothing here
   */
  snprintf(log_folder, sizeof log_folder, "%s/tripwright-log-XXXXXX",
           access("/dev/shm", W_OK) == 0 ? "/dev/shm" : "/tmp");
  if (!mkdtemp(log_folder)) {
    return -1;
  }
  return setenv("TRIPWRIGHT_STATE", log_path("state"), 1);
}

static inline int log_tear_down(void **state)
{
  (void)state;
  char command[128];
  snprintf(command, sizeof command, "rm -rf '%s'", log_folder);
  return system(command);
}

static inline tw_logbook *log_open_as(const char *name, bool write, const char *state)
{
  tw_logbook *log = NULL;
  tw_fault fault = {0};
  const tw_logbook_options options = {
      .write = write, .create = write, .anywhere = true, .state = state};
  if (tw_logbook_open(strcmp(name, ":memory:") ? log_path(name) : name, &options, &log, &fault) !=
      TW_OK) {
    fail_msg("%s: %s", name, fault.text);
  }
  return log;
}

static inline tw_logbook *log_open(const char *name, bool write)
{
  return log_open_as(name, write, NULL);
}

static inline json_t *log_reading(const char *measure, double value)
{
  return json_pack("{s:s, s:f, s:s}", "measure", measure, "value", value, "unit_of_value", "N");
}

/* one reading; what append says */
static inline tw_status log_try(tw_logbook *log, const char *unit, double value,
                                char id[TW_SHA256_TEXT], tw_fault *fault)
{
  json_t *body = log_reading("trip_force_side", value);
  char ids[1][TW_SHA256_TEXT] = {""};
  const tw_log_draft draft = {.kind = "reading", .unit = unit, .body = body};
  const tw_status status = tw_logbook_append(log, &draft, 1, ids, fault);
  json_decref(body);
  if (id) {
    memcpy(id, ids[0], sizeof ids[0]);
  }
  return status;
}

static inline void log_put(tw_logbook *log, const char *unit, double value, char id[TW_SHA256_TEXT])
{
  tw_fault fault = {0};
  if (log_try(log, unit, value, id, &fault) != TW_OK) {
    fail_msg("%s", fault.text);
  }
}

/* what `log check` finds wrong */
static inline size_t log_troubles(tw_logbook *log)
{
  tw_messages *messages = tw_messages_new();
  tw_log_health health;
  tw_fault fault = {0};
  if (tw_logbook_check(log, messages, &health, &fault) != TW_OK) {
    fail_msg("%s", fault.text);
  }
  tw_messages_free(messages);
  return health.troubles;
}

static inline char *log_file_text(const char *path, size_t *length)
{
  FILE *f = fopen(path, "rb");
  assert_non_null(f);
  fseek(f, 0, SEEK_END);
  *length = (size_t)ftell(f);
  rewind(f);
  char *text = malloc(*length + 1);
  assert_int_equal(fread(text, 1, *length, f), *length);
  text[*length] = '\0';
  fclose(f);
  return text;
}

/* one number for what a log says, whatever the order in which it came: the SHA-256 of its lines
 * sorted by id */
static inline int log_by_text(const void *a, const void *b)
{
  return strcmp(*(const char *const *)a, *(const char *const *)b);
}

static inline void log_digest(tw_logbook *log, char sum[TW_SHA256_TEXT])
{
  tw_messages *messages = tw_messages_new();
  size_t lines = 0, length = 0, n = 0;
  const char *file = log_path("digest.jsonl");
  assert_int_equal(tw_logbook_export(log, file, messages, &lines, NULL), TW_OK);
  tw_messages_free(messages);
  char *text = log_file_text(file, &length), **line = calloc(lines + 1, sizeof *line);
  for (char *at = strtok(text, "\n"); at; at = strtok(NULL, "\n")) {
    line[n++] = at;
  }
  assert_int_equal(n, lines);
  qsort(line, n, sizeof *line, log_by_text);
  char *all = calloc(length + 1, 1), *end = all;
  for (size_t i = 0; i < n; i++) {
    end += sprintf(end, "%s\n", line[i]);
  }
  tw_sha256(all, (size_t)(end - all), sum);
  free(all);
  free(line);
  free(text);
}

#endif
