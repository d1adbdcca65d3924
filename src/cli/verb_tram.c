/* verb_tram.c: readings of an indicator to turns of screws. */
#include "readings_in.h"
#include "tripwright/constants.h"

#include <math.h>
#include <string.h>

struct job {
  tw_cli *cli;
  json_t *document;
  double level, u, indicator;
  bool words; /* print words as we go */
};

static tw_exit read_runout(struct job *j, const char *file, tw_runout *out)
{
  static const tw_wanted wanted[] = {{"angle", TW_ANGLE, false}, {"reading", TW_LENGTH, false}};
  tw_recording in;
  tw_fault fault = {0};
  tw_exit code = tw_cli_recording(j->cli, file, wanted, 2, &in);
  if (code != TW_EXIT_DONE) {
    return code;
  }
  /* readings on the steps of a dial scatter too little to judge by: u is a step / sqrt 12 at least
   */
  double u = j->u;
  tw_step_found step = {.found = false};
  tw_status status = TW_OK;
  if (!tw_cli_has(j->cli, "u")) {
    status = tw_step_of(tw_recording_number(&in, 1), in.table->rows, &step, &fault);
    u = status == TW_OK && step.found ? step.step / sqrt(12.0) : u;
  }
  /* what is too few readings for a step is too few for a runout, which says it better */
  if (status == TW_NO_MEMORY ||
      tw_runout_of(tw_recording_number(&in, 0), tw_recording_number(&in, 1), in.table->rows,
                   j->indicator, u, j->level, out, &fault) != TW_OK) {
    code = tw_cli_fault(j->cli, &fault);
  }
  tw_readings_free(in.table);
  return code;
}

static json_t *runout_json(const tw_runout *r)
{
  return json_pack(
      "{s:o, s:o, s:f, s:o, s:o, s:o, s:o, s:b}", "eccentricity", tw_json_vector(r->e, 2, "m"),
      "modulus", tw_json_quantity(r->modulus, "m"), "azimuth_deg", r->azimuth * TW_RADIAN, "tir",
      tw_json_quantity(r->tir, "m"), "u", tw_json_quantity(r->u_modulus, "m"), "expanded",
      tw_json_quantity(r->expanded, "m"), "scatter", tw_json_quantity(r->s, "m"), "real", r->real);
}

static void say_runout(const struct job *j, const char *file, const tw_runout *r)
{
  FILE *out = j->cli->out;
  fprintf(out, "Runout from %zu readings of %s\n\n", r->n, file);
  fprintf(out, "  eccentricity      %9.2f um towards %.1f deg (x %.2f, y %.2f um)\n",
          1e6 * r->modulus, r->azimuth * TW_RADIAN, 1e6 * r->e[0], 1e6 * r->e[1]);
  fprintf(out, "  total runout TIR  %9.2f um\n", 1e6 * r->tir);
  fprintf(out, "  known to          %9.2f um (%g %% circle), u of a reading %.2f um\n",
          1e6 * r->expanded, 100 * j->level, 1e6 * r->s);
  if (!r->real) {
    fprintf(out, "  the readings cannot separate it from zero: nothing to adjust\n");
  }
}

/* ---- screws
 * ---------------------------------------------------------------------------------------- */

/* "30deg,150deg,270deg" into azimuths */
static bool read_screws(struct job *j, tw_screws *s)
{
  const char *kind = tw_cli_text(j->cli, "screws", NULL), *at = tw_cli_text(j->cli, "at", NULL);
  *s = (tw_screws){.ratio = 1.0};
  if (strcmp(kind, "axial") != 0 && strcmp(kind, "radial") != 0) {
    tw_cli_usage(j->cli, "--screws: \"%s\" is neither axial nor radial", kind);
    return false;
  }
  s->kind = strcmp(kind, "axial") == 0 ? TW_SCREW_AXIAL : TW_SCREW_RADIAL;
  s->only_tighten = tw_cli_has(j->cli, "only-tighten");
  while (at && *at) {
    const size_t length = strcspn(at, ",");
    const size_t digits =
        length > 3 && strncmp(at + length - 3, "deg", 3) == 0 ? length - 3 : length;
    double degrees;
    if (s->count == TW_SCREW_MOST || !tw_number_read(at, digits, &degrees)) {
      tw_cli_usage(j->cli, "--at: write the azimuths of the screws as 30deg,150deg,270deg");
      return false;
    }
    s->azimuth[s->count++] = degrees / TW_RADIAN;
    at += length + (at[length] == ',');
  }
  return tw_cli_quantity(j->cli, "pitch", "mm", &s->pitch) &&
         tw_cli_quantity(j->cli, "radius", "mm", &s->radius) &&
         tw_cli_quantity(j->cli, "drop", "mm", &s->drop) &&
         tw_cli_number(j->cli, "ratio", 1e-6, 1e6, &s->ratio);
}

