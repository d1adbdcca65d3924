/* verb_repeat.c: how good is it: repeated touches, with everything that can be seen in them. */
#include "foreseen_in.h"
#include "log_enter.h"
#include "repeat_parts.h"

#include <math.h>
#include <string.h>

static const tw_wanted wanted[REPEAT_COLUMNS] = {
    [REPEAT_READING] = {"reading", TW_LENGTH, true},
    [REPEAT_GROUP] = {"group", TW_LABEL, false},
    [REPEAT_FEED] = {"feed", TW_SPEED, false},
    [REPEAT_TIME] = {"time", TW_TIME, false},
    [REPEAT_TEMPERATURE] = {"temperature", TW_TEMPERATURE, false},
    [REPEAT_TRIP] = {"trip", TW_PURE, false},
    [REPEAT_POSITION] = {"position", TW_LABEL, false},
    [REPEAT_APPROACH] = {"approach", TW_LABEL, false},
};

/* ---- requirements
 * ----------------------------------------------------------------------------------- */

/* probability with which a requirement counts as proven, whatever the level of the intervals: ISO
 * 14253-1:2017, figure from memory */
#define TW_REQUIRED_LEVEL 0.95

/* "2s <= 5 um": name before the sign, limit behind it */
static bool split_requirement(tw_cli *cli, const char *text, char *name, size_t room,
                              const char **limit)
{
  const char *sign = strstr(text, "<=");
  size_t n = sign ? (size_t)(sign - text) : 0;
  while (n > 0 && text[n - 1] == ' ') {
    n--;
  }
  if (!sign || n == 0 || n >= room) {
    tw_cli_usage(cli, "--require: write it as \"2s <= 5 um\"");
    return false;
  }
  memcpy(name, text, n);
  name[n] = '\0';
  for (sign += 2; *sign == ' '; sign++) {
  }
  *limit = sign;
  return true;
}

/* the limit in the kind of unit that the figure has; zero or below cannot be kept by what is never
 * negative */
static bool read_limit(tw_cli *cli, const tw_figure_row *f, const char *text, double *limit)
{
  tw_units *units = tw_cli_units(cli);
  tw_unit unit;
  tw_quantity quantity;
  tw_fault fault = {0};
  if (!units || tw_units_find(units, f->shown, &unit, &fault) != TW_OK ||
      tw_quantity_read(units, text, &unit, &quantity, NULL, &fault) != TW_OK) {
    tw_cli_usage(cli, "--require: \"%s\": %s", f->name, fault.text);
    return false;
  }
  const bool above_zero = f->law.kind == TW_LAW_SPREAD || f->law.kind == TW_LAW_SHARE;
  if (above_zero && !(quantity.number > 0.0)) {
    tw_cli_usage(cli, "--require: \"%s\" is never below zero: no number of touches keeps \"%s\"",
                 f->name, text);
    return false;
  }
  *limit = quantity.number;
  return true;
}

/* every figure of that name is held against the limit */
static tw_exit decide_one(tw_repeat_job *j, const char *text)
{
  char name[64];
  const char *words;
  bool any = false;
  if (!split_requirement(j->cli, text, name, sizeof name, &words)) {
    return TW_EXIT_USAGE;
  }
  for (size_t i = 0; i < j->record->figures; i++) {
    tw_figure_row *f = &j->record->figure[i];
    tw_fault fault = {0};
    double limit;
    if (!tw_cli_figure_named(f, name)) {
      continue;
    }
    any = true;
    if (f->law.kind == TW_LAW_NONE) {
      return tw_cli_usage(j->cli,
                          "--require: no uncertainty is known for \"%s\", so it cannot be proven; "
                          "require s or 2s, or put it into a budget",
                          f->name);
    }
    if (f->has_decision) {
      return tw_cli_usage(j->cli, "--require: two limits for \"%s\"", f->name);
    }
    if (!read_limit(j->cli, f, words, &limit)) {
      return TW_EXIT_USAGE;
    }
    if (tw_figure_decide(f, -(double)INFINITY, limit, TW_REQUIRED_LEVEL, &fault) != TW_OK) {
      return tw_cli_fault(j->cli, &fault);
    }
  }
  return any ? TW_EXIT_DONE : tw_cli_usage(j->cli, "--require: no figure is called \"%s\"", name);
}

static tw_exit decide(tw_repeat_job *j)
{
  const char *text;
  tw_exit code = TW_EXIT_DONE;
  for (int k = 0; code == TW_EXIT_DONE && (text = tw_cli_text_at(j->cli, "require", k)); k++) {
    code = decide_one(j, text);
  }
  return code;
}

/* ---- verb
 * ------------------------------------------------------------------------------------------- */

