/* page_study.c: a study by name with options in JSON: read, run, and its document. */
#include "page_study_ask.h"

#include <stdio.h>
#include <string.h>

enum {
  POINTS_ONE = 21,
  POINTS_TWO = 11,
  POINTS_MOST = 201,
  GRID_MOST = 41, /* of each of two ranges */
  BUILDS = 200,
  BUILDS_MOST = 100000,
  CHECKS = 200, /* builds on which the fast level is held against the engine */
  LOT_MOST = 200,
  ROWS_LEAST = 16,
  ROWS_MOST = 4096,
  BUDGET_MOST = 100000
};

/* one design opened as a study, and who looks on */
typedef struct opened {
  tw_limits limits;
  tw_measure_set wanted;
  tw_study *study;
  tw_run_watch watch;
} opened;

/* ---- opening --------------------------------------------------------------------------------- */

static tw_status read_level(const json_t *ask, tw_study_level *level, tw_fault *fault)
{
  size_t azimuths = 0;
  *level = (tw_study_level){0};
  tw_status status = tw_ask_count(ask, "azimuths", 3, 360, 8, &azimuths, fault);
  level->azimuths = (int)azimuths;
  status = status == TW_OK ? tw_ask_flag(ask, "timed", &level->timed, fault) : status;
  return status == TW_OK ? tw_ask_flag(ask, "map", &level->map, fault) : status;
}

static tw_status read_limits(const tw_design *design, tw_units *units, tw_limits *limits,
                             tw_fault *fault)
{
  tw_messages *messages = tw_messages_new();
  if (!messages) {
    return tw_fail(fault, TW_NO_MEMORY, "", "", "no memory for messages");
  }
  const tw_status status = tw_limits_read(design, units, messages, limits);
  if (status != TW_OK) {
    const tw_message *first = tw_messages_count(messages) > 0 ? tw_messages_at(messages, 0) : NULL;
    tw_fail(fault, status, first && first->field ? first->field : "requirements", "", "%s",
            first ? first->text : "a requirement cannot be read");
  }
  tw_messages_free(messages);
  return status;
}

/* builds are evaluated for what a requirement asks for; without any, or when asked, for all */
static const tw_measure_set *asked_for(opened *o, bool all)
{
  bool any = false;
  for (int i = 0; i < TW_MEASURE_COUNT; i++) {
    o->wanted.has[i] = o->limits.of[i].given;
    any = any || o->wanted.has[i];
  }
  return any && !all ? &o->wanted : NULL;
}

static tw_status open_study(const tw_design *design, const tw_page_options *options, opened *o,
                            tw_fault *fault)
{
  tw_study_level level;
  bool all = false;
  o->watch = (tw_run_watch){options->progress, options->partial};
  tw_status status = read_level(options->ask, &level, fault);
  status = status == TW_OK ? tw_ask_flag(options->ask, "all", &all, fault) : status;
  if (status == TW_OK) {
    status = read_limits(design, options->units, &o->limits, fault);
  }
  if (status == TW_OK) {
    level.wanted = asked_for(o, all);
    status = tw_study_new(design, options->units, &o->limits, &level, &o->study, fault);
  }
  return status;
}

/* requirements that this level does not compute are never passed over in silence */
static json_t *left_out(const opened *o)
{
  json_t *list = json_array();
  for (int i = 0; i < TW_MEASURE_COUNT; i++) {
    const tw_measure_info *about = tw_measure_about((tw_measure_id)i);
    if (o->limits.of[i].given && tw_study_output(o->study, (tw_measure_id)i) == SIZE_MAX) {
      json_array_append_new(list, json_pack("{s:s, s:s}", "measure", about->name, "needs",
                                            about->needs == TW_NEEDS_MAP     ? "map"
                                            : about->needs == TW_NEEDS_TIMED ? "timed"
                                                                             : ""));
    }
  }
  return list;
}

static tw_status needs_goals(const opened *o, tw_fault *fault)
{
  return o->study->goals > 0
             ? TW_OK
             : tw_fail(fault, TW_BAD_INPUT, "requirements", "state one under requirements",
                       "the file has no requirement that this study computes");
}

/* ---- the studies ----------------------------------------------------------------------------- */

typedef tw_status study_fn(opened *o, const tw_page_options *options, json_t **out,
                           tw_fault *fault);

