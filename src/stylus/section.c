/* section.c: area and second moment of a round section of the stem. */
#include "inside.h"

#include <math.h>

#define PI 3.14159265358979323846

double stem_area(const tw_stylus_section *s)
{
  return 0.25 * PI * (s->diameter * s->diameter - s->bore * s->bore);
}

double stem_second_moment(const tw_stylus_section *s)
{
  return PI / 64.0 * (pow(s->diameter, 4.0) - pow(s->bore, 4.0));
}
