/* verb_report.c: the report that can be handed on, or one picture of it. */
#include "verb_report.h"

#include "study_in.h"

#include "tripwright/documents.h"
#include "tripwright/page.h"
#include "tripwright/report.h"
#include "tripwright/text.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* "2:1", "1:5" or "2"; false (reported) for anything else */
static bool read_scale(const tw_cli *cli, double *scale)
{
  const char *text = tw_cli_text(cli, "scale", NULL);
  if (!text) {
    return true;
  }
  char *end = NULL;
  double above = strtod(text, &end), below = 1.0;
  if (end != text && *end == ':') {
    const char *second = end + 1;
    below = strtod(second, &end);
    end = end == second ? (char *)(uintptr_t)text : end;
  }
  if (end == text || *end || !(above > 0.0) || !(below > 0.0) || !isfinite(above / below)) {
    tw_cli_usage(cli, "--scale: \"%s\" is not a scale such as 2:1", text);
    return false;
  }
  *scale = above / below;
  return true;
}

/* to the file of --out, or to the terminal */
static tw_exit put_text(tw_cli *cli, const char *text)
{
  const char *path = tw_cli_text(cli, "out", NULL);
  tw_fault fault = {0};
  if (!path) {
    fputs(text, cli->out);
    return TW_EXIT_DONE;
  }
  if (tw_file_replace(path, text, strlen(text), &fault) != TW_OK) {
    return tw_cli_fault(cli, &fault);
  }
  fprintf(cli->out, "%s\n", path);
  return TW_EXIT_DONE;
}

/* ---- one picture ---------------------------------------------------------------------------- */

/* null where there is no trip */
static double number_or_none(const json_t *row, const char *key)
{
  const json_t *value = json_object_get(row, key);
  return json_is_number(value) ? json_number_value(value) : (double)NAN;
}

static size_t side_points(const json_t *document, tw_rose_point *points, size_t room)
{
  const json_t *rows = json_object_get(document, "directions");
  size_t n = 0;
  for (size_t i = 0; i < json_array_size(rows) && n < room; i++) {
    const json_t *row = json_array_get(rows, i);
    if (number_or_none(row, "elevation_deg") < 1e-9) {
      points[n++] = (tw_rose_point){number_or_none(row, "azimuth_deg"),
                                    number_or_none(row, "force"), number_or_none(row, "pretravel")};
    }
  }
  return n;
}

static tw_status draw_rose(const tw_design *design, const tw_drawing_options *options,
                           const tw_progress *progress, char **svg, tw_fault *fault)
{
  tw_rose_point points[72];
  json_t *document = NULL;
  tw_status status = tw_document_seat(design, 72, false, progress, &document, fault);
  if (status == TW_OK) {
    const size_t n = side_points(document, points, 72);
    status = tw_drawing_rose(design, points, n, options, svg, fault);
  }
  json_decref(document);
  return status;
}

static tw_exit picture(tw_cli *cli, const char *name, const tw_design *design,
                       const tw_drawing_options *options)
{
  const tw_progress progress = tw_cli_progress(cli);
  tw_fault fault = {0};
  char *svg = NULL;
  const tw_status status = strcmp(name, "directions") == 0
                               ? draw_rose(design, options, &progress, &svg, &fault)
                               : tw_drawing_make(name, design, options, &svg, &fault);
  const tw_exit code = status == TW_OK ? put_text(cli, svg) : tw_cli_fault(cli, &fault);
  tw_free(svg);
  return code;
}

/* ---- the report ----------------------------------------------------------------------------- */

