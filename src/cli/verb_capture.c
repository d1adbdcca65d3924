/* verb_capture.c: what the instruments recorded: features with uncertainty, what is wrong with the
 * recording, the record drawn. */
#include "capture_in.h"
#include "log_enter.h"
#include "readings_in.h"

#include "tripwright/documents_capture.h"

#include <math.h>
#include <string.h>

#define PLOT_WIDTH  66
#define PLOT_HEIGHT 14

/* "12.3 nC", and what stands behind it */
static void print_feature(FILE *out, const tw_capture_feature *f)
{
  char value[48], u[48];
  if (f->word[0]) {
    fprintf(out, "  %-20s %s\n", f->name, f->word);
    return;
  }
  const char *unit = strcmp(f->unit, "1") == 0 ? "" : f->unit;
  if (!unit[0] && f->u <= 0 && f->value == floor(f->value)) {
    fprintf(out, "  %-20s %.0f\n", f->name, f->value);
    return;
  }
  tw_show_digits(f->value, unit, 4, value, sizeof value);
  if (f->u > 0) {
    tw_show_digits(f->u, unit, 2, u, sizeof u);
    fprintf(out, "  %-20s %s%-14s u %s\n", f->name, f->least ? "> " : "", value, u);
  } else {
    fprintf(out, "  %-20s %s%s\n", f->name, f->least ? "> " : "", value);
  }
}

/* the notes below the list, so that the columns stay narrow */
static void print_notes(FILE *out, const tw_capture_result *r)
{
  bool any = false;
  for (size_t i = 0; i < r->features; i++) {
    if (r->feature[i].note[0]) {
      fprintf(out, "%s  %s: %s\n", any ? "" : "\n", r->feature[i].name, r->feature[i].note);
      any = true;
    }
  }
}

static void print_one(FILE *out, const tw_capture_record *record, const tw_capture_result *r,
                      const char *file)
{
  fprintf(out, "%s\n%s: %llu rows, %s\n", file, record->kind, (unsigned long long)record->rows,
          record->found);
  fprintf(out, "%s: %s%s\n\n", tw_capture_act_word(r->act), tw_capture_act_sentence(r->act),
          r->recognised ? " (recognised; --act says otherwise)" : "");
  for (size_t i = 0; i < r->features; i++) {
    print_feature(out, &r->feature[i]);
  }
  print_notes(out, r);
  for (size_t i = 0; i < r->concerns; i++) {
    fprintf(out, "%snote: %s\n  hint: %s\n", i == 0 ? "\n" : "", r->concern[i].text,
            r->concern[i].hint);
  }
}

static tw_exit print_plot(const tw_cli *cli, const tw_capture_record *record,
                          const tw_capture_result *r)
{
  char *plot = tw_capture_plot(record, r, PLOT_WIDTH, PLOT_HEIGHT);
  if (!plot) {
    return TW_EXIT_INTERNAL;
  }
  fprintf(cli->out, "\n%s", plot);
  tw_free(plot);
  return TW_EXIT_DONE;
}

static tw_exit write_svg(const tw_cli *cli, const tw_capture_record *record,
                         const tw_capture_result *r)
{
  char *svg = tw_capture_svg(record, r);
  return svg ? tw_cli_write(cli, "svg", svg) : TW_EXIT_INTERNAL;
}

/* --log: the recording kept, each feature a reading */
static tw_exit enter(tw_cli *cli, const char *file, const tw_capture_result *r)
{
  tw_log_entering *e = tw_cli_log_begin(cli);
  tw_cli_log_other(e, "capture", json_pack("{s:s}", "what", tw_capture_act_word(r->act)));
  for (size_t i = 0; i < r->features; i++) {
    const tw_capture_feature *f = &r->feature[i];
    char name[80];
    snprintf(name, sizeof name, "capture %.60s", f->name);
    if (!f->word[0]) {
      tw_cli_log_figure(e, name, f->value, f->unit, f->u);
    }
  }
  return tw_cli_log_enter(cli, e, file);
}

