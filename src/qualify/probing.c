/* probing.c: ring test and 25-point sphere test, after the method of ISO 230-10 and ISO 10360-5. */
#include "inner.h"
#include "tripwright/qualify_fit.h"

#include <math.h>

#define TW_RING_POINTS   36
#define TW_SPHERE_POINTS 25
#define TW_PATTERN_SLACK (2.0 * TW_PI / 180.0)

void tw_sphere_pattern(size_t k, double direction[3])
{
  static const struct {
    size_t first, count;
    double below, turn; /* degrees from the pole; first azimuth */
  } rings[] = {{0, 1, 0.0, 0.0},
               {1, 4, 22.5, 0.0},
               {5, 8, 45.0, 22.5},
               {13, 4, 67.5, 45.0},
               {17, 8, 90.0, 67.5}};
  size_t r = 0;
  while (r + 1 < sizeof rings / sizeof rings[0] && k >= rings[r + 1].first) {
    r++;
  }
  const double below = rings[r].below * TW_PI / 180.0;
  const double turn = rings[r].turn * TW_PI / 180.0 +
                      2.0 * TW_PI * (double)(k - rings[r].first) / (double)rings[r].count;
  direction[0] = sin(below) * cos(turn);
  direction[1] = sin(below) * sin(turn);
  direction[2] = cos(below);
}

static void finish(const tw_artefact *artefact, tw_probing_error *out)
{
  out->form_error = out->fit.form_error;
  out->size_error = 2.0 * out->fit.radius - artefact->diameter;
  out->u_form = hypot(0.5 * artefact->form, artefact->form_u);
}

tw_status tw_ring_test(const double *point, size_t n, const tw_artefact *ring,
                       tw_probing_error *out, tw_fault *fault)
{
  if (n < 4) {
    return tw_fail(fault, TW_BAD_INPUT, "points", "36 points, 10 degrees apart, are usual",
                   "%zu points are no ring test", n);
  }
  double *room = tw_alloc(n, 2 * sizeof *room);
  if (!room) {
    return tw_no_memory(fault);
  }
  double *angle = room, *residual = room + n;
  *out = (tw_probing_error){0};
  tw_status status = tw_fit_form(TW_CIRCLE, point, n, 2, residual, &out->fit, fault);
  if (status == TW_OK) {
    for (size_t i = 0; i < n; i++) {
      angle[i] = atan2(point[2 * i + 1] - out->fit.centre[1], point[2 * i] - out->fit.centre[0]);
    }
    /* orders up to a third of the points, so that something is left to judge them by */
    const size_t orders = n / 3 < 12 ? n / 3 : 12;
    status = tw_harmonics_of(angle, residual, n, 2 * orders < n ? orders : 1, &out->lobes, fault);
    finish(ring, out);
    out->pattern_ok = status == TW_OK && n == TW_RING_POINTS && out->lobes.even;
  }
  tw_free(room);
  return status;
}

/* is there, for every direction of the pattern turned about the pole by `turn`, a point near it? */
static bool pattern_fits(const double *point, const tw_fit *fit, double turn)
{
  for (size_t k = 0; k < TW_SPHERE_POINTS; k++) {
    double d[3];
    tw_sphere_pattern(k, d);
    const double x = d[0] * cos(turn) - d[1] * sin(turn), y = d[0] * sin(turn) + d[1] * cos(turn);
    bool found = false;
    for (size_t i = 0; i < TW_SPHERE_POINTS && !found; i++) {
      const double *p = point + 3 * i;
      const double dot = (x * (p[0] - fit->centre[0]) + y * (p[1] - fit->centre[1]) +
                          d[2] * (p[2] - fit->centre[2])) /
                         fit->radius;
      found = dot > cos(TW_PATTERN_SLACK);
    }
    if (!found) {
      return false;
    }
  }
  return true;
}

tw_status tw_sphere_test(const double *point, size_t n, const tw_artefact *sphere,
                         tw_probing_error *out, tw_fault *fault)
{
  *out = (tw_probing_error){0};
  const tw_status status = tw_fit_form(TW_SPHERE, point, n, 3, NULL, &out->fit, fault);
  if (status != TW_OK) {
    return status;
  }
  finish(sphere, out);
  for (int turn = 0; turn < 90 && n == TW_SPHERE_POINTS && !out->pattern_ok; turn++) {
    out->pattern_ok = pattern_fits(point, &out->fit, turn * TW_PI / 180.0);
  }
  return TW_OK;
}
