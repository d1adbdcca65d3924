/* json_disc.c: the document of `disc`: the disc alone in its support. */
#include "tripwright/disc.h"
#include "tripwright/documents.h"
#include "tripwright/probe.h"

#include <string.h>

static void put(json_t *object, const char *name, tw_disc_value value, const char *unit)
{
  json_t *o = json_pack("{s:o, s:s}", "value",
                        value.known ? tw_json_number(value.value) : json_null(), "unit", unit);
  if (!value.known && value.why_not) {
    json_object_set_new(o, "why", json_string(value.why_not));
  }
  json_object_set_new(object, name, o);
}

static json_t *measures_of(const tw_disc_measures *m)
{
  json_t *o = json_object();
  put(o, "capacitance_blocked", m->capacitance_blocked, "F");
  put(o, "capacitance_mounted", m->capacitance_mounted, "F");
  put(o, "capacitance_free", m->capacitance_free, "F");
  put(o, "charge_per_newton", m->charge_per_newton, "C/N");
  put(o, "voltage_per_newton_open", m->voltage_per_newton_open, "V/N");
  put(o, "stiffness_short", m->stiffness_short, "N/m");
  put(o, "stiffness_open", m->stiffness_open, "N/m");
  put(o, "coupling_squared", m->coupling_squared, "1");
  put(o, "resonance_free", m->resonance_free, "Hz");
  put(o, "resonance_free_open", m->resonance_free_open, "Hz");
  put(o, "resonance_mounted", m->resonance_mounted, "Hz");
  put(o, "resonance_mounted_open", m->resonance_mounted_open, "Hz");
  put(o, "resonance_loaded", m->resonance_loaded, "Hz");
  put(o, "tilt_compliance", m->tilt_compliance, "rad/(N m)");
  put(o, "charge_per_moment", m->charge_per_moment, "C/(N m)");
  put(o, "charge_per_kelvin", m->charge_per_kelvin, "C/K");
  return o;
}

/* where nothing bends there is no stiffness */
static json_t *stiffness_of(const tw_disc_ring *ring, bool open)
{
  return ring->unbending ? json_null()
                         : tw_json_number(open ? ring->stiffness_open : ring->stiffness_short);
}

static tw_status rings_of(const tw_disc *disc, const double *radii, size_t count, json_t *rows,
                          tw_fault *fault)
{
  for (size_t i = 0; i < count; i++) {
    tw_disc_ring ring;
    const tw_status status = tw_disc_at(disc, radii[i], &ring, fault);
    if (status != TW_OK) {
      return status;
    }
    json_array_append_new(
        rows, json_pack("{s:o, s:o, s:o, s:o, s:o, s:o}", "radius", tw_json_number(ring.radius),
                        "charge_per_newton", tw_json_number(ring.charge), "voltage_per_newton_open",
                        tw_json_number(ring.voltage_open), "deflection_per_newton",
                        tw_json_number(ring.deflection), "stiffness_short",
                        stiffness_of(&ring, false), "stiffness_open", stiffness_of(&ring, true)));
  }
  return TW_OK;
}

enum { INFLUENCE_POINTS = 41 };

static json_t *influence_of(const tw_disc *disc)
{
  json_t *radius = json_array(), *g = json_array();
  const double edge = tw_disc_spec_of(disc)->metal_radius;
  for (int i = 0; i < INFLUENCE_POINTS; i++) {
    const double r = edge * i / (INFLUENCE_POINTS - 1);
    json_array_append_new(radius, tw_json_number(r));
    json_array_append_new(g, tw_json_number(tw_disc_influence(disc, r)));
  }
  return json_pack("{s:o, s:o, s:s, s:s}", "radius", radius, "g", g, "unit", "m/V", "radius_unit",
                   "m");
}

static void stress_of(const tw_disc *disc, double radius, json_t *rows, json_t *warnings)
{
  tw_disc_stress stress[TW_DISC_STRESS_ROWS];
  size_t count = 0;
  tw_fault why = {0};
  if (tw_disc_stresses(disc, radius, stress, &count, &why) != TW_OK) {
    json_array_append_new(warnings, json_pack("{s:s, s:s}", "text", why.text, "field", why.field));
    return;
  }
  for (size_t i = 0; i < count; i++) {
    json_array_append_new(rows, json_pack("{s:s, s:s, s:o, s:o, s:o, s:o, s:s}", "layer",
                                          tw_disc_layer_name(stress[i].layer), "face",
                                          stress[i].outer ? "outer" : "inner", "per_newton",
                                          tw_json_number(stress[i].centre_short), "per_newton_open",
                                          tw_json_number(stress[i].centre_open), "peak_tension",
                                          tw_json_number(stress[i].peak_tension), "peak_radius",
                                          tw_json_number(stress[i].peak_radius), "unit", "Pa/N"));
  }
}

/* both faces of ceramic and metal over the radius, for pictures; nothing where there is no answer
 */
