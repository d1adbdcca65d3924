/* fill.c: values from the library's rows that the design names, and defaults. */
#include "inside.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* row key -> field, for values that are taken over as they are */
typedef struct pair {
  const char *key;
  tw_field field;
} pair;

static const pair disc_row[] = {
    {"metal_diameter", TW_F_disc_metal_diameter},
    {"metal_thickness", TW_F_disc_metal_thickness},
    {"ceramic_diameter", TW_F_disc_ceramic_diameter},
    {"ceramic_thickness", TW_F_disc_ceramic_thickness},
    {"electrode_diameter", TW_F_disc_electrode_diameter},
    {"bond_thickness", TW_F_disc_bond_thickness},
    {"silver_thickness", TW_F_disc_silver_thickness},
    {"metal", TW_F_disc_metal},
    {"ceramic", TW_F_disc_ceramic},
    {"resonance", TW_F_disc_catalogue_resonance},
    {"capacitance", TW_F_disc_catalogue_capacitance},
};
static const pair metal_row[] = {
    {"modulus", TW_F_disc_metal_modulus},
    {"poisson", TW_F_disc_metal_poisson},
    {"density", TW_F_disc_metal_density},
    {"strength", TW_F_disc_metal_strength},
};
static const pair ceramic_row[] = {
    {"s11", TW_F_disc_ceramic_s11},
    {"s12", TW_F_disc_ceramic_s12},
    {"s13", TW_F_disc_ceramic_s13},
    {"s33", TW_F_disc_ceramic_s33},
    {"d31", TW_F_disc_ceramic_d31},
    {"d33", TW_F_disc_ceramic_d33},
    {"permittivity", TW_F_disc_ceramic_permittivity},
    {"density", TW_F_disc_ceramic_density},
    {"tension", TW_F_disc_allowable_tension},
    {"pyroelectric", TW_F_disc_pyroelectric},
};
static const pair stem_row[] = {
    {"modulus", TW_F_stylus_stem_modulus},
    {"poisson", TW_F_stylus_stem_poisson},
    {"density", TW_F_stylus_stem_density},
    {"strength", TW_F_stylus_stem_strength},
};
static const pair ball_row[] = {
    {"modulus", TW_F_stylus_ball_modulus},
    {"poisson", TW_F_stylus_ball_poisson},
    {"density", TW_F_stylus_ball_density},
};
static const pair work_row[] = {
    {"modulus", TW_F_machine_work_modulus},
    {"poisson", TW_F_machine_work_poisson},
};
static const pair foam_row[] = {
    {"relative_density", TW_F_holddown_foam_relative_density},
    {"modulus", TW_F_holddown_foam_modulus},
    {"stress_at_25", TW_F_holddown_foam_stress},
    {"mu_1", TW_F_holddown_foam_mu_1},
    {"alpha_1", TW_F_holddown_foam_alpha_1},
    {"poisson_1", TW_F_holddown_foam_poisson_1},
    {"mu_2", TW_F_holddown_foam_mu_2},
    {"alpha_2", TW_F_holddown_foam_alpha_2},
    {"poisson_2", TW_F_holddown_foam_poisson_2},
};
static const pair seat_spring_row[] = {{"rate", TW_F_seat_spring_rate}};
static const pair preload_spring_row[] = {{"rate", TW_F_preload_spring_rate}};
static const pair holddown_spring_row[] = {{"rate", TW_F_holddown_spring_rate}};

