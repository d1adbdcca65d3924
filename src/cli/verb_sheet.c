/* verb_sheet.c: the build sheet of one unit: what to do, hold and read, in order. */
#include "verb.h"

#include "tripwright/bench_suspect.h"
#include "tripwright/digest.h"
#include "tripwright/files.h"
#include "tripwright/report_build.h"

#include <ctype.h>
#include <string.h>

typedef struct sheet {
  tw_cli *cli;
  tw_design *design;
  tw_bench_card card;
  tw_build build;
  tw_build_paper paper;
  char digest[TW_SHA256_TEXT];
} sheet;

/* mm of the section drawing on the last page */
#define SECTION_HEIGHT 160.0
/* of a number of a unit: it stands in the code and in a log */
#define UNIT_LONGEST 24

static void show_limits(const json_t *one, char *out, size_t size)
{
  const json_t *ends = json_object_get(one, json_object_get(one, "limits") ? "limits" : "band");
  const char *unit = tw_text_of(one, "unit");
  char a[40], b[40];
  if (!json_is_array(ends)) {
    snprintf(out, size, "%s",
             json_object_get(one, "word") ? tw_text_of(one, "word") : "no figure: write it down");
    return;
  }
  tw_show(json_number_value(json_array_get(ends, 0)), unit, a, sizeof a);
  tw_show(json_number_value(json_array_get(ends, 1)), unit, b, sizeof b);
  snprintf(out, size, "%s .. %s", a, b);
}

static void print_line(FILE *out, const json_t *line)
{
  const json_t *fields = json_object_get(line, "fields"), *checks = json_object_get(line, "checks");
  char limits[100];
  fprintf(out, "%2.0f. %s\n", tw_number_of(line, "number"), tw_text_of(line, "text"));
  if (tw_text_of(line, "caution")[0]) {
    fprintf(out, "    ! %s\n", tw_text_of(line, "caution"));
  }
  for (size_t i = 0; i < json_array_size(fields); i++) {
    const json_t *f = json_array_get(fields, i);
    show_limits(f, limits, sizeof limits);
    fprintf(out, "    %-42s %s%s\n", tw_text_of(f, "field"), limits,
            json_is_true(json_object_get(f, "guarded")) ? " (guarded)" : "");
  }
  for (size_t i = 0; i < json_array_size(checks); i++) {
    const json_t *c = json_array_get(checks, i);
    show_limits(c, limits, sizeof limits);
    fprintf(out, "    %-42s %s\n", tw_text_of(c, "title"), limits);
  }
  if (json_is_true(json_object_get(line, "hold_point")) &&
      json_array_size(fields) + json_array_size(checks) > 0) {
    fprintf(out, "    STOP outside these limits: keep the piece, write a note.\n");
  }
}

static void print_text(const sheet *s, const json_t *d)
{
  FILE *out = s->cli->out;
  const json_t *lines = json_object_get(d, "lines");
  const json_t *left = json_object_get(d, "checks_without_moment");
  const json_t *loose = json_object_get(d, "fields_without_operation");
  fprintf(out, "Build sheet, unit %s: %s, revision %s\n\n", s->paper.unit,
          tw_design_name(s->design) ? tw_design_name(s->design) : tw_design_file(s->design),
          tw_design_revision(s->design) ? tw_design_revision(s->design) : "-");
  for (size_t i = 0; i < json_array_size(lines); i++) {
    print_line(out, json_array_get(lines, i));
  }
  for (size_t i = 0; i < json_array_size(left); i++) {
    fprintf(out, "%s%s", i ? ", " : "\nChecks that no moment fits: ",
            json_string_value(json_array_get(left, i)));
  }
  for (size_t i = 0; i < json_array_size(loose); i++) {
    fprintf(out, "%s%s", i ? ", " : "\nTolerances that no operation makes: ",
            json_string_value(json_array_get(loose, i)));
  }
  fprintf(out,
          "%s--out FILE.html writes it for paper. Cautions defer to the data sheets of what\nyou "
          "use, to local rules and to licensed practice.\n",
          json_array_size(left) + json_array_size(loose) ? ".\n\n" : "\n");
}

static tw_exit write_html(sheet *s, const char *path)
{
  char *html;
  size_t pages;
  tw_fault fault = {0};
  tw_status status = tw_build_html(&s->paper, &html, &pages, &fault);
  if (status == TW_OK) {
    status = tw_file_replace(path, html, strlen(html), &fault);
    tw_free(html);
  }
  if (status != TW_OK) {
    return tw_cli_fault(s->cli, &fault);
  }
  fprintf(s->cli->out, "%s: %zu pages\n", path, pages);
  return TW_EXIT_DONE;
}

