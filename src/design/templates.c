/* templates.c: starting files for the four seat families with every circuit that the family takes:
 * what must be said, and behind # what is assumed otherwise. Each meets its own requirements, and
 * its feed lies in its own range. */
#include "template_circuits.h"
#include "tripwright/design.h"

#include <stdio.h>
#include <string.h>

/* what nothing is assumed about */
#define AT_ASSEMBLY                                                                                \
  "# What can be set at assembly, if it is there (spread tells what it wins back):\n"              \
  "#  housing: {tip_offset: 0.1 mm ± 0.1}, off the spindle axis before the screws are turned\n"
#define SCREW "#  preload: {screw_pitch: 0.5 mm}\n"
#define TRIMMER                                                                                    \
  "#  circuit: {trimmer: 2k}, in series with reference_lower, which counts it at half\n"
#define ASSUMED                                                                                    \
  "\n"                                                                                             \
  "# What is assumed where nothing is said (tripwright fields lists all of it):\n"
#define ASSUMED_OF_ALL                                                                             \
  "#  stylus: {stem: carbide, ball: ruby, thread: none}\n"                                         \
  "#  holddown: {kind: none}\n"                                                                    \
  "#  machine: {feed: 100 mm/min, acceleration: 0.5 m/s2, sampling_interval: 1 ms}\n" AT_ASSEMBLY
/* where the leak takes more: a faster search */
#define QUICKER(feed) "machine: {feed: " feed "}\n"

#define PIVOT(circuit)                                                                             \
  "# A pivot probe: the stem is screwed into a ball head in a socket; the flat on top of the "     \
  "ball\n"                                                                                         \
  "# carries the disc, whose rim is held by a clamp under the seat preload.\n"                     \
  "design: my pivot probe\n"                                                                       \
  "revision: 1\n"                                                                                  \
  "disc: {metal_diameter: 20 mm, metal_thickness: 0.3 mm, ceramic_diameter: 14 mm,\n"              \
  "       ceramic_thickness: 0.3 mm, electrode_diameter: 12.8 mm, contact_face: ceramic}\n"        \
  "support: {kind: ledge, ledge_radius: 9.3 mm, void_depth: 60 um}\n"                              \
  "seat: {kind: pivot, ball_radius: 3.5 mm, flat_radius: 3 mm, flat_height: 0 mm, friction: "      \
  "0.1}\n"                                                                                         \
  "preload: {force: 0.8 N}\n"                                                                      \
  "stylus: {reach: 32 mm, stem_diameter: 1.5 mm, ball_diameter: 2 mm}\n" circuit "requirements:\n" \
  "  trip_force_side: \"<= 0.25 N\"\n"                                                             \
  "  pretravel_variation_side: \"<= 20 um\"\n" ASSUMED                                             \
  "#  disc: {metal: brass, ceramic: pzt_5a, bond_thickness: 0 um, poling: unknown}\n"              \
  "#  seat: {contact: points 3, socket_angle: 45 deg, edge_radius: 0.1 mm, carrier_mass: 5 "       \
  "g}\n" ASSUMED_OF_ALL SCREW

#define TRIPOD_ASSUMED "#  seat: {azimuth: 0 deg, contact_stiffness: 5 N/um, carrier_mass: 5 g}\n"
#define TRIPOD_OPENING                                                                             \
  "# A tripod probe: the carrier rests on three seats under a central spring; a seat that opens\n" \
  "# breaks the chain of contacts.\n"                                                              \
  "design: my tripod probe\n"                                                                      \
  "revision: 1\n"                                                                                  \
  "seat: {kind: tripod, contact: vee, pitch_radius: 8 mm, vee_angle: 45 deg, friction: 0.15,\n"    \
  "       opening_force: 0.02 N, spring_rate: 0.5 N/mm}\n"                                         \
  "preload: {force: 1 N}\n"                                                                        \
  "stylus: {reach: 40 mm, stem_diameter: 1.5 mm, ball_diameter: 2 mm}\n" CIRCUIT_CONTACT           \
  "requirements:\n"                                                                                \
  "  trip_force_side: \"<= 0.2 N\"\n"                                                              \
  "  trip_force_axial: \"<= 1.2 N\"\n" ASSUMED TRIPOD_ASSUMED                                      \
  "#  circuit: {contact_resistance: 0.5 ohm}\n" ASSUMED_OF_ALL SCREW