static void say_turns(const struct job *j, const tw_screws *s, const tw_turns *t)
{
  FILE *out = j->cli->out;
  const bool axial = s->kind == TW_SCREW_AXIAL;
  fprintf(out, "\n%s screws, %.3g mm pitch: one degree of one screw moves the tip %.2f um\n\n",
          axial ? "Axial" : "Radial", 1e3 * s->pitch, 1e6 * t->tip_per_angle / TW_RADIAN);
  for (size_t i = 0; i < s->count; i++) {
    const double degrees = t->angle[i] * TW_RADIAN;
    const char *way =
        axial         ? degrees > 0 ? "raise that side by turning" : "lower that side by turning"
        : degrees > 0 ? "drive inwards by turning"
                      : "back out by turning";
    fprintf(out, "  screw %zu at %5.1f deg: %s %.3f deg (u %.3f)\n", i + 1,
            s->azimuth[i] * TW_RADIAN, way, fabs(degrees), t->angle_u[i] * TW_RADIAN);
  }
  if (t->coarse) {
    fprintf(out,
            "  one degree moves the tip further than the readings are good for: a finer pitch or "
            "radial screws would help\n");
  }
  if (!t->worth_it) {
    fprintf(out, "  not worth a turn: the tip is off by less than half a degree of one screw\n");
  }
  fprintf(out, "  back out before driving in; lock, then read again (--after-lock)\n");
}

static json_t *turns_json(const tw_screws *s, const tw_turns *t)
{
  double angle[TW_SCREW_MOST], u[TW_SCREW_MOST], at[TW_SCREW_MOST];
  for (size_t i = 0; i < s->count; i++) {
    angle[i] = t->angle[i] * TW_RADIAN;
    u[i] = t->angle_u[i] * TW_RADIAN;
    at[i] = s->azimuth[i] * TW_RADIAN;
  }
  return json_pack("{s:s, s:o, s:o, s:o, s:o, s:o, s:b, s:b}", "kind",
                   s->kind == TW_SCREW_AXIAL ? "axial" : "radial", "azimuth_deg",
                   tw_json_numbers(at, s->count), "turn_deg", tw_json_numbers(angle, s->count),
                   "turn_u_deg", tw_json_numbers(u, s->count), "travel",
                   tw_json_vector(t->travel, s->count, "m"), "tip_per_degree",
                   tw_json_quantity(t->tip_per_angle / TW_RADIAN, "m"), "worth_it", t->worth_it,
                   "coarse", t->coarse);
}

static tw_exit add_turns(struct job *j, const tw_runout *runout, const tw_screws *s)
{
  tw_turns t;
  tw_fault fault = {0};
  if (tw_turns_for(runout, s, &t, &fault) != TW_OK) {
    return tw_cli_fault(j->cli, &fault);
  }
  json_object_set_new(j->document, "screws", turns_json(s, &t));
  if (j->words && runout->real) {
    say_turns(j, s, &t);
  }
  return TW_EXIT_DONE;
}

/* ---- second height, after locking
 * -------------------------------------------------------------------- */

static tw_exit add_tilt(struct job *j, const tw_runout *tip)
{
  double height = 0.0, drop = 0.0;
  tw_runout up;
  tw_tilt t;
  tw_fault fault = {0};
  if (!tw_cli_quantity(j->cli, "height", "mm", &height) ||
      !tw_cli_quantity(j->cli, "drop", "mm", &drop)) {
    return TW_EXIT_USAGE;
  }
  const tw_exit code = read_runout(j, tw_cli_text(j->cli, "second", NULL), &up);
  if (code != TW_EXIT_DONE) {
    return code;
  }
  if (tw_tilt_of(tip, &up, height, drop, j->level, &t, &fault) != TW_OK) {
    return tw_cli_fault(j->cli, &fault);
  }
  const double mrad[2] = {t.tilt[0], t.tilt[1]};
  json_object_set_new(j->document, "second", runout_json(&up));
  json_object_set_new(j->document, "tilt", tw_json_vector(mrad, 2, "rad"));
  json_object_set_new(j->document, "tilt_u", tw_json_quantity(t.u, "rad"));
  json_object_set_new(j->document, "at_drop", tw_json_vector(t.flange, 2, "m"));
  if (j->words) {
    fprintf(j->cli->out, "\n  tilt              %9.4f mrad, u %.4f (x %.4f, y %.4f)%s\n",
            1e3 * t.modulus, 1e3 * t.u, 1e3 * t.tilt[0], 1e3 * t.tilt[1],
            t.real ? "" : ": not distinct from zero");
    if (drop > 0.0) {
      fprintf(j->cli->out, "  %.1f mm above tip  %9.2f um off the axis (x %.2f, y %.2f), u %.2f\n",
              1e3 * drop, 1e6 * t.flange_modulus, 1e6 * t.flange[0], 1e6 * t.flange[1],
              1e6 * t.flange_u);
    }
  }
  return TW_EXIT_DONE;
}

