#include "field.h"
#include "tripwright/constants.h"

#include <string.h>

/* what is continuous across a border */
typedef struct state {
  double u, b, n, m;
} state;

/* integral of the slope from the axis, up to a constant */
static double slope_integral(const tw_segment *s, double r)
{
  double sum = s->c3 * r * r / 2.0;
  if (r > 0.0) {
    sum += s->c4 * log(r) + s->ab * r * r * (log(r) / 2.0 - 0.25);
  }
  return sum;
}

static tw_local local_of(const tw_segment *s, double r)
{
  tw_local l = {.zone = s->zone};
  if (r <= 0.0) { /* only reached with c2 = c4 = 0; a point load's log is cut by the caller */
    l.du = s->c1;
    l.db = s->c3;
  } else {
    const double ln = log(r);
    l.u = s->c1 * r + s->c2 / r + s->au * r * ln;
    l.b = s->c3 * r + s->c4 / r + s->ab * r * ln;
    l.du = s->c1 - s->c2 / (r * r) + s->au * (ln + 1.0);
    l.db = s->c3 - s->c4 / (r * r) + s->ab * (ln + 1.0);
  }
  l.w = s->w0 - slope_integral(s, r);
  return l;
}

static state state_of(const tw_segment *s, double r, double volt, double kelvin)
{
  const tw_local l = local_of(s, r);
  const tw_zone *z = s->zone;
  const double eu = r > 0.0 ? l.u / r : l.du, eb = r > 0.0 ? l.b / r : l.db;
  return (state){
      .u = l.u,
      .b = l.b,
      .n =
          z->a11 * l.du + z->a12 * eu + z->b11 * l.db + z->b12 * eb + z->np * volt - z->nt * kelvin,
      .m =
          z->b11 * l.du + z->b12 * eu + z->d11 * l.db + z->d12 * eb + z->mp * volt - z->mt * kelvin,
  };
}

/* the constants of a segment whose inner border has the given state */
static void start_segment(tw_segment *s, state y, double volt, double kelvin)
{
  const tw_zone *z = s->zone;
  const double r = s->inner;
  const double eu = y.u / r, eb = y.b / r;
  const double n = y.n - z->a12 * eu - z->b12 * eb - z->np * volt + z->nt * kelvin;
  const double m = y.m - z->b12 * eu - z->d12 * eb - z->mp * volt + z->mt * kelvin;
  const double det = z->a11 * z->d11 - z->b11 * z->b11;
  const double du = (z->d11 * n - z->b11 * m) / det;
  const double db = (z->a11 * m - z->b11 * n) / det;
  const double ln = log(r);
  s->c1 = (eu + du) / 2.0 - s->au * (ln + 0.5);
  s->c2 = r * r * ((eu - du) / 2.0 + s->au / 2.0);
  s->c3 = (eb + db) / 2.0 - s->ab * (ln + 0.5);
  s->c4 = r * r * ((eb - db) / 2.0 + s->ab / 2.0);
}

/* cut the zones at the load and at the support; returns the number of segments */
static int cut_segments(const tw_laminate *lam, const tw_hold *hold, double load,
                        tw_segment *segment)
{
  int count = 0;
  for (int i = 0; i < lam->count && lam->zone[i].inner < hold->outer; i++) {
    const double end = fmin(lam->zone[i].outer, hold->outer);
    double cut[3] = {load, hold->support, end};
    if (cut[0] > cut[1]) {
      cut[0] = hold->support;
      cut[1] = load;
    }
    double inner = lam->zone[i].inner;
    for (int k = 0; k < 3; k++) {
      if (cut[k] > inner && cut[k] <= end) {
        segment[count].zone = &lam->zone[i];
        segment[count].inner = inner;
        segment[count++].outer = cut[k];
        inner = cut[k];
      }
    }
  }
  return count;
}

/* a part that is held flat keeps only its plane: u = c1 r + c2/r */
static state pass_stuck(tw_segment *s, state y, double volt, double kelvin)
{
  const tw_zone *z = s->zone;
  const double r = s->inner, eu = y.u / r, drive = z->np * volt - z->nt * kelvin;
  const double du = (y.n - z->a12 * eu - drive) / z->a11;
  s->c1 = (eu + du) / 2.0;
  s->c2 = r * r * (eu - du) / 2.0;
  const tw_local l = local_of(s, s->outer);
  return (state){.u = l.u, .n = z->a11 * l.du + z->a12 * l.u / s->outer + drive};
}

/* the two conditions at the outer edge, as residuals; `slope` is that at the border of the stuck
 * part */
static void edge_residual(const tw_hold *hold, state y, double slope, double out[2])
{
  if (hold->stuck > 0.0) {
    out[0] = y.n;
    out[1] = slope;
    return;
  }
  switch (hold->edge) {
  case TW_EDGE_CLAMPED:
    out[0] = y.u;
    out[1] = y.b;
    break;
  case TW_EDGE_PINNED:
    out[0] = y.u + hold->pin * y.b;
    out[1] = y.m - hold->pin * y.n;
    break;
  case TW_EDGE_FREE:
    out[0] = y.n;
    out[1] = y.m;
    break;
  }
}

