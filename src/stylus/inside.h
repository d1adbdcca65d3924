/* inside.h: private to the stylus room. */
#ifndef TW_STYLUS_INSIDE_H
#define TW_STYLUS_INSIDE_H

#include "tripwright/stylus.h"

double tw_stylus_area(const tw_stylus_section *s);          /* m2 */
double tw_stylus_second_moment(const tw_stylus_section *s); /* m4 */
/* first bending mode, Hz, root clamped, ball as a point mass at its centre */
tw_status tw_stylus_first_mode(const tw_stylus_spec *spec, double ball_mass, double *hertz,
                               tw_fault *fault);

#endif
