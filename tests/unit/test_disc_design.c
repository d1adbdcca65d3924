/* The disc of a design: every field reaches its number, what is missing is named. */
#include "design_fixture.h"
#include "tripwright/disc.h"

static tw_disc_spec spec_of(const char *text, unsigned needs)
{
  tw_design *design = good_design(text, needs);
  tw_disc_spec spec;
  tw_fault fault;
  if (tw_disc_spec_from_design(design, &spec, &fault) != TW_OK) {
    fail_msg("%s: %s", fault.field, fault.text);
  }
  tw_design_free(design);
  return spec;
}

#define PLAIN                                                                                      \
  "disc: {metal_diameter: 20 mm, metal_thickness: 0.2 mm, ceramic_diameter: 14 mm, "               \
  "ceramic_thickness: 0.2 mm, metal: brass, ceramic: pzt_5a"

/* the reference disc by its library names gives the reference charge */
static void library_disc_gives_the_reference(void **state)
{
  (void)state;
  tw_disc_spec s = spec_of(PLAIN "}\nsupport: {kind: rim}\n", TW_NEED_DISC);
  assert_true(s.contact_face == TW_DISC_METAL_FACE);
  tw_disc *disc;
  tw_disc_ring ring;
  assert_int_equal(tw_disc_new(&s, &disc, NULL), TW_OK);
  assert_int_equal(tw_disc_at(disc, 2e-3, &ring, NULL), TW_OK);
  assert_rel(ring.charge, 1.225731260514847e-07, 1e-6);
  tw_disc_free(disc);
}

static void every_field_arrives(void **state)
{
  (void)state;
  const tw_disc_spec s = spec_of(
      PLAIN ", electrode_diameter: 12.8 mm, bond_thickness: 10 um, bond_modulus: 2 GPa, "
            "silver_thickness: 5 um, silver_modulus: 40 GPa, hole_diameter: 2 mm, "
            "contact_face: ceramic, poling: minus, ceramic_eccentricity: 0.3 mm, "
            "ceramic_eccentricity_azimuth: 90 deg}\n"
            "support: {kind: ledge, ledge_radius: 9.3 mm, void_radius: 8 mm, void_depth: 60 um}\n"
            "seat: {kind: pivot, ball_radius: 5 mm, flat_radius: 3 mm}\n",
      TW_NEED_DISC);
  assert_rel(s.electrode_radius, 6.4e-3, 1e-12);
  assert_rel(s.bond_thickness, 10e-6, 1e-12);
  assert_rel(s.bond.young, 2e9, 1e-12);
  assert_rel(s.silver_thickness, 5e-6, 1e-12);
  assert_rel(s.silver.young, 40e9, 1e-12);
  assert_rel(s.hole_radius, 1e-3, 1e-12);
  assert_true(s.contact_face == TW_DISC_CERAMIC_FACE);
  assert_true(s.poling == TW_DISC_POLING_MINUS);
  assert_rel(s.ceramic_eccentricity, 0.3e-3, 1e-12);
  assert_rel(s.ceramic_eccentricity_azimuth, acos(-1.0) / 2.0, 1e-12);
  assert_true(s.support == TW_DISC_LEDGE);
  assert_rel(s.ledge_radius, 9.3e-3, 1e-12);
  assert_rel(s.void_radius, 8e-3, 1e-12);
  assert_rel(s.void_depth, 60e-6, 1e-12);
  assert_rel(s.backing_stiffness, 1e12, 1e-12);
  assert_rel(s.contact_radius, 3e-3, 1e-12);
  assert_rel(s.carrier_mass, 5e-3, 1e-12);
}

static void every_support_kind(void **state)
{
  (void)state;
  static const struct {
    const char *text;
    tw_disc_support kind;
  } ROW[] = {
      {"kind: rim", TW_DISC_RIM},
      {"kind: pinned", TW_DISC_PINNED},
      {"kind: clamped", TW_DISC_CLAMPED},
      {"kind: ledge, ledge_radius: 9 mm", TW_DISC_LEDGE},
      {"kind: flat", TW_DISC_FLAT},
      {"kind: flat, bonded: yes", TW_DISC_FLAT},
      {"kind: free", TW_DISC_FREE},
      {"kind: foundation, foundation_stiffness: 0.1 GPa/m", TW_DISC_FOUNDATION},
  };
  for (size_t i = 0; i < sizeof ROW / sizeof *ROW; i++) {
    char text[400];
    snprintf(text, sizeof text, PLAIN "}\nsupport: {%s}\n", ROW[i].text);
    const tw_disc_spec s = spec_of(text, TW_NEED_DISC);
    assert_int_equal(s.support, ROW[i].kind);
    assert_int_equal(s.bonded, i == 5);
  }
}

