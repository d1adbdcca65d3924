/* profile.c: deflection and slope at the nodes of a mesh that is kept. */
#include "solved.h"

#include <string.h>

void tw_profile_free(tw_profile *profile)
{
  tw_mesh_free(&profile->mesh);
  tw_free(profile->value);
  profile->value = NULL;
}

tw_status tw_profile_take(tw_statics *s, tw_profile *profile)
{
  const int nodes = s->mesh.nodes, per = tw_ring_per_node(s->n);
  profile->value = tw_alloc((size_t)nodes * 2, sizeof *profile->value);
  if (profile->value == NULL) {
    return TW_NO_MEMORY;
  }
  for (int i = 0; i < nodes; i++) {
    profile->value[2 * i] = s->x[i * per];
    profile->value[2 * i + 1] = s->x[i * per + 1];
  }
  profile->mesh = s->mesh;
  memset(&s->mesh, 0, sizeof s->mesh);
  return TW_OK;
}

double tw_profile_at(const tw_profile *profile, double radius, double *slope)
{
  double v[4], d[4];
  const double *x = profile->value + 2 * tw_mesh_shape(&profile->mesh, radius, v, d);
  if (slope != NULL) {
    *slope = d[0] * x[0] + d[1] * x[1] + d[2] * x[2] + d[3] * x[3];
  }
  return v[0] * x[0] + v[1] * x[1] + v[2] * x[2] + v[3] * x[3];
}