/* "2=15deg": screw 2 was driven by 15 degrees between the two readings */
static tw_exit add_learned(struct job *j, const tw_shift *shift, const tw_screws *s)
{
  const char *text = tw_cli_text(j->cli, "turned", NULL), *equals = strchr(text, '=');
  const size_t length = equals ? strlen(equals + 1) : 0;
  const size_t digits =
      length > 3 && strcmp(equals + 1 + length - 3, "deg") == 0 ? length - 3 : length;
  double screw, degrees;
  tw_learned l;
  tw_fault fault = {0};
  if (!equals || !tw_number_read(text, (size_t)(equals - text), &screw) ||
      !tw_number_read(equals + 1, digits, &degrees) || screw < 1 || screw > 99 ||
      screw != floor(screw)) {
    return tw_cli_usage(j->cli, "--turned: write screw and angle as 2=15deg");
  }
  if (tw_screw_learned(shift, s, (size_t)screw - 1, degrees / TW_RADIAN, &l, &fault) != TW_OK) {
    return tw_cli_fault(j->cli, &fault);
  }
  json_object_set_new(j->document, "learned",
                      json_pack("{s:o, s:o, s:o, s:f}", "along_per_degree",
                                tw_json_quantity(l.along / TW_RADIAN, "m"), "across_per_degree",
                                tw_json_quantity(l.across / TW_RADIAN, "m"), "u",
                                tw_json_quantity(l.u / TW_RADIAN, "m"), "found_over_computed",
                                l.ratio));
  if (j->words) {
    fprintf(j->cli->out,
            "  screw %g moves the tip %.2f um a degree along its own direction, %.2f across "
            "(u %.2f): %.2f times the computed\n",
            screw, 1e6 * l.along / TW_RADIAN, 1e6 * l.across / TW_RADIAN, 1e6 * l.u / TW_RADIAN,
            l.ratio);
  }
  return TW_EXIT_DONE;
}

static tw_exit add_shift(struct job *j, const tw_runout *before, const tw_screws *s)
{
  tw_runout after;
  tw_shift shift;
  tw_fault fault = {0};
  const tw_exit code = read_runout(j, tw_cli_text(j->cli, "after-lock", NULL), &after);
  if (code != TW_EXIT_DONE) {
    return code;
  }
  if (tw_shift_of(before, &after, j->level, &shift, &fault) != TW_OK) {
    return tw_cli_fault(j->cli, &fault);
  }
  json_object_set_new(j->document, "after", runout_json(&after));
  json_object_set_new(j->document, "shift", tw_json_vector(shift.move, 2, "m"));
  json_object_set_new(j->document, "shift_u", tw_json_quantity(shift.u, "m"));
  json_object_set_new(j->document, "shift_real", json_boolean(shift.real));
  if (j->words) {
    fprintf(j->cli->out,
            "\n  afterwards the tip is %.2f um off; it moved %.2f um towards %.1f deg, u %.2f%s\n",
            1e6 * after.modulus, 1e6 * shift.modulus, shift.azimuth * TW_RADIAN, 1e6 * shift.u,
            shift.real ? "" : ": not distinct from zero");
  }
  return tw_cli_has(j->cli, "turned") ? add_learned(j, &shift, s) : TW_EXIT_DONE;
}

/* ---- verb
 * ------------------------------------------------------------------------------------------ */

