/* The section drawing of every family: well-formed, to scale, every part named and linked to its
 * fields; flat parts at 1:1; refusals in plain words. */
#include "page_design.h"

#include "tripwright/disc.h"
#include "tripwright/drawing.h"

#include <ctype.h>
#include <stdlib.h>

/* ---- a small reader of SVG ------------------------------------------------------------------ */

/* every start tag has its end, attributes are quoted, nothing but the named entities */
static void assert_well_formed(const char *svg)
{
  char open[64][24];
  int depth = 0;
  for (const char *c = svg; *c; c++) {
    if (*c == '&') {
      assert_true(strncmp(c, "&amp;", 5) == 0 || strncmp(c, "&lt;", 4) == 0 ||
                  strncmp(c, "&gt;", 4) == 0 || strncmp(c, "&quot;", 6) == 0);
    }
    if (*c != '<' || c[1] == '?') {
      continue;
    }
    const bool closing = c[1] == '/';
    const char *name = c + 1 + closing;
    const size_t n = strcspn(name, " \n/>");
    const char *end = name;
    bool quoted = false;
    for (; *end && (quoted || *end != '>'); end++) {
      quoted = *end == '"' ? !quoted : quoted;
      assert_true(quoted ? *end != '<' : true);
    }
    assert_int_equal(*end, '>');
    if (closing) {
      assert_true(depth > 0);
      depth--;
      assert_int_equal(strncmp(open[depth], name, n), 0);
      assert_int_equal(open[depth][n], '\0');
    } else if (end[-1] != '/') {
      assert_true(depth < 64 && n < 24);
      snprintf(open[depth++], 24, "%.*s", (int)n, name);
    }
    if (strncmp(name, "style", n) == 0 && !closing) {
      end = strstr(end, "</style>") - 1; /* style text is no markup */
    }
    c = end;
  }
  assert_int_equal(depth, 0);
}

static double attribute(const char *at, const char *name)
{
  char key[32];
  snprintf(key, sizeof key, " %s=\"", name);
  const char *found = strstr(at, key);
  assert_non_null(found);
  return strtod(found + strlen(key), NULL);
}

static const char *part(const char *svg, const char *name)
{
  char key[48];
  snprintf(key, sizeof key, "data-part=\"%s\"", name);
  return strstr(svg, key);
}

static char *draw(const tw_design *design, const char *name, const tw_drawing_options *options)
{
  char *svg = NULL;
  tw_fault fault = {0};
  const tw_status status = tw_drawing_make(name, design, options, &svg, &fault);
  if (status != TW_OK) {
    fail_msg("%s: %s", fault.field, fault.text);
  }
  assert_well_formed(svg);
  assert_null(strstr(svg, "nan"));
  assert_null(strstr(svg, "inf"));
  return svg;
}

static const struct {
  int kind;
  const char *name;
} families[] = {{TW_SEAT_PIVOT, "pivot"},
                {TW_SEAT_TRIPOD, "tripod"},
                {TW_SEAT_PLATE, "plate"},
                {TW_SEAT_BONDED, "bonded"}};

/* ---- the section ---------------------------------------------------------------------------- */

static void every_family_is_drawn_with_its_parts(void **state)
{
  static const char *const always[] = {"ball",  "stem", "carrier", "seat",   "preload",
                                       "board", "link", "screws",  "housing"};
  for (size_t f = 0; f < 4; f++) {
    tw_design *design = page_design_with(*state, tw_design_template(families[f].kind), NULL);
    assert_non_null(design);
    for (double width = 90.0; width <= 300.0; width += 70.0) {
      tw_drawing_options options = tw_drawing_defaults();
      options.width = width;
      options.standalone = width > 200.0;
      char *svg = draw(design, "section", &options);
      for (size_t i = 0; i < sizeof always / sizeof always[0]; i++) {
        if (!part(svg, always[i])) {
          fail_msg("%s at %g mm has no %s", families[f].name, width, always[i]);
        }
      }
      assert_int_equal(part(svg, "disc") != NULL, tw_design_has_disc(design));
      /* a file of its own carries its style, one for the page its roles */
      assert_int_equal(strstr(svg, "<style>") != NULL, options.standalone);
      assert_int_equal(strstr(svg, "tabindex=\"0\"") != NULL, !options.standalone);
      tw_free(svg);
    }
    tw_design_free(design);
  }
}