tw_exit tw_cli_report(tw_cli *cli, const tw_design *design, const tw_drawing_options *drawing,
                      const char *date, const json_t *studies, char **html)
{
  const char *file = cli->operand[0];
  tw_fault fault = {0};
  char print[TW_FINGERPRINT];
  size_t size = 0;
  char *text = tw_file_text(file, &size, &fault);
  tw_messages *messages = tw_messages_new();
  json_t *data = NULL;
  if (!text || !messages) {
    tw_free(text);
    tw_messages_free(messages);
    return tw_cli_fault(cli, &fault);
  }
  tw_fingerprint(text, size, print);
  tw_free(text);
  const tw_progress progress = tw_cli_progress(cli);
  const tw_page_rows rows = {tw_cli_library(cli), tw_cli_read_with, cli, tw_cli_read_sets};
  tw_page_options options = {.units = tw_cli_units(cli),
                             .drawing = *drawing,
                             .progress = &progress,
                             .ask = studies,
                             .rows = &rows};
  options.drawing.standalone = false;
  options.drawing.height = 215.0;
  tw_status status = tw_page_report(design, file, print, date, &options, messages, &data, &fault);
  tw_cli_messages(cli, messages);
  tw_messages_free(messages);
  if (status == TW_OK) {
    status = tw_report_html(tw_design_name(design), data, html, &fault);
  }
  json_decref(data);
  return status == TW_OK ? TW_EXIT_DONE : tw_cli_fault(cli, &fault);
}

/* ---- studies in it -------------------------------------------------------------------------- */

/* --builds and --seed are the batch's, --field the range's; the rest is as the commands have it */
static bool study_options(const tw_cli *cli, const char *name, json_t *options)
{
  long builds = 200, seed = 1;
  const char *text;
  if (strcmp(name, "spread") == 0) {
    if (!tw_cli_count(cli, "builds", 1, 100000, &builds) ||
        !tw_cli_count(cli, "seed", 0, 2147483647, &seed)) {
      return false;
    }
    json_object_set_new(options, "builds", json_integer(builds));
    json_object_set_new(options, "seed", json_integer(seed));
  }
  if (strcmp(name, "vary") == 0) {
    json_t *fields = json_array();
    for (int k = 0; (text = tw_cli_text_at(cli, "field", k)) != NULL; k++) {
      json_array_append_new(fields, json_string(text));
    }
    json_object_set_new(options, "fields", fields);
    if (json_array_size(fields) < 1 || json_array_size(fields) > 2) {
      tw_cli_usage(cli, "--with vary needs --field PATH=FROM..TO once or twice");
      return false;
    }
  }
  return true;
}

/* "spread,drivers" -> {"spread": {...}, "drivers": {}}; false after a report */
static bool read_studies(const tw_cli *cli, json_t *studies)
{
  static const char *const known[] = {"spread", "drivers", "remedy", "vary"};
  const char *text;
  for (int k = 0; (text = tw_cli_text_at(cli, "with", k)) != NULL; k++) {
    while (*text) {
      char name[16];
      const size_t length = strcspn(text, ",");
      bool found = false;
      snprintf(name, sizeof name, "%.*s", (int)(length < sizeof name ? length : sizeof name), text);
      for (size_t i = 0; i < sizeof known / sizeof known[0]; i++) {
        found = found || strcmp(known[i], name) == 0;
      }
      json_t *options = json_object();
      if (!found || !study_options(cli, name, options)) {
        json_decref(options);
        if (!found) {
          tw_cli_usage(cli, "--with: \"%s\" is none of spread, drivers, remedy, vary", name);
        }
        return false;
      }
      json_object_set_new(studies, name, options);
      text += length + (text[length] == ',');
    }
  }
  const bool batch = json_object_get(studies, "spread"), range = json_object_get(studies, "vary");
  if ((tw_cli_has(cli, "builds") || tw_cli_has(cli, "seed")) && !batch) {
    tw_cli_usage(cli, "--builds and --seed go with --with spread");
    return false;
  }
  if (tw_cli_has(cli, "field") && !range) {
    tw_cli_usage(cli, "--field goes with --with vary");
    return false;
  }
  return true;
}

static tw_exit whole_report(tw_cli *cli, const tw_design *design, const tw_drawing_options *drawing)
{
  char *html = NULL;
  json_t *studies = json_object();
  tw_exit code = read_studies(cli, studies) ? TW_EXIT_DONE : TW_EXIT_USAGE;
  if (code == TW_EXIT_DONE) {
    code = tw_cli_report(cli, design, drawing, tw_cli_text(cli, "date", NULL), studies, &html);
  }
  if (code == TW_EXIT_DONE) {
    code = put_text(cli, html);
  }
  json_decref(studies);
  tw_free(html);
  return code;
}