static tw_status vary(opened *o, const tw_page_options *options, json_t **out, tw_fault *fault)
{
  static const char *const known[] = {"fields", "points", "log", NULL};
  const json_t *ask = options->ask;
  const char *text[TW_ASK_NAMES];
  double values[2][TW_RUN_COUNTS];
  tw_range range[2];
  size_t count = 0, points = 0;
  bool logarithmic = false;
  tw_status status = tw_ask_known(ask, known, fault);
  status = status == TW_OK ? tw_ask_texts(ask, "fields", text, &count, fault) : status;
  if (status == TW_OK && (count < 1 || count > 2)) {
    status = tw_fail(fault, TW_BAD_INPUT, "study.fields", "such as preload.force=0.4..1.2N",
                     "name one field with its range, or two");
  }
  if (status == TW_OK) {
    status = tw_ask_count(ask, "points", 2, count == 2 ? GRID_MOST : POINTS_MOST,
                          count == 2 ? POINTS_TWO : POINTS_ONE, &points, fault);
  }
  status = status == TW_OK ? tw_ask_flag(ask, "log", &logarithmic, fault) : status;
  for (size_t i = 0; i < count && status == TW_OK; i++) {
    tw_field field;
    double from, to;
    status = tw_run_range_read(options->units, text[i], &field, &from, &to, fault);
    if (status == TW_OK) {
      status =
          tw_run_range(o->study, field, from, to, points, logarithmic, values[i], &range[i], fault);
    }
    status = tw_ask_blame("fields", status, fault);
  }
  if (status == TW_OK && count == 2 && range[0].input == range[1].input) {
    status = tw_fail(fault, TW_BAD_INPUT, "study.fields", "", "name two different fields");
  }
  return status == TW_OK ? tw_run_vary(o->study, range, (int)count, &o->watch, out, fault) : status;
}

/* how many builds, of which seed, by which level */
static tw_status read_spread(const json_t *ask, tw_run_spread_ask *out, tw_fault *fault)
{
  size_t seed = 0;
  bool fast = false;
  tw_status status = tw_ask_count(ask, "builds", 1, BUILDS_MOST, BUILDS, &out->builds, fault);
  if (status != TW_OK && json_integer_value(json_object_get(ask, "builds")) > 0) {
    snprintf(fault->hint, sizeof fault->hint,
             "tripwright spread --study FILE takes more and can be stopped and taken up again");
  }
  status = status == TW_OK ? tw_ask_count(ask, "seed", 0, 2147483647, 1, &seed, fault) : status;
  status = status == TW_OK ? tw_ask_flag(ask, "fast", &fast, fault) : status;
  status = status == TW_OK ? tw_ask_flag(ask, "as_built", &out->as_built, fault) : status;
  status = status == TW_OK && json_integer_value(json_object_get(ask, "pair")) != 0
               ? tw_ask_count(ask, "pair", 2, LOT_MOST, 0, &out->lot, fault)
               : status;
  if (status == TW_OK && out->lot > 0 && (fast || out->as_built)) {
    status = tw_fail(fault, TW_BAD_INPUT, "study.pair", "choose one of them",
                     "pairing needs the engine, and the batch as it can be set right");
  }
  out->seed = seed;
  out->checks = fast ? CHECKS : 0;
  return status;
}

static tw_status spread(opened *o, const tw_page_options *options, json_t **out, tw_fault *fault)
{
  static const char *const known[] = {"builds", "seed", "fast", "as_built", "pair", NULL};
  tw_run_spread_ask ask = {.builds = 0};
  tw_status status = tw_ask_known(options->ask, known, fault);
  status = status == TW_OK ? read_spread(options->ask, &ask, fault) : status;
  status = status == TW_OK ? tw_run_spread(o->study, &ask, &o->watch, out, fault) : status;
  return ask.lot > 0 ? tw_ask_blame("pair", status, fault) : status;
}

static tw_status add_fields(tw_study *study, const char *const *path, size_t count, tw_fault *fault)
{
  for (size_t i = 0; i < count; i++) {
    size_t input;
    const tw_field field = tw_field_find(path[i]);
    if (field == TW_FIELD_COUNT) {
      return tw_fail(fault, TW_BAD_INPUT, "study.fields", "", "there is no field \"%.60s\"",
                     path[i]);
    }
    const tw_status status = tw_study_add(study, field, &input, fault);
    if (status != TW_OK) {
      return tw_ask_blame("fields", status, fault);
    }
  }
  return TW_OK;
}

