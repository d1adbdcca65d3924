/* constants.h: numbers of mathematics and physics that more than one room uses, once, each with its
 * source. SI. Constants of one material or part stand in parts/, tolerances beside what they bound.
 */
#ifndef TRIPWRIGHT_CONSTANTS_H
#define TRIPWRIGHT_CONSTANTS_H

#define TW_PI     3.14159265358979323846
#define TW_TWO_PI 6.28318530717958647693
#define TW_DEGREE (TW_PI / 180) /* rad in one degree of arc */
#define TW_RADIAN (180 / TW_PI) /* degrees of arc in one radian */

/* m/s2, standard acceleration of free fall, exact (3rd CGPM, 1901; ISO 80000-3): what makes a force
 * of a mass, here and wherever weights or scales are used */
#define TW_GRAVITY 9.80665
/* F/m, electric constant (CODATA 2018) */
#define TW_VACUUM_PERMITTIVITY 8.8541878128e-12
#define TW_BOLTZMANN           1.380649e-23    /* J/K, exact in the SI of 2019 */
#define TW_ELEMENTARY_CHARGE   1.602176634e-19 /* C, exact in the SI of 2019 */

#endif
