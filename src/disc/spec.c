#include "laminate.h"

#include <string.h>

/* For callers without a library of parts; a design takes the rows of parts/, and
 * tests/unit/test_disc_design.c holds these equal to them.
 * Erturk and Inman, Piezoelectric Energy Harvesting (Wiley 2011), appendix E, table E.1; expansion,
 * pyroelectric and strength values are handbook-type, from memory */
const tw_disc_ceramic TW_DISC_PZT_5A = {.s11 = 16.4e-12,
                                        .s12 = -5.74e-12,
                                        .s13 = -7.22e-12,
                                        .s33 = 18.8e-12,
                                        .d31 = -171e-12,
                                        .d33 = 374e-12,
                                        .permittivity = 1700.0,
                                        .density = 7750.0,
                                        .expansion = 4e-6,
                                        .pyroelectric = 3e-4,
                                        .allowable_tension = 27e6};
const tw_disc_ceramic TW_DISC_PZT_5H = {.s11 = 16.5e-12,
                                        .s12 = -4.78e-12,
                                        .s13 = -8.45e-12,
                                        .s33 = 20.7e-12,
                                        .d31 = -274e-12,
                                        .d33 = 593e-12,
                                        .permittivity = 3400.0,
                                        .density = 7500.0,
                                        .expansion = 4e-6,
                                        .pyroelectric = 3e-4,
                                        .allowable_tension = 27e6};
/* handbook-type values, from memory */
const tw_disc_solid TW_DISC_BRASS = {105e9, 0.34, 8470.0, 20e-6};
const tw_disc_solid TW_DISC_STAINLESS = {193e9, 0.29, 7900.0, 17.3e-6};
const tw_disc_solid TW_DISC_EPOXY = {3e9, 0.38, 1200.0, 60e-6};
const tw_disc_solid TW_DISC_SILVER = {76e9, 0.37, 9000.0, 19e-6};

void tw_disc_spec_default(tw_disc_spec *spec)
{
  memset(spec, 0, sizeof *spec);
  spec->metal = TW_DISC_BRASS;
  spec->ceramic = TW_DISC_PZT_5A;
  spec->bond = TW_DISC_EPOXY;
  spec->silver = TW_DISC_SILVER;
  spec->support = TW_DISC_RIM;
  spec->contact_face = TW_DISC_CERAMIC_FACE;
}

double tw_disc_into_void(const tw_disc_spec *s)
{
  const bool faces = s->contact_face == TW_DISC_METAL_FACE && s->support != TW_DISC_FLAT;
  return faces && s->ceramic_thickness > 0.0
             ? s->ceramic_thickness + s->bond_thickness + s->silver_thickness
             : 0.0;
}

const char *tw_disc_layer_name(tw_disc_layer layer)
{
  static const char *const NAMES[] = {"silver", "ceramic", "bond", "metal"};
  return NAMES[layer];
}

const char *tw_disc_support_name(tw_disc_support support)
{
  static const char *const NAMES[] = {"rim",        "pinned", "clamped", "ledge",
                                      "foundation", "flat",   "free"};
  return NAMES[support];
}

/* refuses what is not finite or not inside [least, most] */
static tw_status within(tw_fault *fault, const char *field, const char *what, double value,
                        double least, double most, const char *hint)
{
  if (value >= least && value <= most) {
    return TW_OK;
  }
  return tw_fail(fault, TW_BAD_INPUT, field, hint, "%s is %g; it must lie within %g .. %g", what,
                 value, least, most);
}

typedef struct limit {
  const char *field, *what;
  double value, least, most;
  const char *hint;
} limit;

static tw_status check_list(const limit *list, size_t count, tw_fault *fault)
{
  for (size_t i = 0; i < count; i++) {
    const tw_status status = within(fault, list[i].field, list[i].what, list[i].value,
                                    list[i].least, list[i].most, list[i].hint);
    if (status != TW_OK) {
      return status;
    }
  }
  return TW_OK;
}

