/* consistency.c: what cannot be: geometry that does not fit, values that contradict each other.
 * What can be built but works badly is for the assessment to say. */
#include "inside.h"
#include "tripwright/constants.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

static double num(const tw_reading *r, tw_field field)
{
  return tw_design_number(r->design, field);
}

static bool has(const tw_reading *r, tw_field field)
{
  const tw_value *v = tw_design_value(r->design, field);
  return v->origin != TW_ORIGIN_UNSET && !isnan(v->number) && tw_design_applies(r->design, field);
}

static bool is(const tw_reading *r, tw_field field, int choice)
{
  return tw_design_choice(r->design, field) == choice;
}

/* "30 mm" in the field's unit */
static const char *shown(const tw_reading *r, tw_field field, double si, char *out, size_t size)
{
  tw_unit unit;
  if (tw_units_find(r->options->units, tw_field_of(field)->unit, &unit, NULL) == TW_OK) {
    tw_number_print(si, &unit, 6, out, size);
  } else {
    snprintf(out, size, "%g", si);
  }
  return out;
}

/* " (line 9)", " (default)", " (library)", or the file if it is another */
static const char *whence(const tw_reading *r, tw_field field, const tw_value *beside, char *out,
                          size_t size)
{
  const tw_value *v = tw_design_value(r->design, field);
  if (v->origin <= TW_ORIGIN_LIBRARY) {
    snprintf(out, size, " (%s)", tw_origin_word(v->origin));
  } else if (v->place.line == 0) {
    snprintf(out, size, " (--set)");
  } else if (v->place.file == beside->place.file) {
    snprintf(out, size, " (line %d)", v->place.line);
  } else {
    snprintf(out, size, " (%s:%d)", v->place.file, v->place.line);
  }
  return out;
}

/* of two fields at odds the one that was said last: in the stronger layer */
static tw_field blame(const tw_reading *r, tw_field a, tw_field b)
{
  const tw_value *va = tw_design_value(r->design, a), *vb = tw_design_value(r->design, b);
  return vb->origin > va->origin ? b : a;
}

/* a (with its words) must not exceed b: says so with both values; `factor` halves diameters */
typedef struct limit {
  tw_field a;
  double factor_a;
  const char *more; /* "larger than", "longer than" */
  tw_field b;
  double factor_b;
  const char *words; /* "the ball radius" */
  const char *hint;
} limit;

static void check_limit(tw_reading *r, const limit *c)
{
  if (!has(r, c->a) || !has(r, c->b) ||
      !(num(r, c->a) * c->factor_a > num(r, c->b) * c->factor_b * (1 + 1e-9))) {
    return;
  }
  const tw_field field = blame(r, c->a, c->b);
  const tw_value *v = tw_design_value(r->design, field);
  if (r->complained[field]) {
    return;
  }
  r->complained[field] = true;
  char a[48], b[48], where[160];
  shown(r, c->a, num(r, c->a), a, sizeof a);
  shown(r, c->b, num(r, c->b), b, sizeof b);
  if (field == c->a) {
    tw_reading_say(r, TW_ERROR, v->place, tw_field_of(field)->path, c->hint, "%s is %s %s %s%s", a,
                   c->more, c->words, b, whence(r, c->b, v, where, sizeof where));
  } else {
    tw_reading_say(r, TW_ERROR, v->place, tw_field_of(field)->path, c->hint,
                   "%s %s is exceeded by %s %s%s", c->words, b, tw_field_of(c->a)->path, a,
                   whence(r, c->a, v, where, sizeof where));
  }
}

