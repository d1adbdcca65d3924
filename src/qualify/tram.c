/* tram.c: runout to eccentricity and tilt, eccentricity to turns of screws. */
#include "inner.h"
#include "tripwright/qualify_stats.h"
#include "tripwright/qualify_tram.h"

#include <math.h>

#define TW_TRAM_CONDITION 200.0 /* angles over a sixth of a turn or more */
#define TW_SAME_ANGLE     (TW_PI / 180.0)

static double around(double angle)
{
  angle = fmod(angle, 2.0 * TW_PI);
  return angle < 0.0 ? angle + 2.0 * TW_PI : angle;
}

/* different by more than a degree */
static size_t different_angles(const double *angle, size_t n)
{
  size_t count = 0;
  for (size_t i = 0; i < n; i++) {
    bool seen = false;
    for (size_t j = 0; j < i && !seen; j++) {
      const double apart = around(angle[i] - angle[j]);
      seen = apart < TW_SAME_ANGLE || apart > 2.0 * TW_PI - TW_SAME_ANGLE;
    }
    count += !seen;
  }
  return count;
}

/* radius of the circle that holds the true vector at `level`, from a 2 x 2 covariance: the larger
 * axis times sqrt(2 F(2, dof)); F's quantile has a closed form for two degrees of freedom */
static double circle_of(const double c[3], double dof, double level)
{
  const double middle = 0.5 * (c[0] + c[2]), half = hypot(0.5 * (c[0] - c[2]), c[1]);
  const double f =
      isinf(dof) ? -2.0 * log(1.0 - level) : dof * (pow(1.0 - level, -2.0 / dof) - 1.0);
  return sqrt((middle + half) * f);
}

/* standard uncertainty along a unit vector */
static double u_along(const double c[3], double x, double y)
{
  return sqrt(fmax(0.0, x * x * c[0] + 2.0 * x * y * c[1] + y * y * c[2]));
}

/* s^2 (A^T A)^-1 for the two eccentricity columns; u stated replaces the scatter when larger */
static void describe(const tw_regression *r, double u_reading, double level, tw_runout *out)
{
  const double inverse = r->s > 0.0 ? 1.0 / (r->s * r->s) : 0.0;
  const bool stated = u_reading > 0.0 && u_reading >= r->s * (1.0 - 1e-9);
  const double scale = stated ? u_reading * u_reading * inverse : 1.0;
  out->covariance[0] = r->covariance[4] * scale;
  out->covariance[1] = r->covariance[5] * scale;
  out->covariance[2] = r->covariance[8] * scale;
  out->dof = stated ? (double)INFINITY : r->dof;
  out->s = stated ? u_reading : r->s;
  out->expanded = circle_of(out->covariance, out->dof, level);
  out->modulus = hypot(out->e[0], out->e[1]);
  out->azimuth = around(atan2(out->e[1], out->e[0]));
  out->tir = 2.0 * out->modulus;
  out->u_modulus = u_along(out->covariance, cos(out->azimuth), sin(out->azimuth));
  out->real = out->modulus > out->expanded;
}

/* three readings fit any sine exactly: the covariance comes from the stated u alone */
static tw_status exact_three(const double *x, const double *reading, double u_reading,
                             tw_regression *r, tw_fault *fault)
{
  /* a fourth row of nothing adds a degree of freedom and no information */
  double rows[12] = {0}, y[4] = {0};
  for (size_t i = 0; i < 9; i++) {
    rows[i] = x[i];
  }
  for (size_t i = 0; i < 3; i++) {
    y[i] = reading[i];
  }
  y[3] = u_reading; /* residual sum u^2 with one degree of freedom: s = u */
  return tw_regress(rows, y, 4, 3, r, fault);
}