static tw_exit check_use(const struct job *j)
{
  const tw_cli *cli = j->cli;
  if (!tw_cli_has(cli, "angle") || !tw_cli_has(cli, "reading")) {
    return tw_cli_usage(cli, "name the columns: --angle angle_deg --reading dial_um");
  }
  if (tw_cli_has(cli, "second") != tw_cli_has(cli, "height")) {
    return tw_cli_usage(
        cli, "--second and --height go together: one height alone cannot separate tilt from "
             "eccentricity");
  }
  if (tw_cli_has(cli, "turned") && (!tw_cli_has(cli, "after-lock") || !tw_cli_has(cli, "screws"))) {
    return tw_cli_usage(cli,
                        "--turned needs --screws and the readings afterwards, --after-lock FILE");
  }
  return TW_EXIT_DONE;
}

static tw_exit work(struct job *j)
{
  tw_runout runout;
  tw_screws screws = {0};
  if (tw_cli_has(j->cli, "screws") && !read_screws(j, &screws)) {
    return TW_EXIT_USAGE;
  }
  tw_exit code = read_runout(j, j->cli->operand[0], &runout);
  if (code != TW_EXIT_DONE) {
    return code;
  }
  json_object_set_new(j->document, "runout", runout_json(&runout));
  if (j->words) {
    say_runout(j, j->cli->operand[0], &runout);
  }
  if (tw_cli_has(j->cli, "second")) {
    code = add_tilt(j, &runout);
  }
  if (code == TW_EXIT_DONE && tw_cli_has(j->cli, "screws")) {
    code = add_turns(j, &runout, &screws);
  }
  return code == TW_EXIT_DONE && tw_cli_has(j->cli, "after-lock") ? add_shift(j, &runout, &screws)
                                                                  : code;
}

static tw_exit run(tw_cli *cli)
{
  struct job j = {.cli = cli, .level = 0.95, .words = !tw_cli_has(cli, "json")};
  double indicator = 0.0;
  tw_exit code = check_use(&j);
  if (code != TW_EXIT_DONE) {
    return code;
  }
  if (!tw_cli_number(cli, "level", 0.5, 0.9999, &j.level) ||
      !tw_cli_quantity(cli, "u", "mm", &j.u) ||
      !tw_cli_number(cli, "indicator", -360, 360, &indicator)) {
    return TW_EXIT_USAGE;
  }
  j.indicator = indicator / TW_RADIAN;
  j.document = tw_document_new("tram");
  code = j.document ? work(&j) : TW_EXIT_INTERNAL;
  if (code == TW_EXIT_DONE && !j.words) {
    return tw_cli_print_json(cli, j.document);
  }
  json_decref(j.document);
  return code;
}

static const tw_option options[] = {
    {"angle", "COLUMN", "spindle angle, from +X towards +Y", false},
    {"reading", "COLUMN", "of a fixed indicator; it grows as the tip moves towards it", false},
    {"indicator", "TW_RADIAN", "direction of the indicator (default 0: along +X)", false},
    {"u", "LENGTH",
     "standard uncertainty of one reading (default: from the scatter, and a step of the dial over "
     "sqrt 12 at least)",
     false},
    {"second", "FILE", "the same readings higher up the stylus", false},
    {"height", "LENGTH", "... so far above the tip", false},
    {"screws", "axial|radial", "what is adjusted with", false},
    {"at", "LIST", "azimuths of the screws, such as 30deg,150deg,270deg", false},
    {"pitch", "LENGTH", "of their thread", false},
    {"radius", "LENGTH", "axial: of their circle", false},
    {"drop", "LENGTH", "from the plane of the screws down to the tip", false},
    {"ratio", "NUMBER", "radial: tip movement over flange movement (default 1)", false},
    {"only-tighten", NULL, "axial: shift the turns so that no screw is loosened", false},
    {"after-lock", "FILE", "readings after locking (or turning): how far the tip moved", false},
    {"turned", "N=ANGLE", "screw N was turned so far in between: what it really does", false},
    {"level", "SHARE", "of the uncertainty circle (default 0.95)", false},
    TW_TABLE_OPTIONS,
    {NULL, NULL, NULL, false},
};

const tw_verb tw_verb_tram = {
    .name = "tram",
    .operands = "FILE",
    .least = 1,
    .most = 1,
    .summary = "runout readings to eccentricity, tilt, and turns of the adjusting screws",
    .details =
        "Turn the spindle by hand, power off and locked out, with the tip against an indicator; "
        "read at four or more angles. What the readings cannot separate is refused.",
    .options = options,
    .takes = TW_TAKES_JSON,
    .run = run,
};
