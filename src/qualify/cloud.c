/* cloud.c: the points of a fit seen from their centroid. */
#include "fit_inner.h"
#include "small.h"

#include <float.h>
#include <math.h>

void tw_cloud_see(tw_cloud *cloud, const double *point, size_t n, size_t dimensions)
{
  *cloud = (tw_cloud){.point = point, .n = n, .dimensions = dimensions};
  const size_t d = dimensions;
  long double sum[3] = {0}, product[9] = {0};
  double largest = 0.0;
  for (size_t i = 0; i < n; i++) {
    for (size_t k = 0; k < d; k++) {
      sum[k] += (long double)point[i * d + k];
    }
  }
  for (size_t k = 0; k < d; k++) {
    cloud->centroid[k] = (double)(sum[k] / (long double)n);
  }
  for (size_t i = 0; i < n; i++) {
    double at[3];
    for (size_t k = 0; k < d; k++) {
      at[k] = point[i * d + k] - cloud->centroid[k];
      cloud->reach = fmax(cloud->reach, fabs(at[k]));
      largest = fmax(largest, fabs(point[i * d + k]));
      for (size_t m = 0; m <= k; m++) {
        product[k * d + m] += (long double)(at[k] * at[m]);
      }
    }
  }
  for (size_t k = 0; k < d; k++) {
    for (size_t m = 0; m <= k; m++) {
      cloud->covariance[k * d + m] = cloud->covariance[m * d + k] =
          (double)(product[k * d + m] / (long double)n);
    }
  }
  tw_small_eigen(cloud->covariance, d, cloud->value, cloud->axis);
  cloud->rounding = DBL_EPSILON * largest;
}

bool tw_cloud_is_flat(const tw_cloud *cloud, size_t k)
{
  const double extent = sqrt(fmax(cloud->value[k], 0.0));
  /* squares lose half the digits: an extent below 1e-7 of the largest is not seen by its
   * eigenvalue, so it is measured by distances from the centroid along that axis */
  if (extent > 1e-6 * cloud->reach) {
    return false;
  }
  double most = 0.0;
  for (size_t i = 0; i < cloud->n; i++) {
    double along = 0.0;
    for (size_t m = 0; m < cloud->dimensions; m++) {
      along += (cloud->point[i * cloud->dimensions + m] - cloud->centroid[m]) *
               cloud->axis[k * cloud->dimensions + m];
    }
    most = fmax(most, fabs(along));
  }
  return most <= 1e-12 * cloud->reach + 4.0 * cloud->rounding;
}
