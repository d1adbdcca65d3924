#include "statics.h"

#include "shape.h"

#include <string.h>

tw_status tw_statics_new(const tw_laminate *lam, const tw_hold *hold, tw_fineness fineness,
                         const double *extra, size_t count, int most, tw_statics *s)
{
  memset(s, 0, sizeof *s);
  if (tw_mesh_new(lam, hold, fineness, extra, count, &s->mesh) != TW_OK ||
      tw_ring_set_new(lam, hold, &s->mesh, most, &s->set) != TW_OK) {
    tw_statics_free(s);
    return TW_NO_MEMORY;
  }
  const size_t nodes = (size_t)s->mesh.nodes;
  s->k.a = tw_alloc(tw_band_length(s->mesh.nodes * 4, tw_ring_width(1)), sizeof(double));
  s->x = tw_alloc(nodes * 4, sizeof(double));
  s->p = tw_alloc(nodes * 3, sizeof(double));
  s->held = tw_alloc(nodes * 4, sizeof *s->held);
  if (s->k.a == NULL || s->x == NULL || s->p == NULL || s->held == NULL) {
    tw_statics_free(s);
    return TW_NO_MEMORY;
  }
  tw_ring_voltage(&s->set, s->p);
  return TW_OK;
}

void tw_statics_free(tw_statics *s)
{
  tw_ring_set_free(&s->set);
  tw_mesh_free(&s->mesh);
  tw_free(s->k.a);
  tw_free(s->x);
  tw_free(s->p);
  tw_free(s->held);
  memset(s, 0, sizeof *s);
}

void tw_statics_assemble(tw_statics *s, int n)
{
  s->n = n;
  s->k.size = s->mesh.nodes * tw_ring_per_node(n);
  s->k.width = tw_ring_width(n);
  s->held_count = tw_ring_held(&s->set, n, s->held);
  tw_ring_assemble(&s->set, n, &s->k, NULL);
}

bool tw_statics_factor(tw_statics *s)
{
  for (int i = 0; i < s->held_count; i++) {
    tw_band_fix(&s->k, s->held[i]);
  }
  return tw_band_factor(&s->k);
}

bool tw_statics_harmonic(tw_statics *s, int n)
{
  tw_statics_assemble(s, n);
  return tw_statics_factor(s);
}

void tw_statics_clear(tw_statics *s)
{
  memset(s->x, 0, (size_t)s->k.size * sizeof *s->x);
}

void tw_statics_load(tw_statics *s, double radius, double amount)
{
  double v[4];
  const int per = tw_ring_per_node(s->n), e = tw_mesh_shape(&s->mesh, radius, v, NULL);
  s->x[e * per] += amount * v[0];
  s->x[e * per + 1] += amount * v[1];
  s->x[(e + 1) * per] += amount * v[2];
  s->x[(e + 1) * per + 1] += amount * v[3];
}

void tw_statics_solve(tw_statics *s, int first)
{
  for (int i = 0; i < s->held_count; i++) {
    s->x[s->held[i]] = 0.0;
  }
  tw_band_solve(&s->k, s->x, first);
  tw_ring_restore(&s->set, s->n, s->x);
}

double tw_statics_w(const tw_statics *s, double radius)
{
  double v[4];
  const int per = tw_ring_per_node(s->n), e = tw_mesh_shape(&s->mesh, radius, v, NULL);
  return v[0] * s->x[e * per] + v[1] * s->x[e * per + 1] + v[2] * s->x[(e + 1) * per] +
         v[3] * s->x[(e + 1) * per + 1];
}

tw_local tw_statics_local(const tw_statics *s, int e, double x)
{
  const double h = s->mesh.radius[e + 1] - s->mesh.radius[e];
  const double *a = s->x + 3 * e, *b = a + 3;
  double middle[2];
  tw_ring_middle(&s->set, 0, e, s->x, middle);
  double w[4], dw[4], ddw[4], q[3], dq[3];
  tw_cubic(x, h, w, dw, ddw);
  tw_quadratic(x, h, q, dq);
  return (tw_local){
      .u = q[0] * a[2] + q[1] * middle[0] + q[2] * b[2],
      .du = dq[0] * a[2] + dq[1] * middle[0] + dq[2] * b[2],
      .b = -(dw[0] * a[0] + dw[1] * a[1] + dw[2] * b[0] + dw[3] * b[1]),
      .db = -(ddw[0] * a[0] + ddw[1] * a[1] + ddw[2] * b[0] + ddw[3] * b[1]),
      .w = w[0] * a[0] + w[1] * a[1] + w[2] * b[0] + w[3] * b[1],
      .zone = s->mesh.zone[e],
  };
}