/* the ball's radius and the reach on paper are those of the design times the scale */
static void the_section_is_to_scale(void **state)
{
  const double scales[] = {0.5, 1.0, 2.0};
  const char *const changes[] = {"stylus.reach=30 mm", "stylus.ball_diameter=3 mm", NULL};
  tw_design *design = page_design_with(*state, tw_design_template(TW_SEAT_PIVOT), changes);
  for (size_t i = 0; i < 3; i++) {
    tw_drawing_options options = tw_drawing_defaults();
    options.width = options.height = 400.0;
    options.scale = scales[i];
    char *svg = draw(design, "section", &options);
    const char *ball = strstr(part(svg, "ball"), "<circle");
    assert_near(attribute(ball, "r"), 1.5 * scales[i], 1e-3);
    const double turn = attribute(strstr(svg, "class=\"moving\""), "data-turn-y");
    assert_near(attribute(ball, "cy") - turn, 30.0 * scales[i], 2e-3);
    assert_near(attribute(svg, "width"), 400.0, 1e-9);
    tw_free(svg);
  }
  tw_design_free(design);
}

static void the_scale_is_the_largest_usual_one_that_fits(void **state)
{
  tw_design *design = page_design_with(*state, tw_design_template(TW_SEAT_PIVOT), NULL);
  tw_drawing_options options = tw_drawing_defaults();
  char *svg = draw(design, "section", &options);
  const double scale = attribute(strstr(svg, "class=\"moving\""), "data-scale");
  tw_free(svg);
  options.scale = scale;
  svg = draw(design, "section", &options);
  tw_free(svg);
  options.scale = scale * 2.0;
  tw_fault fault = {0};
  assert_int_equal(tw_drawing_make("section", design, &options, &svg, &fault), TW_BAD_INPUT);
  assert_non_null(strstr(fault.text, "larger than the sheet"));
  tw_design_free(design);
}

static void the_carrier_hangs_where_the_field_says(void **state)
{
  const char *const changes[] = {"housing.screws=axial", "link.kind=plug",
                                 "seat.swivel_limit=3 deg", NULL};
  tw_design *design = page_design_with(*state, tw_design_template(TW_SEAT_PIVOT), changes);
  tw_drawing_options options = tw_drawing_defaults();
  char *svg = draw(design, "section", &options);
  assert_non_null(strstr(svg, "plug and cable"));
  assert_non_null(strstr(svg, "3 along"));
  /* the ghost's ball is turned by the swivel limit about the seat */
  const double scale = attribute(strstr(svg, "class=\"moving\""), "data-scale");
  const double reach = tw_design_number(design, TW_F_stylus_reach);
  const double x = attribute(strstr(svg, "class=\"moving\""), "data-turn-x");
  const char *ghost = strstr(svg, "<circle class=\"ghost\"");
  assert_near(fabs(attribute(ghost, "cx") - x), 1e3 * scale * reach * sin(3.0 * 0.01745329252),
              2e-3);
  tw_free(svg);
  options.ghosts = false;
  options.dimensions = false;
  svg = draw(design, "section", &options);
  assert_null(strstr(svg, "class=\"ghost\""));
  assert_null(strstr(svg, "class=\"dimensions\""));
  tw_free(svg);
  tw_design_free(design);
}

static void the_magnifier_states_its_scale_and_shows_the_void(void **state)
{
  const char *const changes[] = {"support.void_depth=75 um", NULL};
  tw_design *design = page_design_with(*state, tw_design_template(TW_SEAT_PIVOT), changes);
  assert_non_null(design);
  tw_drawing_options options = tw_drawing_defaults();
  char *svg = draw(design, "section", &options);
  assert_non_null(strstr(svg, "in height"));
  assert_non_null(strstr(svg, "void 75 \u00b5m"));
  tw_free(svg);
  options.system = TW_INCH;
  svg = draw(design, "section", &options);
  assert_non_null(strstr(svg, "void 2.953 thou"));
  tw_free(svg);
  tw_design_free(design);
}