static tw_status check_solid(const char *field, const tw_disc_solid *s, tw_fault *fault)
{
  const limit list[] = {
      {field, "Young's modulus (Pa)", s->young, 1e5, 2e12, "give it in GPa"},
      {field, "Poisson's ratio", s->poisson, 0.0, 0.495, "metals have 0.27 to 0.42"},
      {field, "density (kg/m3)", s->density, 1.0, 3e4, "brass has 8470 kg/m3"},
      {field, "thermal expansion (1/K)", s->expansion, -1e-3, 1e-3, "brass has 19e-6 1/K"},
  };
  return check_list(list, sizeof list / sizeof *list, fault);
}

static tw_status check_ceramic(const tw_disc_ceramic *c, tw_fault *fault)
{
  static const char FIELD[] = "disc.ceramic";
  const limit list[] = {
      {FIELD, "s11 (m2/N)", c->s11, 1e-13, 1e-10, "PZT has about 16e-12"},
      {FIELD, "s12 (m2/N)", c->s12, -0.999 * c->s11, 0.0, "it is negative and less than s11"},
      {FIELD, "s33 (m2/N)", c->s33, 1e-13, 1e-10, "PZT has about 19e-12"},
      {FIELD, "s13 (m2/N)", c->s13, -sqrt(fmax(0.0, 0.499 * (c->s11 + c->s12) * c->s33)), 0.0,
       "it is negative; the elastic constants contradict each other"},
      {FIELD, "d31 (C/N)", c->d31, -2e-9, 0.0, "it is negative, about -170e-12"},
      {FIELD, "d33 (C/N)", c->d33, 0.0, 4e-9, "it is positive, about 370e-12"},
      {FIELD, "relative permittivity", c->permittivity, 1.0, 1e5, "PZT-5A has 1700"},
      {FIELD, "density (kg/m3)", c->density, 1.0, 3e4, "PZT has about 7700 kg/m3"},
      {FIELD, "thermal expansion (1/K)", c->expansion, -1e-3, 1e-3, "PZT has about 4e-6"},
      {FIELD, "pyroelectric constant (C/(m2 K))", c->pyroelectric, -0.1, 0.1, "PZT has 3e-4"},
  };
  const tw_status status = check_list(list, sizeof list / sizeof *list, fault);
  if (status != TW_OK) {
    return status;
  }
  if (!(tw_reduce(c).eps > 0.0)) {
    return tw_fail(fault, TW_BAD_INPUT, FIELD, "lower d31 or raise the permittivity",
                   "the piezo constant d31 is too large for this permittivity and stiffness");
  }
  return TW_OK;
}

static tw_status check_layers(const tw_disc_spec *s, tw_fault *fault)
{
  const double rm = s->metal_radius;
  const limit metal[] = {
      {"disc.metal_diameter", "metal radius (m)", rm, 1e-4, 0.5, "give the diameter in mm"},
      {"disc.metal_thickness", "metal thickness (m)", s->metal_thickness, 1e-6, rm / 2.0,
       "a disc is thin: less than half its radius"},
      {"disc.hole_diameter", "hole radius (m)", s->hole_radius, 0.0, 0.9 * rm,
       "the hole must leave a ring of metal"},
      {"disc.ceramic_thickness", "ceramic thickness (m)", s->ceramic_thickness, 0.0, rm / 2.0,
       "a disc is thin: less than half its radius"},
  };
  tw_status status = check_list(metal, sizeof metal / sizeof *metal, fault);
  if (status == TW_OK) {
    status = check_solid("disc.metal", &s->metal, fault);
  }
  if (status != TW_OK || s->ceramic_thickness == 0.0) {
    return status;
  }
  const double rc = s->ceramic_radius;
  const limit ceramic[] = {
      {"disc.ceramic_diameter", "ceramic radius (m)", rc, 1e-5, rm,
       "the ceramic must fit on the metal"},
      {"disc.hole_diameter", "hole radius (m)", s->hole_radius, 0.0, 0.99 * rc,
       "the hole must leave a ring of ceramic"},
      {"disc.electrode_diameter", "electrode radius (m)", s->electrode_radius, 0.0, rc,
       "the electrode cannot be larger than the ceramic"},
      {"disc.bond_thickness", "bond thickness (m)", s->bond_thickness, 0.0, rm / 10.0,
       "glue is some micrometres"},
      {"disc.silver_thickness", "silver thickness (m)", s->silver_thickness, 0.0, rm / 10.0,
       "silver is some micrometres"},
      {"disc.ceramic_eccentricity", "ceramic eccentricity (m)", s->ceramic_eccentricity, 0.0,
       fmax(0.0, rm - rc), "the ceramic must stay on the metal"},
      {"disc.ceramic_eccentricity_azimuth", "azimuth (rad)", s->ceramic_eccentricity_azimuth,
       -100.0, 100.0, "give it in degrees"},
  };
  status = check_list(ceramic, sizeof ceramic / sizeof *ceramic, fault);
  if (status == TW_OK && s->electrode_radius > 0.0 && s->electrode_radius <= s->hole_radius) {
    status = tw_fail(fault, TW_BAD_INPUT, "disc.electrode_diameter",
                     "make it larger than the hole, or leave it out",
                     "the electrode does not reach past the hole");
  }
  if (status == TW_OK) {
    status = check_ceramic(&s->ceramic, fault);
  }
  if (status == TW_OK && s->bond_thickness > 0.0) {
    status = check_solid("disc.bond_thickness", &s->bond, fault);
  }
  if (status == TW_OK && s->silver_thickness > 0.0) {
    status = check_solid("disc.silver_thickness", &s->silver, fault);
  }
  return status;
}

