/* complex_of.h: a complex number from its parts, exactly (re + im I spoils infinities and the sign
 * of zero). C11 has CMPLX for it, which glibc defines for gcc alone; both compilers have the
 * builtin. */
#ifndef TW_CAPTURE_COMPLEX_OF_H
#define TW_CAPTURE_COMPLEX_OF_H

#include <complex.h>

#ifndef CMPLX
#define CMPLX(re, im) __builtin_complex((double)(re), (double)(im))
#endif

#endif
