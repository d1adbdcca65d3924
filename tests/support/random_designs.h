/* random_designs.h: designs of all families and circuits, drawn at random around plain starting
 * files: half of the fields listed below are drawn anew, evenly over decades of what a small
 * workshop makes. Number i of a seed is the same design on every machine. What the reader refuses
 * (a hollow shallower than the ceramic it must clear, a threshold outside the supply) is drawn
 * again from the same stream. */
#ifndef TW_TEST_RANDOM_DESIGNS_H
#define TW_TEST_RANDOM_DESIGNS_H

#include "tripwright/parts.h"
#include "tripwright/random.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* a field drawn between two values in a unit, evenly over the logarithm */
typedef struct random_span {
  const char *path, *unit;
  double low, high;
} random_span;

/* a field drawn from words */
typedef struct random_words {
  const char *path, *words[4];
} random_words;

typedef struct random_kind {
  const char *name, *text;
  random_span span[16];
  random_words words[4];
} random_kind;

#define RANDOM_DISC                                                                                \
  "disc: {metal_diameter: 20 mm, metal_thickness: 0.3 mm, ceramic_diameter: 14 mm,\n"              \
  "       ceramic_thickness: 0.3 mm, electrode_diameter: 12.8 mm, contact_face: ceramic,\n"        \
  "       poling: plus}\n"
#define RANDOM_HOLED                                                                               \
  "disc: {metal_diameter: 27 mm, metal_thickness: 0.3 mm, ceramic_diameter: 19.7 mm,\n"            \
  "       ceramic_thickness: 0.22 mm, hole_diameter: 4 mm, contact_face: metal, poling: plus}\n"
#define RANDOM_PIVOT                                                                               \
  RANDOM_DISC                                                                                      \
  "support: {kind: ledge, ledge_radius: 9.3 mm, void_depth: 200 um}\n"                             \
  "seat: {kind: pivot, ball_radius: 4 mm, flat_radius: 3.5 mm, flat_height: 0 mm, friction: "      \
  "0.15, swivel_limit: 1.5 deg}\n"                                                                 \
  "preload: {force: 0.8 N}\n"                                                                      \
  "stylus: {reach: 32 mm, stem_diameter: 1.5 mm, ball_diameter: 2 mm}\n"
#define RANDOM_COMPARATOR                                                                          \
  "circuit: {kind: comparator, supply: 3.3 V, amplifier: comparator_micropower_oc,\n"              \
  "          bias_resistance: 1M0, bias_upper: 100k, bias_lower: 33k, reference_upper: 100k,\n"    \
  "          reference_lower: 43k, feedback_resistance: 2M2, clamp: rails,\n"                      \
  "          series_resistance: 10k}\n"                                                            \
  "output: {kind: open_collector, pull_up: 47k, active: low}\n"
#define RANDOM_BOTH                                                                                \
  "circuit: {kind: comparator, supply: 5 V, amplifier: comparator_cmos_pp, polarity: both,\n"      \
  "          bias_resistance: 10M, bias_upper: 100k, bias_lower: 100k, reference_upper: 91k,\n"    \
  "          reference_lower: 100k, feedback_resistance: 2M2, clamp: rails,\n"                     \
  "          series_resistance: 10k}\n"
#define RANDOM_CONTACTS                                                                            \
  "preload: {force: 1 N}\n"                                                                        \
  "stylus: {reach: 40 mm, stem_diameter: 1.5 mm, ball_diameter: 2 mm}\n"                           \
  "circuit: {kind: contact, supply: 5 V, contact_pull_up: 10k, contact_threshold: 10k}\n"          \
  "output: {kind: push_pull, active: high}\n"

#define RANDOM_STYLUS                                                                              \
  {"stylus.reach", "mm", 15, 80}, {"stylus.stem_diameter", "mm", 0.8, 3},                          \
      {"stylus.ball_diameter", "mm", 0.8, 4},                                                      \
  {                                                                                                \
    "preload.force", "N", 0.2, 4                                                                   \
  }
#define RANDOM_MACHINE                                                                             \
  {"machine.feed", "mm/min", 20, 500}, {"machine.sampling_interval", "ms", 0.2, 4},                \
  {                                                                                                \
    "machine.acceleration", "m/s2", 0.2, 4                                                         \
  }
#define RANDOM_NODE                                                                                \
  {"circuit.bias_resistance", "Mohm", 0.3, 20}, {"circuit.reference_lower", "kohm", 36, 60},       \
      {"circuit.leakage_resistance", "Mohm", 30, 1e5},                                             \
  {                                                                                                \
    "circuit.cable_capacitance", "pF", 5, 2000                                                     \
  }