static const limit limits[] = {
    {TW_F_disc_ceramic_diameter, 1, "larger than", TW_F_disc_metal_diameter, 1,
     "the metal diameter", "the ceramic lies on the plate"},
    {TW_F_disc_electrode_diameter, 1, "larger than", TW_F_disc_ceramic_diameter, 1,
     "the ceramic diameter", "the electrode lies on the ceramic"},
    {TW_F_disc_hole_diameter, 1, "larger than", TW_F_disc_ceramic_diameter, 0.9,
     "nine tenths of the ceramic diameter", "little ceramic is left around the hole"},
    {TW_F_support_ledge_radius, 2, "larger than", TW_F_disc_metal_diameter, 1,
     "half the metal diameter", "the disc would fall through: ledge radius, not diameter"},
    {TW_F_support_void_radius, 2, "larger than", TW_F_disc_metal_diameter, 1,
     "half the metal diameter", "radius, not diameter"},
    {TW_F_support_void_radius, 1, "larger than", TW_F_support_ledge_radius, 1, "the ledge radius",
     "the hollow ends at the ledge"},
    {TW_F_seat_flat_radius, 1, "larger than", TW_F_seat_ball_radius, 1, "the ball radius",
     "the flat is cut into the ball"},
    {TW_F_seat_flat_height, 1, "beyond", TW_F_seat_ball_radius, 1, "the ball radius",
     "the flat is cut into the ball: from its centre up, or down with a minus"},
    {TW_F_seat_flat_height, -1, "further below the centre than", TW_F_seat_ball_radius, 1,
     "the ball radius", "the flat is cut into the ball"},
    {TW_F_seat_flat_radius, 1, "larger than", TW_F_support_ledge_radius, 1, "the ledge radius",
     "the carrier pushes inside the support"},
    {TW_F_seat_flat_radius, 2, "larger than", TW_F_disc_metal_diameter, 1,
     "half the metal diameter", "the carrier pushes on the disc"},
    {TW_F_seat_bond_radius, 1, "larger than", TW_F_support_ledge_radius, 1, "the ledge radius",
     "the foot stands inside the support"},
    {TW_F_seat_bond_radius, 2, "larger than", TW_F_disc_metal_diameter, 1,
     "half the metal diameter", "the foot stands on the disc"},
    {TW_F_seat_carrier_height, 1, "larger than", TW_F_housing_length, 1, "the housing's length",
     "the carrier sits in the housing"},
    {TW_F_holddown_foam_inner_diameter, 1, "larger than", TW_F_holddown_foam_outer_diameter, 1,
     "the outer diameter", "a ring has its hole inside"},
    {TW_F_holddown_precompression, 1, "larger than", TW_F_holddown_foam_thickness, 0.95,
     "95 % of the thickness", "foam goes solid long before"},
    {TW_F_stylus_stem_length, 1, "longer than", TW_F_stylus_reach, 1, "the reach",
     "the stem ends at the carrier"},
    {TW_F_stylus_covered_length, 1, "longer than", TW_F_stylus_reach, 1, "the reach",
     "the carrier covers a part of the reach only"},
    {TW_F_stylus_neck_length, 1, "longer than", TW_F_stylus_reach, 1, "the reach",
     "the neck is a part of the stem"},
    {TW_F_stylus_thread_height, 1, "larger than", TW_F_stylus_reach, 1, "the reach",
     "the thread sits below the seat's reference point"},
    {TW_F_stylus_neck_diameter, 1, "larger than", TW_F_stylus_ball_diameter, 1, "the ball diameter",
     "the ball would not touch first"},
    {TW_F_stylus_ball_diameter, 1, "larger than", TW_F_stylus_reach, 1, "the reach",
     "is the ball diameter in the right unit?"},
    {TW_F_circuit_bias_voltage, 1, "higher than", TW_F_circuit_supply, 1, "the supply",
     "the bias lies inside the supply"},
    {TW_F_circuit_reference, 1, "higher than", TW_F_circuit_supply, 1, "the supply",
     "the reference lies inside the supply"},
    {TW_F_output_low, 1, "higher than", TW_F_circuit_supply, 1, "the supply", ""},
    {TW_F_output_high, 1, "larger than", TW_F_circuit_supply, 1, "the supply",
     "this is how far the high level lies below the supply"},
    {TW_F_machine_input_low, 1, "higher than", TW_F_machine_input_high, 1, "input_high",
     "below input_low it reads low, above input_high high"},
    {TW_F_environment_temperature_low, 1, "higher than", TW_F_environment_temperature_high, 1,
     "the highest temperature", "exchange the two"},
    {TW_F_housing_wall, 2, "larger than", TW_F_housing_outer_diameter, 0.9,
     "what fits into the outer diameter", "the wall stands twice across the diameter"},
    {TW_F_housing_opening_diameter, 1, "larger than", TW_F_housing_outer_diameter, 1,
     "the outer diameter", "the opening lies in the housing"},
    {TW_F_board_hole_diameter, 1, "larger than", TW_F_board_diameter, 1, "the board's diameter",
     "the hole lies in the board"},
};

