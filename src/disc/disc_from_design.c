/* disc_from_design.c: the disc in plain numbers from the fields of a design. */
#include "tripwright/design.h"
#include "tripwright/disc.h"

#include <math.h>

static double number(const tw_design *d, tw_field field)
{
  return tw_design_number_or(d, field, 0.0);
}

static tw_status need(const tw_design *d, tw_field field, tw_fault *fault)
{
  const tw_field_info *info = tw_field_of(field);
  return tw_design_has(d, field)
             ? TW_OK
             : tw_fail(fault, TW_BAD_INPUT, info->path, info->help, "%s must be given", info->path);
}

static tw_status need_all(const tw_design *d, tw_fault *fault)
{
  static const tw_field FIELDS[] = {
      TW_F_disc_metal_diameter,  TW_F_disc_metal_thickness,      TW_F_disc_metal_modulus,
      TW_F_disc_metal_poisson,   TW_F_disc_metal_density,        TW_F_disc_ceramic_diameter,
      TW_F_disc_ceramic_s11,     TW_F_disc_ceramic_s12,          TW_F_disc_ceramic_s13,
      TW_F_disc_ceramic_s33,     TW_F_disc_ceramic_d31,          TW_F_disc_ceramic_d33,
      TW_F_disc_ceramic_density, TW_F_disc_ceramic_permittivity, TW_F_disc_ceramic_thickness,
      TW_F_support_kind,
  };
  tw_status status = TW_OK;
  for (size_t i = 0; i < sizeof FIELDS / sizeof *FIELDS && status == TW_OK; i++) {
    status = need(d, FIELDS[i], fault);
  }
  return status;
}

static void fill_layers(const tw_design *d, tw_disc_spec *s)
{
  s->metal_radius = number(d, TW_F_disc_metal_diameter) / 2.0;
  s->metal_thickness = number(d, TW_F_disc_metal_thickness);
  s->metal.young = number(d, TW_F_disc_metal_modulus);
  s->metal.poisson = number(d, TW_F_disc_metal_poisson);
  s->metal.density = number(d, TW_F_disc_metal_density);
  s->ceramic_radius = number(d, TW_F_disc_ceramic_diameter) / 2.0;
  s->ceramic_thickness = number(d, TW_F_disc_ceramic_thickness);
  s->electrode_radius = number(d, TW_F_disc_electrode_diameter) / 2.0;
  s->bond_thickness = number(d, TW_F_disc_bond_thickness);
  s->bond.young = tw_design_number_or(d, TW_F_disc_bond_modulus, s->bond.young);
  s->bond.poisson = tw_design_number_or(d, TW_F_disc_bond_poisson, s->bond.poisson);
  s->bond.density = tw_design_number_or(d, TW_F_disc_bond_density, s->bond.density);
  s->silver_thickness = number(d, TW_F_disc_silver_thickness);
  s->silver.young = tw_design_number_or(d, TW_F_disc_silver_modulus, s->silver.young);
  s->silver.poisson = tw_design_number_or(d, TW_F_disc_silver_poisson, s->silver.poisson);
  s->silver.density = tw_design_number_or(d, TW_F_disc_silver_density, s->silver.density);
  s->hole_radius = number(d, TW_F_disc_hole_diameter) / 2.0;
  s->ceramic_eccentricity = number(d, TW_F_disc_ceramic_eccentricity);
  s->ceramic_eccentricity_azimuth = number(d, TW_F_disc_ceramic_eccentricity_azimuth);
}

static void fill_ceramic(const tw_design *d, tw_disc_ceramic *c)
{
  c->s11 = number(d, TW_F_disc_ceramic_s11);
  c->s12 = number(d, TW_F_disc_ceramic_s12);
  c->s13 = number(d, TW_F_disc_ceramic_s13);
  c->s33 = number(d, TW_F_disc_ceramic_s33);
  c->d31 = number(d, TW_F_disc_ceramic_d31);
  c->d33 = number(d, TW_F_disc_ceramic_d33);
  c->permittivity = number(d, TW_F_disc_ceramic_permittivity);
  c->density = number(d, TW_F_disc_ceramic_density);
  c->pyroelectric = tw_design_number_or(d, TW_F_disc_pyroelectric, c->pyroelectric);
  c->allowable_tension = tw_design_number_or(d, TW_F_disc_allowable_tension, c->allowable_tension);
}

/* how this disc differs from what its row says: the charge goes with the capacitance (disc.md 3a)
 */
static void scatter_ceramic(const tw_design *d, tw_disc_ceramic *c)
{
  const double capacitance = tw_design_number_or(d, TW_F_disc_capacitance_factor, 1.0);
  const double charge = tw_design_number_or(d, TW_F_disc_charge_factor, 1.0) *
                        pow(capacitance, TW_DISC_CHARGE_EXPONENT);
  c->permittivity *= capacitance;
  c->d31 *= charge;
  c->d33 *= charge;
}