static void measurements_are_met(void **state)
{
  (void)state;
  tw_design *design = good_design(PLAIN "}\nsupport: {kind: rim}\nmeasured: {capacitance: 12 nF, "
                                        "resonance_free: 6.4 kHz, charge_per_newton: -110 nC/N}\n",
                                  TW_NEED_DISC);
  tw_disc_spec s;
  tw_disc_match match;
  assert_int_equal(tw_disc_matched_from_design(design, &s, &match, NULL), TW_OK);
  tw_design_free(design);
  assert_rel(match.stiffness, pow(6400.0 / 6039.3, 2.0), 0.02);
  tw_disc *disc;
  tw_disc_measures m;
  assert_int_equal(tw_disc_new(&s, &disc, NULL), TW_OK);
  assert_int_equal(tw_disc_measure(disc, TW_DISC_SHORT, &m, NULL), TW_OK);
  assert_rel(m.capacitance_free.value, 12e-9, 1e-8);
  assert_rel(m.resonance_free.value, 6400.0, 1e-8);
  assert_rel(m.charge_per_newton.value, -110e-9, 1e-8);
  tw_disc_free(disc);
}

static void impossible_designs_name_the_field(void **state)
{
  (void)state;
  static const struct {
    const char *text, *field;
  } ROW[] = {
      {"disc: {metal_diameter: 12 mm, metal_thickness: 0.2 mm, ceramic_diameter: 14 mm, "
       "ceramic_thickness: 0.2 mm}\nsupport: {kind: rim}\n",
       "disc.ceramic_diameter"},
      {PLAIN "}\nsupport: {kind: ledge, ledge_radius: 11 mm}\n", "support.ledge_radius"},
      {PLAIN ", electrode_diameter: 15 mm}\nsupport: {kind: rim}\n", "disc.electrode_diameter"},
      {PLAIN "}\nsupport: {kind: rim, void_depth: 100 um}\n", "support.void_depth"},
      {PLAIN ", hole_diameter: 14 mm}\nsupport: {kind: rim}\n", "disc.hole_diameter"},
      {PLAIN "}\nsupport: {kind: rim}\nmeasured: {capacitance: 900 nF}\n", "measured.capacitance"},
  };
  for (size_t i = 0; i < sizeof ROW / sizeof *ROW; i++) {
    const tw_read_options options = {.units = units, .library = library, .need = TW_NEED_DISC};
    tw_messages *messages = tw_messages_new();
    tw_design *design = NULL;
    /* the reader may see the contradiction first: then it is not this room's to tell */
    if (tw_design_parse(ROW[i].text, strlen(ROW[i].text), NULL, &options, messages, &design) ==
        TW_OK) {
      tw_disc_spec s;
      tw_fault fault;
      assert_int_equal(tw_disc_spec_from_design(design, &s, &fault), TW_BAD_INPUT);
      assert_string_equal(fault.field, ROW[i].field);
      tw_design_free(design);
    } else {
      assert_string_equal(tw_messages_at(messages, 0)->field, ROW[i].field);
    }
    tw_messages_free(messages);
  }
}