/* an error about one field */
static void wrong(tw_reading *r, tw_field field, const char *hint, const char *text)
{
  const tw_value *v = tw_design_value(r->design, field);
  if (!r->complained[field]) {
    tw_reading_say(r, TW_ERROR, v->place, tw_field_of(field)->path, hint, "%s", text);
  }
  r->complained[field] = true;
}

/* ---- disc --------------------------------------------------------------------------------------
 */

/* positive energy: the constants belong together */
static void check_ceramic(tw_reading *r)
{
  if (!has(r, TW_F_disc_ceramic_s11) || !has(r, TW_F_disc_ceramic_s12) ||
      !has(r, TW_F_disc_ceramic_d31) || !has(r, TW_F_disc_ceramic_permittivity)) {
    return;
  }
  const double s11 = num(r, TW_F_disc_ceramic_s11), s12 = num(r, TW_F_disc_ceramic_s12);
  const double d31 = num(r, TW_F_disc_ceramic_d31);
  const double eps = num(r, TW_F_disc_ceramic_permittivity) * TW_VACUUM_PERMITTIVITY;
  if (s11 <= -s12) {
    wrong(r, blame(r, TW_F_disc_ceramic_s12, TW_F_disc_ceramic_s11), "s12 is smaller than s11",
          "s11 + s12 is not positive: the ceramic would have no stiffness");
  } else if (eps - 2 * d31 * d31 / (s11 + s12) <= 0) {
    /* docs/models/disc.md: permittivity of the blocked plate */
    wrong(r, blame(r, TW_F_disc_ceramic_d31, TW_F_disc_ceramic_permittivity),
          "check the units of d31, s11, s12 and the permittivity",
          "permittivity - 2 d31^2/(s11 + s12) is not positive: no such ceramic");
  }
}

static void check_disc(tw_reading *r)
{
  check_ceramic(r);
  if (has(r, TW_F_disc_metal_diameter) && has(r, TW_F_disc_ceramic_diameter) &&
      has(r, TW_F_disc_ceramic_eccentricity) && num(r, TW_F_disc_ceramic_eccentricity) > 0 &&
      num(r, TW_F_disc_ceramic_diameter) / 2 + num(r, TW_F_disc_ceramic_eccentricity) >
          num(r, TW_F_disc_metal_diameter) / 2 + 1e-9) {
    wrong(r, TW_F_disc_ceramic_eccentricity, "make it smaller",
          "the ceramic would stick out over the edge of the plate");
  }
  const bool hole = has(r, TW_F_disc_hole_diameter) && num(r, TW_F_disc_hole_diameter) > 0;
  if (hole && has(r, TW_F_seat_flat_radius) &&
      num(r, TW_F_seat_flat_radius) <= num(r, TW_F_disc_hole_diameter) / 2) {
    wrong(r, blame(r, TW_F_seat_flat_radius, TW_F_disc_hole_diameter), "make the hole smaller",
          "the carrier would fall through the disc's hole");
  }
}

/* ---- seat --------------------------------------------------------------------------------------
 */