static tw_exit foresee(tw_repeat_job *j)
{
  static const tw_foreseen_pair pair[] = {
      {"s", TW_M_repeatability_2s, 0.5},
      {"2s", TW_M_repeatability_2s, 1.0},
      {"4s", TW_M_repeatability_2s, 2.0},
      {"s, pooled", TW_M_repeatability_2s, 0.5},
      {"s about the line", TW_M_repeatability_2s, 0.5},
      {"apparent delay", TW_M_apparent_delay, 1.0},
  };
  return tw_cli_foreseen(j->cli, pair, sizeof pair / sizeof pair[0], j->record);
}

/* keep the rows that have a reading */
static tw_status gather(tw_repeat_job *j, tw_fault *fault)
{
  const double *reading = tw_recording_number(&j->in, REPEAT_READING);
  j->row = tw_alloc(j->in.table->rows, sizeof *j->row);
  j->reading = tw_alloc(j->in.table->rows, sizeof *j->reading);
  if (!j->row || !j->reading) {
    return tw_fail(fault, TW_NO_MEMORY, "", "", "out of memory");
  }
  for (size_t i = 0; reading && i < j->in.table->rows; i++) {
    if (isfinite(reading[i])) {
      j->row[j->n] = i;
      j->reading[j->n++] = reading[i];
    }
  }
  if (reading && j->n < j->in.table->rows) {
    tw_record_note(j->record, "%zu rows have no reading", j->in.table->rows - j->n);
  }
  return TW_OK;
}

static void conditions(tw_repeat_job *j)
{
  static const char *const keys[] = {"probe",  "stylus",           "artefact", "approach-distance",
                                     "filter", "temperature-note", "date",     "by"};
  tw_record_condition(j->record, "readings", j->in.file);
  if (tw_cli_has(j->cli, "lines")) {
    char words[80];
    snprintf(words, sizeof words, "%zu of %zu", j->in.table->rows, j->in.table->lines);
    tw_record_condition(j->record, "lines taken", words);
  }
  for (size_t k = 0; k < sizeof keys / sizeof keys[0]; k++) {
    const char *text = tw_cli_text(j->cli, keys[k], NULL);
    if (text) {
      tw_record_condition(j->record, keys[k], text);
    }
  }
  tw_record_caution(j->record,
                    "the result holds for this stylus, feed, approach, filter and direction");
  tw_record_caution(j->record, "a probe is never a safety device; local rules go first");
}

/* the readings in their order, for page and report */
static tw_status add_plot(tw_repeat_job *j, tw_fault *fault)
{
  double *at = tw_alloc(j->n, 2 * sizeof *at);
  if (!at) {
    return tw_fail(fault, TW_NO_MEMORY, "", "use fewer readings", "out of memory");
  }
  for (size_t k = 0; k < j->n; k++) {
    at[2 * k] = (double)(k + 1);
    at[2 * k + 1] = j->reading[k];
  }
  tw_record_plot(j->record, "readings in their order", "number", "reading, m", false, at, j->n);
  tw_free(at);
  return TW_OK;
}

static tw_status work(tw_repeat_job *j, tw_fault *fault)
{
  double nominal = 0.0;
  conditions(j);
  tw_status status = gather(j, fault);
  const bool placed = j->in.at[REPEAT_POSITION] >= 0;
  if (status == TW_OK && j->n > 0) {
    status = add_plot(j, fault);
    status = status == TW_OK ? tw_repeat_add_copies(j, fault) : status;
  }
  if (status == TW_OK && j->in.at[REPEAT_READING] >= 0 && !placed && j->in.at[REPEAT_FEED] < 0 &&
      j->in.at[REPEAT_TIME] < 0) {
    status = tw_repeat_add_groups(j, fault);
  }
  if (status == TW_OK && placed) {
    status = tw_repeat_add_positions(j, fault);
  }
  if (status == TW_OK && j->in.at[REPEAT_READING] >= 0 && j->in.at[REPEAT_FEED] >= 0) {
    if (!tw_cli_quantity(j->cli, "nominal", "mm", &nominal)) {
      return TW_CANCELLED;
    }
    status = j->in.at[REPEAT_GROUP] >= 0 ? tw_repeat_add_groups(j, fault) : TW_OK;
    status = status == TW_OK ? tw_repeat_add_feed(j, nominal, fault) : status;
  }
  if (status == TW_OK && j->in.at[REPEAT_READING] >= 0 && j->in.at[REPEAT_TIME] >= 0) {
    status = tw_repeat_add_drift(j, fault);
  }
  return status == TW_OK && j->in.at[REPEAT_TRIP] >= 0 ? tw_repeat_add_trips(j, fault) : status;
}

