/* touch_crash.c: what gives way in a crash, what each part carries, where it would fail. */
#include "touch_crash.h"

#include "tripwright/assess.h"

#include <math.h>
#include <string.h>

static double bare(const json_t *o, const char *key)
{
  const json_t *v = json_object_get(o, key);
  return json_is_number(v) ? json_number_value(v) : (double)NAN;
}

static double of(const json_t *o, const char *key)
{
  return bare(json_object_get(o, key), "value");
}

static const char *word(const json_t *o, const char *key)
{
  const char *text = json_string_value(json_object_get(o, key));
  return text ? text : "-";
}

/* one of several figures in a line; what is small beside the crash itself is a rounding */
typedef struct shown {
  char text[32];
} shown;

static shown show(double value, const char *unit)
{
  shown s;
  tw_show(value, unit, s.text, sizeof s.text);
  return s;
}

/* a force or travel of one part, read beside those of the whole crash */
static shown part(const json_t *way, double value, const char *unit)
{
  const double force = fmax(of(way, "force"), of(way, "crash_force")), travel = of(way, "travel");
  const double whole = strcmp(unit, "N") == 0 ? force : strcmp(unit, "m") == 0 ? travel : 0;
  return show(tw_shown_beside(value, whole), unit);
}

/* ---- text ------------------------------------------------------------------------------------ */

static void print_stages(FILE *out, const json_t *way)
{
  const json_t *rows = json_object_get(way, "stages");
  bool any = false;
  fprintf(out, "  %-23s %8s %8s %7s %7s %8s %7s\n", "gives way", "from", "after", "stop at",
          "after", "at end", "takes up");
  for (size_t i = 0; i < json_array_size(rows); i++) {
    const json_t *r = json_array_get(rows, i);
    const bool stopped = json_is_true(json_object_get(r, "stopped"));
    any = any || stopped;
    fprintf(out, "  %-23s %8s %8s %7s %7s %8s %7s%s\n", word(r, "name"),
            part(way, bare(r, "gives_at"), "N").text,
            part(way, bare(r, "gives_at_travel"), "m").text,
            part(way, bare(r, "limit_force"), "N").text,
            part(way, bare(r, "limit_travel"), "m").text, part(way, bare(r, "travel"), "m").text,
            part(way, bare(r, "energy"), "J").text, stopped ? " *" : "");
  }
  if (any) {
    fprintf(out, "  * on its stop at the end\n");
  }
}

static void print_members(FILE *out, const json_t *way)
{
  const json_t *rows = json_object_get(way, "members");
  if (json_array_size(rows) == 0) {
    fprintf(out, "  no part has both a stress and an allowable\n");
    return;
  }
  fprintf(out, "\n  %-17s %8s %9s %9s %5s %9s %8s\n", "may break", "carries", "stress", "allowable",
          "of it", "fails at", "after");
  for (size_t i = 0; i < json_array_size(rows); i++) {
    const json_t *r = json_array_get(rows, i);
    fprintf(out, "  %-17s %8s %9s %9s %4.0f%% %9s %8s%s\n", word(r, "name"),
            part(way, bare(r, "load"), "N").text, part(way, bare(r, "stress"), "Pa").text,
            part(way, bare(r, "allowable"), "Pa").text, 100 * bare(r, "ratio"),
            part(way, bare(r, "fails_at_force"), "N").text,
            part(way, bare(r, "fails_at_travel"), "m").text,
            json_is_true(json_object_get(r, "fails")) ? "  FAILS" : "");
  }
}

static void print_order(FILE *out, const json_t *way)
{
  const json_t *rows = json_object_get(way, "order");
  fprintf(out, "\n  order: ");
  for (size_t i = 0; i < json_array_size(rows); i++) {
    const json_t *r = json_array_get(rows, i);
    const bool tripless = i == 0 && !(of(way, "trip_force") > 0);
    fprintf(out, "%s%s %s%s", i ? " < " : "", word(r, "name"),
            tripless ? "(none)" : show(bare(r, "force"), "N").text,
            json_is_true(json_object_get(r, "late")) ? " (OUT OF ORDER)" : "");
  }
  fprintf(out, "\n");
}