static void check_contact(tw_reading *r)
{
  const int contact = tw_design_choice(r->design, TW_F_seat_contact);
  const int kind = tw_design_choice(r->design, TW_F_seat_kind);
  if (contact < 0 || kind < 0) {
    return;
  }
  const bool of_tripod = contact == TW_CONTACT_FLAT || contact == TW_CONTACT_VEE;
  if (kind == TW_SEAT_TRIPOD && !of_tripod) {
    wrong(r, TW_F_seat_contact, "write vee or flat", "a tripod's seats are vees or flats");
  } else if ((kind == TW_SEAT_PIVOT || kind == TW_SEAT_PLATE) && of_tripod) {
    wrong(r, TW_F_seat_contact, "write points 3 or ring", "vees and flats belong to a tripod");
  }
}

static void check_off_centre(tw_reading *r)
{
  double room = has(r, TW_F_support_ledge_radius)  ? num(r, TW_F_support_ledge_radius)
                : has(r, TW_F_disc_metal_diameter) ? num(r, TW_F_disc_metal_diameter) / 2
                                                   : (double)INFINITY;
  const tw_field circle =
      is(r, TW_F_seat_kind, TW_SEAT_BONDED) ? TW_F_seat_bond_radius : TW_F_seat_flat_radius;
  if (has(r, circle) && has(r, TW_F_seat_eccentricity) && num(r, circle) <= room &&
      num(r, circle) + num(r, TW_F_seat_eccentricity) > room + 1e-9) {
    wrong(r, TW_F_seat_eccentricity, "make it smaller",
          "the carrier would push outside the disc's support");
  }
}

static void check_plate(tw_reading *r)
{
  if (!is(r, TW_F_seat_kind, TW_SEAT_PLATE) || !is(r, TW_F_seat_disc_side, TW_SIDE_BELOW) ||
      !has(r, TW_F_disc_hole_diameter) || !has(r, TW_F_stylus_stem_diameter)) {
    return;
  }
  if (num(r, TW_F_disc_hole_diameter) <= num(r, TW_F_stylus_stem_diameter)) {
    wrong(r, TW_F_seat_disc_side, "give disc.hole_diameter, larger than the stem, or say above",
          "a disc below the plate lets the stem pass through its hole");
  }
}

/* ---- tables ------------------------------------------------------------------------------------
 */

/* the first column rises; the rest is not negative */
static void check_travel(tw_reading *r, tw_field field, tw_field place)
{
  const tw_table *t = tw_design_table(r->design, field);
  if (!t || t->columns != 2 || !has(r, field)) {
    return;
  }
  for (size_t i = 0; i < t->rows; i++) {
    const tw_cell *row = &t->cells[2 * i];
    if (i > 0 && !(row[0].number > row[-2].number)) {
      char text[96];
      snprintf(text, sizeof text, "row %zu: the first column does not increase", i + 1);
      wrong(r, field, "sort the rows; give each value once", text);
      return;
    }
    if (row[1].number < 0) {
      char text[96];
      snprintf(text, sizeof text, "row %zu: the second column is negative", i + 1);
      wrong(r, field, "", text);
      return;
    }
  }
  if (t->rows < 2) {
    wrong(r, field, "measure at two places at least", "one row is no curve");
    return;
  }
  if (place < TW_FIELD_COUNT && has(r, place)) {
    const double x = num(r, place), last = t->cells[2 * (t->rows - 1)].number;
    if (x < t->cells[0].number || x > last) {
      char text[200], value[48];
      snprintf(text, sizeof text, "%s lies outside the table %s",
               shown(r, place, x, value, sizeof value), tw_field_of(field)->path);
      wrong(r, place, "measure further, or choose a place inside", text);
    }
  }
}

/* m/s: 100000 mm/min, what machine.feed may be at most, and a hair for its rounding */
#define FEED_MOST (1e5 / 6e4 * (1 + 1e-12))

