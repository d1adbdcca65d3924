/* templates.c: starting files for the four seat families: what must be said, and behind # what is
 * assumed otherwise. */
#include "tripwright/design.h"

/* what nothing is assumed about */
#define AT_ASSEMBLY                                                                                \
  "# What can be set at assembly, if it is there (spread tells what it wins back):\n"              \
  "#  housing: {tip_offset: 0.1 mm ± 0.1}, off the spindle axis before the screws are turned\n"
#define SCREW "#  preload: {screw_pitch: 0.5 mm}\n"
#define TRIMMER                                                                                    \
  "#  circuit: {trimmer: 2k}, in series with reference_lower, which counts it at half\n"

static const char pivot[] =
    "# A pivot probe: the stem is screwed into a ball head in a socket; the flat on top of the "
    "ball\n"
    "# carries the disc, whose rim is held by a clamp under the seat preload.\n"
    "design: my pivot probe\n"
    "revision: 1\n"
    "disc: {metal_diameter: 20 mm, metal_thickness: 0.3 mm, ceramic_diameter: 14 mm,\n"
    "       ceramic_thickness: 0.3 mm, electrode_diameter: 12.8 mm, contact_face: ceramic}\n"
    "support: {kind: ledge, ledge_radius: 9.3 mm, void_depth: 60 um}\n"
    "seat: {kind: pivot, ball_radius: 3.5 mm, flat_radius: 3 mm, flat_height: 0 mm, friction: "
    "0.1}\n"
    "preload: {force: 0.8 N}\n"
    "stylus: {reach: 32 mm, stem_diameter: 1.5 mm, ball_diameter: 2 mm}\n"
    "circuit: {kind: comparator, supply: 3.3 V, amplifier: comparator_micropower_oc,\n"
    "          bias_resistance: 1M0, bias_upper: 47k, bias_lower: 15k, reference_upper: 39k,\n"
    "          reference_lower: 15k, feedback_resistance: 1M0, clamp: rails,\n"
    "          series_resistance: 10k}\n"
    "output: {kind: open_collector, active: low}\n"
    "requirements:\n"
    "  trip_force_side: \"<= 0.25 N\"\n"
    "  pretravel_variation_side: \"<= 20 um\"\n"
    "\n"
    "# What is assumed where nothing is said (tripwright fields lists all of it):\n"
    "#  disc: {metal: brass, ceramic: pzt_5a, bond_thickness: 0 um, poling: unknown}\n"
    "#  seat: {contact: points 3, socket_angle: 45 deg, edge_radius: 0.1 mm, carrier_mass: 5 g}\n"
    "#  stylus: {stem: carbide, ball: ruby, thread: none}\n"
    "#  holddown: {kind: none}\n"
    "#  machine: {feed: 100 mm/min, acceleration: 0.5 m/s2, sampling_interval: 1 ms}\n" AT_ASSEMBLY
        SCREW TRIMMER;

static const char tripod[] =
    "# A tripod probe: the carrier rests on three seats under a central spring; a seat that opens\n"
    "# breaks the chain of contacts.\n"
    "design: my tripod probe\n"
    "revision: 1\n"
    "seat: {kind: tripod, contact: vee, pitch_radius: 8 mm, vee_angle: 45 deg, friction: 0.15,\n"
    "       opening_force: 0.02 N, spring_rate: 0.5 N/mm}\n"
    "preload: {force: 1 N}\n"
    "stylus: {reach: 40 mm, stem_diameter: 1.5 mm, ball_diameter: 2 mm}\n"
    "circuit: {kind: contact, supply: 5 V, contact_pull_up: 10k, contact_threshold: 10k}\n"
    "output: {kind: push_pull, active: high}\n"
    "requirements:\n"
    "  trip_force_side: \"<= 0.2 N\"\n"
    "  trip_force_axial: \"<= 1.2 N\"\n"
    "\n"
    "# What is assumed where nothing is said (tripwright fields lists all of it):\n"
    "#  seat: {azimuth: 0 deg, contact_stiffness: 5 N/um, carrier_mass: 5 g}\n"
    "#  stylus: {stem: carbide, ball: ruby, thread: none}\n"
    "#  circuit: {contact_resistance: 0.5 ohm}\n"
    "#  holddown: {kind: none}\n"
    "#  machine: {feed: 100 mm/min, acceleration: 0.5 m/s2, sampling_interval: 1 ms}\n" AT_ASSEMBLY
        SCREW;