static const random_kind random_kinds[] = {
    {"pivot on a comparator",
     RANDOM_PIVOT RANDOM_COMPARATOR,
     {RANDOM_STYLUS,
      RANDOM_MACHINE,
      RANDOM_NODE,
      {"seat.friction", "1", 0.03, 0.4},
      {"seat.flat_radius", "mm", 2, 3.8},
      {"seat.socket_angle", "deg", 20, 65},
      {"support.void_depth", "um", 3, 500},
      {"disc.ceramic_thickness", "mm", 0.15, 0.4}},
     {{"seat.contact", {"points 3", "points 4", "ring"}},
      {"disc.poling", {"minus", "unknown"}},
      {"circuit.polarity", {"falling", "both"}}}},
    {"tripod of opening contacts",
     "seat: {kind: tripod, contact: vee, pitch_radius: 8 mm, vee_angle: 45 deg, friction: 0.15,\n"
     "       opening_force: 0.02 N, spring_rate: 0.5 N/mm}\n" RANDOM_CONTACTS,
     {RANDOM_STYLUS,
      RANDOM_MACHINE,
      {"seat.pitch_radius", "mm", 4, 16},
      {"seat.friction", "1", 0.03, 0.4},
      {"seat.opening_force", "N", 0.002, 0.2},
      {"seat.spring_rate", "N/mm", 0.1, 5},
      {"circuit.contact_pull_up", "kohm", 1, 100}},
     {{"seat.contact", {"flat"}}}},
    {"plate with the disc below",
     RANDOM_HOLED
     "support: {kind: ledge, ledge_radius: 12.8 mm, void_depth: 400 um}\n"
     "seat: {kind: plate, disc_side: below, tipping_radius: 6 mm, flat_radius: 6 mm, guide: "
     "radial, spring_rate: 1 N/mm, friction: 0.15}\n"
     "preload: {force: 1 N}\n"
     "stylus: {reach: 40 mm, stem_diameter: 1.5 mm, ball_diameter: 2 mm}\n" RANDOM_BOTH,
     {RANDOM_STYLUS,
      RANDOM_MACHINE,
      {"seat.tipping_radius", "mm", 4.5, 10},
      {"seat.spring_rate", "N/mm", 0.1, 5},
      {"circuit.bias_resistance", "Mohm", 2, 30},
      {"circuit.leakage_resistance", "Mohm", 60, 1e5}},
     {{"seat.contact", {"points 4", "ring"}}}},
    {"bonded stem",
     RANDOM_DISC
     "support: {kind: rim, void_depth: 400 um}\n"
     "seat: {kind: bonded, bond_radius: 1.5 mm, carrier_mass: 1 g}\n"
     "stylus: {reach: 20 mm, stem_diameter: 1 mm, ball_diameter: 2 mm}\n" RANDOM_COMPARATOR,
     {{"stylus.reach", "mm", 10, 40},
      {"stylus.stem_diameter", "mm", 0.6, 2},
      {"seat.bond_radius", "mm", 1, 3},
      {"seat.carrier_mass", "g", 0.3, 5},
      RANDOM_MACHINE,
      RANDOM_NODE},
     {{"disc.poling", {"minus", "unknown"}}}},
    {"tripod with a disc",
     RANDOM_DISC
     "support: {kind: ledge, ledge_radius: 9.3 mm, void_depth: 300 um}\n"
     "seat: {kind: tripod, contact: vee, pitch_radius: 8 mm, vee_angle: 45 deg, friction: 0.15,\n"
     "       flat_radius: 3 mm, spring_rate: 0.5 N/mm}\n"
     "preload: {force: 1 N}\n"
     "stylus: {reach: 40 mm, stem_diameter: 1.5 mm, ball_diameter: 2 mm}\n" RANDOM_COMPARATOR,
     {RANDOM_STYLUS,
      RANDOM_MACHINE,
      RANDOM_NODE,
      {"seat.pitch_radius", "mm", 5, 12},
      {"seat.friction", "1", 0.03, 0.4}},
     {{"circuit.polarity", {"falling", "both"}}}},
    {"pivot with a gain stage",
     RANDOM_PIVOT
     "circuit: {kind: gain, supply: 5 V, amplifier: comparator_cmos_pp, stage: "
     "opamp_bipolar_single,\n"
     "          gain_upper: 100k, gain_lower: 22k, bias_resistance: 1M0, bias_upper: 100k,\n"
     "          bias_lower: 33k, reference_upper: 100k, reference_lower: 56k,\n"
     "          feedback_resistance: 2M2, clamp: rails, series_resistance: 10k}\n",
     {RANDOM_STYLUS,
      RANDOM_MACHINE,
      {"circuit.bias_resistance", "Mohm", 0.2, 3},
      {"circuit.gain_upper", "kohm", 22, 470},
      {"circuit.reference_lower", "kohm", 36, 100}},
     {{"seat.contact", {"ring"}}}},
    {"pivot with a charge amplifier",
     RANDOM_PIVOT "circuit: {kind: charge, supply: 5 V, amplifier: comparator_cmos_pp, stage: "
                  "opamp_bipolar_single,\n"
                  "          charge_capacitance: 10 nF, charge_resistance: 1M0, bias_upper: 100k,\n"
                  "          bias_lower: 100k, reference_upper: 100k, reference_lower: 82k,\n"
                  "          feedback_resistance: 2M2, polarity: falling}\n",
     {RANDOM_STYLUS,
      RANDOM_MACHINE,
      {"circuit.charge_capacitance", "nF", 1, 100},
      {"circuit.charge_resistance", "Mohm", 0.3, 20},
      {"circuit.reference_lower", "kohm", 68, 95}},
     {{"disc.poling", {"minus"}}, {"circuit.polarity", {"rising", "both"}}}},
    {"bonded stem on a Schmitt gate",
     RANDOM_DISC "support: {kind: rim, void_depth: 400 um}\n"
                 "seat: {kind: bonded, bond_radius: 1.5 mm, carrier_mass: 1 g}\n"
                 "stylus: {reach: 20 mm, stem_diameter: 1 mm, ball_diameter: 2 mm}\n"
                 "circuit: {kind: gate, supply: 5 V, amplifier: gate_hc14, bias_upper: 100k,\n"
                 "          bias_lower: 18k, bias_resistance: 1M0, clamp: rails,\n"
                 "          series_resistance: 10k}\n",
     {{"stylus.reach", "mm", 10, 40},
      {"stylus.stem_diameter", "mm", 0.6, 2},
      {"seat.bond_radius", "mm", 1, 3},
      {"seat.carrier_mass", "g", 0.3, 5},
      RANDOM_MACHINE,
      {"circuit.bias_resistance", "Mohm", 0.3, 10},
      {"circuit.bias_lower", "kohm", 8, 27},
      {"circuit.leakage_resistance", "Mohm", 30, 1e5},
      {"circuit.cable_capacitance", "pF", 5, 2000}},
     {{"disc.poling", {"minus", "unknown"}}, {"circuit.polarity", {"both"}}}},
};
#define RANDOM_KINDS (sizeof random_kinds / sizeof random_kinds[0])