static void check_tables(tw_reading *r)
{
  check_travel(r, TW_F_preload_table, TW_F_preload_travel);
  check_travel(r, TW_F_holddown_table, TW_F_holddown_precompression);
  check_travel(r, TW_F_holddown_unloading, TW_FIELD_COUNT);
  check_travel(r, TW_F_environment_spectrum, TW_FIELD_COUNT);
  const tw_table *feeds = tw_design_table(r->design, TW_F_machine_feeds);
  for (size_t i = 0; feeds && has(r, TW_F_machine_feeds) && i < feeds->rows; i++) {
    if (!(feeds->cells[i].number > 0)) {
      wrong(r, TW_F_machine_feeds, "", "a feed is more than 0");
      break;
    }
    if (!(feeds->cells[i].number <= FEED_MOST)) {
      wrong(r, TW_F_machine_feeds, "as for machine.feed", "a feed is 100000 mm/min at most");
      break;
    }
  }
}

static void check_stem(tw_reading *r)
{
  static const limit bare = {TW_F_stylus_stem_diameter,
                             1,
                             "larger than",
                             TW_F_stylus_ball_diameter,
                             1,
                             "the ball diameter",
                             "the ball would not touch first: a larger ball, or a neck"};
  const bool neck = has(r, TW_F_stylus_neck_length) && num(r, TW_F_stylus_neck_length) > 0;
  if (!neck && !has(r, TW_F_stylus_sections)) {
    check_limit(r, &bare);
  }
}

static void check_sections(tw_reading *r)
{
  const tw_table *t = tw_design_table(r->design, TW_F_stylus_sections);
  double length = 0;
  if (!t || !has(r, TW_F_stylus_sections)) {
    return;
  }
  for (size_t i = 0; i < t->rows; i++) {
    if (!(t->cells[2 * i].number > 0) || !(t->cells[2 * i + 1].number > 0)) {
      wrong(r, TW_F_stylus_sections, "", "diameters and lengths are more than 0");
      return;
    }
    length += t->cells[2 * i + 1].number;
  }
  if (has(r, TW_F_stylus_reach) && length > num(r, TW_F_stylus_reach) * (1 + 1e-9)) {
    char text[200], sum[48], reach[48];
    snprintf(text, sizeof text, "the sections are %s long together, the reach is %s",
             shown(r, TW_F_stylus_reach, length, sum, sizeof sum),
             shown(r, TW_F_stylus_reach, num(r, TW_F_stylus_reach), reach, sizeof reach));
    wrong(r, TW_F_stylus_sections, "sections run from the tip to the carrier", text);
  }
}

/* ---- circuit -----------------------------------------------------------------------------------
 */

/* one value, or both resistors of a divider, never both ways; `needed`: one of them */
static void check_divider(tw_reading *r, tw_field voltage, tw_field upper, tw_field lower,
                          bool needed)
{
  const bool v = has(r, voltage), u = has(r, upper), l = has(r, lower);
  const char *name_u = tw_field_of(upper)->path, *name_l = tw_field_of(lower)->path;
  char text[160];
  if (v && (u || l)) {
    snprintf(text, sizeof text, "said twice, here and by %s", u ? name_u : name_l);
    wrong(r, voltage, "keep one of them", text);
  } else if (u != l) {
    snprintf(text, sizeof text, "%s is needed as well", u ? name_l : name_u);
    wrong(r, u ? upper : lower, "give both resistors", text);
  } else if (needed && !v && !u) {
    snprintf(text, sizeof text, "must be given, or %s and %s", name_u, name_l);
    const tw_place place = {.file = r->store->file};
    const int g = tw_group_of(tw_field_of(voltage)->path);
    tw_reading_say(r, TW_ERROR, r->group_place[g].file ? r->group_place[g] : place,
                   tw_field_of(voltage)->path, tw_field_of(voltage)->help, "%s", text);
  }
}

/* the bias from a second tap of the reference's divider */
static void check_middle(tw_reading *r)
{
  if (!has(r, TW_F_circuit_reference_middle)) {
    return;
  }
  if (!has(r, TW_F_circuit_reference_upper) || !has(r, TW_F_circuit_reference_lower)) {
    wrong(r, TW_F_circuit_reference_middle,
          "give circuit.reference_upper and circuit.reference_lower",
          "a second tap needs the reference's divider");
  } else if (has(r, TW_F_circuit_bias_voltage) || has(r, TW_F_circuit_bias_upper) ||
             has(r, TW_F_circuit_bias_lower)) {
    wrong(r, TW_F_circuit_reference_middle, "remove circuit.bias_voltage or its divider",
          "the bias is said twice, here and by its own source");
  }
}