/* run one start vector from the centre (or the hole) to the edge; `which` 0, 1: the two unknowns
 * there, without any action; 2: the action with both unknowns zero */
static void march(tw_disc_field *f, const tw_laminate *lam, const tw_hold *hold, tw_action act,
                  int which, double out[2])
{
  const double volt = which == 2 ? act.volt : 0.0, kelvin = which == 2 ? act.kelvin : 0.0;
  const double force = which == 2 ? act.force : 0.0;
  state y = {.u = which == 0, .b = which == 1};
  double slope = 0.0;
  for (int i = 0; i < f->count; i++) {
    tw_segment *s = &f->segment[i];
    if (hold->stuck > 0.0 && s->inner >= hold->stuck) {
      y = pass_stuck(s, y, volt, kelvin);
      continue;
    }
    const bool passed_load = s->outer > act.radius, passed_support = s->outer > hold->support;
    const double enclosed =
        (passed_load ? force : 0.0) - (hold->support >= 0.0 && passed_support ? force : 0.0);
    s->ab = -enclosed / (4.0 * TW_PI * s->zone->dstar);
    s->au = -s->zone->b11 / s->zone->a11 * s->ab;
    if (i == 0 && lam->hole <= 0.0) {
      s->c1 = which == 0;
      s->c3 = which == 1;
      s->c2 = s->c4 = 0.0;
    } else {
      start_segment(s, y, volt, kelvin);
    }
    y = state_of(s, s->outer, volt, kelvin);
    slope = y.b;
  }
  edge_residual(hold, y, slope, out);
}

/* make w continuous and zero on the support (or at the edge) */
static void fit_deflection(tw_disc_field *f, const tw_hold *hold)
{
  tw_segment *first = &f->segment[0];
  first->w0 = 0.0;
  for (int i = 1; i < f->count; i++) {
    tw_segment *s = &f->segment[i], *before = s - 1;
    s->w0 = before->w0 - slope_integral(before, s->inner) + slope_integral(s, s->inner);
  }
  const double zero = hold->support >= 0.0 ? hold->support : hold->outer;
  const double shift = tw_disc_field_at(f, zero).w;
  for (int i = 0; i < f->count; i++) {
    f->segment[i].w0 -= shift;
  }
}

bool tw_disc_field_solve(const tw_laminate *lam, const tw_hold *hold, tw_action act,
                         tw_disc_field *field)
{
  memset(field, 0, sizeof *field);
  field->count = cut_segments(lam, hold, act.force != 0.0 ? act.radius : -1.0, field->segment);
  /* the third march stays in `field`; the first two are added to it with the weights found */
  tw_disc_field one = *field, two = *field;
  double r1[2], r2[2], r0[2];
  march(&one, lam, hold, act, 0, r1);
  march(&two, lam, hold, act, 1, r2);
  march(field, lam, hold, act, 2, r0);
  const double det = r1[0] * r2[1] - r2[0] * r1[1];
  if (!(fabs(det) > 0.0) || !isfinite(det)) {
    return false;
  }
  const double x1 = (-r0[0] * r2[1] + r0[1] * r2[0]) / det;
  const double x2 = (-r1[0] * r0[1] + r1[1] * r0[0]) / det;
  for (int i = 0; i < field->count; i++) {
    tw_segment *s = &field->segment[i];
    const tw_segment *a = &one.segment[i], *b = &two.segment[i];
    s->c1 += x1 * a->c1 + x2 * b->c1;
    s->c2 += x1 * a->c2 + x2 * b->c2;
    s->c3 += x1 * a->c3 + x2 * b->c3;
    s->c4 += x1 * a->c4 + x2 * b->c4;
  }
  fit_deflection(field, hold);
  return true;
}

tw_local tw_disc_field_side(const tw_disc_field *f, double radius, bool inward)
{
  int i = 0;
  while (i + 1 < f->count &&
         (radius > f->segment[i].outer || (!inward && radius >= f->segment[i].outer))) {
    i++;
  }
  return local_of(&f->segment[i], radius);
}

tw_local tw_disc_field_at(const tw_disc_field *f, double radius)
{
  return tw_disc_field_side(f, radius, true);
}

double tw_disc_field_charge(const tw_laminate *lam, const tw_disc_field *f)
{
  const tw_segment *last = &f->segment[f->count - 1];
  const double outer = fmin(lam->electrode, last->outer), inner = lam->hole;
  const tw_local at = tw_disc_field_at(f, outer);
  double sum = outer * (at.u + lam->zc * at.b);
  if (inner > 0.0) {
    const tw_local hole = tw_disc_field_at(f, inner);
    sum -= inner * (hole.u + lam->zc * hole.b);
  }
  return -2.0 * TW_PI * lam->reduced.e * sum;
}
