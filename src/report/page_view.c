/* page_view.c: the document behind each view of the page. */
#include "page_values.h"
#include "tripwright/assess.h"
#include "tripwright/constants.h"
#include "tripwright/documents.h"

#include <string.h>

enum { SIDE_DIRECTIONS = 24, FIRST_DIRECTIONS = 8, FIRST_STEPS = 8, DISC_RINGS = 24 };

/* ---- beside the drawing --------------------------------------------------------------------- */

/* the weakest basis of what is asked for, or of everything when nothing is */
static tw_basis weakest(const tw_assessment *result)
{
  tw_basis basis = TW_BASIS_MEASURED;
  for (int i = 0; i < TW_MEASURE_COUNT; i++) {
    const tw_measure *m = &result->measure[i];
    const bool counts =
        m->state == TW_MEASURE_OK && (result->asked == 0 || m->met != TW_MET_NO_RULE);
    basis = counts && m->basis < basis ? m->basis : basis;
  }
  return basis;
}

static tw_status assess(const tw_design *design, bool settled, const tw_page_options *options,
                        tw_messages *messages, json_t **check, tw_basis *basis, tw_fault *fault)
{
  tw_limits limits;
  tw_status status = tw_limits_read(design, options->units, messages, &limits);
  if (status != TW_OK) {
    return tw_fail(fault, status, "", "", "a requirement cannot be read");
  }
  tw_assessment *result = tw_alloc(1, sizeof *result);
  if (!result) {
    return tw_page_no_memory(fault);
  }
  tw_assess_options how = tw_assess_defaults();
  how.limits = &limits;
  how.progress = options->progress;
  if (!settled) {
    how.azimuths = FIRST_DIRECTIONS;
    how.seat_steps = FIRST_STEPS;
    how.map = how.timed = false;
  }
  status = tw_assess(design, &how, result, fault);
  if (status == TW_OK) {
    *check = tw_document_check(design, result, &limits);
    if (*check && !settled) {
      json_object_set_new(*check, "refining", json_true());
    }
    *basis = weakest(result);
    status = *check ? TW_OK : tw_page_no_memory(fault);
  }
  tw_free(result);
  return status;
}

tw_status tw_page_evaluate(const tw_design *design, bool settled, const tw_page_options *options,
                           tw_messages *messages, json_t **out, tw_fault *fault)
{
  json_t *check = NULL;
  char *svg = NULL;
  tw_basis basis = TW_BASIS_ASSUMED;
  tw_status status = assess(design, settled, options, messages, &check, &basis, fault);
  if (status == TW_OK) {
    tw_drawing_options drawing = options->drawing;
    drawing.basis = tw_basis_text(basis);
    status = tw_drawing_make("section", design, &drawing, &svg, fault);
  }
  if (status != TW_OK) {
    json_decref(check);
  } else {
    *out = json_pack("{s:o, s:o, s:o, s:o, s:s}", "values",
                     tw_page_values(design, options->units, options->drawing.system),
                     "requirements", tw_page_requirements(design), "messages",
                     tw_page_messages(messages), "check", check, "drawing", svg);
    status = *out ? TW_OK : tw_page_no_memory(fault);
  }
  tw_free(svg);
  return status;
}

/* ---- views ---------------------------------------------------------------------------------- */

/* where the seats or contact points lie, in degrees; none for a ring or a glued foot */
static json_t *seat_azimuths(const tw_design *design)
{
  json_t *list = json_array();
  const int seat = tw_design_choice(design, TW_F_seat_kind);
  const bool ring = tw_design_choice(design, TW_F_seat_contact) == TW_CONTACT_RING;
  const int points = tw_design_count(design, TW_F_seat_contact_points);
  const int count = seat == TW_SEAT_TRIPOD ? 3 : seat == TW_SEAT_BONDED || ring ? 0 : points;
  const double first = tw_design_number_or(design, TW_F_seat_azimuth, 0.0) * TW_RADIAN;
  for (int i = 0; i < count && count <= 12; i++) {
    json_array_append_new(list, tw_json_number(first + 360.0 * i / count));
  }
  return list;
}

static tw_status view_directions(const tw_design *design, const tw_page_options *options,
                                 json_t **out, tw_fault *fault)
{
  const tw_status status =
      tw_document_seat(design, SIDE_DIRECTIONS, true, options->progress, out, fault);
  if (status == TW_OK) {
    json_object_set_new(*out, "seats", seat_azimuths(design));
  }
  return status;
}

/* rings from near the centre to near the support */
static tw_status view_disc(const tw_design *design, const tw_page_options *options, json_t **out,
                           tw_fault *fault)
{
  (void)options;
  if (!tw_design_has_disc(design)) {
    return tw_fail(fault, TW_BAD_INPUT, "disc", "", "this probe has no disc: its contacts open");
  }
  const double edge = tw_design_choice(design, TW_F_support_kind) == TW_SUPPORT_LEDGE
                          ? tw_design_number(design, TW_F_support_ledge_radius)
                          : 0.5 * tw_design_number(design, TW_F_disc_metal_diameter);
  const double hole = 0.5 * tw_design_number_or(design, TW_F_disc_hole_diameter, 0.0);
  double radii[DISC_RINGS];
  for (int i = 0; i < DISC_RINGS; i++) {
    radii[i] = hole + (edge - hole) * (i + 1) / (DISC_RINGS + 1.0);
  }
  return tw_document_disc(design, radii, DISC_RINGS, out, fault);
}