/* the resistance of reference_lower counts the trimmer at half */
static void check_trimmer(tw_reading *r)
{
  if (!has(r, TW_F_circuit_trimmer)) {
    return;
  }
  char text[120], value[48];
  const double most = 2 * num(r, TW_F_circuit_reference_lower);
  if (!has(r, TW_F_circuit_reference_lower)) {
    wrong(r, TW_F_circuit_trimmer, "give circuit.reference_lower with the trimmer at half",
          "a trimmer needs the resistor that it stands in series with");
  } else if (num(r, TW_F_circuit_trimmer) > most) {
    snprintf(text, sizeof text, "it is more than twice circuit.reference_lower, %s",
             shown(r, TW_F_circuit_trimmer, most, value, sizeof value));
    wrong(r, TW_F_circuit_trimmer, "circuit.reference_lower counts the trimmer at half", text);
  }
}

static void check_gain(tw_reading *r)
{
  const bool gain = has(r, TW_F_circuit_gain);
  if (!is(r, TW_F_circuit_kind, TW_CIRCUIT_GAIN)) {
    return;
  }
  check_divider(r, TW_F_circuit_gain, TW_F_circuit_gain_upper, TW_F_circuit_gain_lower,
                (r->options->need & TW_NEED_CIRCUIT) != 0);
  if (!gain && has(r, TW_F_circuit_gain_upper) && has(r, TW_F_circuit_gain_lower) &&
      num(r, TW_F_circuit_gain_upper) / num(r, TW_F_circuit_gain_lower) > 1e5) {
    wrong(r, TW_F_circuit_gain_upper, "check the prefixes", "a gain of more than 100000");
  }
}

static bool has_comparator(const tw_reading *r)
{
  const int kind = tw_design_choice(r->design, TW_F_circuit_kind);
  return kind >= 0 && kind != TW_CIRCUIT_CONTACT;
}

static void check_supply_range(tw_reading *r, tw_field name, tw_field least, tw_field most)
{
  if (!has(r, TW_F_circuit_supply) || !has(r, least) || !has(r, most)) {
    return;
  }
  const double supply = num(r, TW_F_circuit_supply);
  if (supply < num(r, least) * (1 - 1e-9) || supply > num(r, most) * (1 + 1e-9)) {
    char text[300], a[48], b[48], c[48];
    const char *id = tw_design_text(r->design, name);
    snprintf(text, sizeof text, "%s is outside %s .. %s, for which %s is specified",
             shown(r, TW_F_circuit_supply, supply, a, sizeof a),
             shown(r, least, num(r, least), b, sizeof b), shown(r, most, num(r, most), c, sizeof c),
             id ? id : "the amplifier");
    wrong(r, TW_F_circuit_supply, "choose another part or another supply", text);
  }
}

/* a Schmitt gate and the kind of circuit that is made of one belong together */
static void check_gate(tw_reading *r)
{
  const bool gate = is(r, TW_F_circuit_kind, TW_CIRCUIT_GATE);
  if (has(r, TW_F_circuit_amplifier_class) &&
      gate != is(r, TW_F_circuit_amplifier_class, TW_AMPLIFIER_GATE)) {
    const bool named = tw_design_has(r->design, TW_F_circuit_amplifier);
    wrong(r, named ? TW_F_circuit_amplifier : TW_F_circuit_amplifier_class,
          gate ? "name a gate, gate_hc14 for example" : "use circuit.kind gate",
          gate ? "a circuit of the kind gate needs a Schmitt gate"
               : "a Schmitt gate is a circuit of its own kind");
  }
  if (gate && is(r, TW_F_circuit_polarity, TW_POLARITY_BOTH)) {
    wrong(r, TW_F_circuit_polarity, "use rising or falling", "a single gate sees one sign only");
  }
}