/* the two amplifiers have the same fields in the same order */
#define AMPLIFIER_ROW(A)                                                                           \
  {                                                                                                \
    {"kind", TW_F_circuit_##A##_class}, {"output", TW_F_circuit_##A##_drive},                      \
        {"offset_drift", TW_F_circuit_##A##_offset_drift},                                         \
        {"offset_current", TW_F_circuit_##A##_offset_current},                                     \
        {"gain_bandwidth", TW_F_circuit_##A##_bandwidth}, {"slew", TW_F_circuit_##A##_slew},       \
        {"response_time", TW_F_circuit_##A##_delay}, {"open_loop_gain", TW_F_circuit_##A##_gain},  \
        {"output_leakage", TW_F_circuit_##A##_leakage},                                            \
        {"output_current", TW_F_circuit_##A##_output_current},                                     \
        {"voltage_noise", TW_F_circuit_##A##_noise},                                               \
        {"noise_corner", TW_F_circuit_##A##_noise_corner},                                         \
        {"current_noise", TW_F_circuit_##A##_noise_current},                                       \
        {"supply_least", TW_F_circuit_##A##_supply_least},                                         \
        {"supply_most", TW_F_circuit_##A##_supply_most},                                           \
        {"common_low", TW_F_circuit_##A##_input_low},                                              \
        {"common_high_drop", TW_F_circuit_##A##_input_high},                                       \
        {"own_hysteresis", TW_F_circuit_##A##_hysteresis},                                         \
  }
static const pair amplifier_row[] = AMPLIFIER_ROW(amplifier);
static const pair stage_row[] = AMPLIFIER_ROW(stage);

#define LIST(rows) rows, sizeof rows / sizeof rows[0]
/* design field that names a row; order matters: a disc's row names its metal and ceramic */
static const struct link {
  tw_field field;
  tw_part_kind kind;
  const pair *pairs;
  size_t count;
} links[] = {
    {TW_F_disc_part, TW_KIND_DISC, LIST(disc_row)},
    {TW_F_disc_metal, TW_KIND_MATERIAL, LIST(metal_row)},
    {TW_F_disc_ceramic, TW_KIND_CERAMIC, LIST(ceramic_row)},
    {TW_F_stylus_stem, TW_KIND_MATERIAL, LIST(stem_row)},
    {TW_F_stylus_ball, TW_KIND_MATERIAL, LIST(ball_row)},
    {TW_F_machine_work, TW_KIND_MATERIAL, LIST(work_row)},
    {TW_F_circuit_amplifier, TW_KIND_AMPLIFIER, LIST(amplifier_row)},
    {TW_F_circuit_stage, TW_KIND_AMPLIFIER, LIST(stage_row)},
    {TW_F_holddown_foam, TW_KIND_FOAM, LIST(foam_row)},
    {TW_F_seat_spring, TW_KIND_SPRING, LIST(seat_spring_row)},
    {TW_F_preload_spring, TW_KIND_SPRING, LIST(preload_spring_row)},
    {TW_F_holddown_spring, TW_KIND_SPRING, LIST(holddown_spring_row)},
};

bool tw_field_names_row(tw_field field, tw_part_kind *kind)
{
  for (size_t i = 0; i < sizeof links / sizeof links[0]; i++) {
    if (links[i].field == field) {
      *kind = links[i].kind;
      return true;
    }
  }
  return false;
}

/* keys that put_amplifier makes fields of which must be given */
static bool lacks_level(const tw_row *row, const char *typical, const char *limit)
{
  return !tw_row_text(row, typical) && !tw_row_text(row, limit);
}

static size_t amplifier_lacks(const tw_row *row, const char **key)
{
  const char *drive = tw_row_text(row, "output"), *kind = tw_row_text(row, "kind");
  /* a gate has thresholds where a comparator has an offset */
  const bool gate = kind && strcmp(kind, "gate") == 0;
  size_t n = 0;
  if (!gate && !tw_row_text(row, "offset_limit")) {
    key[n++] = "offset_limit";
  }
  if (gate && !tw_row_text(row, "rise")) {
    key[n++] = "rise";
  }
  if (gate && !tw_row_text(row, "fall")) {
    key[n++] = "fall";
  }
  if (!tw_row_text(row, "bias_current")) {
    key[n++] = "bias_current";
  }
  if (lacks_level(row, "low_drop", "low_drop_limit")) {
    key[n++] = "low_drop";
  }
  if (lacks_level(row, "high_drop", "high_drop_limit") &&
      !(drive && strcmp(drive, "open_collector") == 0)) {
    key[n++] = "high_drop";
  }
  return n;
}

#define TW_SPECIAL_KEYS 5 /* of amplifier_lacks */

bool tw_row_lacks(const tw_row *row, size_t use, tw_field *field, const char **key, size_t room,
                  size_t *count)
{
  size_t l = 0;
  *count = 0;
  for (; l < sizeof links / sizeof links[0]; l++) {
    if (links[l].kind == tw_row_kind(row) && use-- == 0) {
      break;
    }
  }
  if (l == sizeof links / sizeof links[0] || room < TW_SPECIAL_KEYS) {
    return false;
  }
  *field = links[l].field;
  *count = links[l].kind == TW_KIND_AMPLIFIER ? amplifier_lacks(row, key) : 0;
  for (size_t i = 0; i < links[l].count && *count < room; i++) {
    const pair *p = &links[l].pairs[i];
    const bool thickness = p->field == TW_F_disc_ceramic_thickness; /* also from the total */
    if (strcmp(tw_field_of(p->field)->fallback, TW_MUST) == 0 && !tw_row_text(row, p->key) &&
        !(thickness && tw_row_text(row, "total_thickness"))) {
      key[(*count)++] = p->key;
    }
  }
  return true;
}

bool tw_row_usable(const tw_row *row)
{
  tw_field field;
  const char *key[TW_SPECIAL_KEYS];
  size_t count = 0;
  bool usable = !tw_row_lacks(row, 0, &field, key, TW_SPECIAL_KEYS, &count);
  for (size_t use = 0; !usable && tw_row_lacks(row, use, &field, key, TW_SPECIAL_KEYS, &count);
       use++) {
    usable = count == 0;
  }
  return usable;
}

/* put a library value into a field that nothing stronger holds */
static void put_quantity(tw_reading *r, tw_field field, const tw_row *row, const char *text,
                         tw_quantity q)
{
  tw_value *v = &r->design->value[field];
  if (v->origin >= TW_ORIGIN_LIBRARY) {
    return;
  }
  *v = (tw_value){.origin = TW_ORIGIN_LIBRARY,
                  .number = q.number,
                  .tolerance = q.tolerance,
                  .text = tw_reading_keep(r, text),
                  .place = tw_row_place(row)};
  v->place.file = tw_reading_keep(r, v->place.file ? v->place.file : "");
}

static void put_text(tw_reading *r, tw_field field, const tw_row *row, const char *text)
{
  const tw_field_info *info = tw_field_of(field);
  const int choice = info->type == TW_TYPE_CHOICE ? tw_choice_find(info->set, text) : 0;
  if (choice < 0) {
    tw_reading_say(r, TW_ERROR, tw_row_place(row), info->path, NULL,
                   "row '%s': '%.40s' is no answer known", tw_row_id(row), text);
    return;
  }
  put_quantity(r, field, row, text, (tw_quantity){.number = choice});
}

static void put_pairs(tw_reading *r, const tw_row *row, const pair *pairs, size_t count)
{
  for (size_t i = 0; i < count; i++) {
    tw_quantity q;
    const char *text = tw_row_text(row, pairs[i].key);
    if (tw_row_number(row, pairs[i].key, &q)) {
      put_quantity(r, pairs[i].field, row, text, q);
    } else if (text) {
      put_text(r, pairs[i].field, row, text);
    }
  }
}

/* ---- rows that need more than taking over -----------------------------------------------------
 */

/* limit - value, without the tail that the subtraction leaves (0.06 - 0.048) */
static double distance(double limit, double value)
{
  char text[32];
  snprintf(text, sizeof text, "%.12g", limit - value);
  return fmax(strtod(text, NULL), 0);
}

#define TW_LAYERS_ASSUMED 20e-6 /* m: 10 um bond and two electrodes of 5 um */

static void put_disc(tw_reading *r, const tw_row *row)
{
  tw_quantity total, metal, c, e;
  if (!tw_row_text(row, "ceramic_thickness") && tw_row_number(row, "total_thickness", &total) &&
      tw_row_number(row, "metal_thickness", &metal)) {
    const tw_quantity ceramic = {.number =
                                     distance(total.number - metal.number, TW_LAYERS_ASSUMED)};
    put_quantity(r, TW_F_disc_ceramic_thickness, row, "total_thickness - metal_thickness - 20 um",
                 ceramic);
    /* what was taken off is there: 10 um of bond, 5 um of silver on the free face */
    put_quantity(r, TW_F_disc_bond_thickness, row, "10 um", (tw_quantity){.number = 10e-6});
    put_quantity(r, TW_F_disc_silver_thickness, row, "5 um", (tw_quantity){.number = 5e-6});
  }
  /* what the catalogue allows of its capacitance is how far one disc may be off */
  if (tw_row_number(row, "capacitance", &c) && c.tolerance.given && c.number > 0) {
    const tw_tolerance t = c.tolerance;
    const tw_quantity factor = {
        .number = 1, .tolerance = {true, t.spread, t.minus / c.number, t.plus / c.number}};
    put_quantity(r, TW_F_disc_capacitance_factor, row, tw_row_text(row, "capacitance"), factor);
  }
  if (tw_row_number(row, "ceramic_eccentricity", &e)) {
    const tw_quantity limit = {.tolerance = {true, TW_SPREAD_UNIFORM, 0, e.number}};
    put_quantity(r, TW_F_disc_ceramic_eccentricity, row, tw_row_text(row, "ceramic_eccentricity"),
                 limit);
  }
}

/* typical value with its worst case; either may be missing */
static bool typical_and_limit(const tw_row *row, const char *typical, const char *limit,
                              tw_quantity *out, const char **text)
{
  tw_quantity worst;
  const bool has_limit = tw_row_number(row, limit, &worst);
  if (!tw_row_number(row, typical, out)) {
    if (!has_limit) {
      return false;
    }
    *out = worst;
    *text = tw_row_text(row, limit);
    return true;
  }
  *text = tw_row_text(row, typical);
  if (has_limit) {
    out->tolerance =
        (tw_tolerance){true, TW_SPREAD_UNIFORM, 0, distance(worst.number, out->number)};
  }
  return true;
}

/* a figure with both bounds */
static void put_between(tw_reading *r, const tw_row *row, const char *key, const char *lower,
                        const char *upper, tw_field field)
{
  tw_quantity value, least, most;
  const bool bounds = tw_row_number(row, lower, &least) && tw_row_number(row, upper, &most);
  if (!tw_row_number(row, key, &value)) {
    return;
  }
  if (bounds) {
    value.tolerance = (tw_tolerance){true, TW_SPREAD_UNIFORM, distance(value.number, least.number),
                                     distance(most.number, value.number)};
  }
  put_quantity(r, field, row, tw_row_text(row, key), value);
}

/* The sheets bound the input current far beyond what any part is seen to have. Where the typical
 * figures of several makers are known, these are what a batch has, and the bounds stay for the
 * worst case; a current that the design states has its own tolerance. */
static void put_bias(tw_reading *r, const tw_row *row, tw_field bias, tw_field lower,
                     tw_field upper)
{
  tw_quantity value, range, least, most;
  put_between(r, row, "bias_current", "bias_least", "bias_most", bias);
  if (!tw_row_number(row, "bias_typical", &range) || !tw_row_number(row, "bias_current", &value) ||
      r->design->value[bias].origin != TW_ORIGIN_LIBRARY) {
    return;
  }
  r->design->value[bias].tolerance = (tw_tolerance){
      true, TW_SPREAD_UNIFORM, distance(value.number, range.number - range.tolerance.minus),
      distance(range.number + range.tolerance.plus, value.number)};
  if (tw_row_number(row, "bias_least", &least) && tw_row_number(row, "bias_most", &most)) {
    put_quantity(r, lower, row, tw_row_text(row, "bias_least"), least);
    put_quantity(r, upper, row, tw_row_text(row, "bias_most"), most);
  }
}

static void put_gate(tw_reading *r, const tw_row *row)
{
  tw_quantity band;
  put_between(r, row, "rise", "rise_least", "rise_most", TW_F_circuit_gate_rise);
  put_between(r, row, "fall", "fall_least", "fall_most", TW_F_circuit_gate_fall);
  if (tw_row_number(row, "band_least", &band)) {
    put_quantity(r, TW_F_circuit_gate_band, row, tw_row_text(row, "band_least"), band);
  }
}

/* fields of one amplifier whose value comes from two or three keys */
typedef struct amplifier_fields {
  tw_field offset, bias, bias_least, bias_most, low, high, current;
} amplifier_fields;

static void put_amplifier(tw_reading *r, const tw_row *row, const amplifier_fields *f)
{
  tw_quantity q;
  const char *text;
  if (tw_row_number(row, "offset_limit", &q)) {
    const tw_quantity offset = {.tolerance = {true, TW_SPREAD_UNIFORM, q.number, q.number}};
    put_quantity(r, f->offset, row, tw_row_text(row, "offset_limit"), offset);
  }
  put_bias(r, row, f->bias, f->bias_least, f->bias_most);
  if (typical_and_limit(row, "low_drop", "low_drop_limit", &q, &text)) {
    put_quantity(r, f->low, row, text, q);
  }
  if (typical_and_limit(row, "high_drop", "high_drop_limit", &q, &text)) {
    put_quantity(r, f->high, row, text, q);
  } else if (strcmp(tw_row_text(row, "output"), "open_collector") == 0) {
    put_quantity(r, f->high, row, "open collector", (tw_quantity){0});
  }
  if (typical_and_limit(row, "supply_current", "supply_current_limit", &q, &text)) {
    put_quantity(r, f->current, row, text, q);
  }
}

static void put_special(tw_reading *r, const struct link *link, const tw_row *row)
{
  static const amplifier_fields amplifier = {
      TW_F_circuit_amplifier_offset,     TW_F_circuit_amplifier_bias_current,
      TW_F_circuit_amplifier_bias_least, TW_F_circuit_amplifier_bias_most,
      TW_F_circuit_amplifier_low,        TW_F_circuit_amplifier_high,
      TW_F_circuit_amplifier_current};
  static const amplifier_fields stage = {
      TW_F_circuit_stage_offset,    TW_F_circuit_stage_bias_current, TW_F_circuit_stage_bias_least,
      TW_F_circuit_stage_bias_most, TW_F_circuit_stage_low,          TW_F_circuit_stage_high,
      TW_F_circuit_stage_current};
  if (link->kind == TW_KIND_DISC) {
    put_disc(r, row);
  } else if (link->kind == TW_KIND_AMPLIFIER) {
    put_amplifier(r, row, link->field == TW_F_circuit_stage ? &stage : &amplifier);
    if (link->field == TW_F_circuit_amplifier) {
      put_gate(r, row);
    }
  }
}

/* ---- following the names -----------------------------------------------------------------------
 */

/* so many rows of a kind are looked through for a likely name */
enum { NAMES_MOST = 200 };

/* the nearest name among rows that can be used, or else among all */
static const char *nearest_row(const tw_library *library, tw_part_kind kind, const char *name)
{
  const char *ids[NAMES_MOST];
  size_t n = 0;
  for (size_t i = 0; i < tw_library_count(library, kind); i++) {
    const tw_row *row = tw_library_row(library, kind, i);
    if (n < NAMES_MOST && tw_row_usable(row)) {
      ids[n++] = tw_row_id(row);
    }
  }
  const char *near = tw_nearest_name(name, ids, n);
  return near ? near : tw_library_nearest(library, kind, name);
}

static void no_such_row(tw_reading *r, const struct link *link, const tw_value *name)
{
  const char *path = tw_field_of(link->field)->path;
  if (!r->options->library) {
    tw_reading_say(r, TW_ERROR, name->place, path, NULL, "no parts library is loaded");
    return;
  }
  char hint[120];
  const char *near = nearest_row(r->options->library, link->kind, name->text);
  if (near) {
    snprintf(hint, sizeof hint, "did you mean '%s'?", near);
  } else {
    snprintf(hint, sizeof hint, "tripwright parts %s lists the rows",
             tw_part_kind_file(link->kind));
  }
  tw_reading_say(r, TW_ERROR, name->place, path, hint, "no row '%.60s' in parts/%s.yaml",
                 name->text, tw_part_kind_file(link->kind));
}

static void set_default(tw_reading *r, tw_field field)
{
  const tw_field_info *info = tw_field_of(field);
  tw_value *v = &r->design->value[field];
  if (v->origin != TW_ORIGIN_UNSET || strcmp(info->fallback, TW_MUST) == 0 ||
      strcmp(info->fallback, TW_UNSET) == 0) {
    return;
  }
  const tw_origin held = r->origin;
  r->origin = TW_ORIGIN_DEFAULT;
  tw_read_text(r, field, info->fallback, (tw_place){0});
  r->origin = held;
}

static void follow(tw_reading *r, const struct link *link)
{
  set_default(r, link->field);
  const tw_value *name = tw_design_value(r->design, link->field);
  if (name->origin == TW_ORIGIN_UNSET || !name->text) {
    return;
  }
  const tw_row *row =
      r->options->library ? tw_library_find(r->options->library, link->kind, name->text) : NULL;
  if (row) {
    put_pairs(r, row, link->pairs, link->count);
    put_special(r, link, row);
  } else if (name->origin > TW_ORIGIN_LIBRARY) {
    r->row_unknown[link->field] = true;
    no_such_row(r, link, name);
  }
}

/* a stage that is not named is the same part as the comparator */
static void stage_as_amplifier(tw_reading *r)
{
  tw_value *value = r->design->value;
  const size_t count = (size_t)(TW_F_circuit_stage_class - TW_F_circuit_amplifier_class);
  if (value[TW_F_circuit_stage].origin != TW_ORIGIN_UNSET ||
      !tw_design_applies(r->design, TW_F_circuit_stage)) {
    return;
  }
  for (size_t i = 0; i < count; i++) {
    const tw_value *from = &value[(size_t)TW_F_circuit_amplifier_class + i];
    tw_value *to = &value[(size_t)TW_F_circuit_stage_class + i];
    if (to->origin < from->origin) {
      *to = *from;
    }
  }
}

bool tw_describes_disc(const tw_design *d)
{
  for (size_t i = TW_F_disc_part; i <= TW_F_disc_catalogue_resonance; i++) {
    if (d->value[i].origin > TW_ORIGIN_LIBRARY) {
      return true;
    }
  }
  return false;
}

void tw_fill_from_library(tw_reading *r)
{
  const bool disc = tw_describes_disc(r->design);
  for (size_t i = 0; i < sizeof links / sizeof links[0]; i++) {
    const bool of_disc = strncmp(tw_field_of(links[i].field)->path, "disc.", 5) == 0;
    if (disc || !of_disc) {
      follow(r, &links[i]);
    }
  }
  stage_as_amplifier(r);
}

/* fields of a disc that is not there have no defaults */
static bool wants_default(const tw_reading *r, tw_field field)
{
  const char *path = tw_field_of(field)->path;
  if (strncmp(path, "disc.", 5) == 0) {
    return tw_describes_disc(r->design);
  }
  return strncmp(path, "support.", 8) != 0 || tw_describes_disc(r->design) ||
         tw_design_has(r->design, TW_F_support_kind);
}

void tw_fill_defaults(tw_reading *r)
{
  for (size_t i = 0; i < TW_FIELD_COUNT; i++) {
    if (wants_default(r, (tw_field)i)) {
      set_default(r, (tw_field)i);
    }
  }
  stage_as_amplifier(r);
}