static tw_status drivers(opened *o, const tw_page_options *options, json_t **out, tw_fault *fault)
{
  static const char *const known[] = {"fields", "global", NULL};
  const char *path[TW_ASK_NAMES];
  size_t count = 0, rows = 0;
  tw_status status = tw_ask_known(options->ask, known, fault);
  status = status == TW_OK ? tw_ask_texts(options->ask, "fields", path, &count, fault) : status;
  if (status == TW_OK && json_integer_value(json_object_get(options->ask, "global")) != 0) {
    status = tw_ask_count(options->ask, "global", ROWS_LEAST, ROWS_MOST, 0, &rows, fault);
  } else if (status == TW_OK) {
    status = tw_ask_count(options->ask, "global", 0, 0, 0, &rows, fault);
  }
  status = status == TW_OK ? needs_goals(o, fault) : status;
  status = status == TW_OK ? add_fields(o->study, path, count, fault) : status;
  if (status == TW_OK && (rows > 0 || count == 0)) {
    status = tw_study_add_toleranced(o->study, fault);
  }
  tw_run_drivers d = {0};
  if (status == TW_OK) {
    status = tw_run_drivers_make(o->study, rows, &o->watch, &d, fault);
  }
  if ((status == TW_OK || status == TW_CANCELLED) && d.slope) {
    *out = tw_run_drivers_document(o->study, &d);
  }
  tw_run_drivers_free(&d);
  return status;
}

static tw_status read_names(const tw_design *design, const json_t *ask, const char *name,
                            const char **out, size_t *count, tw_fault *fault)
{
  const tw_status status = tw_ask_texts(ask, name, out, count, fault);
  for (size_t i = 0; status == TW_OK && i < *count; i++) {
    if (!tw_run_part_known(design, out[i])) {
      tw_fail(fault, TW_BAD_INPUT, "", "", "there is no part and no field \"%.60s\"", out[i]);
      return tw_ask_blame(name, TW_BAD_INPUT, fault);
    }
  }
  return status;
}

static tw_status read_remedy(const json_t *ask, tw_run_remedy *how, tw_fault *fault)
{
  *how = tw_run_remedy_defaults();
  tw_status status =
      tw_ask_count(ask, "builds", 10, BUILDS_MOST, (long)how->builds, &how->builds, fault);
  if (status == TW_OK) {
    status = tw_ask_count(ask, "budget", 10, BUDGET_MOST, (long)how->budget, &how->budget, fault);
  }
  if (status == TW_OK) {
    status =
        tw_ask_count(ask, "wanted", 1, TW_REMEDIES_MOST, (long)how->wanted, &how->wanted, fault);
  }
  how->strict = json_object_get(ask, "safety");
  status = status == TW_OK ? tw_ask_share(ask, "safety", &how->safety, fault) : status;
  return status == TW_OK ? tw_ask_share(ask, "yield", &how->yield, fault) : status;
}

static tw_status read_levers(opened *o, const tw_page_options *options, tw_levers **levers,
                             tw_fault *fault)
{
  const json_t *ask = options->ask;
  const char *text[TW_ASK_NAMES], *frees[TW_ASK_NAMES], *keeps[TW_ASK_NAMES];
  tw_lever_range range[TW_ASK_NAMES];
  const tw_page_rows *rows = options->rows;
  tw_lever_options lever = {.range = range,
                            .free_part = frees,
                            .keep = keeps,
                            .library = rows ? rows->library : NULL,
                            .read_with = rows ? rows->read_with : NULL,
                            .self = rows ? rows->self : NULL};
  tw_status status = read_names(o->study->design, ask, "free", frees, &lever.frees, fault);
  if (status == TW_OK) {
    status = read_names(o->study->design, ask, "keep", keeps, &lever.keeps, fault);
  }
  status = status == TW_OK ? tw_ask_texts(ask, "ranges", text, &lever.ranges, fault) : status;
  for (size_t i = 0; i < lever.ranges && status == TW_OK; i++) {
    status = tw_ask_blame("ranges",
                          tw_run_range_read(options->units, text[i], &range[i].field,
                                            &range[i].least, &range[i].most, fault),
                          fault);
  }
  return status == TW_OK ? tw_study_levers(o->study, &lever, levers, fault) : status;
}