static void check_circuit(tw_reading *r)
{
  const bool needed = (r->options->need & TW_NEED_CIRCUIT) != 0;
  if (is(r, TW_F_circuit_kind, TW_CIRCUIT_CONTACT) && !is(r, TW_F_seat_kind, TW_SEAT_TRIPOD) &&
      tw_design_choice(r->design, TW_F_seat_kind) >= 0) {
    wrong(r, TW_F_circuit_kind, "use a comparator, a gain stage or a charge amplifier",
          "opening contacts belong to a tripod");
  }
  if (!has_comparator(r)) {
    return;
  }
  check_divider(r, TW_F_circuit_bias_voltage, TW_F_circuit_bias_upper, TW_F_circuit_bias_lower,
                false);
  check_gate(r);
  check_divider(r, TW_F_circuit_reference, TW_F_circuit_reference_upper,
                TW_F_circuit_reference_lower, needed && !is(r, TW_F_circuit_kind, TW_CIRCUIT_GATE));
  check_middle(r);
  check_trimmer(r);
  check_gain(r);
  check_supply_range(r, TW_F_circuit_amplifier, TW_F_circuit_amplifier_supply_least,
                     TW_F_circuit_amplifier_supply_most);
  if (has(r, TW_F_circuit_stage_class) && tw_design_text(r->design, TW_F_circuit_stage) != NULL) {
    check_supply_range(r, TW_F_circuit_stage, TW_F_circuit_stage_supply_least,
                       TW_F_circuit_stage_supply_most);
  }
  if (has(r, TW_F_circuit_stage_class) &&
      is(r, TW_F_circuit_stage_class, TW_AMPLIFIER_COMPARATOR)) {
    const bool named = tw_design_has(r->design, TW_F_circuit_stage);
    wrong(r, named ? TW_F_circuit_stage : TW_F_circuit_amplifier,
          "name an amplifier with circuit.stage",
          "a comparator cannot be the gain or charge stage");
  }
  if (is(r, TW_F_circuit_schmitt, TW_SCHMITT_NON_INVERTING) &&
      has(r, TW_F_circuit_feedback_resistance) && !has(r, TW_F_circuit_input_resistance)) {
    wrong(r, TW_F_circuit_schmitt, "give circuit.input_resistance",
          "non-inverting hysteresis needs a resistor from the signal to the + input");
  }
}

/* a process that a part names must be described, once any is; without one the name is a note */
static void check_processes(tw_reading *r)
{
  const char *names[64];
  const tw_store *s = r->store;
  size_t n = 0;
  for (; n < s->processes && n < sizeof names / sizeof names[0]; n++) {
    names[n] = s->process[n].name;
  }
  for (size_t i = 0; n > 0 && i < s->parts; i++) {
    const tw_part *part = &s->part[i];
    char path[80], hint[160];
    if (!part->process || tw_design_process_named(r->design, part->process)) {
      continue;
    }
    const char *near = tw_nearest_name(part->process, names, n);
    snprintf(path, sizeof path, "parts.%.60s.process", part->name);
    snprintf(hint, sizeof hint, "%s%.48s%s",
             near ? "did you mean '" : "describe it under processes", near ? near : "",
             near ? "'?" : "");
    tw_reading_say(r, TW_WARNING, part->place, path, hint,
                   "there is no process '%.48s', so its offsets count for nothing", part->process);
  }
}

void tw_check_consistency(tw_reading *r)
{
  check_processes(r);
  tw_check_steps(r);
  for (size_t i = 0; i < sizeof limits / sizeof limits[0]; i++) {
    check_limit(r, &limits[i]);
  }
  check_disc(r);
  check_contact(r);
  check_off_centre(r);
  check_plate(r);
  check_tables(r);
  check_stem(r);
  check_sections(r);
  check_circuit(r);
}