/* a depth of nothing means that nothing stands behind the disc, here as in the seat */
static void a_void_of_nothing_is_not_drawn(void **state)
{
  const char *const changes[] = {"support.void_depth=0 um", NULL};
  tw_design *design = page_design_with(*state, tw_design_template(TW_SEAT_PIVOT), changes);
  assert_non_null(design);
  tw_drawing_options options = tw_drawing_defaults();
  char *svg = draw(design, "section", &options);
  assert_null(strstr(svg, "void 0"));
  tw_free(svg);
  tw_design_free(design);
}

/* the socket that is a sphere ends in a level shoulder: floor, bore, thirteen points of the arc,
 * then out at the height of the arc's end */
static void a_spherical_socket_ends_in_a_level_shoulder(void **state)
{
  enum { ARC_END = 14, SHOULDER };
  const char *const changes[] = {"seat.socket_shape=sphere", NULL};
  tw_design *design = page_design_with(*state, tw_design_template(TW_SEAT_PIVOT), changes);
  assert_non_null(design);
  tw_drawing_options options = tw_drawing_defaults();
  char *svg = draw(design, "section", &options);
  const char *at = strstr(strstr(part(svg, "seat"), "class=\"outline\""), " d=\"M");
  assert_non_null(at);
  at += strlen(" d=\"");
  double x[SHOULDER + 1], y[SHOULDER + 1];
  for (int i = 0; i <= SHOULDER; i++) {
    int used = 0;
    assert_int_equal(sscanf(at + 1, "%lf %lf%n", &x[i], &y[i], &used), 2);
    at += 1 + used;
  }
  assert_true(x[SHOULDER] > x[ARC_END]);
  assert_near(y[SHOULDER], y[ARC_END], 1e-3);
  tw_free(svg);
  tw_design_free(design);
}

static void what_does_not_fit_is_said(void **state)
{
  const char *const changes[] = {"housing.length=12 mm", NULL};
  tw_design *design = page_design_with(*state, tw_design_template(TW_SEAT_PLATE), changes);
  tw_drawing_options options = tw_drawing_defaults();
  char *svg = draw(design, "section", &options);
  assert_non_null(strstr(svg, "does not fit"));
  tw_free(svg);
  tw_design_free(design);
}

static void a_name_cannot_break_the_drawing(void **state)
{
  const char *const changes[] = {"design=</text><script>x</script> & \"quotes\"", NULL};
  tw_design *design = page_design_with(*state, tw_design_template(TW_SEAT_PIVOT), changes);
  assert_non_null(design);
  tw_drawing_options options = tw_drawing_defaults();
  char *svg = draw(design, "section", &options);
  assert_null(strstr(svg, "<script"));
  assert_non_null(strstr(svg, "&lt;script"));
  tw_free(svg);
  tw_design_free(design);
}

static void what_is_missing_is_named(void **state)
{
  tw_design *design = page_design_with(*state, "design: nothing yet\nseat: {kind: pivot}\n", NULL);
  char *svg = NULL;
  tw_fault fault = {0};
  assert_non_null(design);
  assert_int_equal(tw_drawing_make("section", design, NULL, &svg, &fault), TW_BAD_INPUT);
  assert_string_equal(fault.field, "stylus.reach");
  assert_int_equal(tw_drawing_make("secton", design, NULL, &svg, &fault), TW_BAD_INPUT);
  assert_string_equal(fault.hint, "section");
  tw_design_free(design);
}

/* ---- flat parts ----------------------------------------------------------------------------- */

static void flat_parts_are_one_to_one(void **state)
{
  const char *const changes[] = {"holddown.kind=foam",
                                 "holddown.foam_outer_diameter=26 mm",
                                 "holddown.foam_inner_diameter=18 mm",
                                 "holddown.foam_thickness=12 mm",
                                 "holddown.precompression=2 mm",
                                 "holddown.tipping_radius=13 mm",
                                 "holddown.height=45 mm",
                                 NULL};
  tw_design *design = page_design_with(*state, tw_design_template(TW_SEAT_PIVOT), changes);
  char *svg = draw(design, "foam-ring", NULL);
  const char *first = strstr(svg, "<circle class=\"outline\"");
  assert_near(attribute(first, "r"), 13.0, 1e-9);
  assert_near(attribute(strstr(first + 1, "<circle class=\"outline\""), "r"), 9.0, 1e-9);
  assert_non_null(strstr(svg, "must measure 50 mm"));
  tw_free(svg);
  for (size_t i = 1; i < tw_drawing_count(); i++) {
    svg = draw(design, tw_drawing_name(i), NULL);
    assert_non_null(strstr(svg, "must measure 50 mm"));
    tw_free(svg);
  }
  tw_drawing_options small = tw_drawing_defaults();
  small.width = small.height = 90.0;
  tw_fault fault = {0};
  assert_int_equal(tw_drawing_make("gasket", design, &small, &svg, &fault), TW_BAD_INPUT);
  tw_design_free(design);
}