static tw_status view_circuit(const tw_design *design, const tw_page_options *options, json_t **out,
                              tw_fault *fault)
{
  (void)options;
  return tw_document_circuit(design, out, fault);
}

/* ---- touches in time ------------------------------------------------------------------------ */

/* sideways along X and straight in */
static const struct {
  const char *name;
  double elevation; /* rad */
} touch_ways[2] = {{"sideways, along X", 0.0}, {"along the axis", 1.5707963267948966}};

/* The trace holds some hundreds of points: until the machine has drawn back, at a feed in m/s. A
 * direction that never trips is shown all the same. */
static double trace_step(const tw_design *design, double feed)
{
  const double stop = feed / tw_design_number(design, TW_F_machine_acceleration);
  const double back = 2.0 * tw_design_number(design, TW_F_machine_retract_distance) /
                      tw_design_number(design, TW_F_machine_retract_feed);
  return (0.02 + stop + back + tw_design_number(design, TW_F_machine_dwell)) / 800.0;
}

static tw_status view_touch(const tw_design *design, const tw_page_options *options, json_t **out,
                            tw_fault *fault)
{
  json_t *touches = json_array();
  tw_status status = TW_OK;
  for (int i = 0; i < 2 && status == TW_OK; i++) {
    const double feed = tw_design_number(design, TW_F_machine_feed);
    const tw_touch_ask ask = {
        .elevation = touch_ways[i].elevation, .feed = feed, .every = trace_step(design, feed)};
    json_t *touch = NULL;
    status = tw_progress_tick(options->progress, 0.5 * i, "touches in time")
                 ? tw_document_touch(design, &ask, &touch, fault)
                 : tw_fail(fault, TW_CANCELLED, "", "", "cancelled");
    if (status == TW_OK) {
      json_object_set_new(touch, "name", json_string(touch_ways[i].name));
      json_object_set_new(
          touch, "sampling_interval",
          tw_json_quantity(tw_design_number(design, TW_F_machine_sampling_interval), "s"));
      json_array_append_new(touches, touch);
    }
  }
  *out = status == TW_OK ? json_pack("{s:o}", "touches", touches) : NULL;
  if (status != TW_OK) {
    json_decref(touches);
  }
  return status == TW_OK && !*out ? tw_page_no_memory(fault) : status;
}

static tw_status view_feeds(const tw_design *design, const tw_page_options *options, json_t **out,
                            tw_fault *fault)
{
  json_t *ways = json_array();
  tw_status status = TW_OK;
  for (int i = 0; i < 2 && status == TW_OK; i++) {
    json_t *feeds = NULL;
    status = tw_progress_tick(options->progress, 0.5 * i, "feeds")
                 ? tw_document_feeds(design, 0.0, touch_ways[i].elevation, &feeds, fault)
                 : tw_fail(fault, TW_CANCELLED, "", "", "cancelled");
    if (status == TW_OK) {
      json_object_set_new(feeds, "name", json_string(touch_ways[i].name));
      json_array_append_new(ways, feeds);
    }
  }
  *out = status == TW_OK ? json_pack("{s:o}", "directions", ways) : NULL;
  if (status != TW_OK) {
    json_decref(ways);
  }
  return status == TW_OK && !*out ? tw_page_no_memory(fault) : status;
}

static tw_status view_expect(const tw_design *design, const tw_page_options *options, json_t **out,
                             tw_fault *fault)
{
  (void)options;
  return tw_document_expect(design, out, fault);
}

static tw_status view_shake(const tw_design *design, const tw_page_options *options, json_t **out,
                            tw_fault *fault)
{
  return tw_document_shake(design, NULL, NULL, options->progress, out, fault);
}

static tw_status view_crash(const tw_design *design, const tw_page_options *options, json_t **out,
                            tw_fault *fault)
{
  return tw_document_crash(design, NULL, options->progress, out, fault);
}

typedef tw_status view_fn(const tw_design *design, const tw_page_options *options, json_t **out,
                          tw_fault *fault);

/* without a function: a study (page_study.c) */
static const struct {
  const char *name;
  view_fn *make;
} views[] = {
    {"directions", view_directions},
    {"disc", view_disc},
    {"circuit", view_circuit},
    {"touch", view_touch},
    {"feeds", view_feeds},
    {"expect", view_expect},
    {"shake", view_shake},
    {"crash", view_crash},
    {"vary", NULL},
    {"spread", NULL},
    {"drivers", NULL},
    {"remedy", NULL},
    {"compare", NULL},
    {"suspect", NULL},
};
enum { VIEW_COUNT = sizeof views / sizeof views[0] };

size_t tw_page_view_count(void)
{
  return VIEW_COUNT;
}

const char *tw_page_view_name(size_t index)
{
  return index < VIEW_COUNT ? views[index].name : NULL;
}

tw_status tw_page_view(const char *name, const tw_design *design, const tw_page_options *options,
                       json_t **out, tw_fault *fault)
{
  for (size_t i = 0; i < VIEW_COUNT; i++) {
    if (strcmp(views[i].name, name) == 0) {
      return views[i].make ? views[i].make(design, options, out, fault)
                           : tw_page_study(name, design, options, out, fault);
    }
  }
  return tw_fail(fault, TW_BAD_INPUT, "view", "", "there is no view named \"%s\"", name);
}
