/* verb_fields.c: the parameter table as a user reads it. */
#include "sketches.h"
#include "verb.h"

#include "tripwright/assess.h"
#include "tripwright/text.h"

#include <string.h>

static const char *const type_word[] = {"quantity", "number", "count", "choice", "text", "table"};

/* a word picks the field of that path, all of that group, or all that name it in path or help */
static bool wanted(const tw_cli *cli, const tw_field_info *info)
{
  bool any = cli->count == 0;
  for (int i = 0; i < cli->count && !any; i++) {
    const char *word = cli->operand[i];
    const size_t length = strlen(word);
    any = strcmp(info->path, word) == 0 ||
          (strncmp(info->path, word, length) == 0 && info->path[length] == '.');
  }
  return any;
}

static void range_text(const tw_field_info *info, char *out, size_t size)
{
  out[0] = '\0';
  if (info->type == TW_TYPE_QUANTITY || info->type == TW_TYPE_NUMBER ||
      info->type == TW_TYPE_COUNT) {
    snprintf(out, size, "%g .. %g", info->least, info->most);
  } else if (info->type == TW_TYPE_CHOICE) {
    tw_text text = tw_text_in(out, size);
    for (size_t k = 0; k < tw_choice_count(info->set); k++) {
      tw_text_add(&text, "%s%s", k ? "|" : "", tw_choice_word(info->set, (int)k));
    }
  }
}

static void print_text(const tw_cli *cli, const tw_field_info *info)
{
  char range[256];
  range_text(info, range, sizeof range);
  const bool unit = info->type != TW_TYPE_CHOICE && info->unit[0] && strcmp(info->unit, "1") != 0;
  fprintf(cli->out, "%s\n    %s\n    default: %s", info->path, info->help, info->fallback);
  if (range[0]) {
    fprintf(cli->out, "; %s: %s%s%s", info->type == TW_TYPE_CHOICE ? "one of" : "range", range,
            unit ? " " : "", unit ? info->unit : "");
  } else if (unit) {
    fprintf(cli->out, "; columns: %s", info->unit);
  }
  fprintf(cli->out, "\n    source: %s", info->source);
  if (info->when[0]) {
    fprintf(cli->out, "; counts for %s", info->when);
  }
  fprintf(cli->out, "%s%s\n", info->part[0] ? "; to change it: " : "", info->part);
}

/* parts, processes, requirements: sections whose entries have names of their own */
static int print_sections(const tw_cli *cli)
{
  int found = 0;
  const char *last = "";
  for (size_t k = 0; k < tw_section_key_count(); k++) {
    const tw_section_key *key = tw_section_key_at(k);
    bool asked = false;
    for (int i = 0; i < cli->count; i++) {
      asked = asked || strcmp(cli->operand[i], key->section) == 0;
    }
    if (!asked) {
      continue;
    }
    const bool rule = strcmp(key->section, "requirements") == 0, word = !key->unit[0];
    fprintf(cli->out, "%s.%s%s\n    %s\n", key->section, rule ? "" : "NAME.", key->key, key->help);
    if (!word && strcmp(key->unit, "1") != 0) {
      fprintf(cli->out, "    in %s\n", key->unit);
    }
    found += strcmp(last, key->section) != 0;
    last = key->section;
  }
  return found;
}

/* the measures that a requirement may name */
static void print_measures(const tw_cli *cli)
{
  fprintf(cli->out, "  MEASURE is one of\n");
  for (int i = 0; i < TW_MEASURE_COUNT; i++) {
    const tw_measure_info *about = tw_measure_about((tw_measure_id)i);
    const bool bare = strcmp(about->shown, "1") == 0;
    fprintf(cli->out, "    %-26s %s%s%s%s\n", about->name, about->help, bare ? "" : " (",
            bare ? "" : about->shown, bare ? "" : ")");
  }
}

/* a CSV cell: quoted where it must be */
static void cell(FILE *out, const char *text, bool last)
{
  const bool quote = strpbrk(text, ",\"\n") != NULL;
  fputs(quote ? "\"" : "", out);
  for (; *text; text++) {
    fputs(*text == '"' ? "\"" : "", out);
    fputc(*text, out);
  }
  fputs(quote ? "\"" : "", out);
  fputs(last ? "\n" : ",", out);
}

