/* From design file to seat: every family's starting file gives a seat that rests and touches, with
 * the numbers of the file; defaults that depend on others; contradictions told with their field. */
#include "design_fixture.h"
#include "tripwright/disc.h"
#include "tripwright/seat.h"
#include "tripwright/stylus.h"

#include <math.h>
#include <stdio.h>

typedef struct solved {
  tw_disc *disc;
  tw_stylus_spec stylus_spec;
  tw_stylus stylus;
  tw_seat_spec spec;
  tw_seat_model *model;
  tw_seat_work *work;
} solved;

static tw_design *parse(const char *text)
{
  tw_read_options options = {.units = units, .library = library, .need = TW_NEED_ALL};
  options.no_shop = true;
  tw_messages *messages = tw_messages_new();
  tw_design *design = NULL;
  const tw_status status = tw_design_parse(text, strlen(text), NULL, &options, messages, &design);
  for (size_t i = 0; status != TW_OK && i < tw_messages_count(messages); i++) {
    print_error("%s\n", tw_messages_at(messages, i)->text);
  }
  tw_messages_free(messages);
  assert_int_equal(status, TW_OK);
  return design;
}

static solved solve(const char *text)
{
  solved s = {0};
  tw_fault fault = {0};
  tw_design *design = parse(text);
  tw_status status = tw_stylus_spec_from_design(design, &s.stylus_spec, &fault);
  status = status != TW_OK ? status : tw_stylus_solve(&s.stylus_spec, &s.stylus, &fault);
  status = status != TW_OK ? status : tw_seat_spec_from_design(design, &s.stylus, &s.spec, &fault);
  if (status == TW_OK && tw_design_has_disc(design)) {
    tw_disc_spec spec;
    status = tw_disc_spec_from_design(design, &spec, &fault);
    status = status != TW_OK ? status : tw_disc_new(&spec, &s.disc, &fault);
  }
  const tw_disc_view view = {s.disc, TW_DISC_OPEN};
  if (s.disc != NULL) {
    s.spec.disc_points = tw_disc_points;
    s.spec.disc = &view;
  }
  status = status != TW_OK ? status : tw_seat_model_new(&s.spec, &s.model, &fault);
  if (status != TW_OK) {
    print_error("%s: %s\n", fault.field, fault.text);
  }
  assert_int_equal(status, TW_OK);
  s.spec.disc = NULL;
  s.work = tw_seat_work_new(s.model);
  assert_non_null(s.work);
  tw_design_free(design);
  return s;
}

static void drop(solved *s)
{
  tw_seat_work_free(s->work);
  tw_seat_model_free(s->model);
  tw_disc_free(s->disc);
}

/* force sideways and axially, by a charge that 0.05 N on the disc gives, or by opening */
static void touch_both(const solved *s, const char *name, bool by_opening, bool sideways)
{
  tw_seat_rest rest;
  tw_seat_rest_of(s->model, &rest);
  tw_seat_options o;
  tw_seat_options_default(&o);
  o.threshold = 0.05 * fabs(rest.charge_gain);
  o.metric = by_opening ? TW_SEAT_BY_OPENING : TW_SEAT_BY_CHARGE;
  o.opening_force = by_opening ? 0.02 : 0;
  tw_seat_touch_result side, axial;
  tw_fault fault = {0};
  assert_int_equal(tw_seat_touch(s->model, s->work, 0, acos(0), &o, &axial, &fault), TW_OK);
  assert_int_equal(tw_seat_touch(s->model, s->work, 0.3, 0, &o, &side, &fault), TW_OK);
  print_message("%s: preload %.3f N, %zu of %zu contacts open, clearance %.1f um; side %.4f N %.1f "
                "um (%s, return %.2f um), axial %.4f N %.2f um\n",
                name, rest.preload, rest.open, rest.contacts, rest.clearance * 1e6, side.force,
                side.pretravel * 1e6, tw_seat_mechanism_name(side.mechanism),
                side.return_offset * 1e6, axial.force, axial.pretravel * 1e6);
  assert_int_equal(axial.state, TW_SEAT_TRIPPED);
  assert_int_equal(side.state, sideways ? TW_SEAT_TRIPPED : TW_SEAT_NO_TRIP);
  assert_true(side.residual < 1e-8 && axial.residual < 1e-8);
  assert_true(side.travel_part[TW_SEAT_TIP] > 0 || !sideways);
}