/* ---- the verb -------------------------------------------------------------------------------- */

static bool unit_is_good(const char *unit)
{
  size_t n = 0;
  for (; unit[n]; n++) {
    if (!isalnum((unsigned char)unit[n]) && unit[n] != '-' && unit[n] != '_' && unit[n] != '.') {
      return false;
    }
  }
  return n > 0 && n <= UNIT_LONGEST;
}

static tw_exit prepare(sheet *s, double *gauge)
{
  tw_cli *cli = s->cli;
  const char *paper = tw_cli_text(cli, "paper", "a4");
  tw_system system = TW_METRIC;
  s->paper.unit = tw_cli_text(cli, "unit", "001");
  if (!tw_cli_quantity(cli, "gauge", "m", gauge) || !tw_cli_system(cli, &system)) {
    return TW_EXIT_USAGE;
  }
  if (strcmp(paper, "a4") != 0 && strcmp(paper, "letter") != 0) {
    return tw_cli_usage(cli, "--paper: \"%s\" is neither a4 nor letter", paper);
  }
  if (!unit_is_good(s->paper.unit)) {
    return tw_cli_usage(cli, "--unit: \"%s\": up to %d letters, digits, - _ . are wanted",
                        s->paper.unit, UNIT_LONGEST);
  }
  s->paper.paper = strcmp(paper, "a4") == 0 ? TW_PAPER_A4 : TW_PAPER_LETTER;
  s->paper.system = system;
  s->paper.section_mm = SECTION_HEIGHT;
  return tw_cli_design(cli, cli->operand[0], TW_NEED_ALL, &s->design);
}

static tw_exit make(sheet *s, double gauge)
{
  tw_cli *cli = s->cli;
  tw_fault fault = {0};
  tw_status status = tw_bench_card_from(s->design, NULL, 0, &s->card, &fault);
  if (status == TW_OK) {
    status = tw_build_of(s->design, &s->card, gauge, SIZE_MAX, &s->build, &fault);
  }
  if (status == TW_OK) {
    status = tw_sha256_file(cli->operand[0], s->digest, NULL, &fault);
  }
  if (status != TW_OK) {
    return tw_cli_fault(cli, &fault);
  }
  s->paper.design = s->design;
  s->paper.build = &s->build;
  s->paper.digest = s->digest;
  s->paper.units = tw_cli_units(cli);
  const char *path = tw_cli_text(cli, "out", NULL);
  if (path) {
    return write_html(s, path);
  }
  json_t *d = tw_document_build(&s->paper);
  if (tw_cli_has(cli, "json")) {
    return tw_cli_print_json(cli, d);
  }
  print_text(s, d);
  json_decref(d);
  return TW_EXIT_DONE;
}

static tw_exit run(tw_cli *cli)
{
  double gauge = 0;
  sheet *s = tw_alloc(1, sizeof *s);
  if (!s) {
    return TW_EXIT_INTERNAL;
  }
  s->cli = cli;
  tw_exit code = prepare(s, &gauge);
  if (code == TW_EXIT_DONE) {
    code = make(s, gauge);
  }
  tw_design_free(s->design);
  tw_free(s);
  return code;
}

static const tw_option options[] = {
    {"unit", "NUMBER", "number of the unit, on both pages and in the code (001)", false},
    {"out", "FILE", "write the sheet for paper, as HTML", false},
    {"paper", "SIZE", "a4 or letter (a4)", false},
    {"gauge", "LENGTH", "standard uncertainty of your gauge for lengths: draws limits in", false},
    {NULL, NULL, NULL, false},
};

const tw_verb tw_verb_sheet = {
    .name = "sheet",
    .operands = "FILE",
    .least = 1,
    .most = 1,
    .summary = "the build sheet of one unit: what to do, hold and read, in order",
    .details = "Operations in their order with the dimensions to hold, the checks of the bench "
               "card where they can first be made, hold points and cautions. --out writes two "
               "pages with room for readings and initials, the section, and a code with unit, "
               "revision and design that needs no network.",
    .options = options,
    .takes = TW_TAKES_JSON | TW_TAKES_DESIGN | TW_TAKES_A_FILE,
    .run = run,
};