static tw_status remedy(opened *o, const tw_page_options *options, json_t **out, tw_fault *fault)
{
  static const char *const known[] = {"keep",   "free",   "ranges", "safety", "yield",
                                      "builds", "wanted", "budget", NULL};
  tw_run_remedy how;
  tw_levers *levers = NULL;
  tw_status status = tw_ask_known(options->ask, known, fault);
  status = status == TW_OK ? read_remedy(options->ask, &how, fault) : status;
  status = status == TW_OK ? needs_goals(o, fault) : status;
  status = status == TW_OK ? read_levers(o, options, &levers, fault) : status;
  if (status == TW_OK) {
    tw_remedies found;
    how.read_sets = options->rows ? options->rows->read_sets : NULL;
    how.reader = options->rows ? options->rows->self : NULL;
    status = tw_run_remedy_make(o->study, levers, &how, &o->watch, &found, fault);
    if (status == TW_OK || status == TW_CANCELLED) {
      *out = tw_document_remedy(o->study, levers, &found);
    }
  }
  tw_levers_free(levers);
  return status;
}

/* what was read on the bench, as CHECK: TEXT */
static tw_status read_bench(const tw_page_options *options, const tw_bench_card *card,
                            tw_bench_reading *reading, size_t *count, tw_fault *fault)
{
  const json_t *list = json_object_get(options->ask, "readings");
  const char *check;
  json_t *text;
  *count = 0;
  if (!json_is_object(list) || json_object_size(list) == 0 ||
      json_object_size(list) > TW_BENCH_COUNT) {
    return tw_fail(fault, TW_BAD_INPUT, "study.readings", "write down what an instrument showed",
                   "there is no reading to go by");
  }
  json_object_foreach((json_t *)(uintptr_t)list, check, text)
  {
    tw_fault why = {0};
    const tw_status status =
        json_is_string(text)
            ? tw_bench_reading_read(card, options->units, check, json_string_value(text),
                                    &reading[*count], &why)
            : tw_fail(&why, TW_BAD_INPUT, check, "", "a reading is not a text");
    if (status != TW_OK) {
      tw_fail(fault, status, "", why.hint, "%s", why.text);
      snprintf(fault->field, sizeof fault->field, "study.readings.%.40s", why.field);
      return status;
    }
    ++*count;
  }
  return TW_OK;
}

static tw_status suspect(opened *o, const tw_page_options *options, json_t **out, tw_fault *fault)
{
  static const char *const known[] = {"readings", NULL};
  const tw_design *design = o->study->design;
  tw_bench_reading reading[TW_BENCH_COUNT];
  size_t count = 0;
  tw_suspicion *found = tw_alloc(1, sizeof *found);
  tw_status status = found ? tw_ask_known(options->ask, known, fault)
                           : tw_fail(fault, TW_NO_MEMORY, "", "", "no memory for the suspects");
  if (status == TW_OK) {
    status = tw_bench_card_from(design, NULL, 0, &found->card, fault);
  }
  status = status == TW_OK ? read_bench(options, &found->card, reading, &count, fault) : status;
  if (status == TW_OK) {
    status = tw_bench_suspect(design, options->units, NULL, reading, count, 0, options->progress,
                              found, fault);
  }
  if (status == TW_OK) {
    *out = tw_document_suspect(design, options->units, options->drawing.system, reading, found);
  }
  tw_free(found);
  return status;
}

/* a design against itself: only in company (tw_page_compare) does it say more */
static tw_status compare(opened *o, const tw_page_options *options, json_t **out, tw_fault *fault)
{
  return tw_page_compare(&o->study->design, 1, options, out, fault);
}

static const struct {
  const char *name;
  study_fn *run;
} studies[] = {
    {"vary", vary},     {"spread", spread},   {"drivers", drivers},
    {"remedy", remedy}, {"compare", compare}, {"suspect", suspect},
};
enum { STUDY_COUNT = sizeof studies / sizeof studies[0] };

bool tw_page_is_study(const char *name)
{
  for (size_t i = 0; i < STUDY_COUNT; i++) {
    if (strcmp(studies[i].name, name) == 0) {
      return true;
    }
  }
  return false;
}