/* a day that there is, as YYYY-MM-DD; reported when it is none */
bool tw_cli_date(const tw_cli *cli, const char **date)
{
  static const int days[] = {31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
  const char *text = tw_cli_text(cli, "date", NULL);
  int year, month, day, end = 0;
  if (!text) {
    return true;
  }
  bool good = strlen(text) == 10 && strspn(text, "0123456789-") == 10 &&
              sscanf(text, "%4d-%2d-%2d%n", &year, &month, &day, &end) == 3 && end == 10 &&
              text[4] == '-' && text[7] == '-';
  good = good && year > 0 && month >= 1 && month <= 12 && day >= 1 && day <= days[month - 1];
  const bool leap = good && year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
  if (!good || (month == 2 && day == 29 && !leap)) {
    tw_cli_usage(cli, "--date: \"%s\" is not a day as YYYY-MM-DD", text);
    return false;
  }
  *date = text;
  return true;
}

/* the name of a picture; another one is reported with those that there are */
static bool known_picture(const tw_cli *cli, const char *name)
{
  char all[200];
  tw_text text = tw_text_in(all, sizeof all);
  bool known = strcmp(name, "directions") == 0;
  tw_text_put(&text, "directions");
  for (size_t i = 0; i < tw_drawing_count(); i++) {
    known = known || strcmp(name, tw_drawing_name(i)) == 0;
    tw_text_add(&text, ", %s", tw_drawing_name(i));
  }
  if (!known) {
    tw_cli_usage(cli, "--svg: there is no picture named \"%s\"; there are: %s", name, all);
  }
  return known;
}

static tw_exit run(tw_cli *cli)
{
  tw_drawing_options drawing = tw_drawing_defaults();
  const char *name = tw_cli_text(cli, "svg", NULL);
  if (!tw_cli_system(cli, &drawing.system) || !read_scale(cli, &drawing.scale)) {
    return TW_EXIT_USAGE;
  }
  if (drawing.scale > 0.0 && !name) {
    return tw_cli_usage(cli, "--scale goes with --svg");
  }
  if (name && tw_cli_has(cli, "with")) {
    return tw_cli_usage(cli, "--with goes with the whole report, not with --svg");
  }
  if (!tw_shade_read(tw_cli_text(cli, "shade", "none"), &drawing.shade)) {
    return tw_cli_usage(cli, "--shade: none, charge or stress, not \"%s\"",
                        tw_cli_text(cli, "shade", ""));
  }
  if (!tw_cli_date(cli, &drawing.date) || (name && !known_picture(cli, name))) {
    return TW_EXIT_USAGE;
  }
  tw_design *design = NULL;
  tw_exit code = tw_cli_design(cli, cli->operand[0], name ? TW_NEED_NOTHING : TW_NEED_ALL, &design);
  if (code == TW_EXIT_DONE) {
    code = name ? picture(cli, name, design, &drawing) : whole_report(cli, design, &drawing);
  }
  tw_design_free(design);
  return code;
}

static const tw_option options[] = {
    {"out", "FILE", "write to this file (also -o FILE) instead of the terminal", false},
    {"svg", "NAME",
     "one picture instead: section, directions, foam-ring, gasket or drilling-template", false},
    {"scale", "2:1", "scale of that picture; flat parts are 1:1 unless you say otherwise", false},
    {"shade", "none|charge|stress",
     "shade the section's disc by the charge or stress of a push (default none)", false},
    {"date", "YYYY-MM-DD", "date in report and title block (default: today, none on pictures)",
     false},
    {"with", "NAMES", "studies as well: spread,drivers,remedy,vary (they take a while)", true},
    {"builds", "N", "builds of the spread in it (200)", false},
    {"seed", "N", "seed of the spread in it (1)", false},
    {"field", "PATH=FROM..TO", "the field of vary and its range; twice for a map of two", true},
    {NULL, NULL, NULL, false},
};

const tw_verb tw_verb_report = {
    .name = "report",
    .operands = "FILE",
    .least = 1,
    .most = 1,
    .summary = "one HTML file with drawing, requirements, views and inputs, to print or hand on",
    .details =
        "The file opens in any browser from disk and asks for nothing from any network. Flat parts "
        "(foam ring, gasket, drilling template) carry a line that must measure 50 mm in print: "
        "check it before you cut.",
    .options = options,
    .takes = TW_TAKES_DESIGN | TW_TAKES_A_FILE | TW_GIVES_A_FILE,
    .run = run,
};
