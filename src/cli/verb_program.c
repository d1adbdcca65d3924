/* verb_program.c: motion programs for the tests, as drafts to be read before they run. */
#include "program_design.h"
#include "readings_in.h"
#include "tripwright/constants.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* one length of an option's list, `length` characters of it; a wrong one is reported */
static bool read_length(tw_cli *cli, const char *option, const char *text, size_t length,
                        double *out)
{
  char piece[48];
  tw_units *units = tw_cli_units(cli);
  tw_unit mm;
  tw_quantity quantity;
  tw_fault fault = {0};
  if (!units || tw_units_find(units, "mm", &mm, &fault) != TW_OK) {
    return false;
  }
  if (length == 0 || length >= sizeof piece) {
    tw_cli_usage(cli, "--%s: a length is missing, or too long", option);
    return false;
  }
  memcpy(piece, text, length);
  piece[length] = '\0';
  if (tw_quantity_read(units, piece, &mm, &quantity, NULL, &fault) != TW_OK) {
    tw_cli_usage(cli, "--%s: '%s': %s", option, piece, fault.text);
    return false;
  }
  *out = quantity.number;
  return true;
}

/* --at "100mm,50mm,-20mm" */
static bool read_place(tw_cli *cli, double out[3])
{
  const char *text = tw_cli_text(cli, "at", NULL);
  for (int k = 0; text && k < 3; k++) {
    const size_t length = strcspn(text, ",");
    if ((k < 2) != (text[length] == ',')) {
      tw_cli_usage(cli, "--at: write three lengths as \"100mm,50mm,-20mm\"");
      return false;
    }
    if (!read_length(cli, "at", text, length, &out[k])) {
      return false;
    }
    text += length + (k < 2);
  }
  return true;
}

/* --travel "-10mm..400mm,-10mm..300mm,-250mm..20mm" */
static bool read_travel(tw_cli *cli, double out[3][2])
{
  const char *text = tw_cli_text(cli, "travel", NULL);
  for (int k = 0; text && k < 3; k++) {
    const size_t length = strcspn(text, ",");
    const char *dots = strstr(text, "..");
    if ((k < 2) != (text[length] == ',') || !dots || dots > text + length) {
      tw_cli_usage(cli, "--travel: write lowest and highest position of X, Y and Z as "
                        "\"0mm..400mm,0mm..300mm,-250mm..20mm\"");
      return false;
    }
    const size_t low = (size_t)(dots - text);
    if (!read_length(cli, "travel", text, low, &out[k][0]) ||
        !read_length(cli, "travel", dots + 2, length - low - 2, &out[k][1])) {
      return false;
    }
    if (!(out[k][0] < out[k][1])) {
      tw_cli_usage(cli, "--travel: the lowest position of %c comes first", "XYZ"[k]);
      return false;
    }
    text += length + (k < 2);
  }
  return true;
}

/* "30mm/min,60mm/min,120mm/min" */
static bool read_feeds(tw_cli *cli, tw_plan *plan)
{
  const char *text = tw_cli_text(cli, "feeds", NULL);
  tw_units *units = tw_cli_units(cli);
  tw_unit speed;
  tw_fault fault = {0};
  if (!text) {
    return true;
  }
  if (!units || tw_units_find(units, "mm/min", &speed, &fault) != TW_OK) {
    return false;
  }
  while (*text) {
    char piece[48];
    const size_t length = strcspn(text, ",");
    tw_quantity quantity;
    if (length >= sizeof piece || plan->feeds == TW_FEEDS_MOST) {
      tw_cli_usage(cli, "--feeds: up to %d feeds such as 30mm/min,60mm/min", TW_FEEDS_MOST);
      return false;
    }
    memcpy(piece, text, length);
    piece[length] = '\0';
    if (tw_quantity_read(units, piece, &speed, &quantity, NULL, &fault) != TW_OK) {
      tw_cli_usage(cli, "--feeds: %s", fault.text);
      return false;
    }
    plan->feed[plan->feeds++] = quantity.number;
    text += length + (text[length] == ',');
  }
  return true;
}

