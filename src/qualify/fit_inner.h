/* fit_inner.h: the points of a fit seen from their centroid, and the solvers behind tw_fit_form. */
#ifndef TW_QUALIFY_FIT_INNER_H
#define TW_QUALIFY_FIT_INNER_H

#include "tripwright/qualify_fit.h"

typedef struct tw_cloud {
  const double *point;
  size_t n, dimensions;
  double centroid[3];
  double covariance[9];     /* dimensions x dimensions, mean square products about the centroid */
  double value[3], axis[9]; /* its eigenvalues ascending, eigenvectors as rows */
  double reach;             /* largest distance from the centroid along one coordinate */
  double rounding;          /* what the last digit of the coordinates is worth */
} tw_cloud;

void tw_cloud_see(tw_cloud *cloud, const double *point, size_t n, size_t dimensions);
/* is the k-th smallest extent no more than rounding? (k = 0: all in a plane or on a line) */
bool tw_cloud_is_flat(const tw_cloud *cloud, size_t k);

/* each fills centre, direction, radius, centre_u (still without s), radius_u, steps */
tw_status tw_fit_straight(const tw_cloud *cloud, tw_fit *out, tw_fault *fault);
tw_status tw_fit_round(const tw_cloud *cloud, tw_fit *out, tw_fault *fault);
tw_status tw_fit_cylinder(const tw_cloud *cloud, tw_fit *out, tw_fault *fault);
/* signed distance of a point (given from the centroid) from the fitted form, whose centre is given
 * from the centroid, too */
double tw_fit_distance(const tw_fit *fit, const double centre[3], const double at[3]);

#endif