static tw_status check(const double *angle, const double *reading, size_t n, double indicator,
                       double u_reading, double level, tw_fault *fault)
{
  tw_status status = tw_all_finite(angle, n, "angle", fault);
  status = status == TW_OK ? tw_all_finite(reading, n, "reading", fault) : status;
  if (status != TW_OK) {
    return status;
  }
  const size_t different = different_angles(angle, n);
  if (different < 3) {
    return tw_fail(fault, TW_BAD_INPUT, "angle", "read at 0, 90, 180 and 270 degrees",
                   "%zu different spindle angle%s: mean and eccentricity are three unknowns",
                   different, different == 1 ? "" : "s");
  }
  if (n == 3 && !(u_reading > 0.0)) {
    return tw_fail(fault, TW_BAD_INPUT, "reading",
                   "take a fourth reading, or state the uncertainty of one",
                   "three readings leave nothing to find their uncertainty from");
  }
  if (!isfinite(indicator) || !(u_reading >= 0.0) || !isfinite(u_reading) ||
      !(level > 0.0 && level < 1.0)) {
    return tw_fail(fault, TW_BAD_INPUT, "uncertainty", "0 or a length; level between 0 and 1",
                   "uncertainty %g, level %g", u_reading, level);
  }
  return TW_OK;
}

tw_status tw_runout_of(const double *angle, const double *reading, size_t n, double indicator,
                       double u_reading, double level, tw_runout *out, tw_fault *fault)
{
  tw_status status = check(angle, reading, n, indicator, u_reading, level, fault);
  double *x = status == TW_OK ? tw_alloc(n, 3 * sizeof *x) : NULL;
  if (!x) {
    return status == TW_OK ? tw_no_memory(fault) : status;
  }
  for (size_t i = 0; i < n; i++) {
    x[3 * i] = 1.0;
    x[3 * i + 1] = cos(angle[i] - indicator);
    x[3 * i + 2] = -sin(angle[i] - indicator);
  }
  tw_regression r;
  status = n == 3 ? exact_three(x, reading, u_reading, &r, fault)
                  : tw_regress(x, reading, n, 3, &r, fault);
  if (status == TW_NO_ANSWER || (status == TW_OK && r.condition > TW_TRAM_CONDITION)) {
    status = tw_fail(fault, TW_NO_ANSWER, "angle", "spread the readings round the turn",
                     "the angles are too close together to find the eccentricity");
  }
  if (status == TW_OK) {
    *out = (tw_runout){.n = n, .mean = r.b[0], .e = {r.b[1], r.b[2]}};
    for (size_t i = 0; i < n; i++) {
      const double rest = reading[i] - r.b[0] - r.b[1] * x[3 * i + 1] - r.b[2] * x[3 * i + 2];
      out->worst = fmax(out->worst, fabs(rest));
    }
    if (r.s == 0.0 && u_reading > 0.0) {
      /* readings on a perfect sine: the stated uncertainty has the last word */
      double *copy = x;
      r.s = u_reading;
      double a = 0.0, b = 0.0, d = 0.0;
      for (size_t i = 0; i < n; i++) {
        a += copy[3 * i + 1] * copy[3 * i + 1];
        b += copy[3 * i + 1] * copy[3 * i + 2];
        d += copy[3 * i + 2] * copy[3 * i + 2];
      }
      const double det = a * d - b * b, u2 = u_reading * u_reading;
      r.covariance[4] = u2 * d / det;
      r.covariance[5] = -u2 * b / det;
      r.covariance[8] = u2 * a / det;
    }
    describe(&r, u_reading, level, out);
  }
  tw_free(x);
  return status;
}

/* ---- tilt
 * ---------------------------------------------------------------------------------------- */

static double less_dof(double a, double b)
{
  return a < b ? a : b;
}

