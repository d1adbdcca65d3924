/* verb_parts.c: the library of parts: what there is, and one row with its source. */
#include "tripwright/text.h"
#include "verb.h"

#include <string.h>

enum { LACKS_MOST = 16 };

/* "stylus.stem: poisson, density" for each use for which the row says too little; "" if for none */
static void lacks_text(const tw_row *row, char *out, size_t size)
{
  tw_field field;
  const char *key[LACKS_MOST];
  tw_text text = tw_text_in(out, size);
  size_t count;
  for (size_t use = 0; tw_row_lacks(row, use, &field, key, LACKS_MOST, &count); use++) {
    for (size_t k = 0; k < count; k++) {
      const char *between = k ? ", " : text.length ? "; " : "";
      tw_text_add(&text, "%s%s%s%s", between, k ? "" : tw_field_of(field)->path, k ? "" : " ",
                  key[k]);
    }
  }
}

static json_t *lacks_json(const tw_row *row)
{
  json_t *all = json_object();
  tw_field field;
  const char *key[LACKS_MOST];
  size_t count;
  for (size_t use = 0; tw_row_lacks(row, use, &field, key, LACKS_MOST, &count); use++) {
    json_t *keys = json_array();
    for (size_t k = 0; k < count; k++) {
      json_array_append_new(keys, json_string(key[k]));
    }
    json_object_set_new(all, tw_field_of(field)->path, keys);
  }
  return all;
}

static void list_kind(const tw_cli *cli, const tw_library *library, tw_part_kind kind)
{
  int marked = 0;
  fprintf(cli->out, "%s (%s.yaml)\n", tw_part_kind_words(kind), tw_part_kind_file(kind));
  for (size_t i = 0; i < tw_library_count(library, kind); i++) {
    const tw_row *row = tw_library_row(library, kind, i);
    const bool whole = tw_row_usable(row);
    marked += !whole;
    fprintf(cli->out, "%s %-30s %s\n", whole ? " " : "*", tw_row_id(row), tw_row_name(row));
  }
  if (marked > 0) {
    fprintf(cli->out, "* its source does not say all that a design needs: `tripwright parts ID` "
                      "lists what to state\n");
  }
}

static void show_row(const tw_cli *cli, const tw_row *row, tw_part_kind kind)
{
  const tw_place place = tw_row_place(row);
  fprintf(cli->out, "%s: %s\n", tw_row_id(row), tw_row_name(row));
  for (size_t k = 0; k < tw_part_key_count(kind); k++) {
    const tw_part_key *key = tw_part_key_at(kind, k);
    const char *text = tw_row_text(row, key->key);
    if (text) {
      fprintf(cli->out, "  %-24s %-28s %s\n", key->key, text, key->help);
    }
  }
  char lacks[400];
  lacks_text(row, lacks, sizeof lacks);
  if (lacks[0]) {
    fprintf(cli->out, "  not in its source, to be stated by who uses it for: %s\n", lacks);
  }
  fprintf(cli->out, "  source: %s\n  (%s:%d)\n", tw_row_source(row), place.file, place.line);
}

static json_t *row_json(const tw_row *row, tw_part_kind kind)
{
  json_t *values = json_object();
  for (size_t k = 0; k < tw_part_key_count(kind); k++) {
    const tw_part_key *key = tw_part_key_at(kind, k);
    tw_quantity quantity;
    if (!tw_row_text(row, key->key)) {
      continue;
    }
    json_object_set_new(values, key->key,
                        tw_row_number(row, key->key, &quantity)
                            ? json_pack("{s:o, s:s}", "value", tw_json_number(quantity.number),
                                        "text", tw_row_text(row, key->key))
                            : json_string(tw_row_text(row, key->key)));
  }
  return json_pack("{s:s, s:s, s:s, s:s, s:o, s:o}", "kind", tw_part_kind_file(kind), "id",
                   tw_row_id(row), "name", tw_row_name(row), "source", tw_row_source(row), "values",
                   values, "lacks", lacks_json(row));
}

