/* tip.c: effective size of the tip by direction and feed, and points corrected with it. */
#include "inner.h"
#include "tripwright/qualify_tip.h"

#include <math.h>
#include <string.h>

tw_status tw_effective_diameter(tw_feature feature, double size, double size_u, double travel,
                                double travel_u, tw_diameter *out, tw_fault *fault)
{
  if (!(size > 0.0) || !(travel > 0.0) || !(size_u >= 0.0) || !(travel_u >= 0.0) ||
      !isfinite(size + travel + size_u + travel_u)) {
    return tw_fail(fault, TW_BAD_INPUT, "size", "sizes are positive lengths",
                   "size %g m (u %g), travel %g m (u %g)", size, size_u, travel, travel_u);
  }
  const bool inside = feature == TW_RING || feature == TW_SLOT;
  out->value = inside ? size - travel : travel - size;
  out->u = hypot(size_u, travel_u);
  if (!(out->value > 0.0)) {
    return tw_fail(fault, TW_NO_ANSWER, "size", "was it touched from inside or from outside?",
                   "the effective diameter comes out as %g m", out->value);
  }
  return TW_OK;
}

/* ---- from points
 * --------------------------------------------------------------------------------- */

/* azimuth of the force on the tip and effective radius of every touch */
static void see(const double *point, size_t n, const tw_fit *fit, bool inside, double size,
                double *azimuth, double *radius)
{
  for (size_t i = 0; i < n; i++) {
    const double x = point[2 * i] - fit->centre[0], y = point[2 * i + 1] - fit->centre[1];
    /* inside a ring the wall pushes the tip back to the centre */
    azimuth[i] = inside ? atan2(-y, -x) : atan2(y, x);
    radius[i] = inside ? 0.5 * size - hypot(x, y) : hypot(x, y) - 0.5 * size;
  }
}

static tw_status harmonic_rows(const double *azimuth, const double *radius, size_t n, size_t orders,
                               tw_tip *out, tw_fault *fault)
{
  tw_harmonics h;
  const tw_status status = tw_harmonics_of(azimuth, radius, n, orders, &h, fault);
  if (status != TW_OK) {
    return status;
  }
  out->kind = TW_TIP_HARMONICS;
  out->residual_s = h.s;
  out->row[out->count++] = (tw_tip_row){.a = h.mean, .u = h.s / sqrt((double)n)};
  for (size_t k = 2; k <= orders; k++) {
    out->row[out->count++] =
        (tw_tip_row){.order = (unsigned)k, .a = h.a[k], .b = h.b[k], .u = h.u[k]};
  }
  return TW_OK;
}

static double around(double angle)
{
  angle = fmod(angle, 2.0 * TW_PI);
  return angle < 0.0 ? angle + 2.0 * TW_PI : angle;
}

static size_t bin_of(double azimuth, size_t bins)
{
  /* bin k has its middle at k widths: shift by half a width before cutting */
  const double place = around(azimuth) * (double)bins / (2.0 * TW_PI) + 0.5;
  return (size_t)place % bins;
}

/* mean of every bin; u from the scatter within bins, pooled, so that small bins do not lie */
static tw_status bin_rows(const double *azimuth, const double *radius, size_t n, size_t bins,
                          tw_tip *out, tw_fault *fault)
{
  double sum[TW_TIP_ROWS] = {0}, squares = 0.0, dof = 0.0;
  size_t count[TW_TIP_ROWS] = {0};
  for (size_t i = 0; i < n; i++) {
    sum[bin_of(azimuth[i], bins)] += radius[i];
    count[bin_of(azimuth[i], bins)]++;
  }
  for (size_t i = 0; i < n; i++) {
    const size_t k = bin_of(azimuth[i], bins);
    const double d = radius[i] - sum[k] / (double)count[k];
    squares += d * d;
  }
  out->kind = TW_TIP_BINS;
  for (size_t k = 0; k < bins; k++) {
    dof += count[k] > 0 ? (double)(count[k] - 1) : 0.0;
  }
  if (!(dof > 0.0)) {
    return tw_fail(fault, TW_BAD_INPUT, "bins", "use fewer bins, or touch each direction again",
                   "no bin has two touches: their uncertainty is not known");
  }
  out->residual_s = sqrt(squares / dof);
  for (size_t k = 0; k < bins; k++) {
    if (count[k] > 0) {
      const double m = (double)count[k];
      out->row[out->count++] = (tw_tip_row){.azimuth = 2.0 * TW_PI * (double)k / (double)bins,
                                            .a = sum[k] / m,
                                            .u = out->residual_s / sqrt(m)};
    }
  }
  return TW_OK;
}