/* the disc sees only how far the spring is pressed together: the stiffer it is, the more */
#define TRIPOD(rate, circuit)                                                                      \
  "# A tripod probe with a disc: the carrier rests on three seats under a stiff central spring "   \
  "that\n"                                                                                         \
  "# stands on the disc. A carrier that tips lifts its middle and presses the spring.\n"           \
  "design: my tripod probe\n"                                                                      \
  "revision: 1\n"                                                                                  \
  "disc: {metal_diameter: 20 mm, metal_thickness: 0.2 mm, ceramic_diameter: 14 mm,\n"              \
  "       ceramic_thickness: 0.2 mm, electrode_diameter: 12.8 mm, contact_face: ceramic}\n"        \
  "support: {kind: ledge, ledge_radius: 9.3 mm, void_depth: 60 um}\n"                              \
  "seat: {kind: tripod, contact: vee, pitch_radius: 8 mm, vee_angle: 45 deg, friction: 0.15,\n"    \
  "       flat_radius: 3 mm, spring_rate: " rate "}\n"                                             \
  "preload: {force: 1 N}\n"                                                                        \
  "stylus: {reach: 40 mm, stem_diameter: 2 mm, ball_diameter: 2 mm}\n" circuit "requirements:\n"   \
  "  trip_force_side: \"<= 0.3 N\"\n"                                                              \
  "  trip_force_axial: \"<= 1.5 N\"\n" ASSUMED                                                     \
  "#  disc: {metal: brass, ceramic: pzt_5a, bond_thickness: 0 um, poling: "                        \
  "unknown}\n" TRIPOD_ASSUMED ASSUMED_OF_ALL SCREW

#define PLATE_ASKED(axial)                                                                         \
  "requirements:\n"                                                                                \
  "  trip_force_side: \"<= 0.3 N\"\n"                                                              \
  "  trip_force_axial: \"<= " axial "\"\n" ASSUMED                                                 \
  "#  disc: {metal: brass, ceramic: pzt_5a, contact_face: metal, poling: unknown}\n"               \
  "#  seat: {contact: points 3, contact_stiffness: 5 N/um, carrier_mass: 5 g}\n" ASSUMED_OF_ALL    \
      SCREW
#define PLATE(rate, circuit, feed)                                                                 \
  "# A plate probe: a carrier plate rests on a lip and tips under a spring; the disc between "     \
  "plate\n"                                                                                        \
  "# and lip is unloaded at once, the stem passes through its hole.\n"                             \
  "design: my plate probe\n"                                                                       \
  "revision: 1\n"                                                                                  \
  "disc: {metal_diameter: 27 mm, metal_thickness: 0.3 mm, ceramic_diameter: 19.7 mm,\n"            \
  "       ceramic_thickness: 0.22 mm, hole_diameter: 4 mm}\n"                                      \
  "support: {kind: ledge, ledge_radius: 12.8 mm, void_depth: 300 um}\n"                            \
  "seat: {kind: plate, disc_side: below, tipping_radius: 6 mm, flat_radius: 6 mm, guide: "         \
  "radial,\n"                                                                                      \
  "       spring_rate: " rate ", friction: 0.15}\n"                                                \
  "preload: {force: 1 N}\n"                                                                        \
  "stylus: {reach: 40 mm, stem_diameter: 1.5 mm, ball_diameter: 2 mm}\n" circuit                   \
  QUICKER(feed) PLATE_ASKED("0.3 N")
/* a gate sees one sign: above the plate the load of the disc rises whichever way it is pushed */
#define PLATE_ABOVE(circuit)                                                                       \
  "# A plate probe: a carrier plate rests on a lip and tips under a stiff spring that stands on\n" \
  "# the disc. A gate sees one sign only, and the load of a disc above the plate only rises.\n"    \
  "design: my plate probe\n"                                                                       \
  "revision: 1\n"                                                                                  \
  "disc: {metal_diameter: 20 mm, metal_thickness: 0.2 mm, ceramic_diameter: 14 mm,\n"              \
  "       ceramic_thickness: 0.2 mm, electrode_diameter: 12.8 mm}\n"                               \
  "support: {kind: ledge, ledge_radius: 9.3 mm, void_depth: 300 um}\n"                             \
  "seat: {kind: plate, disc_side: above, tipping_radius: 6 mm, flat_radius: 3 mm, guide: "         \
  "radial,\n"                                                                                      \
  "       spring_rate: 100 N/mm, friction: 0.15}\n"                                                \
  "preload: {force: 1 N}\n"                                                                        \
  "stylus: {reach: 40 mm, stem_diameter: 2 mm, ball_diameter: 2 mm}\n" circuit QUICKER(            \
      "300 mm/min") PLATE_ASKED("2 N")

/* the ceramic leaves little room along the axis: nothing faster than the search */
#define BONDED(axial, circuit)                                                                     \
  "# A bonded probe: the stem's foot is glued to the middle of the disc. Sideways it is felt "     \
  "only\n"                                                                                         \
  "# through what sits off centre; it is a probe for axial touches.\n"                             \
  "design: my bonded probe\n"                                                                      \
  "revision: 1\n"                                                                                  \
  "disc: {metal_diameter: 20 mm, metal_thickness: 0.2 mm, ceramic_diameter: 14 mm,\n"              \
  "       ceramic_thickness: 0.2 mm, electrode_diameter: 12.8 mm}\n"                               \
  "support: {kind: clamped, void_depth: 280 um}\n"                                                 \
  "seat: {kind: bonded, bond_radius: 1.5 mm, carrier_mass: 1 g}\n"                                 \
  "stylus: {reach: 25 mm, stem_diameter: 1 mm, ball_diameter: 2 mm}\n" circuit                     \
  "machine: {feed: 100 mm/min, approach_feed: 100 mm/min}   # stops before the ceramic breaks\n"   \
  "requirements:\n"                                                                                \
  "  trip_force_axial: \"<= " axial "\"\n" ASSUMED                                                 \
  "#  disc: {metal: brass, ceramic: pzt_5a, contact_face: metal, ceramic_eccentricity: 0 mm}\n"    \
  "#  seat: {eccentricity: 0 mm}\n" ASSUMED_OF_ALL