/* every row that a word names by kind or by id; all without a word */
static bool named(const tw_cli *cli, tw_part_kind kind, const tw_row *row)
{
  bool any = cli->count == 0;
  for (int i = 0; i < cli->count; i++) {
    any = any || strcmp(cli->operand[i], tw_part_kind_file(kind)) == 0 ||
          strcmp(cli->operand[i], tw_row_id(row)) == 0;
  }
  return any;
}

static tw_exit nothing_named(const tw_cli *cli, const tw_library *library)
{
  const char *near = NULL;
  for (int k = 0; k < TW_KIND_COUNT && !near; k++) {
    near = tw_library_nearest(library, (tw_part_kind)k, cli->operand[0]);
  }
  return near ? tw_cli_usage(cli, "no part or kind \"%s\"; did you mean %s?", cli->operand[0], near)
              : tw_cli_usage(cli, "no part or kind \"%s\"", cli->operand[0]);
}

static tw_exit print_json(tw_cli *cli, const tw_library *library)
{
  json_t *rows = json_array();
  for (int k = 0; k < TW_KIND_COUNT; k++) {
    for (size_t i = 0; i < tw_library_count(library, (tw_part_kind)k); i++) {
      const tw_row *row = tw_library_row(library, (tw_part_kind)k, i);
      if (named(cli, (tw_part_kind)k, row)) {
        json_array_append_new(rows, row_json(row, (tw_part_kind)k));
      }
    }
  }
  if (json_array_size(rows) == 0) {
    json_decref(rows);
    return nothing_named(cli, library);
  }
  json_t *document = tw_document_new(cli->verb->name);
  json_object_set_new(document, "rows", rows);
  return tw_cli_print_json(cli, document);
}

/* kinds and rows by name alone, for shells */
static tw_exit print_ids(const tw_cli *cli, const tw_library *library)
{
  for (int k = 0; k < TW_KIND_COUNT; k++) {
    fprintf(cli->out, "%s\n", tw_part_kind_file((tw_part_kind)k));
    for (size_t i = 0; i < tw_library_count(library, (tw_part_kind)k); i++) {
      fprintf(cli->out, "%s\n", tw_row_id(tw_library_row(library, (tw_part_kind)k, i)));
    }
  }
  return TW_EXIT_DONE;
}

static tw_exit run(tw_cli *cli)
{
  const tw_library *library = tw_cli_library(cli);
  if (!library) {
    return TW_EXIT_FILE;
  }
  if (tw_cli_has(cli, "json")) {
    return print_json(cli, library);
  }
  if (tw_cli_has(cli, "ids")) {
    return print_ids(cli, library);
  }
  int found = 0;
  for (int k = 0; k < TW_KIND_COUNT; k++) {
    const tw_part_kind kind = (tw_part_kind)k;
    bool whole = cli->count == 0;
    for (int i = 0; i < cli->count; i++) {
      whole = whole || strcmp(cli->operand[i], tw_part_kind_file(kind)) == 0;
    }
    if (whole) {
      list_kind(cli, library, kind);
      found++;
    }
    for (size_t i = 0; i < tw_library_count(library, kind) && !whole; i++) {
      const tw_row *row = tw_library_row(library, kind, i);
      if (named(cli, kind, row)) {
        show_row(cli, row, kind);
        found++;
      }
    }
  }
  return found ? TW_EXIT_DONE : nothing_named(cli, library);
}

static const tw_option options[] = {
    {"ids", NULL, "the names alone, one a line", false},
    {"parts", "FOLDER", "look up library rows here", false},
    {NULL, NULL, NULL, false},
};

const tw_verb tw_verb_parts = {
    .name = "parts",
    .operands = "[KIND|ID...]",
    .least = 0,
    .most = -1,
    .summary = "list the library of parts, or show rows with their sources",
    .options = options,
    .takes = TW_TAKES_JSON,
    .run = run,
};
