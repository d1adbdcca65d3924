/* verb_disc.c: the disc alone: charge, capacitance, stiffness, resonances, stress. */
#include "verb.h"

#include <string.h>

enum { RADII = 64 };

/* "1mm,2 mm,3mm" into metres; false after a message */
static bool read_radii(tw_cli *cli, double radius[RADII], size_t *count)
{
  const char *text = tw_cli_text(cli, "at", NULL);
  *count = 0;
  if (!text) {
    return true;
  }
  tw_units *units = tw_cli_units(cli);
  tw_unit unit;
  tw_fault fault = {0};
  if (!units || tw_units_find(units, "mm", &unit, &fault) != TW_OK) {
    return false;
  }
  while (*text) {
    char piece[48];
    const size_t length = strcspn(text, ",");
    tw_quantity quantity;
    if (length >= sizeof piece || *count == RADII) {
      tw_cli_usage(cli, "--at takes up to %d radii such as 1mm,2mm", RADII);
      return false;
    }
    memcpy(piece, text, length);
    piece[length] = '\0';
    if (tw_quantity_read(units, piece, &unit, &quantity, NULL, &fault) != TW_OK) {
      tw_cli_usage(cli, "--at: %s", fault.text);
      return false;
    }
    radius[(*count)++] = quantity.number;
    text += length + (text[length] == ',');
  }
  return true;
}

static void line(FILE *out, const json_t *object, const char *name)
{
  const json_t *o = json_object_get(object, name);
  const json_t *value = json_object_get(o, "value");
  char text[64] = "";
  if (json_is_number(value)) {
    tw_show_digits(json_number_value(value), json_string_value(json_object_get(o, "unit")), 4, text,
                   sizeof text);
  } else {
    const char *why = json_string_value(json_object_get(o, "why"));
    snprintf(text, sizeof text, "- %s", why ? why : "");
  }
  fprintf(out, "  %-26s %s\n", name, text);
}

static const char *number(const json_t *row, const char *key, const char *unit, char *out,
                          size_t size)
{
  const json_t *value = json_object_get(row, key);
  if (!json_is_number(value)) {
    snprintf(out, size, "cannot bend");
    return out;
  }
  return tw_show_digits(json_number_value(value), unit, 4, out, size);
}

static void print_rings(FILE *out, const json_t *rows)
{
  if (json_array_size(rows) == 0) {
    return;
  }
  fprintf(out, "\nRing load at\n  %12s %14s %12s %14s %14s\n", "radius", "charge", "open voltage",
          "stiffness", "(open)");
  for (size_t i = 0; i < json_array_size(rows); i++) {
    const json_t *r = json_array_get(rows, i);
    char a[32], b[32], c[32], d[32], e[32];
    fprintf(out, "  %12s %14s %12s %14s %14s\n", number(r, "radius", "m", a, sizeof a),
            number(r, "charge_per_newton", "C/N", b, sizeof b),
            number(r, "voltage_per_newton_open", "V/N", c, sizeof c),
            number(r, "stiffness_short", "N/m", d, sizeof d),
            number(r, "stiffness_open", "N/m", e, sizeof e));
  }
}

static void print_stress(FILE *out, const json_t *rows)
{
  if (json_array_size(rows) == 0) {
    return;
  }
  fprintf(out, "\nStress per newton at the contact ring (tension positive)\n");
  for (size_t i = 0; i < json_array_size(rows); i++) {
    const json_t *r = json_array_get(rows, i);
    char a[32], b[32];
    fprintf(out, "  %-8s %-6s centre %12s   peak tension %12s\n",
            json_string_value(json_object_get(r, "layer")),
            json_string_value(json_object_get(r, "face")),
            number(r, "per_newton", "Pa/N", a, sizeof a),
            number(r, "peak_tension", "Pa/N", b, sizeof b));
  }
}

/* the curve g(r) as bars */
static void print_influence(FILE *out, const json_t *influence)
{
  const json_t *radius = json_object_get(influence, "radius"), *g = json_object_get(influence, "g");
  const double most = json_number_value(json_array_get(g, 0));
  fprintf(out, "\nCharge of a ring load against its radius (bars: share of that at the centre)\n");
  for (size_t i = 0; i < json_array_size(g); i += 4) {
    char bar[48], r[32], q[32];
    const double value = json_number_value(json_array_get(g, i));
    fprintf(out, "  %10s %12s %s\n",
            tw_show(json_number_value(json_array_get(radius, i)), "m", r, sizeof r),
            tw_show(value, "C/N", q, sizeof q),
            tw_bar(most != 0 ? value / most : 0, 40, bar, sizeof bar));
  }
}

static void print_text(const tw_cli *cli, const json_t *document)
{
  FILE *out = cli->out;
  const json_t *m = json_object_get(document, "measures");
  const char *name;
  json_t *value;
  char radius[32];
  const json_t *support = json_object_get(document, "support");
  fprintf(out, "Disc on %s at %s\n\n", json_string_value(json_object_get(support, "kind")),
          number(json_object_get(support, "radius"), "value", "m", radius, sizeof radius));
  json_object_foreach((json_t *)(uintptr_t)m, name, value)
  {
    line(out, m, name);
  }
  json_object_foreach(json_object_get(document, "catalogue"), name, value)
  {
    fprintf(out, "  catalogue %-16s %s (foreseen: %.2f times that)\n", name,
            number(value, "value", json_string_value(json_object_get(value, "unit")), radius,
                   sizeof radius),
            json_number_value(json_object_get(value, "foreseen_over_printed")));
  }
  print_rings(out, json_object_get(document, "at"));
  print_stress(out, json_object_get(document, "stress"));
  print_influence(out, json_object_get(document, "influence"));
}

static tw_exit run(tw_cli *cli)
{
  double radius[RADII];
  size_t count = 0;
  tw_design *design = NULL;
  if (!read_radii(cli, radius, &count)) {
    return TW_EXIT_USAGE;
  }
  tw_exit code = tw_cli_design(cli, cli->operand[0], TW_NEED_DISC, &design);
  if (code != TW_EXIT_DONE) {
    return code;
  }
  json_t *document = NULL;
  tw_fault fault = {0};
  const tw_status status = tw_document_disc(design, radius, count, &document, &fault);
  tw_design_free(design);
  if (status != TW_OK) {
    if (count > 0 && strcmp(fault.field, "seat.flat_radius") == 0) {
      return tw_cli_usage(cli, "--at: %s", fault.text);
    }
    return tw_cli_fault(cli, &fault);
  }
  if (tw_cli_has(cli, "json")) {
    return tw_cli_print_json(cli, document);
  }
  print_text(cli, document);
  json_decref(document);
  return TW_EXIT_DONE;
}

static const tw_option options[] = {
    {"at", "RADII", "also show ring loads at these radii, such as 1mm,2mm", false},
    {NULL, NULL, NULL, false},
};

const tw_verb tw_verb_disc = {
    .name = "disc",
    .operands = "FILE",
    .least = 1,
    .most = 1,
    .summary = "the disc alone: charge, capacitance, stiffness, resonances, stress",
    .details = "The file may hold only the groups disc and support.",
    .options = options,
    .takes = TW_TAKES_JSON | TW_TAKES_DESIGN,
    .run = run,
};