/* the void under the disc is one rule: the support that has one, less the ceramic that faces it */
static void the_void_is_one_rule(void **state)
{
  (void)state;
  static const struct {
    const char *support, *face;
    bool has;
    double ceramic;
  } row[] = {
      {"ledge, ledge_radius: 9 mm", "metal", true, 215e-6},
      {"rim", "ceramic", true, 0},
      {"pinned", "metal", true, 215e-6},
      {"clamped", "ceramic", true, 0},
      {"flat", "metal", false, 0},
      {"free", "metal", false, 0},
  };
  for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
    char text[500];
    snprintf(text, sizeof text,
             PLAIN ", bond_thickness: 10 um, silver_thickness: 5 um, contact_face: %s}\n"
                   "support: {kind: %s%s}\n",
             row[i].face, row[i].support, row[i].has ? ", void_depth: 300 um" : "");
    tw_design *design = good_design(text, 0);
    tw_disc_void hollow;
    assert_true(tw_disc_void_from_design(design, &hollow) == row[i].has);
    assert_near(hollow.depth, row[i].has ? 300e-6 : 0, 1e-12);
    assert_near(hollow.ceramic, row[i].ceramic, 1e-12);
    if (row[i].has) {
      assert_near(hollow.edge, i == 0 ? 9e-3 : 10e-3, 1e-12);
      const tw_disc_spec s = spec_of(text, 0);
      tw_disc *disc;
      assert_int_equal(tw_disc_new(&s, &disc, NULL), TW_OK);
      assert_near(tw_disc_gap(disc, 3e-3), hollow.depth - hollow.ceramic, 1e-12);
      assert_near(tw_disc_gap(disc, 8e-3), hollow.depth, 1e-12);
      tw_disc_free(disc);
    }
    tw_design_free(design);
  }
}

/* the constants that a caller without a library gets are those of its rows */
static void materials_are_those_of_the_library(void **state)
{
  (void)state;
  static const struct {
    const char *ceramic, *metal;
    const tw_disc_ceramic *is;
    const tw_disc_solid *sheet;
  } row[] = {{"pzt_5a", "brass", &TW_DISC_PZT_5A, &TW_DISC_BRASS},
             {"pzt_5h", "stainless", &TW_DISC_PZT_5H, &TW_DISC_STAINLESS}};
  for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
    char text[500];
    snprintf(text, sizeof text,
             "disc: {metal_diameter: 20 mm, metal_thickness: 0.2 mm, ceramic_diameter: 14 mm, "
             "ceramic_thickness: 0.2 mm, metal: %s, ceramic: %s}\nsupport: {kind: rim}\n",
             row[i].metal, row[i].ceramic);
    const tw_disc_spec s = spec_of(text, TW_NEED_DISC);
    assert_rel(s.ceramic.s11, row[i].is->s11, 1e-12);
    assert_rel(s.ceramic.s12, row[i].is->s12, 1e-12);
    assert_rel(s.ceramic.s13, row[i].is->s13, 1e-12);
    assert_rel(s.ceramic.s33, row[i].is->s33, 1e-12);
    assert_rel(s.ceramic.d31, row[i].is->d31, 1e-12);
    assert_rel(s.ceramic.d33, row[i].is->d33, 1e-12);
    assert_rel(s.ceramic.permittivity, row[i].is->permittivity, 1e-12);
    assert_rel(s.ceramic.density, row[i].is->density, 1e-12);
    assert_rel(s.ceramic.pyroelectric, row[i].is->pyroelectric, 1e-12);
    assert_rel(s.metal.young, row[i].sheet->young, 1e-12);
    assert_rel(s.metal.poisson, row[i].sheet->poisson, 1e-12);
    assert_rel(s.metal.density, row[i].sheet->density, 1e-12);
    assert_rel(s.bond.young, TW_DISC_EPOXY.young, 1e-12);
    assert_rel(s.bond.poisson, TW_DISC_EPOXY.poisson, 1e-12);
    assert_rel(s.bond.density, TW_DISC_EPOXY.density, 1e-12);
    assert_rel(s.silver.young, TW_DISC_SILVER.young, 1e-12);
    assert_rel(s.silver.poisson, TW_DISC_SILVER.poisson, 1e-12);
    assert_rel(s.silver.density, TW_DISC_SILVER.density, 1e-12);
  }
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(library_disc_gives_the_reference),
      cmocka_unit_test(every_field_arrives),
      cmocka_unit_test(every_support_kind),
      cmocka_unit_test(measurements_are_met),
      cmocka_unit_test(impossible_designs_name_the_field),
      cmocka_unit_test(the_void_is_one_rule),
      cmocka_unit_test(materials_are_those_of_the_library),
  };
  return cmocka_run_group_tests_name("disc of a design", tests, open_all, close_all);
}