tw_status tw_page_study(const char *name, const tw_design *design, const tw_page_options *options,
                        json_t **out, tw_fault *fault)
{
  *out = NULL;
  for (size_t i = 0; i < STUDY_COUNT; i++) {
    if (strcmp(studies[i].name, name) != 0) {
      continue;
    }
    opened *o = tw_alloc(1, sizeof *o);
    if (!o) {
      return tw_fail(fault, TW_NO_MEMORY, "", "", "no memory for the study");
    }
    tw_status status = open_study(design, options, o, fault);
    status = status == TW_OK ? studies[i].run(o, options, out, fault) : status;
    if (*out && !json_object_get(*out, "left_out")) {
      json_object_set_new(*out, "left_out", left_out(o));
    }
    tw_study_free(o->study);
    tw_free(o);
    return status == TW_OK && !*out
               ? tw_fail(fault, TW_NO_MEMORY, "", "", "no memory for the study's figures")
               : status;
  }
  return tw_fail(fault, TW_BAD_INPUT, "view", "", "there is no study named \"%.40s\"", name);
}

/* ---- several designs ------------------------------------------------------------------------- */

enum { VARIANTS_MOST = 8 };

typedef struct variants {
  opened o[VARIANTS_MOST];
  tw_variant variant[VARIANTS_MOST];
  size_t count;
} variants;

/* how far all the designs together are */
typedef struct turn {
  const tw_progress *progress;
  double before, share;
} turn;

static bool tick_turn(void *self, double done, const char *what)
{
  const turn *t = self;
  return tw_progress_tick(t->progress, t->before + t->share * done, what);
}

static tw_status open_all(variants *v, const tw_design *const *designs, size_t count,
                          const tw_page_options *options, tw_fault *fault)
{
  tw_status status = TW_OK;
  for (size_t i = 0; i < count && status == TW_OK; i++) {
    if (!tw_progress_tick(options->progress, 0.0, "comparing")) {
      return tw_fail(fault, TW_CANCELLED, "", "", "cancelled");
    }
    v->count = i + 1;
    status = open_study(designs[i], options, &v->o[i], fault);
    if (status == TW_OK) {
      v->variant[i] = (tw_variant){.design = designs[i],
                                   .limits = &v->o[i].limits,
                                   .assessment = &v->o[i].study->nominal,
                                   .yield = -1};
    }
  }
  return status;
}

static json_t *side_by_side(const variants *v)
{
  json_t *document = tw_document_compare(v->variant, v->count);
  if (document && v->count > 0) {
    char level[64];
    tw_study_level_text(v->o[0].study, level, sizeof level);
    json_object_set_new(document, "level", json_string(level));
    json_object_set_new(document, "left_out", left_out(&v->o[0]));
  }
  return document;
}

tw_status tw_page_compare(const tw_design *const *designs, size_t count,
                          const tw_page_options *options, json_t **out, tw_fault *fault)
{
  static const char *const known[] = {"builds", "files", NULL};
  size_t builds = 0;
  *out = NULL;
  tw_status status = tw_ask_known(options->ask, known, fault);
  if (status == TW_OK) {
    status = tw_ask_count(options->ask, "builds", 0, BUILDS_MOST, 0, &builds, fault);
  }
  if (status == TW_OK && count > VARIANTS_MOST) {
    status = tw_fail(fault, TW_BAD_INPUT, "study.files", "",
                     "at most %d designs stand side by side", (int)VARIANTS_MOST);
  }
  variants *v = status == TW_OK ? tw_alloc(1, sizeof *v) : NULL;
  if (status == TW_OK && !v) {
    status = tw_fail(fault, TW_NO_MEMORY, "", "", "no memory for %zu designs", count);
  }
  if (!v) {
    return status;
  }
  status = open_all(v, designs, count, options, fault);
  const bool opened_all = status == TW_OK;
  for (size_t i = 0; i < count && builds > 0 && status == TW_OK; i++) {
    turn t = {options->progress, (double)i / (double)count, 1.0 / (double)count};
    const tw_progress progress = {tick_turn, &t};
    if (options->partial) {
      options->partial->take(options->partial->self, side_by_side(v));
    }
    status = tw_run_yield(v->o[i].study, builds, &progress, &v->variant[i], fault);
  }
  if (status == TW_OK || (opened_all && status == TW_CANCELLED)) {
    *out = side_by_side(v);
  }
  for (size_t i = 0; i < v->count; i++) {
    tw_study_free(v->o[i].study);
  }
  tw_free(v);
  return status;
}
