/* section.c: area and second moment of a round section of the stem. */
#include "inside.h"
#include "tripwright/constants.h"

#include <math.h>

double tw_stylus_area(const tw_stylus_section *s)
{
  return 0.25 * TW_PI * (s->diameter * s->diameter - s->bore * s->bore);
}

double tw_stylus_second_moment(const tw_stylus_section *s)
{
  return TW_PI / 64.0 * (pow(s->diameter, 4.0) - pow(s->bore, 4.0));
}