static tw_disc_support support_of(int choice)
{
  switch (choice) {
  case TW_SUPPORT_RIM:
    return TW_DISC_RIM;
  case TW_SUPPORT_PINNED:
    return TW_DISC_PINNED;
  case TW_SUPPORT_CLAMPED:
    return TW_DISC_CLAMPED;
  case TW_SUPPORT_LEDGE:
    return TW_DISC_LEDGE;
  case TW_SUPPORT_FOUNDATION:
    return TW_DISC_FOUNDATION;
  case TW_SUPPORT_FLAT:
    return TW_DISC_FLAT;
  default:
    return TW_DISC_FREE;
  }
}

static tw_disc_face face_of(const tw_design *d)
{
  return tw_design_choice(d, TW_F_disc_contact_face) == TW_FACE_CERAMIC ? TW_DISC_CERAMIC_FACE
                                                                        : TW_DISC_METAL_FACE;
}

/* when there is one at all says the table of fields (support.void_depth, `when`) */
bool tw_disc_void_from_design(const tw_design *d, tw_disc_void *out)
{
  *out = (tw_disc_void){0};
  if (!tw_design_applies(d, TW_F_support_void_depth)) {
    return false;
  }
  const tw_disc_spec layers = {
      .contact_face = face_of(d),
      .support = support_of(tw_design_choice(d, TW_F_support_kind)),
      .ceramic_thickness = number(d, TW_F_disc_ceramic_thickness),
      .bond_thickness = number(d, TW_F_disc_bond_thickness),
      .silver_thickness = number(d, TW_F_disc_silver_thickness),
  };
  out->depth = number(d, TW_F_support_void_depth);
  out->radius = number(d, TW_F_support_void_radius);
  out->edge = layers.support == TW_DISC_LEDGE ? number(d, TW_F_support_ledge_radius)
                                              : number(d, TW_F_disc_metal_diameter) / 2.0;
  out->ceramic = tw_disc_into_void(&layers);
  return true;
}

static tw_status fill_support(const tw_design *d, tw_disc_spec *s, tw_fault *fault)
{
  s->support = support_of(tw_design_choice(d, TW_F_support_kind));
  tw_status status = TW_OK;
  switch (s->support) {
  case TW_DISC_LEDGE:
    status = need(d, TW_F_support_ledge_radius, fault);
    s->ledge_radius = number(d, TW_F_support_ledge_radius);
    break;
  case TW_DISC_FOUNDATION:
    status = need(d, TW_F_support_foundation_stiffness, fault);
    s->foundation_stiffness = number(d, TW_F_support_foundation_stiffness);
    break;
  case TW_DISC_FLAT:
    s->bonded = tw_design_choice(d, TW_F_support_bonded) == TW_NO_YES_YES;
    break;
  default:
    break;
  }
  tw_disc_void hollow;
  if (tw_disc_void_from_design(d, &hollow)) {
    s->void_radius = hollow.radius;
    s->void_depth = hollow.depth;
    s->backing_stiffness = number(d, TW_F_support_backing_stiffness);
  }
  return status;
}

/* where the carrier stands, by the family of the seat */
static void fill_carrier(const tw_design *d, tw_disc_spec *s)
{
  s->contact_face = face_of(d);
  const int poling = tw_design_choice(d, TW_F_disc_poling);
  s->poling = poling == TW_POLING_PLUS    ? TW_DISC_POLING_PLUS
              : poling == TW_POLING_MINUS ? TW_DISC_POLING_MINUS
                                          : TW_DISC_POLING_UNKNOWN;
  const bool bonded = tw_design_choice(d, TW_F_seat_kind) == TW_SEAT_BONDED;
  s->contact_radius = number(d, bonded ? TW_F_seat_bond_radius : TW_F_seat_flat_radius);
  s->carrier_mass = number(d, TW_F_seat_carrier_mass);
}

static tw_disc_measured measured_of(const tw_design *d)
{
  return (tw_disc_measured){
      .capacitance = number(d, TW_F_measured_capacitance),
      .capacitance_mounted = number(d, TW_F_measured_capacitance_mounted),
      .resonance_free = number(d, TW_F_measured_resonance_free),
      .resonance_mounted = number(d, TW_F_measured_resonance_mounted),
      .charge_per_newton = number(d, TW_F_measured_charge_per_newton),
  };
}

tw_status tw_disc_matched_from_design(const tw_design *design, tw_disc_spec *spec,
                                      tw_disc_match *match, tw_fault *fault)
{
  tw_disc_match unused;
  tw_disc_spec_default(spec);
  tw_status status = need_all(design, fault);
  if (status != TW_OK) {
    return status;
  }
  fill_layers(design, spec);
  fill_ceramic(design, &spec->ceramic);
  scatter_ceramic(design, &spec->ceramic);
  fill_carrier(design, spec);
  status = fill_support(design, spec, fault);
  if (status == TW_OK) {
    status = tw_disc_spec_check(spec, fault);
  }
  if (status == TW_OK) {
    const tw_disc_measured measured = measured_of(design);
    status = tw_disc_spec_match(spec, &measured, match != NULL ? match : &unused, fault);
  }
  return status;
}

tw_status tw_disc_spec_from_design(const tw_design *design, tw_disc_spec *spec, tw_fault *fault)
{
  return tw_disc_matched_from_design(design, spec, NULL, fault);
}