static tw_status check_points(size_t n, tw_feature feature, size_t orders, size_t bins,
                              tw_fault *fault)
{
  if (feature != TW_RING && feature != TW_BOSS) {
    return tw_fail(fault, TW_BAD_INPUT, "feature", "touch a ring or a boss all round",
                   "a block or a slot has no directions");
  }
  if ((orders > 0) == (bins > 0) || bins > TW_TIP_ROWS || orders == 1) {
    return tw_fail(fault, TW_BAD_INPUT, "orders", "harmonics from 2 up, or 4 to 360 bins",
                   "%zu harmonics and %zu bins: one of the two is wanted", orders, bins);
  }
  if (orders > 0 && n < 2 * orders + 3) {
    return tw_fail(fault, TW_BAD_INPUT, "orders", "touch more points, or ask for fewer harmonics",
                   "%zu points cannot show %zu harmonics and their uncertainty", n, orders);
  }
  return TW_OK;
}

tw_status tw_tip_from_points(const double *point, size_t n, tw_feature feature, double size,
                             double size_u, size_t orders, size_t bins, tw_tip *out,
                             tw_fault *fault)
{
  tw_fit fit;
  tw_status status = check_points(n, feature, orders, bins, fault);
  status = status == TW_OK ? tw_fit_form(TW_CIRCLE, point, n, 2, NULL, &fit, fault) : status;
  tw_diameter d;
  if (status == TW_OK) {
    status = tw_effective_diameter(feature, size, size_u, 2.0 * fit.radius, 2.0 * fit.radius_u, &d,
                                   fault);
  }
  double *room = status == TW_OK ? tw_alloc(n, 2 * sizeof *room) : NULL;
  if (!room) {
    return status == TW_OK ? tw_no_memory(fault) : status;
  }
  memset(out, 0, sizeof *out);
  see(point, n, &fit, feature == TW_RING, size, room, room + n);
  status = orders ? harmonic_rows(room, room + n, n, orders, out, fault)
                  : bin_rows(room, room + n, n, bins, out, fault);
  tw_free(room);
  out->diameter = d.value;
  out->diameter_u = d.u;
  if (status == TW_OK) {
    /* the artefact's own uncertainty is common to all directions */
    for (size_t i = 0; i < out->count; i++) {
      const bool carries = out->kind == TW_TIP_BINS || out->row[i].order == 0;
      out->row[i].u = carries ? hypot(out->row[i].u, 0.5 * size_u) : out->row[i].u;
    }
    if (out->kind == TW_TIP_HARMONICS) {
      /* the lobes are known now, so they no longer count as scatter of the mean */
      out->diameter = 2.0 * out->row[0].a;
      out->diameter_u = 2.0 * out->row[0].u;
    }
  }
  return status;
}

/* ---- use
 * ------------------------------------------------------------------------------------------ */

static bool radius_of_harmonics(const tw_tip *tip, double azimuth, double *radius, double *u)
{
  double sum = 0.0, square = 0.0;
  for (size_t i = 0; i < tip->count; i++) {
    const tw_tip_row *r = &tip->row[i];
    const double turn = (double)r->order * azimuth;
    sum += r->a * cos(turn) + r->b * sin(turn);
    square += r->u * r->u; /* cos^2 + sin^2 of equal uncertainties */
  }
  *radius = sum;
  *u = sqrt(square);
  return tip->count > 0;
}

/* between the two rows on either side, unless they are further apart than 45 degrees */
static bool radius_of_bins(const tw_tip *tip, double azimuth, double *radius, double *u)
{
  const tw_tip_row *before = NULL, *after = NULL;
  double back = 2.0 * TW_PI, ahead = 2.0 * TW_PI;
  for (size_t i = 0; i < tip->count; i++) {
    const double behind = around(azimuth - tip->row[i].azimuth);
    const double front = behind > 0.0 ? 2.0 * TW_PI - behind : 0.0;
    if (behind < back) {
      back = behind;
      before = &tip->row[i];
    }
    if (front < ahead) {
      ahead = front;
      after = &tip->row[i];
    }
  }
  if (!before || !after || back + ahead > TW_PI / 4.0 * (1.0 + 1e-9)) {
    return false;
  }
  const double part = back + ahead > 0.0 ? back / (back + ahead) : 0.0;
  *radius = (1.0 - part) * before->a + part * after->a;
  *u = hypot((1.0 - part) * before->u, part * after->u);
  return true;
}

