/* remedy_made.c: values as a workshop can make, buy or set them. */
#include "tripwright/constants.h"
#include "tripwright/study_remedy.h"

#include <math.h>

/* rad */

/* Steps of a length by its size, coarse and fine, in m: a shim or a lapped depth, a dimension that
 * is milled or turned, one that is sawn or printed. Common practice, no source. */
static double length_step(double size, bool fine)
{
  return size < 100e-6  ? (fine ? 1e-6 : 5e-6)
         : size < 1e-3  ? (fine ? 10e-6 : 50e-6)
         : size < 10e-3 ? (fine ? 50e-6 : 100e-6)
                        : (fine ? 100e-6 : 500e-6);
}

/* below 5 deg a whole degree would be a fifth of the value or more */
static double angle_step(double size, bool fine)
{
  const bool small = size < 5 * TW_DEGREE * (1 - 1e-9);
  return small ? (fine ? 0.05 : 0.1) * TW_DEGREE : TW_DEGREE;
}

static double figures_step(double size, int figures)
{
  return pow(10.0, floor(log10(size) + 1e-12) - (figures - 1));
}

static double step_of(tw_made made, double size, bool fine)
{
  switch (made) {
  case TW_MADE_LENGTH:
    return length_step(size, fine);
  case TW_MADE_ANGLE:
    return angle_step(size, fine);
  case TW_MADE_TWO:
    return figures_step(size, fine ? 3 : 2);
  default:
    return figures_step(size, 3);
  }
}

/* a value this near to a step, in shares of it, stands on it */
#define ON_STEP 1e-6

double tw_made_value(const tw_lever *lever, double to, int more, bool fine)
{
  if (lever->choices || to == 0.0 || to == lever->now) {
    return to;
  }
  const double step = step_of(lever->made, fabs(to), fine);
  const bool up = to > lever->now;
  double count = up ? ceil(to / step - ON_STEP) + more : floor(to / step + ON_STEP) - more;
  if (lever->made == TW_MADE_ANY) {
    return fmin(fmax(count * step, lever->least), lever->most);
  }
  if (count * step > lever->most) {
    count = floor(lever->most / step + ON_STEP);
  } else if (count * step < lever->least) {
    count = ceil(lever->least / step - ON_STEP);
  }
  return count * step;
}