static const char plate[] =
    "# A plate probe: a carrier plate rests on a lip and tips under a spring; the disc between "
    "plate\n"
    "# and lip is unloaded at once, the stem passes through its hole.\n"
    "design: my plate probe\n"
    "revision: 1\n"
    "disc: {metal_diameter: 27 mm, metal_thickness: 0.3 mm, ceramic_diameter: 19.7 mm,\n"
    "       ceramic_thickness: 0.22 mm, hole_diameter: 4 mm}\n"
    "support: {kind: ledge, ledge_radius: 12.8 mm, void_depth: 300 um}\n"
    "seat: {kind: plate, disc_side: below, tipping_radius: 6 mm, flat_radius: 6 mm, guide: "
    "radial,\n"
    "       spring_rate: 1 N/mm, friction: 0.15}\n"
    "preload: {force: 1 N}\n"
    "stylus: {reach: 40 mm, stem_diameter: 1.5 mm, ball_diameter: 2 mm}\n"
    "circuit: {kind: comparator, supply: 5 V, amplifier: comparator_cmos_pp, polarity: both,\n"
    "          bias_resistance: 10M, bias_upper: 100k, bias_lower: 100k, reference_upper: 91k,\n"
    "          reference_lower: 100k, feedback_resistance: 2M2, clamp: rails,\n"
    "          series_resistance: 10k}\n"
    "machine: {feed: 200 mm/min}\n"
    "requirements:\n"
    "  trip_force_side: \"<= 0.3 N\"\n"
    "  trip_force_axial: \"<= 0.3 N\"\n"
    "\n"
    "# What is assumed where nothing is said (tripwright fields lists all of it):\n"
    "#  disc: {metal: brass, ceramic: pzt_5a, contact_face: metal, poling: unknown}\n"
    "#  seat: {contact: points 3, contact_stiffness: 5 N/um, carrier_mass: 5 g}\n"
    "#  stylus: {stem: carbide, ball: ruby, thread: none}\n"
    "#  holddown: {kind: none}\n"
    "#  machine: {feed: 100 mm/min, acceleration: 0.5 m/s2, sampling_interval: 1 ms}\n" AT_ASSEMBLY
        SCREW TRIMMER;

static const char bonded[] =
    "# A bonded probe: the stem's foot is glued to the middle of the disc. Sideways it is felt "
    "only\n"
    "# through what sits off centre; it is a probe for axial touches.\n"
    "design: my bonded probe\n"
    "revision: 1\n"
    "disc: {metal_diameter: 20 mm, metal_thickness: 0.2 mm, ceramic_diameter: 14 mm,\n"
    "       ceramic_thickness: 0.2 mm, electrode_diameter: 12.8 mm}\n"
    "support: {kind: clamped, void_depth: 280 um}\n"
    "seat: {kind: bonded, bond_radius: 1.5 mm, carrier_mass: 1 g}\n"
    "stylus: {reach: 25 mm, stem_diameter: 1 mm, ball_diameter: 2 mm}\n"
    "circuit: {kind: gain, supply: 5 V, amplifier: opamp_bipolar_single, gain_upper: 91k, "
    "gain_lower: 10k,\n"
    "          bias_resistance: 1M0, bias_upper: 39k, bias_lower: 10k, reference_upper: 27k,\n"
    "          reference_lower: 10k, feedback_resistance: 1M0, clamp: rails,\n"
    "          series_resistance: 10k}\n"
    "requirements:\n"
    "  trip_force_axial: \"<= 0.1 N\"\n"
    "\n"
    "# What is assumed where nothing is said (tripwright fields lists all of it):\n"
    "#  disc: {metal: brass, ceramic: pzt_5a, contact_face: metal, ceramic_eccentricity: 0 mm}\n"
    "#  seat: {eccentricity: 0 mm}\n"
    "#  stylus: {stem: carbide, ball: ruby, thread: none}\n"
    "#  holddown: {kind: none}\n"
    "#  machine: {feed: 100 mm/min, acceleration: 0.5 m/s2, sampling_interval: 1 ms}\n" AT_ASSEMBLY
        TRIMMER;

const char *tw_design_template(int seat_kind)
{
  static const char *const text[] = {pivot, tripod, plate, bonded};
  return seat_kind >= 0 && seat_kind < TW_SEAT_COUNT ? text[seat_kind] : NULL;
}