tw_status tw_tilt_of(const tw_runout *tip, const tw_runout *up, double height, double drop,
                     double level, tw_tilt *out, tw_fault *fault)
{
  if (!(height > 0.0) || !(drop >= 0.0) || !isfinite(height) || !isfinite(drop)) {
    return tw_fail(fault, TW_BAD_INPUT, "height", "the second height is measured up from the tip",
                   "height %g m, drop %g m", height, drop);
  }
  double c[3], flange[3];
  const double k = drop / height; /* flange = tip (1 - k) + up k */
  for (int i = 0; i < 3; i++) {
    c[i] = (tip->covariance[i] + up->covariance[i]) / (height * height);
    flange[i] = tip->covariance[i] * (1.0 - k) * (1.0 - k) + up->covariance[i] * k * k;
  }
  for (int i = 0; i < 2; i++) {
    out->tilt[i] = (tip->e[i] - up->e[i]) / height;
    out->flange[i] = tip->e[i] - out->tilt[i] * drop;
  }
  out->modulus = hypot(out->tilt[0], out->tilt[1]);
  out->flange_modulus = hypot(out->flange[0], out->flange[1]);
  const double far = fmax(out->modulus, 1e-300), wide = fmax(out->flange_modulus, 1e-300);
  out->u = u_along(c, out->tilt[0] / far, out->tilt[1] / far);
  out->flange_u = u_along(flange, out->flange[0] / wide, out->flange[1] / wide);
  out->real = out->modulus > circle_of(c, less_dof(tip->dof, up->dof), level);
  return TW_OK;
}

/* ---- screws
 * -------------------------------------------------------------------------------------- */

/* sum of (u_i - about)(u_i - about)^T over the screws' unit vectors: xx, xy, yy; axial screws tip
 * the tip about their common middle, radial ones push from the axis */
static void scatter_of_screws(const tw_screws *s, double about[2], double out[3])
{
  about[0] = about[1] = out[0] = out[1] = out[2] = 0.0;
  for (size_t i = 0; i < s->count && s->kind == TW_SCREW_AXIAL; i++) {
    about[0] += cos(s->azimuth[i]) / (double)s->count;
    about[1] += sin(s->azimuth[i]) / (double)s->count;
  }
  for (size_t i = 0; i < s->count; i++) {
    const double x = cos(s->azimuth[i]) - about[0], y = sin(s->azimuth[i]) - about[1];
    out[0] += x * x;
    out[1] += x * y;
    out[2] += y * y;
  }
}

static tw_status check_screws(const tw_screws *s, tw_fault *fault)
{
  const size_t least = s->kind == TW_SCREW_AXIAL ? 3 : 2;
  if (s->count < least || s->count > TW_SCREW_MOST) {
    return tw_fail(fault, TW_BAD_INPUT, "screws", "three screws at 120 degrees are usual",
                   "%zu %s screws; %zu to %d are possible", s->count,
                   s->kind == TW_SCREW_AXIAL ? "axial" : "radial", least, TW_SCREW_MOST);
  }
  const bool lever = s->kind == TW_SCREW_AXIAL ? s->radius > 0.0 && s->drop > 0.0 : s->ratio > 0.0;
  if (!(s->pitch > 0.0) || !lever || !isfinite(s->pitch + s->radius + s->drop + s->ratio)) {
    return tw_fail(fault, TW_BAD_INPUT, "screws", "pitch, and radius with drop, or ratio",
                   "pitch %g m, radius %g m, drop %g m, ratio %g must be positive", s->pitch,
                   s->radius, s->drop, s->ratio);
  }
  /* do the screws reach every direction? the smaller eigenvalue of their scatter */
  double about[2], c[3];
  scatter_of_screws(s, about, c);
  if (!(0.5 * (c[0] + c[2]) - hypot(0.5 * (c[0] - c[2]), c[1]) > 0.02)) {
    return tw_fail(fault, TW_BAD_INPUT, "screws", "are their azimuths right?",
                   "the screws are in one line and cannot move the tip across it");
  }
  return TW_OK;
}

/* Tip movement, x and y, for one rad of screw i alone. Axial: it tips the plane through all screws
 * (least squares; exact for three), the slope is S^-1 (u_i - mean u)/radius with S the scatter of
 * the screws' unit vectors: for n even ones 2/n of what all n do together. Radial: the flange is
 * pushed all the way. */
