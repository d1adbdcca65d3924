/* shape.h: the functions that the ring elements are made of, on 0 <= x <= 1 of an element of
 * length h, and the five Gauss points there. */
#ifndef TW_DISC_SHAPE_H
#define TW_DISC_SHAPE_H

#include <stddef.h>

#define TW_GAUSS 5

static const double TW_GAUSS_X[TW_GAUSS] = {0.04691007703066800360, 0.23076534494715845448, 0.5,
                                            0.76923465505284154552, 0.95308992296933199640};
static const double TW_GAUSS_W[TW_GAUSS] = {0.11846344252809454376, 0.23931433524968323402,
                                            0.28444444444444444444, 0.23931433524968323402,
                                            0.11846344252809454376};

/* cubic: w and w' at both ends; first and second derivatives where asked for */
static inline void tw_cubic(double x, double h, double w[4], double dw[4], double ddw[4])
{
  w[0] = 1.0 - 3.0 * x * x + 2.0 * x * x * x;
  w[1] = h * x * (1.0 - x) * (1.0 - x);
  w[2] = x * x * (3.0 - 2.0 * x);
  w[3] = h * x * x * (x - 1.0);
  if (dw != NULL) {
    dw[0] = (-6.0 * x + 6.0 * x * x) / h;
    dw[1] = 1.0 - 4.0 * x + 3.0 * x * x;
    dw[2] = -dw[0];
    dw[3] = x * (3.0 * x - 2.0);
  }
  if (ddw != NULL) {
    ddw[0] = (-6.0 + 12.0 * x) / (h * h);
    ddw[1] = (-4.0 + 6.0 * x) / h;
    ddw[2] = -ddw[0];
    ddw[3] = (6.0 * x - 2.0) / h;
  }
}

/* quadratic: ends and middle in the order first, middle, last */
static inline void tw_quadratic(double x, double h, double q[3], double dq[3])
{
  q[0] = (1.0 - x) * (1.0 - 2.0 * x);
  q[1] = 4.0 * x * (1.0 - x);
  q[2] = x * (2.0 * x - 1.0);
  if (dq != NULL) {
    dq[0] = (4.0 * x - 3.0) / h;
    dq[1] = (4.0 - 8.0 * x) / h;
    dq[2] = (4.0 * x - 1.0) / h;
  }
}

#endif