static const char *const starters[TW_SEAT_COUNT][TW_CIRCUIT_COUNT] = {
    [TW_SEAT_PIVOT] = {[TW_CIRCUIT_COMPARATOR] = PIVOT(CIRCUIT_COMPARATOR) TRIMMER,
                       [TW_CIRCUIT_GAIN] = PIVOT(CIRCUIT_GAIN) TRIMMER,
                       [TW_CIRCUIT_CHARGE] = PIVOT(CIRCUIT_CHARGE) TRIMMER,
                       [TW_CIRCUIT_GATE] = PIVOT(CIRCUIT_GATE QUICKER("300 mm/min"))},
    [TW_SEAT_TRIPOD] =
        {[TW_CIRCUIT_CONTACT] = TRIPOD_OPENING,
         [TW_CIRCUIT_COMPARATOR] = TRIPOD("40 N/mm", CIRCUIT_COMPARATOR_SLOW) TRIMMER,
         [TW_CIRCUIT_GAIN] = TRIPOD("60 N/mm", CIRCUIT_GAIN QUICKER("200 mm/min")) TRIMMER,
         [TW_CIRCUIT_CHARGE] = TRIPOD("60 N/mm", CIRCUIT_CHARGE QUICKER("200 mm/min")) TRIMMER,
         [TW_CIRCUIT_GATE] = TRIPOD("80 N/mm", CIRCUIT_GATE_WITH("1M5") QUICKER("300 mm/min"))},
    [TW_SEAT_PLATE] =
        {[TW_CIRCUIT_COMPARATOR] = PLATE("1 N/mm", CIRCUIT_COMPARATOR_BOTH, "200 mm/min") TRIMMER,
         [TW_CIRCUIT_GAIN] = PLATE("20 N/mm", CIRCUIT_GAIN_BOTH, "300 mm/min") TRIMMER,
         [TW_CIRCUIT_CHARGE] = PLATE("20 N/mm", CIRCUIT_CHARGE_BOTH, "200 mm/min") TRIMMER,
         [TW_CIRCUIT_GATE] = PLATE_ABOVE(CIRCUIT_GATE_WITH("1M5"))},
    [TW_SEAT_BONDED] = {[TW_CIRCUIT_GAIN] = BONDED("0.1 N", CIRCUIT_GAIN) TRIMMER,
                        [TW_CIRCUIT_COMPARATOR] = BONDED("0.1 N", CIRCUIT_COMPARATOR) TRIMMER,
                        [TW_CIRCUIT_CHARGE] = BONDED("0.1 N", CIRCUIT_CHARGE) TRIMMER,
                        [TW_CIRCUIT_GATE] = BONDED("0.4 N", CIRCUIT_GATE)},
};

/* what each family is given where no circuit is asked for */
static const int usual[TW_SEAT_COUNT] = {TW_CIRCUIT_COMPARATOR, TW_CIRCUIT_CONTACT,
                                         TW_CIRCUIT_COMPARATOR, TW_CIRCUIT_GAIN};

const char *tw_design_starter(int seat_kind, int circuit_kind)
{
  if (seat_kind < 0 || seat_kind >= TW_SEAT_COUNT || circuit_kind >= TW_CIRCUIT_COUNT) {
    return NULL;
  }
  return starters[seat_kind][circuit_kind < 0 ? usual[seat_kind] : circuit_kind];
}

const char *tw_design_template(int seat_kind)
{
  return tw_design_starter(seat_kind, -1);
}

/* what a link must be told; "" for the one that is assumed */
static const char *link_line(int link_kind)
{
  switch (link_kind) {
  case TW_LINK_PLUG:
    return "link: {kind: plug}\n";
  case TW_LINK_SPRING_CONTACTS:
    return "link: {kind: spring_contacts}\n";
  case TW_LINK_RADIO:
    return "link: {kind: radio, battery_capacity: 220 mA h, current_ready: 1 mA}   # own values: "
           "change them\n";
  default:
    return "";
  }
}

int tw_design_starter_print(int seat_kind, int circuit_kind, int link_kind, char *out, size_t size)
{
  const char *text = tw_design_starter(seat_kind, circuit_kind);
  if (!text) {
    return 0;
  }
  const size_t before = (size_t)(strstr(text, "requirements:") - text);
  return snprintf(out, size, "%.*s%s%s", (int)before, text, link_line(link_kind), text + before);
}
