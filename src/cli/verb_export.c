/* verb_export.c: the dimensions of a design for the drawing office, the slicer or the lathe. */
#include "verb.h"

#include <math.h>
#include <string.h>

/* is this field a length that somebody makes? */
static bool is_dimension(const tw_cli *cli, const tw_design *design, tw_field field)
{
  const tw_field_info *info = tw_field_of(field);
  tw_unit unit, metre;
  tw_fault fault;
  return info->type == TW_TYPE_QUANTITY && info->part[0] && tw_design_has(design, field) &&
         tw_design_applies(design, field) &&
         tw_units_find(cli->units, info->unit, &unit, &fault) == TW_OK &&
         tw_units_find(cli->units, "mm", &metre, &fault) == TW_OK &&
         tw_unit_same_kind(&unit, &metre);
}

typedef struct dimension {
  const tw_field_info *info;
  double value, minus, plus; /* in the unit of the list */
  const char *origin;
} dimension;

static dimension dimension_of(const tw_design *design, tw_field field, double per_metre)
{
  const tw_value *value = tw_design_value(design, field);
  const tw_tolerance t = value->tolerance;
  return (dimension){tw_field_of(field), value->number * per_metre,
                     t.given ? t.minus * per_metre : 0, t.given ? t.plus * per_metre : 0,
                     tw_origin_word(value->origin)};
}

static void print_one(const tw_cli *cli, const dimension *d, const char *unit)
{
  if (tw_cli_has(cli, "csv")) {
    fprintf(cli->out, "%s,%.9g,%.9g,%.9g,%s,%s,%s\n", d->info->path, d->value, d->minus, d->plus,
            unit, d->info->part, d->origin);
    return;
  }
  char tolerance[64] = "";
  if (d->minus > 0 || d->plus > 0) {
    snprintf(tolerance, sizeof tolerance, "+%.4g/-%.4g", d->plus, d->minus);
  }
  fprintf(cli->out, "%-28s %10.4f %-4s %-15s %-9s %s\n", d->info->path, d->value, unit, tolerance,
          d->info->part, d->origin);
}

static json_t *as_json(const dimension *d)
{
  return json_pack("{s:s, s:o, s:o, s:o, s:s, s:s}", "path", d->info->path, "value",
                   tw_json_number(d->value), "minus", tw_json_number(d->minus), "plus",
                   tw_json_number(d->plus), "part", d->info->part, "origin", d->origin);
}

static tw_exit print_all(tw_cli *cli, const tw_design *design, tw_system system)
{
  const bool json = tw_cli_has(cli, "json"), inch = system == TW_INCH && !json;
  const double per_metre = json ? 1 : inch ? 1 / 0.0254 : 1000;
  const char *unit = json ? "m" : inch ? "inch" : "mm";
  json_t *rows = json ? json_array() : NULL;
  if (tw_cli_has(cli, "csv")) {
    fprintf(cli->out, "path,value,minus,plus,unit,part,origin\n");
  }
  for (int f = 0; f < TW_FIELD_COUNT; f++) {
    if (!is_dimension(cli, design, (tw_field)f)) {
      continue;
    }
    const dimension d = dimension_of(design, (tw_field)f, per_metre);
    if (json) {
      json_array_append_new(rows, as_json(&d));
    } else {
      print_one(cli, &d, unit);
    }
  }
  if (!json) {
    return TW_EXIT_DONE;
  }
  json_t *document = tw_document_new("export");
  json_object_set_new(document, "design", tw_json_design(design));
  json_object_set_new(document, "unit", json_string(unit));
  json_object_set_new(document, "dimensions", rows);
  return tw_cli_print_json(cli, document);
}

static tw_exit run(tw_cli *cli)
{
  tw_system system = TW_METRIC;
  tw_design *design = NULL;
  if (!tw_cli_has(cli, "dimensions")) {
    return tw_cli_usage(cli, "say what to export: --dimensions");
  }
  if (!tw_cli_system(cli, &system)) {
    return TW_EXIT_USAGE;
  }
  tw_exit code = tw_cli_design(cli, cli->operand[0], TW_NEED_NOTHING, &design);
  if (code == TW_EXIT_DONE) {
    code = print_all(cli, design, system);
  }
  tw_design_free(design);
  return code;
}

static const tw_option options[] = {
    {"dimensions", NULL, "every length that is made, with tolerance, part and origin", false},
    {NULL, NULL, NULL, false},
};

const tw_verb tw_verb_export = {
    .name = "export",
    .operands = "FILE",
    .least = 1,
    .most = 1,
    .summary = "print the dimensions of a design for drawing or slicing",
    .options = options,
    .takes = TW_TAKES_JSON | TW_TAKES_CSV | TW_TAKES_DESIGN | TW_GIVES_A_FILE,
    .run = run,
};