static void starting_files(void **state)
{
  (void)state;
  solved s = solve(tw_design_template(TW_SEAT_PIVOT));
  assert_int_equal(s.spec.kind, TW_SEATED_PIVOT);
  assert_int_equal(s.spec.points, 3);
  assert_near(s.spec.force, 0.8, 1e-12);
  assert_near(s.spec.friction_socket, 0.1, 1e-12);
  assert_near(s.spec.friction_flat, 0.1, 1e-12);
  assert_near(s.spec.void_depth, 60e-6, 1e-15); /* carrier on the ceramic: metal over the floor */
  assert_near(s.spec.void_radius, 9.3e-3, 1e-12);
  const tw_stylus_section *p = &s.stylus_spec.section[0];
  const double bends = pow(32e-3, 3) / (3 * p->young * acos(-1) * pow(1.5e-3, 4) / 64);
  /* bending, and the tenth of a per cent that shear adds */
  assert_true(s.stylus.side_stiffness < 1 / bends);
  assert_rel(s.stylus.side_stiffness, 1 / bends, 2e-3);
  touch_both(&s, "pivot", false, true);
  drop(&s);
  s = solve(tw_design_template(TW_SEAT_TRIPOD));
  assert_int_equal(s.spec.kind, TW_SEATED_TRIPOD_VEE);
  assert_null(s.disc);
  touch_both(&s, "tripod", true, true);
  drop(&s);
  s = solve(tw_design_template(TW_SEAT_PLATE));
  assert_int_equal(s.spec.kind, TW_SEATED_PLATE_BELOW);
  assert_true(s.spec.guided);
  touch_both(&s, "plate", false, true);
  drop(&s);
  s = solve(tw_design_template(TW_SEAT_BONDED));
  assert_int_equal(s.spec.kind, TW_SEATED_BONDED);
  touch_both(&s, "bonded", false, false); /* centred: blind sideways */
  drop(&s);
}

/* the pivot's starting file with one line in place of another */
static void with(const char *old, const char *new, char out[4000])
{
  const char *text = tw_design_template(TW_SEAT_PIVOT), *at = strstr(text, old);
  assert_non_null(at);
  const int n = snprintf(out, 4000, "%.*s%s%s", (int)(at - text), text, new, at + strlen(old));
  assert_true(n > 0 && n < 4000);
}

static void defaults_and_kinds(void **state)
{
  (void)state;
  char text[4000];
  /* flat_height unset: the ball cut at the flat's radius */
  with(" flat_height: 0 mm,", "", text);
  solved s = solve(text);
  assert_rel(s.spec.flat_height, sqrt(3.5e-3 * 3.5e-3 - 9e-6), 1e-9);
  drop(&s);
  /* ring: 24 points with the stated flatness */
  with("{kind: pivot,", "{kind: pivot, contact: ring, flatness: 0.5 um, flatness_lobes: 2,", text);
  s = solve(text);
  assert_int_equal(s.spec.points, 24);
  assert_near(s.spec.lobe_height, 0.5e-6, 1e-15);
  assert_int_equal(s.spec.lobes, 2);
  drop(&s);
  with("{force: 0.8 N}", "{kind: interference, interference: 8 um, loop_stiffness: 0.2 N/um}",
       text);
  s = solve(text);
  tw_seat_rest rest;
  tw_seat_rest_of(s.model, &rest);
  assert_rel(rest.preload, 8e-6 * rest.preload_rate, 0.02); /* its own weight counts too */
  drop(&s);
  with("{force: 0.8 N}", "{kind: spring, spring_rate: 0.5 N/mm, travel: 2 mm, relaxation: 0.1}",
       text);
  s = solve(text);
  tw_seat_rest_of(s.model, &rest);
  assert_rel(rest.preload, 0.9, 1e-9);
  drop(&s);
  /* the carrier on the metal: the ceramic hangs into the void */
  with("contact_face: ceramic", "contact_face: metal", text);
  char deep[4000];
  const char *at = strstr(text, "60 um");
  snprintf(deep, sizeof deep, "%.*s400 um%s", (int)(at - text), text, at + 5);
  s = solve(deep);
  assert_near(s.spec.void_depth, 100e-6, 1e-12);
  assert_near(s.spec.void_depth_outer, 400e-6, 1e-12);
  assert_near(s.spec.void_step_radius, 7e-3, 1e-12);
  drop(&s);
}

static void stems(void **state)
{
  (void)state;
  char text[4000];
  with("stem_diameter: 1.5 mm,",
       "stem_diameter: 1.5 mm, neck_diameter: 1 mm, neck_length: 10 mm, covered_length: 4 mm, "
       "thread: M2, thread_height: 30 mm,",
       text);
  solved s = solve(text);
  assert_int_equal(s.stylus_spec.sections, 2);
  assert_near(s.stylus_spec.section[0].length, 10e-3, 1e-12);
  assert_near(s.stylus_spec.section[0].diameter, 1e-3, 1e-12);
  assert_near(s.stylus_spec.section[1].length, 18e-3, 1e-12);
  /* ISO 261 M2 coarse: pitch 0.4, root 1.509 mm */
  assert_printed(s.stylus_spec.thread_root * 1e3, 1.509, 1e-3);
  assert_rel(s.stylus.thread_stress_side,
             32 * 30e-3 / (acos(-1) * pow(s.stylus_spec.thread_root, 3)), 1e-12);
  drop(&s);
  with("stem_diameter: 1.5 mm,",
       "stem_diameter: 1.5 mm, sections: [[1 mm, 8 mm], [1.5 mm, 12 mm], [2 mm, 10 mm]],", text);
  s = solve(text);
  assert_int_equal(s.stylus_spec.sections, 3);
  assert_near(s.stylus_spec.section[2].diameter, 2e-3, 1e-12);
  assert_near(s.stylus_spec.section[1].length, 12e-3, 1e-12);
  drop(&s);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(starting_files),
      cmocka_unit_test(defaults_and_kinds),
      cmocka_unit_test(stems),
  };
  return cmocka_run_group_tests(tests, open_all, close_all);
}