bool tw_tip_radius(const tw_tip *tip, double azimuth, double *radius, double *u)
{
  return tip->kind == TW_TIP_BINS ? radius_of_bins(tip, azimuth, radius, u)
                                  : radius_of_harmonics(tip, azimuth, radius, u);
}

tw_status tw_tip_edge(const tw_tip *tip, double ball, tw_found_edge *out, tw_fault *fault)
{
  double least = (double)INFINITY, most = -(double)INFINITY, worst = 0.0;
  for (int k = 0; k < 360; k++) {
    double radius, u;
    if (tw_tip_radius(tip, k * TW_PI / 180.0, &radius, &u)) {
      least = fmin(least, radius);
      most = fmax(most, radius);
      worst = fmax(worst, u);
    }
  }
  const double own = isfinite(ball) ? 0.5 * ball : most;
  const tw_edge_parts parts = {.early_least = own - most,
                               .early_most = own - least,
                               .repeat = tip->residual_s,
                               .table_u = hypot(worst, tip->offset_u)};
  const tw_status status = tw_edge_of(&parts, out, fault);
  if (status == TW_OK && !isfinite(ball)) {
    out->before = (double)NAN;
  }
  return status;
}

static tw_status check_feed(const tw_tip *tip, double feed, tw_fault *fault)
{
  if (fabs(feed - tip->feed) <= 1e-6 * tip->feed) {
    return TW_OK;
  }
  if (tip->feed_high <= tip->feed_low) {
    return tw_fail(fault, TW_BAD_INPUT, "feed", "touch at the table's feed, or measure the delay",
                   "a touch at %g mm/min, but the table is for %g mm/min and has no delay",
                   feed * 6e4, tip->feed * 6e4);
  }
  if (feed < tip->feed_low * (1.0 - 1e-6) || feed > tip->feed_high * (1.0 + 1e-6)) {
    return tw_fail(fault, TW_BAD_INPUT, "feed", "touch within that range, or measure a wider one",
                   "a touch at %g mm/min; the delay was found from %g to %g mm/min", feed * 6e4,
                   tip->feed_low * 6e4, tip->feed_high * 6e4);
  }
  return TW_OK;
}

tw_status tw_tip_apply(const tw_tip *tip, const tw_touched *t, tw_surface *out, tw_fault *fault)
{
  const double given[] = {t->at[0], t->at[1], t->at[2], t->azimuth, t->feed, t->spindle, t->u};
  if (tw_first_unfit(given, 7) < 7 || t->u < 0.0 || t->feed < 0.0) {
    return tw_fail(fault, TW_BAD_INPUT, "point", "leave out what was not measured",
                   "a touch has a number that is missing or negative");
  }
  const tw_status status = check_feed(tip, t->feed, fault);
  if (status != TW_OK) {
    return status;
  }
  double radius, u;
  /* the lobes turn with the spindle */
  const double own = t->azimuth - t->spindle;
  if (!tw_tip_radius(tip, own, &radius, &u)) {
    return tw_fail(fault, TW_NO_ANSWER, "azimuth", "touch the ring in that direction, too",
                   "the table does not cover azimuth %.1f deg of the probe",
                   around(own) * 180.0 / TW_PI);
  }
  const double faster = t->feed - tip->feed, c = cos(t->spindle), s = sin(t->spindle);
  radius -= faster * tip->delay;
  out->at[0] = t->at[0] + c * tip->offset[0] - s * tip->offset[1] - radius * cos(t->azimuth);
  out->at[1] = t->at[1] + s * tip->offset[0] + c * tip->offset[1] - radius * sin(t->azimuth);
  out->at[2] = t->at[2];
  out->u = hypot(hypot(t->u, u), hypot(faster * tip->delay_u, tip->offset_u));
  return TW_OK;
}