static void no_foam_no_ring(void **state)
{
  tw_design *design = page_design_with(*state, tw_design_template(TW_SEAT_BONDED), NULL);
  char *svg = NULL;
  tw_fault fault = {0};
  assert_int_equal(tw_drawing_make("foam-ring", design, NULL, &svg, &fault), TW_BAD_INPUT);
  assert_string_equal(fault.field, "holddown.kind");
  tw_design_free(design);
}

/* ---- the rose ------------------------------------------------------------------------------- */

/* azimuth counter-clockwise with X to the right and Y up: the point at 90 degrees lies above */
static void the_rose_turns_the_right_way(void **state)
{
  tw_design *design = page_design_with(*state, tw_design_template(TW_SEAT_TRIPOD), NULL);
  tw_rose_point points[4] = {{0, 1.0, 1e-5}, {90, 2.0, 2e-5}, {180, 1.0, 1e-5}, {270, NAN, NAN}};
  char *svg = NULL;
  tw_fault fault = {0};
  assert_int_equal(tw_drawing_rose(design, points, 4, NULL, &svg, &fault), TW_OK);
  assert_well_formed(svg);
  double x[3], y[3];
  const char *d = strstr(svg, "class=\"curve-1\" d=\"M");
  assert_non_null(d);
  assert_int_equal(sscanf(d, "class=\"curve-1\" d=\"M%lf %lfL%lf %lfL%lf %lf", &x[0], &y[0], &x[1],
                          &y[1], &x[2], &y[2]),
                   6);
  const double cx = 90.0, cy = y[0]; /* the point at 0 degrees lies level with the centre */
  assert_true(x[0] > cx && y[1] < cy && x[2] < cx);
  assert_near(cy - y[1], 2.0 * (x[0] - cx), 0.02); /* twice the force, twice as far out */
  assert_non_null(strstr(svg, "\u00d7"));          /* the direction without a trip */
  tw_free(svg);
  for (int i = 0; i < 4; i++) {
    points[i].force = points[i].pretravel = NAN;
  }
  assert_int_equal(tw_drawing_rose(design, points, 4, NULL, &svg, &fault), TW_BAD_INPUT);
  tw_design_free(design);
}

/* ---- shading --------------------------------------------------------------------------------- */

static size_t count_of(const char *svg, const char *what)
{
  size_t n = 0;
  for (const char *at = svg; (at = strstr(at, what)); at += strlen(what)) {
    n++;
  }
  return n;
}

/* the figure behind "▲ +4.82 at 7.2 mm" */
static double named_extreme(const char *svg, const char *sign, double *radius_mm)
{
  const char *at = strstr(svg, sign);
  assert_non_null(at);
  char number[32];
  assert_int_equal(sscanf(at + strlen(sign), " %31s at %lf mm", number, radius_mm), 2);
  /* the minus of typesetting is three bytes */
  return number[0] == '+' ? strtod(number + 1, NULL) : -strtod(number + 3, NULL);
}

/* the largest stress of both layers, sought over a fine grid beside the drawing */
static void stress_extremes(const tw_design *design, double *least, double *most)
{
  enum { FINE = 400 };
  static const tw_disc_layer layers[2] = {TW_DISC_LAYER_CERAMIC, TW_DISC_LAYER_METAL};
  tw_disc_spec spec;
  tw_disc *disc = NULL;
  tw_disc_planar face[2][FINE];
  double at[FINE];
  assert_int_equal(tw_disc_spec_from_design(design, &spec, NULL), TW_OK);
  assert_int_equal(tw_disc_new(&spec, &disc, NULL), TW_OK);
  *least = *most = 0;
  for (int k = 0; k < 2; k++) {
    for (int i = 0; i < FINE; i++) {
      at[i] = spec.metal_radius * (i + 0.5) / FINE;
    }
    assert_int_equal(tw_disc_stress_along(disc, spec.contact_radius, layers[k], FINE, at, face[0],
                                          face[1], NULL),
                     TW_OK);
    for (int i = 0; i < 2 * FINE; i++) {
      const tw_disc_planar p = face[i / FINE][i % FINE];
      *most = fmax(*most, fmax(p.radial, p.hoop));
      *least = fmin(*least, fmin(p.radial, p.hoop));
    }
  }
  tw_disc_free(disc);
}

