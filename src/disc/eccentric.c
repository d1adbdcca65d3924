/* eccentric.c: the ceramic off the centre of metal and support, to first order. Seen from the
 * ceramic, edge and support are shifted by -e: the n = 1 state of the disc under its shifted edge.
 * Source: docs/models/disc.md, eccentric ceramic. */
#include "solved.h"
#include "tripwright/constants.h"

/* state for one volt at the disc's edge: hoop resultants, and what moves with the edge */
typedef struct edge_state {
  double nt, mt; /* hoop force and moment */
  double w, b, du, db;
} edge_state;

static edge_state edge_of(const tw_disc *d)
{
  const double r = d->hold.outer;
  const tw_zone *z = tw_laminate_zone(&d->lam, r);
  const double volt = z->electrode ? 1.0 : 0.0;
  double u, b, du, db;
  if (d->bed.value != NULL) {
    /* free edge: N = M = 0 gives the derivatives */
    u = d->edge_u;
    b = d->edge_b;
    const double n = -z->a12 * u / r - z->b12 * b / r - z->np * volt;
    const double m = -z->b12 * u / r - z->d12 * b / r - z->mp * volt;
    const double det = z->a11 * z->d11 - z->b11 * z->b11;
    du = (z->d11 * n - z->b11 * m) / det;
    db = (z->a11 * m - z->b11 * n) / det;
  } else {
    const tw_local at = tw_disc_field_at(&d->volt, r);
    u = at.u;
    b = at.b;
    du = at.du;
    db = at.db;
  }
  return (edge_state){
      .nt = z->a12 * du + z->a11 * u / r + z->b12 * db + z->b11 * b / r + z->np * volt,
      .mt = z->b12 * du + z->b11 * u / r + z->d12 * db + z->d11 * b / r + z->mp * volt,
      .w = tw_disc_bend(d, r, NULL),
      .b = b,
      .du = du,
      .db = db,
  };
}

/* displacements that the shifted edge and support ask for, into `lift` */
static void set_lift(const tw_disc *d, const tw_statics *s, edge_state at, double *lift)
{
  const tw_hold *h = &d->hold;
  const int edge = (s->mesh.nodes - 1) * 4;
  if (h->support >= 0.0) {
    double slope;
    tw_disc_bend(d, h->support, &slope);
    lift[tw_mesh_node(&s->mesh, h->support) * 4] = -slope;
  }
  if (h->edge == TW_EDGE_CLAMPED) {
    lift[edge + 1] = -at.db;
    lift[edge + 2] = at.du;
  } else if (h->edge == TW_EDGE_PINNED) {
    /* both tied unknowns beyond what the tie says */
    lift[edge + 2] = at.du + h->pin * at.db;
    lift[edge + 3] = -h->pin * lift[edge] / h->outer;
  }
}

tw_status tw_shift_solve(tw_disc *d)
{
  tw_statics s;
  tw_status status = tw_statics_new(&d->lam, &d->hold, tw_fineness_even(&d->lam, &d->hold, 40),
                                    &d->spec.contact_radius, 1, 1, &s);
  double *lift = status == TW_OK ? tw_alloc((size_t)s.mesh.nodes * 4, sizeof *lift) : NULL;
  if (lift == NULL) {
    tw_statics_free(&s);
    return TW_NO_MEMORY;
  }
  const edge_state at = edge_of(d);
  const double r = d->hold.outer;
  tw_statics_assemble(&s, 1);
  set_lift(d, &s, at, lift);
  tw_band_times(&s.k, lift, s.x);
  for (int i = 0; i < s.k.size; i++) {
    s.x[i] = -s.x[i];
  }
  /* the strip between the two edges carries hoop force and moment (and bed) */
  double *edge = s.x + (s.mesh.nodes - 1) * 4;
  const double around = TW_PI;
  edge[0] += around * (at.mt / r + d->hold.bed * at.w * r);
  edge[1] -= around * at.mt;
  if (d->hold.edge == TW_EDGE_PINNED) {
    edge[1] += d->hold.pin * around * at.nt;
  }
  edge[2] += around * at.nt;
  edge[3] += around * at.nt;
  bool solved = tw_statics_factor(&s);
  if (solved) {
    tw_statics_solve(&s, 0);
    for (int i = 0; i < s.k.size; i++) {
      s.x[i] += lift[i];
    }
    status = tw_profile_take(&s, &d->shift);
  } else {
    status = TW_NO_ANSWER;
  }
  tw_free(lift);
  tw_statics_free(&s);
  return status;
}
