#include "mesh.h"

#include "shape.h"
#include "tripwright/numerics.h"

#include <stdlib.h>
#include <string.h>

/* borders nearer than this part of the radius are taken as one: 1 um on a 20 mm disc */
#define SLIVER 1e-4

static double bed_length(const tw_laminate *lam, const tw_hold *hold)
{
  double shortest = HUGE_VAL;
  for (int i = 0; i < lam->count; i++) {
    shortest = fmin(shortest, pow(lam->zone[i].dstar / hold->bed, 0.25));
  }
  return shortest;
}

/* a very stiff bed would ask for any number of elements: no more than 400 a radius */
static double limit_by_bed(const tw_laminate *lam, const tw_hold *hold, double size)
{
  if (hold->bed <= 0.0) {
    return size;
  }
  return fmax(fmin(size, bed_length(lam, hold) / 6.0), hold->outer / 400.0);
}

tw_fineness tw_fineness_even(const tw_laminate *lam, const tw_hold *hold, int elements)
{
  const double size = limit_by_bed(lam, hold, hold->outer / elements);
  return (tw_fineness){size, size};
}

tw_fineness tw_fineness_graded(const tw_laminate *lam, const tw_hold *hold)
{
  return (tw_fineness){limit_by_bed(lam, hold, hold->outer / 20.0),
                       limit_by_bed(lam, hold, hold->outer / 80.0)};
}

/* sorted list of the radii that must be nodes; fixed ones win over extra ones near them */
static size_t must_nodes(const tw_laminate *lam, const tw_hold *hold, double near,
                         const double *extra, size_t count, double *out)
{
  size_t n = 0;
  out[n++] = lam->hole;
  for (int i = 0; i < lam->count; i++) {
    if (lam->zone[i].outer < hold->outer) {
      out[n++] = lam->zone[i].outer;
    }
  }
  if (hold->support > 0.0 && hold->support < hold->outer) {
    out[n++] = hold->support;
  }
  out[n++] = hold->outer;
  const size_t fixed = n;
  qsort(out, fixed, sizeof *out, tw_compare_doubles);
  /* the support may stand on a border, or beside it: an element of next to no length would swamp
   * all others, so borders that close become one */
  size_t kept = 1;
  for (size_t i = 1; i < fixed; i++) {
    if (out[i] - out[kept - 1] > SLIVER * hold->outer) {
      out[kept++] = out[i];
    }
  }
  out[kept - 1] = kept > 1 ? hold->outer : out[kept - 1];
  n = kept;
  for (size_t k = 0; k < count; k++) {
    bool apart = extra[k] > lam->hole && extra[k] < hold->outer;
    for (size_t i = 0; i < n && apart; i++) {
      apart = fabs(out[i] - extra[k]) >= near;
    }
    if (apart) {
      out[n++] = extra[k];
    }
  }
  qsort(out, n, sizeof *out, tw_compare_doubles);
  return n;
}

static double size_at(tw_fineness f, double r)
{
  return fmin(f.longest, fmax(f.shortest, r / 8.0));
}

/* how many elements between two radii: as many as the finest rule met on the way asks for */
static int pieces(tw_fineness f, double from, double to)
{
  double r = from;
  int count = 0;
  while (r < to - 1e-12 * to) {
    r += size_at(f, r);
    count++;
  }
  return count > 0 ? count : 1;
}

tw_status tw_mesh_new(const tw_laminate *lam, const tw_hold *hold, tw_fineness fineness,
                      const double *extra, size_t count, tw_mesh *mesh)
{
  memset(mesh, 0, sizeof *mesh);
  double *must = tw_alloc(count + TW_DISC_ZONES + 4, sizeof *must);
  if (must == NULL) {
    return TW_NO_MEMORY;
  }
  const size_t n = must_nodes(lam, hold, fineness.longest / 50.0, extra, count, must);
  int nodes = 1;
  for (size_t i = 0; i + 1 < n; i++) {
    nodes += pieces(fineness, must[i], must[i + 1]);
  }
  mesh->capacity = nodes;
  mesh->radius = tw_alloc((size_t)nodes, sizeof *mesh->radius);
  mesh->zone = tw_alloc((size_t)nodes, sizeof *mesh->zone);
  if (mesh->radius == NULL || mesh->zone == NULL) {
    tw_free(must);
    tw_mesh_free(mesh);
    return TW_NO_MEMORY;
  }
  for (size_t i = 0; i + 1 < n; i++) {
    const int parts = pieces(fineness, must[i], must[i + 1]);
    /* the rule's own steps, scaled so that the last one ends on the border */
    double end = must[i];
    for (int k = 0; k < parts; k++) {
      end += size_at(fineness, end);
    }
    const double scale = (must[i + 1] - must[i]) / (end - must[i]);
    double r = must[i];
    for (int k = 0; k < parts; k++) {
      mesh->radius[mesh->nodes] = must[i] + (r - must[i]) * scale;
      mesh->zone[mesh->nodes++] = tw_laminate_zone(lam, (must[i] + must[i + 1]) / 2.0);
      r += size_at(fineness, r);
    }
  }
  mesh->radius[mesh->nodes] = must[n - 1];
  mesh->zone[mesh->nodes] = mesh->zone[mesh->nodes - 1];
  mesh->nodes++;
  tw_free(must);
  return TW_OK;
}

void tw_mesh_free(tw_mesh *mesh)
{
  tw_free(mesh->radius);
  tw_free(mesh->zone);
  memset(mesh, 0, sizeof *mesh);
}

static int element_of(const tw_mesh *mesh, double radius)
{
  int low = 0, high = mesh->nodes - 1;
  while (high - low > 1) {
    const int middle = (low + high) / 2;
    if (mesh->radius[middle] <= radius) {
      low = middle;
    } else {
      high = middle;
    }
  }
  return low;
}

int tw_mesh_node(const tw_mesh *mesh, double radius)
{
  const int e = element_of(mesh, radius);
  return radius - mesh->radius[e] > mesh->radius[e + 1] - radius ? e + 1 : e;
}

int tw_mesh_shape(const tw_mesh *mesh, double radius, double v[4], double s[4])
{
  const int e = element_of(mesh, radius);
  const double h = mesh->radius[e + 1] - mesh->radius[e];
  const double x = (radius - mesh->radius[e]) / h;
  tw_cubic(x, h, v, s, NULL);
  return e;
}