/* *logged: what became of --log; the features are shown all the same */
static tw_exit one(tw_cli *cli, const char *file, const tw_capture_setup *setup,
                   const tw_capture_reading *reading, json_t *list, tw_exit *logged)
{
  tw_capture_record *record;
  tw_capture_result *result;
  tw_exit code = tw_cli_capture(cli, file, setup, reading, &record, &result);
  if (code == TW_EXIT_DONE && list) {
    json_array_append_new(list, tw_json_capture(record, result));
  } else if (code == TW_EXIT_DONE) {
    print_one(cli->out, record, result, file);
    code = tw_cli_has(cli, "no-drawing") ? code : print_plot(cli, record, result);
  }
  if (code == TW_EXIT_DONE && tw_cli_has(cli, "svg")) {
    code = write_svg(cli, record, result);
  }
  if (code == TW_EXIT_DONE && *logged == TW_EXIT_DONE) {
    *logged = enter(cli, file, result);
  }
  tw_free(result);
  tw_capture_record_free(record);
  return code;
}

static tw_exit list_acts(const tw_cli *cli)
{
  for (int k = TW_CAPTURE_UNKNOWN + 1; k < TW_CAPTURE_ACT_COUNT; k++) {
    fprintf(cli->out, "%-14s %s\n", tw_capture_act_word((tw_capture_act)k),
            tw_capture_act_sentence((tw_capture_act)k));
  }
  return TW_EXIT_DONE;
}

static tw_exit run(tw_cli *cli)
{
  tw_capture_setup setup;
  tw_capture_reading reading;
  if (tw_cli_has(cli, "acts")) {
    return list_acts(cli);
  }
  if (cli->count == 0) {
    return tw_cli_usage(cli, "name a recording");
  }
  if (tw_cli_has(cli, "svg") && cli->count > 1) {
    return tw_cli_usage(cli, "--svg draws one recording");
  }
  if (!tw_cli_log_options(cli)) {
    return TW_EXIT_USAGE;
  }
  tw_exit code = tw_cli_capture_setup(cli, &setup, &reading), logged = TW_EXIT_DONE;
  json_t *document = tw_cli_has(cli, "json") ? tw_document_new("capture") : NULL;
  json_t *list = document ? json_array() : NULL;
  tw_exit worst = code;
  for (int k = 0; k < cli->count && code == TW_EXIT_DONE; k++) {
    if (k > 0 && !document) {
      fprintf(cli->out, "\n");
    }
    const tw_exit this = one(cli, cli->operand[k], &setup, &reading, list, &logged);
    worst = this > worst ? this : worst;
  }
  if (document) {
    json_object_set_new(document, "captures", list);
    if (worst == TW_EXIT_DONE) {
      worst = tw_cli_print_json(cli, document);
    } else {
      json_decref(document);
    }
  }
  return worst == TW_EXIT_DONE ? logged : worst;
}

static const tw_option options[] = {
    TW_CAPTURE_OPTIONS,
    {"svg", "FILE", "draw the record with what was recognised into this file", false},
    {"no-drawing", NULL, "leave out the drawing in characters", false},
    TW_LOG_ENTER_OPTIONS,
    {"acts", NULL, "list what can have been done", false},
    {NULL, NULL, NULL, false},
};

const tw_verb tw_verb_capture = {
    .name = "capture",
    .operands = "[FILE...]",
    .least = 0,
    .most = -1,
    .summary = "read what scope, sound card or meter recorded: features, and what is wrong with it",
    .details =
        "Scope CSV of the usual dialects, WAV, FLAC and other audio, capture zips with analog "
        "channels. State what hung on the node (--instrument) and what was done (--act): the step, "
        "its decay and the ring are fitted through the instrument, never corrected afterwards. A "
        "sound card has no known gain: record a known tone first (--gain-from TONE.wav --tone "
        "\"0.25 V\"). A file that is wrong in any row is refused whole, with the line.",
    .options = options,
    .takes = TW_TAKES_JSON | TW_TAKES_A_FILE,
    .run = run,
};