static tw_status check_support(const tw_disc_spec *s, tw_fault *fault)
{
  const double rm = s->metal_radius, rh = s->hole_radius;
  tw_status status = TW_OK;
  if (s->support == TW_DISC_LEDGE) {
    status = within(fault, "support.ledge_radius", "ledge radius (m)", s->ledge_radius,
                    fmax(1e-5, 1.001 * rh), rm, "the ledge must carry the disc");
  }
  if (s->support == TW_DISC_FOUNDATION) {
    status = within(fault, "support.foundation_stiffness", "foundation stiffness (Pa/m)",
                    s->foundation_stiffness, 1.0, 1e17, "foam has 1e8, resin 1e12 Pa/m");
  }
  if (status == TW_OK) {
    status = within(fault, "support.void_radius", "void radius (m)", s->void_radius, 0.0, rm,
                    "the void lies under the disc");
  }
  if (status == TW_OK && s->support == TW_DISC_FLAT && s->void_radius > 0.0 &&
      s->void_radius <= rh) {
    status = tw_fail(fault, TW_BAD_INPUT, "support.void_radius", "make it larger than the hole",
                     "the void is no larger than the hole in the disc");
  }
  if (status == TW_OK) {
    status = within(fault, "support.void_depth", "void depth (m)", s->void_depth, 0.0, 0.5,
                    "depth of the void under the disc");
  }
  if (status == TW_OK) {
    status = within(fault, "support.backing_stiffness", "backing stiffness (Pa/m)",
                    s->backing_stiffness, 0.0, 1e18, "resin has 1e12 Pa/m; 0 is rigid");
  }
  /* the side that faces the backing carries the ceramic when the carrier touches the metal */
  const double thick = tw_disc_into_void(s);
  if (status == TW_OK && s->void_depth > 0.0 && s->void_depth <= thick) {
    status = tw_fail(fault, TW_BAD_INPUT, "support.void_depth",
                     "the ceramic faces the void: make it deeper than the ceramic is thick",
                     "the void of %g um has no room for the ceramic of %g um", s->void_depth * 1e6,
                     thick * 1e6);
  }
  return status;
}

tw_status tw_disc_spec_check(const tw_disc_spec *spec, tw_fault *fault)
{
  tw_status status = check_layers(spec, fault);
  if (status == TW_OK) {
    status = check_support(spec, fault);
  }
  if (status == TW_OK) {
    status = within(fault, "seat.flat_radius", "contact radius (m)", spec->contact_radius, 0.0,
                    spec->metal_radius, "the carrier touches the disc inside its edge");
  }
  if (status == TW_OK) {
    status = within(fault, "seat.carrier_mass", "carrier mass (kg)", spec->carrier_mass, 0.0, 100.0,
                    "mass of carrier and stylus");
  }
  return status;
}