static void one_screw_moves(const tw_screws *s, size_t screw, double move[2])
{
  const double per_angle = s->pitch / (2.0 * TW_PI);
  double about[2], c[3];
  scatter_of_screws(s, about, c);
  const double x = cos(s->azimuth[screw]) - about[0], y = sin(s->azimuth[screw]) - about[1];
  if (s->kind == TW_SCREW_RADIAL) {
    move[0] = -x * s->ratio * per_angle;
    move[1] = -y * s->ratio * per_angle;
    return;
  }
  const double lever = per_angle * s->drop / s->radius, det = c[0] * c[2] - c[1] * c[1];
  move[0] = lever * (c[2] * x - c[1] * y) / det;
  move[1] = lever * (c[0] * y - c[1] * x) / det;
}

/* turns = gain (e . u_i): axial raises by -e.u rs/Lp, radial advances by +e.u / ratio */
static double gain_of(const tw_screws *s)
{
  const double per_turn = 2.0 * TW_PI / s->pitch;
  return s->kind == TW_SCREW_AXIAL ? -s->radius / s->drop * per_turn : per_turn / s->ratio;
}

tw_status tw_turns_for(const tw_runout *runout, const tw_screws *s, tw_turns *out, tw_fault *fault)
{
  const tw_status status = check_screws(s, fault);
  if (status != TW_OK) {
    return status;
  }
  *out = (tw_turns){0};
  const double gain = gain_of(s);
  double mean = 0.0, least = (double)INFINITY;
  for (size_t i = 0; i < s->count; i++) {
    const double x = cos(s->azimuth[i]), y = sin(s->azimuth[i]);
    out->angle[i] = gain * (runout->e[0] * x + runout->e[1] * y);
    out->angle_u[i] = fabs(gain) * u_along(runout->covariance, x, y);
    mean += out->angle[i] / (double)s->count;
    least = fmin(least, out->angle[i]);
  }
  const double shift = s->kind == TW_SCREW_RADIAL ? 0.0 : s->only_tighten ? least : mean;
  for (size_t i = 0; i < s->count; i++) {
    out->angle[i] -= shift;
    out->travel[i] = out->angle[i] * s->pitch / (2.0 * TW_PI);
  }
  for (size_t i = 0; i < s->count; i++) {
    double move[2];
    one_screw_moves(s, i, move);
    out->tip_per_angle = fmax(out->tip_per_angle, hypot(move[0], move[1]));
  }
  const double degree = out->tip_per_angle * TW_PI / 180.0;
  out->coarse = degree > runout->expanded;
  out->worth_it = runout->real && runout->modulus > 0.5 * degree;
  return TW_OK;
}

/* ---- before and after
 * ----------------------------------------------------------------------------- */

tw_status tw_shift_of(const tw_runout *before, const tw_runout *after, double level, tw_shift *out,
                      tw_fault *fault)
{
  if (!(level > 0.0 && level < 1.0)) {
    return tw_fail(fault, TW_BAD_INPUT, "level", "0.95 is usual", "a level of %g", level);
  }
  double c[3];
  for (int i = 0; i < 3; i++) {
    c[i] = before->covariance[i] + after->covariance[i];
  }
  out->move[0] = after->e[0] - before->e[0];
  out->move[1] = after->e[1] - before->e[1];
  out->modulus = hypot(out->move[0], out->move[1]);
  out->azimuth = around(atan2(out->move[1], out->move[0]));
  out->u = u_along(c, cos(out->azimuth), sin(out->azimuth));
  out->real = out->modulus > circle_of(c, less_dof(before->dof, after->dof), level);
  return TW_OK;
}

