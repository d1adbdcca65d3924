/* iso.c: standard tolerances of ISO 286-1. */
#include "tripwright/batch_allot.h"

#include <math.h>

enum { STEPS = 13, IT_LEAST = 5, IT_MOST = 16 };

/* upper ends of the steps, mm: over the one before up to and including this one */
static const double upto[STEPS] = {3, 6, 10, 18, 30, 50, 80, 120, 180, 250, 315, 400, 500};
/* units i of the grades IT5 .. IT16 */
static const double units_of[] = {7, 10, 16, 25, 40, 64, 100, 160, 250, 400, 640, 1000};

/* um; rows are the steps, columns IT5 .. IT16 (ISO 286-1, table of standard tolerances; source in
 * docs/models/batch.md 3) */
static const int zone_um[STEPS][IT_MOST - IT_LEAST + 1] = {
    {4, 6, 10, 14, 25, 40, 60, 100, 140, 250, 400, 600},
    {5, 8, 12, 18, 30, 48, 75, 120, 180, 300, 480, 750},
    {6, 9, 15, 22, 36, 58, 90, 150, 220, 360, 580, 900},
    {8, 11, 18, 27, 43, 70, 110, 180, 270, 430, 700, 1100},
    {9, 13, 21, 33, 52, 84, 130, 210, 330, 520, 840, 1300},
    {11, 16, 25, 39, 62, 100, 160, 250, 390, 620, 1000, 1600},
    {13, 19, 30, 46, 74, 120, 190, 300, 460, 740, 1200, 1900},
    {15, 22, 35, 54, 87, 140, 220, 350, 540, 870, 1400, 2200},
    {18, 25, 40, 63, 100, 160, 250, 400, 630, 1000, 1600, 2500},
    {20, 29, 46, 72, 115, 185, 290, 460, 720, 1150, 1850, 2900},
    {23, 32, 52, 81, 130, 210, 320, 520, 810, 1300, 2100, 3200},
    {25, 36, 57, 89, 140, 230, 360, 570, 890, 1400, 2300, 3600},
    {27, 40, 63, 97, 155, 250, 400, 630, 970, 1550, 2500, 4000},
};

/* a size on the end of a step belongs to it: room for the rounding of mm to m and back, relative */
#define END_ROUNDING 1e-9

static int step_of(double size)
{
  const double mm = 1e3 * size;
  for (int k = 0; k < STEPS && mm > 0; k++) {
    if (mm <= upto[k] * (1 + END_ROUNDING)) {
      return k;
    }
  }
  return -1;
}

double tw_iso_unit_um(double size)
{
  const int k = step_of(size);
  if (k < 0) {
    return 0;
  }
  const double d = sqrt(upto[k] * (k ? upto[k - 1] : 1)); /* the first step counts from 1 mm */
  return 0.45 * cbrt(d) + 0.001 * d;
}

double tw_iso_formula_um(double size, int grade)
{
  return grade >= IT_LEAST && grade <= IT_MOST ? units_of[grade - IT_LEAST] * tw_iso_unit_um(size)
                                               : 0;
}

double tw_iso_zone(double size, int grade)
{
  const int k = step_of(size);
  return k >= 0 && grade >= IT_LEAST && grade <= IT_MOST ? 1e-6 * zone_um[k][grade - IT_LEAST] : 0;
}