static tw_exit print(tw_repeat_job *j)
{
  char *text = NULL;
  tw_fault fault = {0};
  if (tw_cli_has(j->cli, "json")) {
    json_t *document = tw_document_new("repeat");
    json_object_set_new(document, "readings", json_integer((json_int_t)j->n));
    if (json_object_set_new(document, "record", tw_json_record(j->record)) != 0) {
      json_decref(document);
      document = NULL;
    }
    return tw_cli_print_json(j->cli, document);
  }
  if (tw_record_text(j->record, &text, &fault) != TW_OK) {
    return tw_cli_fault(j->cli, &fault);
  }
  return tw_cli_write(j->cli, "out", text);
}

static tw_exit run(tw_cli *cli)
{
  tw_repeat_job j = {.cli = cli, .prefix = "", .level = 0.95};
  if (!tw_cli_log_options(cli)) {
    return TW_EXIT_USAGE;
  }
  if (!tw_cli_number(cli, "level", 0.5, 0.9999, &j.level)) {
    return TW_EXIT_USAGE;
  }
  if (!tw_cli_has(cli, "reading") && !tw_cli_has(cli, "trip")) {
    return tw_cli_usage(cli, "name the column with the readings: --reading z_mm (or --trip)");
  }
  if (tw_cli_has(cli, "position") != tw_cli_has(cli, "approach")) {
    return tw_cli_usage(cli, "--position and --approach go together");
  }
  tw_exit code = tw_cli_recording(cli, cli->operand[0], wanted, REPEAT_COLUMNS, &j.in);
  if (code != TW_EXIT_DONE) {
    return code;
  }
  tw_fault fault = {0};
  j.record = tw_record_new(tw_cli_text(cli, "title", "Repeatability"));
  tw_status status = j.record ? work(&j, &fault) : TW_OK;
  if (!j.record || (status == TW_OK && !tw_record_whole(j.record))) {
    status = tw_fail(&fault, TW_NO_MEMORY, "", "use fewer readings", "out of memory");
  }
  code = status == TW_CANCELLED ? TW_EXIT_USAGE
         : status != TW_OK      ? tw_cli_fault(cli, &fault)
                                : foresee(&j);
  code = code == TW_EXIT_DONE ? decide(&j) : code;
  code = code == TW_EXIT_DONE ? print(&j) : code;
  if (code == TW_EXIT_DONE) {
    tw_log_entering *e = tw_cli_log_begin(cli);
    tw_cli_log_record(e, "repeat", j.record);
    code = tw_cli_log_enter(cli, e, cli->operand[0]);
  }
  bool any = false;
  if (code == TW_EXIT_DONE && tw_record_verdict(j.record, &any) != TW_PROVEN && any) {
    code = TW_EXIT_NOT_MET;
  }
  tw_record_free(j.record);
  tw_readings_free(j.in.table);
  tw_free(j.row);
  tw_free(j.reading);
  return code;
}

static const tw_option options[] = {
    {"reading", "COLUMN", "the readings (NAME or NAME:UNIT); an empty field is a missing reading",
     false},
    {"group", "COLUMN", "direction, feed or condition: figures for each, and pooled", false},
    {"feed", "COLUMN", "the feed of each touch: also the delay, and trips by feed", false},
    {"nominal", "LENGTH", "what a reading without error would be", false},
    {"time", "COLUMN", "drift against time", false},
    {"temperature", "COLUMN", "and against temperature", false},
    {"trip", "COLUMN", "1 tripped, 0 missed, 2 tripped before contact", false},
    {"position", "COLUMN", "positions of a run after the method of ISO 230-2", false},
    {"approach", "COLUMN", "up or down, with --position", false},
    {"level", "SHARE", "of the intervals (default 0.95)", false},
    {"require", "\"2s <= 5 um\"", "decide after ISO 14253-1; may be repeated", true},
    TW_FORESEEN_OPTION,
    {"title", "TEXT", "of the record", false},
    {"probe", "TEXT", "conditions that the record carries", false},
    {"stylus", "TEXT", "the same", false},
    {"artefact", "TEXT", "the same", false},
    {"approach-distance", "TEXT", "the same", false},
    {"filter", "TEXT", "the same", false},
    {"temperature-note", "TEXT", "the same", false},
    {"date", "TEXT", "the same", false},
    {"by", "TEXT", "the same", false},
    {"out", "FILE", "write the record there", false},
    TW_LOG_ENTER_OPTIONS,
    TW_TABLE_OPTIONS,
    {NULL, NULL, NULL, false},
};

const tw_verb tw_verb_repeat = {
    .name = "repeat",
    .operands = "FILE",
    .least = 1,
    .most = 1,
    .summary = "repeatability from repeated touches: s, 2s, 4s, range, delay, drift, trips",
    .details = "Every figure carries its formula. Odd readings, trends, jumps and a limiting "
               "resolution are shown, nothing is dropped. The text is a one-page record.",
    .options = options,
    .takes = TW_TAKES_JSON,
    .run = run,
};