tw_status tw_screw_learned(const tw_shift *shift, const tw_screws *s, size_t screw, double turned,
                           tw_learned *out, tw_fault *fault)
{
  const tw_status status = check_screws(s, fault);
  if (status != TW_OK) {
    return status;
  }
  if (screw >= s->count || !isfinite(turned) || turned == 0.0) {
    return tw_fail(fault, TW_BAD_INPUT, "turned", "name one screw and the angle it was turned",
                   "screw %zu of %zu turned by %g rad", screw + 1, s->count, turned);
  }
  if (!shift->real) {
    return tw_fail(fault, TW_NO_ANSWER, "turned", "turn it further, or read more often",
                   "the tip moved by no more than the readings scatter");
  }
  const double x = cos(s->azimuth[screw]), y = sin(s->azimuth[screw]);
  out->along = (shift->move[0] * x + shift->move[1] * y) / turned;
  out->across = (shift->move[1] * x - shift->move[0] * y) / turned;
  out->u = shift->u / fabs(turned);
  double computed[2];
  one_screw_moves(s, screw, computed);
  out->ratio = out->along / (computed[0] * x + computed[1] * y);
  return TW_OK;
}

/* ---- stylus offset
 * --------------------------------------------------------------------------------- */

/* rows x: 1 0 cos -sin; y: 0 1 sin cos; unknowns centre and offset; a stated u comes in as two more
 * rows of nothing when there is no redundancy */
static tw_status solve_offset(const double *angle, const double *centre, size_t n, double u_centre,
                              tw_regression *r, tw_fault *fault)
{
  const bool exact = n == 2;
  const size_t rows = 2 * n + (exact ? 1 : 0);
  double *x = tw_alloc(rows, 5 * sizeof *x);
  if (!x) {
    return tw_no_memory(fault);
  }
  double *y = x + 4 * rows;
  for (size_t i = 0; i < n; i++) {
    double *a = x + 8 * i, *b = a + 4;
    a[0] = b[1] = 1.0;
    a[2] = b[3] = cos(angle[i]);
    b[2] = sin(angle[i]);
    a[3] = -b[2];
    y[2 * i] = centre[2 * i];
    y[2 * i + 1] = centre[2 * i + 1];
  }
  if (exact) {
    y[rows - 1] = u_centre;
  }
  const tw_status status = tw_regress(x, y, rows, 4, r, fault);
  tw_free(x);
  return status;
}

tw_status tw_offset_of(const double *angle, const double *centre, size_t n, double u_centre,
                       tw_offset *out, tw_fault *fault)
{
  if (different_angles(angle, n) < 2) {
    return tw_fail(fault, TW_BAD_INPUT, "angle", "find the centre at 0 and 180 degrees",
                   "one spindle angle: offset and centre cannot be separated");
  }
  if (n == 2 && !(u_centre > 0.0)) {
    return tw_fail(fault, TW_BAD_INPUT, "uncertainty",
                   "state the uncertainty of a centre, or use four angles",
                   "two centres leave nothing to find the uncertainty from");
  }
  tw_status status = tw_all_finite(angle, n, "angle", fault);
  status = status == TW_OK ? tw_all_finite(centre, 2 * n, "centre", fault) : status;
  tw_regression r;
  status = status == TW_OK ? solve_offset(angle, centre, n, u_centre, &r, fault) : status;
  if (status == TW_NO_ANSWER || (status == TW_OK && r.condition > TW_TRAM_CONDITION)) {
    return tw_fail(fault, TW_NO_ANSWER, "angle", "use angles half a turn apart",
                   "the spindle angles are too close together");
  }
  if (status != TW_OK) {
    return status;
  }
  *out = (tw_offset){.centre = {r.b[0], r.b[1]}, .offset = {r.b[2], r.b[3]}, .s = r.s};
  out->modulus = hypot(r.b[2], r.b[3]);
  out->azimuth = around(atan2(r.b[3], r.b[2]));
  out->tir = 2.0 * out->modulus;
  const double scale = u_centre > r.s && r.s > 0.0 ? u_centre / r.s : 1.0;
  out->u = scale * fmax(r.u[2], r.u[3]);
  out->dof = u_centre > r.s || n == 2 ? (double)INFINITY : r.dof;
  return TW_OK;
}
