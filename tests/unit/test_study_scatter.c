/* Discs scatter although the file says nothing of it: by default in a batch, named as assumed, the
 * charge going with the capacitance; a row's own limits and a measurement stand in its place
 * (docs/models/disc.md 3a, docs/models/study.md 7). */
#include "design_fixture.h"
#include "design_texts.h"
#include "tripwright/disc.h"
#include "tripwright/study_design.h"

static const char rest[] =
    "support: {kind: ledge, ledge_radius: 9.3 mm, void_depth: 300 um}\n" TEXT_PIVOT_REST;

static tw_study *study_of(const char *disc, tw_design **design)
{
  static const tw_study_level quick = {.azimuths = 4, .threads = 1};
  char text[1400];
  tw_study *study = NULL;
  tw_limits limits = {0};
  tw_fault fault = {0};
  snprintf(text, sizeof text, "%s\n%s", disc, rest);
  *design = good_design(text, TW_NEED_ALL);
  if (tw_study_new(*design, units, &limits, &quick, &study, &fault) != TW_OK ||
      tw_study_add_toleranced(study, &fault) != TW_OK) {
    fail_msg("%s: %s", fault.field, fault.text);
  }
  return study;
}

static const tw_study_input *find(const tw_study *study, tw_field field)
{
  for (size_t k = 0; k < study->inputs; k++) {
    if (study->input[k].field == field) {
      return &study->input[k];
    }
  }
  return NULL;
}

static void a_disc_scatters_by_default(void **state)
{
  (void)state;
  tw_design *design;
  tw_study *study = study_of("disc: {part: brass_20_6k3, contact_face: ceramic}", &design);
  const tw_study_input *c = find(study, TW_F_disc_capacitance_factor),
                       *q = find(study, TW_F_disc_charge_factor);
  assert_non_null(c);
  assert_non_null(q);
  assert_true(c->assumed && q->assumed);
  assert_int_equal(c->law.law, TW_LAW_NORMAL);
  assert_near(c->law.plus, 0.30, 1e-12);
  /* two standard deviations of what the capacitance does not foretell */
  assert_near(q->law.plus, 2.0 * TW_DISC_CHARGE_REST, 1e-12);
  tw_study_free(study);
  tw_design_free(design);
}

static void a_row_or_a_measurement_stands_in_its_place(void **state)
{
  (void)state;
  tw_design *design;
  tw_study *study = study_of("disc: {part: brass_20_4k3, contact_face: metal}", &design);
  const tw_study_input *c = find(study, TW_F_disc_capacitance_factor);
  assert_non_null(c);
  assert_false(c->assumed); /* its sheet allows 30 % */
  assert_near(c->law.plus, 0.30, 1e-12);
  tw_study_free(study);
  tw_design_free(design);
  study = study_of("disc: {part: brass_20_6k3, contact_face: ceramic}\n"
                   "measured: {capacitance: 9 nF}",
                   &design);
  assert_null(find(study, TW_F_disc_capacitance_factor));
  assert_non_null(find(study, TW_F_disc_charge_factor));
  tw_study_free(study);
  tw_design_free(design);
  study = study_of("disc: {part: brass_20_6k3, contact_face: ceramic}\n"
                   "measured: {capacitance: 9 nF, charge_per_newton: 80 nC/N}",
                   &design);
  assert_null(find(study, TW_F_disc_charge_factor));
  tw_study_free(study);
  tw_design_free(design);
}

static tw_disc_measures disc_with(const char *keys)
{
  char text[1400];
  tw_disc_spec spec;
  tw_disc *disc = NULL;
  tw_disc_measures m = {0};
  tw_fault fault = {0};
  snprintf(text, sizeof text, "%s\n%s", keys, rest);
  tw_design *design = good_design(text, TW_NEED_ALL);
  tw_status status = tw_disc_spec_from_design(design, &spec, &fault);
  status = status == TW_OK ? tw_disc_new(&spec, &disc, &fault) : status;
  status = status == TW_OK ? tw_disc_measure_statics(disc, &m, &fault) : status;
  if (status != TW_OK) {
    fail_msg("%s: %s", fault.field, fault.text);
  }
  tw_disc_free(disc);
  tw_design_free(design);
  return m;
}

#define DISC "disc: {part: brass_20_6k3, contact_face: ceramic"

/* by the factor and by a reading of the capacitance: the same disc */
static void one_reading_foretells_the_charge(void **state)
{
  (void)state;
  const tw_disc_measures as = disc_with(DISC "}");
  const tw_disc_measures more = disc_with(DISC ", capacitance_factor: 1.2}");
  const double c = more.capacitance_mounted.value / as.capacitance_mounted.value;
  const double q = more.charge_per_newton.value / as.charge_per_newton.value;
  assert_near(c, 1.2, 0.03); /* the coupling, which rises with the charge, takes the rest */
  /* the rim without electrode is stiffer by the coupling: 1 % less */
  assert_rel(q, pow(1.2, TW_DISC_CHARGE_EXPONENT), 0.015);
  char text[200];
  snprintf(text, sizeof text, DISC "}\nmeasured: {capacitance_mounted: %.9g nF}",
           1e9 * more.capacitance_mounted.value);
  const tw_disc_measures read = disc_with(text);
  assert_rel(read.capacitance_mounted.value, more.capacitance_mounted.value, 1e-6);
  assert_rel(read.charge_per_newton.value, more.charge_per_newton.value, 5e-3);
  const tw_disc_measures rich = disc_with(DISC ", charge_factor: 1.1}");
  assert_rel(rich.charge_per_newton.value, 1.1 * as.charge_per_newton.value, 0.02);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(a_disc_scatters_by_default),
      cmocka_unit_test(a_row_or_a_measurement_stands_in_its_place),
      cmocka_unit_test(one_reading_foretells_the_charge),
  };
  return cmocka_run_group_tests_name("scatter of discs", tests, open_all, close_all);
}