static bool read_plan(tw_cli *cli, tw_plan *p)
{
  const struct {
    const char *option, *unit;
    double *number;
  } rows[] = {
      {"diameter", "mm", &p->diameter},
      {"tip-diameter", "mm", &p->tip_diameter},
      {"top", "mm", &p->top},
      {"clearance", "mm", &p->clearance},
      {"approach", "mm", &p->approach},
      {"placement", "mm", &p->placement},
      {"back-off", "mm", &p->back_off},
      {"position-feed", "mm/min", &p->feed_position},
      {"first-feed", "mm/min", &p->feed_first},
      {"feed", "mm/min", &p->feed_touch},
      {"feed-limit", "mm/min", &p->feed_limit},
      {"overtravel", "mm", &p->overtravel},
      {"deceleration", "m/s2", &p->deceleration},
      {"latency", "ms", &p->latency},
      {"reach", "mm", &p->reach},
      {"interval", "s", &p->interval},
      {"floor", "mm", &p->floor},
  };
  for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
    if (!tw_cli_quantity(cli, rows[i].option, rows[i].unit, rows[i].number)) {
      return false;
    }
  }
  double azimuth = p->azimuth, elevation = p->elevation * TW_RADIAN;
  long touches = (long)p->touches, turns = (long)p->turns;
  if (!read_place(cli, p->contact) || !read_travel(cli, p->travel) || !read_feeds(cli, p) ||
      !tw_cli_number(cli, "azimuth", -360, 360, &azimuth) ||
      !tw_cli_number(cli, "elevation", -90, 90, &elevation) ||
      !tw_cli_count(cli, "touches", 1, 100000, &touches) ||
      !tw_cli_count(cli, "turns", 1, 360, &turns)) {
    return false;
  }
  p->azimuth = tw_cli_has(cli, "azimuth") ? azimuth / TW_RADIAN : p->azimuth;
  p->elevation = elevation / TW_RADIAN;
  p->touches = (size_t)touches;
  p->turns = (size_t)turns;
  p->entry_secured = tw_cli_has(cli, "entry-secured");
  p->pulse = p->pulse || tw_cli_has(cli, "pulse");
  return true;
}

static tw_exit read_words(tw_cli *cli, tw_words *words)
{
  const char *file = tw_cli_text(cli, "words", NULL);
  tw_words_start(words);
  if (!file) {
    return TW_EXIT_DONE;
  }
  tw_messages *messages = tw_messages_new();
  const tw_status status = messages ? tw_words_read(file, messages, words) : TW_NO_MEMORY;
  tw_cli_messages(cli, messages);
  tw_messages_free(messages);
  return tw_exit_of(status);
}

static const char *kind_name(tw_move_kind kind)
{
  static const char *const names[] = {"height", "position", "guarded", "down", "touch", "counted",
                                      "back",   "record",   "turn",    "wait", "check"};
  return names[kind];
}

static tw_exit print_json(const tw_cli *cli, const tw_program *g, const char *text)
{
  json_t *d = tw_document_new("program"), *rows = json_array();
  for (size_t i = 0; i < g->count; i++) {
    const tw_move *m = &g->move[i];
    const bool moves = m->kind <= TW_MOVE_BACK;
    json_array_append_new(rows, json_pack("{s:s, s:o, s:o, s:i}", "kind", kind_name(m->kind), "to",
                                          moves ? tw_json_numbers(m->to, 3) : json_null(), "feed",
                                          moves ? tw_json_number(m->feed) : json_null(), "touch",
                                          (int)m->number));
  }
  json_object_set_new(d, "test", json_string(tw_program_test_name(g->plan.test)));
  json_object_set_new(d, "touches", json_integer(g->touches));
  json_object_set_new(d, "duration", tw_json_quantity(g->seconds, "s"));
  json_object_set_new(
      d, "moves", json_pack("{s:s, s:s, s:o}", "to_unit", "m", "feed_unit", "m/s", "rows", rows));
  json_object_set_new(d, "text", json_string(text));
  return tw_cli_print_json(cli, d);
}

/* the drawing goes to its own file; a small copy of the option's work */
static tw_exit write_drawing(tw_cli *cli, const tw_program *g)
{
  char *svg = NULL;
  tw_fault fault = {0};
  if (!tw_cli_has(cli, "drawing")) {
    return TW_EXIT_DONE;
  }
  if (tw_program_drawing(g, &svg, &fault) != TW_OK) {
    return tw_cli_fault(cli, &fault);
  }
  return tw_cli_write(cli, "drawing", svg);
}

static tw_exit print(tw_cli *cli, const tw_program *g, const tw_words *words)
{
  char *text = NULL, *list = NULL;
  tw_fault fault = {0};
  if (tw_program_text(g, words, tw_cli_text(cli, "title", "probe test"), &text, &fault) != TW_OK ||
      tw_program_listing(g, &list, &fault) != TW_OK) {
    tw_free(text);
    return tw_cli_fault(cli, &fault);
  }
  tw_exit code = write_drawing(cli, g);
  if (code == TW_EXIT_DONE && tw_cli_has(cli, "json")) {
    code = print_json(cli, g, text);
    tw_free(text);
  } else if (code == TW_EXIT_DONE && tw_cli_has(cli, "listing")) {
    fputs(list, cli->out);
    tw_free(text);
  } else if (code == TW_EXIT_DONE) {
    code = tw_cli_write(cli, "out", text);
  } else {
    tw_free(text);
  }
  tw_free(list);
  return code;
}

