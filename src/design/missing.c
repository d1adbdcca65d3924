/* missing.c: what must be given and is not, and what is given but does not belong. */
#include "inside.h"

#include <stdio.h>
#include <string.h>

/* the value a condition hangs on, in words: "preload.kind is spring (line 9)" */
static void because(const tw_reading *r, tw_field choice, char *out, size_t size)
{
  const tw_value *v = tw_design_value(r->design, choice);
  const tw_field_info *info = tw_field_of(choice);
  char where[100] = "";
  if (v->place.line > 0 && v->place.file == r->store->file) {
    snprintf(where, sizeof where, " (line %d)", v->place.line);
  } else if (v->place.line > 0) {
    snprintf(where, sizeof where, " (%.80s:%d)", v->place.file, v->place.line);
  } else if (v->origin == TW_ORIGIN_DEFAULT) {
    snprintf(where, sizeof where, " (default)");
  }
  snprintf(out, size, "%s is %s%s", info->path, tw_choice_word(info->set, (int)v->number), where);
}

/* what a field waits for: the row that could fill it */
static tw_field row_field(tw_field field)
{
  static const struct {
    const char *start;
    tw_field field;
  } rows[] = {
      {"disc.metal_d", TW_F_disc_part},
      {"disc.metal_thickness", TW_F_disc_part},
      {"disc.ceramic_diameter", TW_F_disc_part},
      {"disc.ceramic_thickness", TW_F_disc_part},
      {"disc.metal_", TW_F_disc_metal},
      {"disc.ceramic_", TW_F_disc_ceramic},
      {"stylus.stem_m", TW_F_stylus_stem},
      {"stylus.stem_p", TW_F_stylus_stem},
      {"stylus.stem_den", TW_F_stylus_stem},
      {"stylus.ball_m", TW_F_stylus_ball},
      {"stylus.ball_p", TW_F_stylus_ball},
      {"stylus.ball_den", TW_F_stylus_ball},
      {"machine.work_", TW_F_machine_work},
      {"circuit.amplifier_", TW_F_circuit_amplifier},
      {"circuit.stage_", TW_F_circuit_stage},
      {"seat.spring_rate", TW_F_seat_spring},
      {"preload.spring_rate", TW_F_preload_spring},
      {"holddown.spring_rate", TW_F_holddown_spring},
  };
  const char *path = tw_field_of(field)->path;
  if (field == TW_F_disc_metal_density) {
    return TW_F_disc_metal;
  }
  for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
    if (strncmp(path, rows[i].start, strlen(rows[i].start)) == 0) {
      return rows[i].field;
    }
  }
  return TW_FIELD_COUNT;
}

static void say_missing(tw_reading *r, tw_field field, int g)
{
  const tw_field_info *info = tw_field_of(field);
  char hint[240];
  const tw_field row = row_field(field);
  const char *named = row < TW_FIELD_COUNT ? tw_design_text(r->design, row) : NULL;
  if (named) {
    snprintf(hint, sizeof hint, "%s: the row '%.48s' has none; give it here", info->help, named);
  } else if (row < TW_FIELD_COUNT && row != field) {
    snprintf(hint, sizeof hint, "%s; give it, or name a row with %s", info->help,
             tw_field_of(row)->path);
  } else {
    snprintf(hint, sizeof hint, "%s", info->help);
  }
  tw_place place = r->group_place[g];
  if (!place.file) {
    place = (tw_place){.file = r->store->file};
  }
  const size_t length = strcspn(info->when, "=");
  char path[64];
  snprintf(path, sizeof path, "%.*s", (int)length, info->when);
  const tw_field choice = tw_field_find(path);
  if (info->when[0] && choice < TW_FIELD_COUNT && tw_design_choice(r->design, choice) >= 0) {
    char why[200];
    because(r, choice, why, sizeof why);
    tw_reading_say(r, TW_ERROR, place, info->path, hint, "must be given, as %s", why);
  } else {
    tw_reading_say(r, TW_ERROR, place, info->path, hint, "must be given");
  }
}

/* opening contacts need no disc */
static bool group_needed(const tw_reading *r, int g)
{
  if (!(tw_group_need(g) & r->options->need)) {
    return false;
  }
  if (tw_group_need(g) != TW_NEED_DISC) {
    return true;
  }
  return tw_design_choice(r->design, TW_F_circuit_kind) != TW_CIRCUIT_CONTACT ||
         tw_design_has(r->design, TW_F_disc_metal_diameter);
}

/* constants of a row are asked for once: by the name of the row, not one by one */
static bool row_missing_as_well(const tw_reading *r, tw_field field)
{
  const tw_field row = row_field(field);
  return row < TW_FIELD_COUNT && row != TW_F_disc_part &&
         strncmp(tw_field_of(field)->path, "circuit.", 8) == 0 && !tw_design_has(r->design, row);
}

/* does the field belong, as far as is known? A choice that is itself asked for decides later. */
static bool is_due(const tw_reading *r, const char *when)
{
  tw_field other;
  for (const char *p = when; *p; p += *p == '&') {
    char path[64];
    snprintf(path, sizeof path, "%.*s", (int)strcspn(p, "="), p);
    const int g = tw_group_of(path);
    if (tw_design_choice(r->design, tw_field_find(path)) < 0 && group_needed(r, g)) {
      return false;
    }
    p += strcspn(p, "&");
  }
  return tw_when_applies(r->design, when, &other);
}

/* no word about the disc at all: one message instead of fifteen */
static bool disc_missing(tw_reading *r)
{
  const int g = tw_group_of("disc.part");
  if (!group_needed(r, g) || tw_describes_disc(r->design)) {
    return false;
  }
  const tw_place place =
      r->group_place[g].file ? r->group_place[g] : (tw_place){.file = r->store->file};
  tw_reading_say(r, TW_ERROR, place, "disc",
                 "name a row of parts/discs.yaml with disc.part, or give its diameters and "
                 "thicknesses",
                 "must be given");
  return true;
}

void tw_check_missing(tw_reading *r)
{
  const bool no_disc = disc_missing(r);
  bool asked[TW_FIELD_COUNT] = {false};
  for (size_t i = 0; i < TW_FIELD_COUNT; i++) {
    const tw_field field = (tw_field)i;
    const tw_field_info *info = tw_field_of(field);
    const int g = tw_group_of(info->path);
    const tw_value *v = tw_design_value(r->design, field);
    tw_field other;
    const bool applies = tw_when_applies(r->design, info->when, &other);
    if (v->origin >= TW_ORIGIN_GIVEN && !applies) {
      char why[200];
      because(r, other, why, sizeof why);
      tw_reading_say(r, TW_WARNING, v->place, info->path, "remove it or change the kind",
                     "has no effect, as %s", why);
    }
    if (g < 0 || v->origin != TW_ORIGIN_UNSET || !group_needed(r, g) ||
        strcmp(info->fallback, TW_MUST) != 0 || !is_due(r, info->when) ||
        (no_disc && strncmp(info->path, "disc.", 5) == 0)) {
      continue;
    }
    const tw_field row = row_field(field);
    if (row < TW_FIELD_COUNT && r->row_unknown[row]) {
      continue; /* said already */
    }
    if (row == TW_F_circuit_stage && !tw_design_has(r->design, row)) {
      continue; /* the same part as circuit.amplifier */
    }
    if (row_missing_as_well(r, field)) {
      if (!asked[row]) {
        say_missing(r, row, g);
      }
      asked[row] = true;
      continue;
    }
    say_missing(r, field, g);
  }
}