static json_t *stress_along_of(const tw_disc *disc, double contact)
{
  static const tw_disc_layer layers[] = {TW_DISC_LAYER_CERAMIC, TW_DISC_LAYER_METAL};
  const tw_disc_spec *spec = tw_disc_spec_of(disc);
  double at[INFLUENCE_POINTS];
  tw_disc_planar face[2][INFLUENCE_POINTS];
  json_t *radius = json_array(), *rows = json_array();
  for (int i = 0; i < INFLUENCE_POINTS; i++) {
    at[i] =
        spec->hole_radius + (spec->metal_radius - spec->hole_radius) * i / (INFLUENCE_POINTS - 1.0);
    json_array_append_new(radius, tw_json_number(at[i]));
  }
  for (int k = 0; k < 2; k++) {
    if (tw_disc_stress_along(disc, contact, layers[k], INFLUENCE_POINTS, at, face[0], face[1],
                             NULL) != TW_OK) {
      continue;
    }
    for (int f = 1; f >= 0; f--) {
      json_t *radial = json_array(), *hoop = json_array();
      for (int i = 0; i < INFLUENCE_POINTS; i++) {
        json_array_append_new(radial, tw_json_number(face[f][i].radial));
        json_array_append_new(hoop, tw_json_number(face[f][i].hoop));
      }
      json_array_append_new(rows, json_pack("{s:s, s:s, s:o, s:o}", "layer",
                                            tw_disc_layer_name(layers[k]), "face",
                                            f ? "outer" : "inner", "radial", radial, "hoop", hoop));
    }
  }
  return json_pack("{s:o, s:o, s:s, s:s}", "radius", radius, "rows", rows, "unit", "Pa/N",
                   "radius_unit", "m");
}

static json_t *support_of(const tw_disc_spec *spec)
{
  const double radius = spec->support == TW_DISC_LEDGE ? spec->ledge_radius : spec->metal_radius;
  return json_pack("{s:s, s:o}", "kind", tw_disc_support_name(spec->support), "radius",
                   tw_json_quantity(radius, "m"));
}

/* what the maker prints beside what is foreseen for the bare disc */
static void put_catalogue(const tw_design *design, const tw_disc_measures *m, json_t *document)
{
  const struct {
    const char *name, *unit;
    tw_field field;
    tw_disc_value foreseen;
  } row[] = {
      {"capacitance", "F", TW_F_disc_catalogue_capacitance, m->capacitance_free},
      {"resonance", "Hz", TW_F_disc_catalogue_resonance, m->resonance_free},
  };
  json_t *o = json_object();
  for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
    if (tw_design_has(design, row[i].field) && row[i].foreseen.known) {
      const double printed = tw_design_number(design, row[i].field);
      json_object_set_new(o, row[i].name,
                          json_pack("{s:o, s:s, s:o}", "value", tw_json_number(printed), "unit",
                                    row[i].unit, "foreseen_over_printed",
                                    tw_json_number(row[i].foreseen.value / printed)));
    }
  }
  json_object_set_new(document, "catalogue", o);
}

/* In a whole design the carrier moves with its stylus and the board hangs on the disc, as `check`
 * has it; a file that holds only disc and support knows the disc alone. */
static tw_status loaded_in_place(const tw_design *design, tw_disc_measures *measures,
                                 tw_fault *fault)
{
  tw_probe *probe = NULL;
  tw_fault why = {0};
  const tw_status status = tw_probe_new(design, &probe, &why);
  if (status == TW_OK && probe->has_disc) {
    measures->resonance_loaded = probe->disc_measures.resonance_loaded;
  }
  tw_probe_free(probe);
  return status == TW_NO_MEMORY ? tw_fail(fault, status, NULL, NULL, "no memory for the probe")
                                : TW_OK;
}

static tw_status fill(const tw_design *design, const tw_disc *disc, const double *radii,
                      size_t count, json_t *document, tw_fault *fault)
{
  tw_disc_measures measures;
  tw_status status = tw_disc_measure(disc, TW_DISC_OPEN, &measures, fault);
  status = status == TW_OK ? loaded_in_place(design, &measures, fault) : status;
  if (status != TW_OK) {
    return status;
  }
  json_t *rows = json_array(), *stress = json_array(), *warnings = json_array();
  json_object_set_new(document, "design", tw_json_design(design));
  json_object_set_new(document, "support", support_of(tw_disc_spec_of(disc)));
  json_object_set_new(document, "electrical", json_string("short"));
  json_object_set_new(document, "measures", measures_of(&measures));
  put_catalogue(design, &measures, document);
  status = rings_of(disc, radii, count, rows, fault);
  json_object_set_new(document, "at", rows);
  json_object_set_new(document, "influence", influence_of(disc));
  stress_of(disc, measures.contact_radius, stress, warnings);
  json_object_set_new(document, "stress", stress);
  json_object_set_new(document, "stress_along", stress_along_of(disc, measures.contact_radius));
  json_object_set_new(document, "warnings", warnings);
  return status;
}

tw_status tw_document_disc(const tw_design *design, const double *radii, size_t count, json_t **out,
                           tw_fault *fault)
{
  *out = NULL;
  tw_disc_spec spec;
  tw_disc *disc = NULL;
  tw_status status = tw_disc_spec_from_design(design, &spec, fault);
  status = status == TW_OK ? tw_disc_new(&spec, &disc, fault) : status;
  if (status != TW_OK) {
    return status;
  }
  json_t *document = tw_document_new("disc");
  status = document ? fill(design, disc, radii, count, document, fault) : TW_NO_MEMORY;
  tw_disc_free(disc);
  if (status != TW_OK) {
    json_decref(document);
    return status;
  }
  *out = document;
  return TW_OK;
}
