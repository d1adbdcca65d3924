/* A log of 10,000 units with 50 readings each: opening, adding one, and each question; the same
 * rows asked by Python's sqlite3 and json in one run. Processor seconds, least of five (adding one:
 * by the clock, since it waits for the disk); CSV: what, rows, ours, theirs, ratio. With a FOLDER
 * the log is left there. */
#include "tripwright/logbook_ask.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

enum { UNITS = 10000, READINGS = 50, ROUNDS = 5, BATCH = 5600 };

static char folder[64], path[128];

static double clock_of(clockid_t id)
{
  struct timespec t;
  clock_gettime(id, &t);
  return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static double now(void)
{
  return clock_of(CLOCK_PROCESS_CPUTIME_ID);
}

/* ---- the log --------------------------------------------------------------------------------- */

static tw_log_draft draft[BATCH];
static char unit_name[BATCH][8];
static size_t drafts;

static void add(tw_logbook *log, const char *kind, const char *unit, json_t *body)
{
  snprintf(unit_name[drafts], sizeof unit_name[0], "%.7s", unit);
  draft[drafts] = (tw_log_draft){
      .kind = kind, .unit = unit_name[drafts], .at = "2026-03-02T08:00:00Z", .body = body};
  drafts++;
  if (drafts == BATCH) {
    tw_fault fault = {0};
    if (tw_logbook_append(log, draft, drafts, NULL, &fault) != TW_OK) {
      fprintf(stderr, "%s\n", fault.text);
      exit(1);
    }
    while (drafts) {
      json_decref((json_t *)(uintptr_t)draft[--drafts].body);
    }
  }
}

/* a unit: begun, a disc of a lot, 50 readings, three tests, shipped: 56 entries */
static void fill(tw_logbook *log)
{
  for (int u = 0; u < UNITS; u++) {
    char unit[8], lot[8], name[32];
    snprintf(unit, sizeof unit, "%05d", u);
    snprintf(lot, sizeof lot, "L%d", u / 250);
    add(log, "unit", unit, json_pack("{s:s}", "revision", u < UNITS / 2 ? "2" : "3"));
    add(log, "fitted", unit, json_pack("{s:s, s:s}", "lot", lot, "part", "disc"));
    for (int r = 0; r < READINGS; r++) {
      snprintf(name, sizeof name, r ? "check_%d" : "trip_force_side", r);
      add(log, "reading", unit,
          json_pack("{s:s, s:f, s:s, s:s, s:f, s:f, s:f}", "measure", name, "value",
                    0.1 + 1e-5 * ((u * 37 + r) % 1000), "unit_of_value", "N", "instrument",
                    r == 7 && u % 100 == 0 ? "meter 3" : "meter 1", "u", 0.002, "foreseen", 0.105,
                    "u_foreseen", 0.003));
    }
    for (int t = 0; t < 3; t++) {
      add(log, "test", unit,
          json_pack("{s:s, s:b}", "step", t ? t == 1 ? "trip" : "final" : "bench", "passed",
                    (u * 7 + t) % 11 != 0));
    }
    add(log, u % 50 ? "shipped" : "note", unit, json_pack("{s:s}", "note", "as it stands"));
  }
  draft[0] = (tw_log_draft){
      .kind = "event",
      .body = json_pack("{s:s, s:s}", "what", "found wrong", "instrument_wrong", "meter 3")};
  tw_logbook_append(log, draft, 1, NULL, NULL);
}

/* ---- the questions --------------------------------------------------------------------------- */

static bool count_one(void *self, const tw_log_entry *entry)
{
  (void)entry;
  ++*(size_t *)self;
  return true;
}

static size_t each(tw_logbook *log, tw_log_filter filter)
{
  size_t count = 0;
  filter.current = true;
  tw_logbook_each(log, &filter, count_one, &count, NULL);
  return count;
}

static size_t pieces(tw_logbook *log)
{
  tw_log_piece *rows = NULL;
  size_t count = 0;
  tw_logbook_pieces(log, &(tw_log_filter){.measure = "trip_force_side", .revision = "3"}, &rows,
                    &count, NULL);
  tw_free(rows);
  return count;
}

static size_t yield(tw_logbook *log)
{
  tw_log_yield *rows = NULL;
  size_t count = 0;
  tw_logbook_yield(log, true, &rows, &count, NULL);
  tw_free(rows);
  return count;
}

static size_t open_units(tw_logbook *log)
{
  tw_log_open *rows = NULL;
  size_t count = 0;
  tw_logbook_open_units(log, &rows, &count, NULL);
  tw_free(rows);
  return count;
}

static size_t ask(tw_logbook *log, int k)
{
  switch (k) {
  case 0:
    return each(log, (tw_log_filter){.unit = "04711"});
  case 1:
    return each(log, (tw_log_filter){.lot = "L17", .kind = "fitted"});
  case 2:
    return pieces(log);
  case 3:
    return each(log, (tw_log_filter){.wrong_instrument = true});
  case 4:
    return each(log, (tw_log_filter){.instrument = "meter 3"});
  case 5:
    return yield(log);
  default:
    return open_units(log);
  }
}

static const struct {
  const char *what, *python; /* the same rows, body read */
} questions[] = {
    {"history of a unit", "select body from entry where unit='04711' order by clock"},
    {"units with discs of a lot", "select body from entry where kind='fitted' and "
                                  "json_extract(body,'$.lot')='L17' order by clock"},
    {"trip force of a revision",
     "select body from entry where json_extract(body,'$.measure')='trip_force_side' and unit in "
     "(select unit from entry where json_extract(body,'$.revision')='3') order by clock"},
    {"read with an instrument found wrong",
     "select body from entry where json_extract(body,'$.instrument')='meter 3' order by clock"},
    {"read with one instrument",
     "select body from entry where json_extract(body,'$.instrument')='meter 3' order by clock"},
    {"first-pass yield by step and month",
     "select body from entry where kind in ('test','adjustment') order by unit, clock"},
    {"open units",
     "select body from entry where kind in ('unit','test','shipped','returned') order by unit"},
};
enum { QUESTIONS = sizeof questions / sizeof questions[0] };

/* seconds of the least of five, in Python */
static double by_python(const char *sql)
{
  char command[1200];
  double seconds = NAN;
  snprintf(
      command, sizeof command,
      "/usr/bin/python3 -c \"\nimport sqlite3, json, time\nc = sqlite3.connect('%s')\nbest = 9\n"
      "for k in range(%d):\n  t = time.process_time()\n"
      "  rows = [json.loads(r[0]) for r in c.execute('''%s''')]\n"
      "  best = min(best, time.process_time() - t)\nprint(best)\n\"",
      path, ROUNDS, sql);
  FILE *f = popen(command, "r");
  if (f) {
    if (fscanf(f, "%lf", &seconds) != 1) {
      seconds = NAN;
    }
    pclose(f);
  }
  return seconds;
}

static tw_logbook *open_log(bool write)
{
  tw_logbook *log = NULL;
  tw_fault fault = {0};
  const tw_logbook_options options = {
      .write = write, .create = write, .anywhere = true, .state = folder};
  if (tw_logbook_open(path, &options, &log, &fault) != TW_OK) {
    fprintf(stderr, "%s\n", fault.text);
    exit(1);
  }
  return log;
}

static double time_opening(void)
{
  double best = HUGE_VAL;
  for (int k = 0; k < ROUNDS; k++) {
    const double start = now();
    tw_logbook *log = open_log(false);
    (void)each(log, (tw_log_filter){.id = "abcdef"});
    best = fmin(best, now() - start);
    tw_logbook_close(log);
  }
  return best;
}

static double time_adding(void)
{
  double best = HUGE_VAL;
  tw_logbook *log = open_log(true);
  json_t *body = json_pack("{s:s}", "note", "one more");
  for (int k = 0; k < ROUNDS; k++) {
    const tw_log_draft one = {.kind = "note", .unit = "00007", .body = body};
    const double start = clock_of(CLOCK_MONOTONIC);
    tw_logbook_append(log, &one, 1, NULL, NULL);
    best = fmin(best, clock_of(CLOCK_MONOTONIC) - start);
  }
  json_decref(body);
  tw_logbook_close(log);
  return best;
}

int main(int argc, char **argv)
{
  snprintf(folder, sizeof folder, "%s", argc > 1 ? argv[1] : "/tmp/tripwright-bench-XXXXXX");
  if (argc < 2 && !mkdtemp(folder)) {
    return 1;
  }
  snprintf(path, sizeof path, "%s/log.db", folder);
  printf("what,rows,ours_s,python_s,ratio\n");
  double start = now();
  tw_logbook *log = open_log(true);
  fill(log);
  printf("writing %d entries,%zu,%.4g,,\n", UNITS * (READINGS + 6), tw_logbook_count(log),
         now() - start);
  tw_logbook_close(log);
  printf("opening,1,%.4g,,\n", time_opening());
  printf("adding one,1,%.4g,,\n", time_adding());
  log = open_log(false);
  for (int k = 0; k < QUESTIONS; k++) {
    double best = HUGE_VAL;
    size_t rows = 0;
    for (int round = 0; round < ROUNDS; round++) {
      start = now();
      rows = ask(log, k);
      best = fmin(best, now() - start);
    }
    const double theirs = by_python(questions[k].python);
    printf("%s,%zu,%.4g,%.4g,%.3g\n", questions[k].what, rows, best, theirs, theirs / best);
    fflush(stdout);
  }
  tw_logbook_close(log);
  char command[128];
  snprintf(command, sizeof command, "rm -rf '%s'", folder);
  return argc > 1 ? 0 : system(command);
}