static void print_way(FILE *out, const json_t *way)
{
  if (json_object_get(way, "note")) {
    fprintf(out, "\n%s: no answer\n  %s\n", word(way, "name"), word(way, "note"));
    return;
  }
  fprintf(out, "\n%s, %s of travel: ", word(way, "name"), show(of(way, "travel"), "m").text);
  if (strcmp(word(way, "first_to_fail"), "nothing") == 0) {
    fprintf(out, "%s at its end, %s taken up\n", show(of(way, "force"), "N").text,
            show(of(way, "energy"), "J").text);
  } else {
    fprintf(out, "%s fails at %s; figures at the end show by how much\n",
            word(way, "first_to_fail"), show(of(way, "crash_force"), "N").text);
  }
  print_stages(out, way);
  print_members(out, way);
  print_order(out, way);
  fprintf(out, "  gives first: %s; fails first: %s\n", word(way, "gives_first"),
          word(way, "first_to_fail"));
  if (isfinite(of(way, "overtravel"))) {
    const double left = of(way, "travel_left");
    fprintf(out, "  a touch at machine.approach_feed stops after %s: %s %s\n",
            show(of(way, "overtravel"), "m").text, show(fabs(left), "m").text,
            left >= 0 ? "left" : "TOO FAR");
  } else {
    fprintf(out, "  no touch trips in this direction: nothing stops the machine\n");
  }
}

static void print_text(FILE *out, const json_t *document)
{
  const json_t *ways = json_object_get(document, "directions"),
               *reseat = json_object_get(json_object_get(document, "measures"), "reseat_offset");
  fprintf(out, "Crash: what gives way when the machine does not stop.\n"
               "A probe is no safety device; local rules and licensed practice go first.\n");
  for (size_t i = 0; i < json_array_size(ways); i++) {
    print_way(out, json_array_get(ways, i));
  }
  if (isfinite(bare(reseat, "value"))) {
    fprintf(out, "\nafter it the holder stays %s off: %s\n", show(bare(reseat, "value"), "m").text,
            word(reseat, "note"));
  }
}

/* ---- the curve ------------------------------------------------------------------------------- */

/* travels of the stages by their place in the row, whose names the JSON document tells */
static void print_csv(FILE *out, const json_t *document)
{
  const json_t *ways = json_object_get(document, "directions");
  fprintf(out, "direction,travel_m,force_N,stage_1_m,stage_2_m,stage_3_m\n");
  for (size_t w = 0; w < json_array_size(ways); w++) {
    const json_t *way = json_array_get(ways, w), *curve = json_object_get(way, "curve"),
                 *stages = json_object_get(way, "stages"), *each = json_object_get(curve, "stages");
    const size_t rows = json_array_size(json_object_get(curve, "travel"));
    for (size_t i = 0; i < rows; i++) {
      fprintf(out, "%s,%.9g,%.9g", word(way, "name"),
              json_number_value(json_array_get(json_object_get(curve, "travel"), i)),
              json_number_value(json_array_get(json_object_get(curve, "force"), i)));
      for (size_t s = 0; s < 3; s++) {
        const json_t *one = json_object_get(each, word(json_array_get(stages, s), "name"));
        fprintf(out, ",%.9g", json_number_value(json_array_get(one, i)));
      }
      fprintf(out, "\n");
    }
  }
}

/* ---- run ------------------------------------------------------------------------------------- */

tw_exit tw_cli_crash(tw_cli *cli, const tw_design *design)
{
  tw_units *units = tw_cli_units(cli);
  tw_messages *messages = tw_messages_new();
  tw_limits limits;
  json_t *document = NULL;
  tw_fault fault = {0};
  if (!units || !messages) {
    tw_messages_free(messages);
    return TW_EXIT_INTERNAL;
  }
  const tw_progress progress = tw_cli_progress(cli);
  tw_status status = tw_limits_read(design, units, messages, &limits);
  tw_cli_messages(cli, messages);
  tw_messages_free(messages);
  if (status != TW_OK) {
    return tw_exit_of(status);
  }
  status = tw_document_crash(design, &limits, &progress, &document, &fault);
  if (status != TW_OK) {
    return tw_cli_fault(cli, &fault);
  }
  if (tw_cli_has(cli, "json")) {
    return tw_cli_print_json(cli, document);
  }
  if (tw_cli_has(cli, "csv")) {
    print_csv(cli->out, document);
  } else {
    print_text(cli->out, document);
  }
  json_decref(document);
  return TW_EXIT_DONE;
}