static tw_exit run(tw_cli *cli)
{
  tw_program_test test;
  tw_plan plan;
  tw_words words;
  tw_program *program = NULL;
  if (!tw_program_test_named(cli->operand[0], &test)) {
    return tw_cli_usage(cli, "\"%s\" is not repeat, feeds, ring, sphere, offset or drift",
                        cli->operand[0]);
  }
  tw_program_design design;
  tw_plan_start(test, &plan);
  tw_exit code = tw_program_design_take(cli, &plan, &design);
  if (code == TW_EXIT_DONE && !read_plan(cli, &plan)) {
    code = TW_EXIT_USAGE;
  }
  code = code == TW_EXIT_DONE ? tw_program_design_check(cli, &plan, &design) : code;
  code = code == TW_EXIT_DONE ? read_words(cli, &words) : code;
  if (code != TW_EXIT_DONE) {
    return code;
  }
  tw_messages *messages = tw_messages_new();
  const tw_status status =
      messages ? tw_program_make(&plan, &words, messages, &program) : TW_NO_MEMORY;
  tw_cli_messages(cli, messages);
  tw_messages_free(messages);
  code = status == TW_OK ? print(cli, program, &words) : tw_exit_of(status);
  tw_program_free(program);
  return code;
}

static const tw_option options[] = {
    {"design", "FILE",
     "take feeds, tip diameter, stylus, braking and the length of the pulse from this design; "
     "options go first",
     false},
    {"at", "X,Y,Z", "centre of the ball tip at contact; ring, sphere, offset: the centre", false},
    {"azimuth", "TW_RADIAN", "of the force on the tip; the machine moves the other way", false},
    {"elevation", "TW_RADIAN", "0 sideways (default), 90 straight down", false},
    {"diameter", "LENGTH", "of the ring or sphere", false},
    {"tip-diameter", "LENGTH", "of the ball tip; every test needs it", false},
    {"top", "LENGTH", "height of the highest part of artefact and clamps", false},
    {"clearance", "LENGTH", "height of the ball's centre at and above which nothing is in the way",
     false},
    {"floor", "LENGTH", "height of what lies under the ball where it touches", false},
    {"travel", "RANGES",
     "lowest and highest position of X, Y and Z in this work offset, such as "
     "\"0mm..400mm,0mm..300mm,-250mm..20mm\" (default: 2 m each way)",
     false},
    {"approach", "LENGTH", "from the start of a touch to the surface (default 3 mm)", false},
    {"placement", "LENGTH", "how well the place of the surface is known (default 0.2 mm)", false},
    {"back-off", "LENGTH", "before the counted touch (default 1 mm)", false},
    {"position-feed", "SPEED", "(default 500 mm/min)", false},
    {"first-feed", "SPEED", "of the first touch (default 100 mm/min)", false},
    {"feed", "SPEED", "of the counted touch (default 50 mm/min)", false},
    {"feeds", "LIST", "feeds: such as 30mm/min,60mm/min,120mm/min", false},
    {"feed-limit", "SPEED", "the fastest that this probe may be moved (default 1000 mm/min)",
     false},
    {"overtravel", "LENGTH", "that probe and stop allow past the trip", false},
    {"deceleration", "ACCELERATION", "of the machine, such as 0.5 m/s2", false},
    {"latency", "TIME", "from the trip to the start of braking (default 0)", false},
    {"reach", "LENGTH", "free length of stylus above the ball's centre", false},
    {"touches", "N", "how many (default 10; ring 36; feeds 5 at each; offset 12 at each angle)",
     false},
    {"turns", "2|4", "offset: spindle angles (default 4)", false},
    {"interval", "TIME", "drift: between touches (default 60 s)", false},
    {"entry-secured", NULL, "you have made sure that the way straight down to every start is free",
     false},
    {"pulse", NULL, "the probe's output is a pulse, not a level", false},
    {"words", "FILE", "the words of your controller (default: NIST RS274/NGC)", false},
    {"title", "TEXT", "for the head of the program", false},
    {"listing", NULL, "print the moves in plain language instead", false},
    {"drawing", "FILE", "also draw the path (SVG)", false},
    {"out", "FILE", "write the program there", false},
    {NULL, NULL, NULL, false},
};

const tw_verb tw_verb_program = {
    .name = "program",
    .operands = "TEST",
    .least = 1,
    .most = 1,
    .summary = "motion program for a test: repeat, feeds, ring, sphere, offset or drift",
    .details =
        "A draft to be read before it runs. Every move has a feed; below the clearance only moves "
        "that "
        "stop on contact, and ways back along them. Unsafe numbers are refused with the reason, "
        "and "
        "so are words that contradict their meaning. It stops before its first move: look at what "
        "its head says. "
        "A probe is never a safety device.",
    .options = options,
    .takes = TW_TAKES_JSON | TW_TAKES_DESIGN | TW_GIVES_A_FILE,
    .run = run,
};