#define RANDOM_SETS 20
typedef struct random_draw {
  const random_kind *kind;
  size_t sets;
  char paths[RANDOM_SETS][48], texts[RANDOM_SETS][48]; /* as --set takes them */
} random_draw;

static inline void random_draw_sets(const random_kind *kind, tw_random *random, random_draw *out)
{
  *out = (random_draw){.kind = kind};
  for (const random_span *s = kind->span; s < kind->span + 16 && s->path; s++) {
    const double at = tw_random_uniform(random), keep = tw_random_uniform(random);
    if (keep < 0.5) {
      snprintf(out->paths[out->sets], sizeof out->paths[0], "%s", s->path);
      snprintf(out->texts[out->sets++], sizeof out->texts[0], "%.4g%s%s",
               s->low * pow(s->high / s->low, at), strcmp(s->unit, "1") ? " " : "",
               strcmp(s->unit, "1") ? s->unit : "");
    }
  }
  for (const random_words *w = kind->words; w < kind->words + 4 && w->path; w++) {
    size_t count = 0;
    while (count < 4 && w->words[count]) {
      count++;
    }
    const size_t pick = (size_t)tw_random_below(random, 2 * count);
    if (pick < count) {
      snprintf(out->paths[out->sets], sizeof out->paths[0], "%s", w->path);
      snprintf(out->texts[out->sets++], sizeof out->texts[0], "%s", w->words[pick]);
    }
  }
}

/* the words that repeat a draw on the command line */
static inline void random_draw_print(const random_draw *draw)
{
  printf("  %s:", draw->kind->name);
  for (size_t i = 0; i < draw->sets; i++) {
    printf(" --set '%s=%s'", draw->paths[i], draw->texts[i]);
  }
  printf("\n");
}

/* Design number `index` of `seed`, with requirements (may be ""); the kinds take turns. NULL when
 * fifty draws in a row were refused. The caller frees it. */
static inline tw_design *random_design(tw_units *system, const tw_library *parts, uint64_t seed,
                                       uint64_t index, const char *requirements, random_draw *draw)
{
  tw_random random;
  tw_random_start(&random, seed, index);
  const random_kind *kind = &random_kinds[index % RANDOM_KINDS];
  char text[4000];
  snprintf(text, sizeof text, "design: drawn at random\n%s%s", kind->text, requirements);
  tw_design *design = NULL;
  for (int tries = 0; !design && tries < 50; tries++) {
    random_draw_sets(kind, &random, draw);
    tw_set sets[RANDOM_SETS];
    for (size_t i = 0; i < draw->sets; i++) {
      sets[i] = (tw_set){draw->paths[i], draw->texts[i]};
    }
    const tw_read_options options = {.units = system,
                                     .library = parts,
                                     .need = TW_NEED_ALL,
                                     .no_shop = true,
                                     .sets = sets,
                                     .set_count = draw->sets};
    tw_messages *messages = tw_messages_new();
    tw_design_parse(text, strlen(text), NULL, &options, messages, &design);
    if (!design && tries == 49) {
      for (size_t i = 0; i < tw_messages_count(messages); i++) {
        printf("  refused: %s: %s\n", tw_messages_at(messages, i)->field,
               tw_messages_at(messages, i)->text);
      }
    }
    tw_messages_free(messages);
  }
  return design;
}

#endif