static void the_disc_is_shaded_by_charge_or_stress_with_its_range(void **state)
{
  tw_design *design = page_design_with(*state, tw_design_template(TW_SEAT_PIVOT), NULL);
  tw_drawing_options options = tw_drawing_defaults();
  char *svg = draw(design, "section", &options);
  assert_int_equal(count_of(svg, "class=\"tone-"), 0); /* plain unless asked */
  tw_free(svg);
  options.shade = TW_SHADE_CHARGE;
  svg = draw(design, "section", &options);
  assert_true(count_of(svg, "<rect class=\"tone-") > 20);
  assert_non_null(strstr(svg, "nC/N"));
  double radius, least, most;
  /* of one sign all over the ceramic: which one is a matter of the face that is pushed */
  const double charge = named_extreme(svg, strstr(svg, "\u25b2") ? "\u25b2" : "\u25bc", &radius);
  tw_disc_spec spec;
  tw_disc *disc = NULL;
  tw_disc_ring centre;
  assert_int_equal(tw_disc_spec_from_design(design, &spec, NULL), TW_OK);
  assert_int_equal(tw_disc_new(&spec, &disc, NULL), TW_OK);
  assert_int_equal(tw_disc_at(disc, 0, &centre, NULL), TW_OK);
  assert_near(fabs(charge), fabs(1e9 * centre.charge), 0.1);
  tw_disc_free(disc);
  tw_free(svg);
  options.shade = TW_SHADE_STRESS;
  svg = draw(design, "section", &options);
  assert_non_null(strstr(svg, "MPa/N"));
  stress_extremes(design, &least, &most);
  /* the drawing's cells stand half a depth inside the faces */
  assert_rel(1e6 * named_extreme(svg, "\u25b2", &radius), most, 0.3);
  assert_rel(1e6 * named_extreme(svg, "\u25bc", &radius), least, 0.3);
  tw_free(svg);
  tw_design_free(design);
}

static void a_disc_without_an_answer_is_drawn_plain_and_says_so(void **state)
{
  const char *const changes[] = {"support.kind=flat", NULL};
  tw_design *design = page_design_with(*state, tw_design_template(TW_SEAT_PIVOT), changes);
  tw_drawing_options options = tw_drawing_defaults();
  options.shade = TW_SHADE_STRESS;
  char *svg = draw(design, "section", &options);
  assert_int_equal(count_of(svg, "class=\"tone-"), 0);
  assert_non_null(strstr(svg, "no shading"));
  tw_free(svg);
  tw_design_free(design);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(every_family_is_drawn_with_its_parts),
      cmocka_unit_test(the_section_is_to_scale),
      cmocka_unit_test(the_scale_is_the_largest_usual_one_that_fits),
      cmocka_unit_test(the_carrier_hangs_where_the_field_says),
      cmocka_unit_test(the_magnifier_states_its_scale_and_shows_the_void),
      cmocka_unit_test(a_void_of_nothing_is_not_drawn),
      cmocka_unit_test(a_spherical_socket_ends_in_a_level_shoulder),
      cmocka_unit_test(what_does_not_fit_is_said),
      cmocka_unit_test(a_name_cannot_break_the_drawing),
      cmocka_unit_test(what_is_missing_is_named),
      cmocka_unit_test(flat_parts_are_one_to_one),
      cmocka_unit_test(no_foam_no_ring),
      cmocka_unit_test(the_rose_turns_the_right_way),
      cmocka_unit_test(the_disc_is_shaded_by_charge_or_stress_with_its_range),
      cmocka_unit_test(a_disc_without_an_answer_is_drawn_plain_and_says_so),
  };
  return cmocka_run_group_tests(tests, page_design_setup, page_design_teardown);
}