static void print_csv(const tw_cli *cli, const tw_field_info *info)
{
  char range[256];
  range_text(info, range, sizeof range);
  const char *const cells[] = {
      info->path, type_word[info->type], info->unit, info->fallback, range, info->part, info->when,
      info->help, info->source};
  for (size_t i = 0; i < sizeof cells / sizeof cells[0]; i++) {
    cell(cli->out, cells[i], i + 1 == sizeof cells / sizeof cells[0]);
  }
}

static json_t *as_json(const tw_field_info *info)
{
  json_t *choices = json_array();
  if (info->type == TW_TYPE_CHOICE) {
    for (size_t k = 0; k < tw_choice_count(info->set); k++) {
      json_array_append_new(choices, json_string(tw_choice_word(info->set, (int)k)));
    }
  }
  return json_pack("{s:s, s:s, s:s, s:s, s:o, s:o, s:o, s:s, s:s, s:s, s:s}", "path", info->path,
                   "type", type_word[info->type], "unit", info->unit, "default", info->fallback,
                   "least", tw_json_number(info->least), "most", tw_json_number(info->most),
                   "choices", choices, "part", info->part, "when", info->when, "help", info->help,
                   "source", info->source);
}

static bool put_out(void *self, const char *text, size_t length)
{
  return fwrite(text, 1, length, self) == length;
}

static tw_exit unknown_word(const tw_cli *cli)
{
  const char *near = tw_field_nearest(cli->operand[0]);
  return near ? tw_cli_usage(cli, "no field or group \"%s\"; did you mean %s?", cli->operand[0],
                             near)
              : tw_cli_usage(cli, "no field or group \"%s\"", cli->operand[0]);
}

static tw_exit run(tw_cli *cli)
{
  if (tw_cli_has(cli, "schema")) {
    const tw_sink sink = {put_out, cli->out};
    return tw_exit_of(tw_design_print_schema(&sink));
  }
  const bool json = tw_cli_has(cli, "json"), csv = tw_cli_has(cli, "csv");
  json_t *document = json ? tw_document_new(cli->verb->name) : NULL,
         *rows = json ? json_array() : NULL;
  if (csv) {
    fprintf(cli->out, "path,type,unit,default,range,part,when,help,source\n");
  }
  for (int i = 0; i < cli->count && !json && !csv; i++) {
    const char *sketch = tw_sketch_of(cli->operand[i]);
    fprintf(cli->out, "%s%s", sketch ? sketch : "", sketch ? "\n" : "");
  }
  int found = json || csv ? 0 : print_sections(cli);
  for (int i = 0; i < cli->count && found > 0; i++) {
    if (strcmp(cli->operand[i], "requirements") == 0) {
      print_measures(cli);
    }
  }
  for (int f = 0; f < TW_FIELD_COUNT; f++) {
    const tw_field_info *info = tw_field_of((tw_field)f);
    if (!wanted(cli, info)) {
      continue;
    }
    found++;
    if (json) {
      json_array_append_new(rows, as_json(info));
    } else if (csv) {
      print_csv(cli, info);
    } else {
      print_text(cli, info);
    }
  }
  if (found == 0) {
    json_decref(document);
    json_decref(rows);
    return unknown_word(cli);
  }
  if (json) {
    json_object_set_new(document, "fields", rows);
    return tw_cli_print_json(cli, document);
  }
  return TW_EXIT_DONE;
}

static const tw_option options[] = {
    {"schema", NULL, "print a JSON schema of the design file", false},
    {NULL, NULL, NULL, false},
};

const tw_verb tw_verb_fields = {
    .name = "fields",
    .operands = "[GROUP|PATH...]",
    .details =
        "A word picks the field of that path or the group; parts, processes and requirements "
        "are the sections whose entries have names of their own.",
    .least = 0,
    .most = -1,
    .summary = "list what a design file may say: unit, default, range, source",
    .options = options,
    .takes = TW_TAKES_JSON | TW_TAKES_CSV,
    .run = run,
};
