/* The limits of the guessed stiffnesses of socket and seats against Hertz's laws (K. L. Johnson,
 * Contact Mechanics, sections 4.2 and 5.6, from memory; docs/models/seat.md 3). */
#include "design_fixture.h"
#include "tripwright/constants.h"

#include <math.h>

/* limits of a default, N/m */
static void limits_of(tw_field field, double *low, double *middle, double *high)
{
  const tw_field_info *about = tw_field_of(field);
  tw_quantity q;
  tw_fault why = {0};
  tw_unit unit;
  assert_int_equal(tw_units_find(units, about->unit, &unit, &why), TW_OK);
  assert_int_equal(tw_quantity_read(units, about->fallback, &unit, &q, NULL, &why), TW_OK);
  *low = q.number - q.tolerance.minus;
  *middle = q.number;
  *high = q.number + q.tolerance.plus;
}

/* ball of radius R (m) on a plane face, tangent at a load F (N), both of steel */
static double ball_on_steel(double R, double F)
{
  const double modulus = 210e9 / (1 - 0.3 * 0.3) / 2;
  return cbrt(6 * modulus * modulus * R * F);
}

/* ball in a cone of 45 deg, secant along the axis, touching on `share` of the circle */
static double ball_in_cone(double R, double F, double modulus, double share)
{
  const double psi = TW_PI / 4;
  const double w = F / (2 * TW_PI * R * sin(psi) * cos(psi) * share);
  const double b = sqrt(4 * w * R / (TW_PI * modulus));
  return F / (w / (TW_PI * modulus) * (2 * log(4 * R / b) - 1) / cos(psi));
}

static void steel_contacts(void **state)
{
  (void)state;
  double low, middle, high;
  limits_of(TW_F_seat_contact_stiffness, &low, &middle, &high);
  print_message("1 mm at 0.2 N: %.2f, 3 mm at 2 N: %.2f N/um; guess %.2f to %.2f\n",
                1e-6 * ball_on_steel(1e-3, 0.2), 1e-6 * ball_on_steel(3e-3, 2), 1e-6 * low,
                1e-6 * high);
  assert_rel(low, ball_on_steel(1e-3, 0.2), 0.1);
  assert_rel(high, ball_on_steel(3e-3, 2), 0.1);
  assert_true(ball_on_steel(1e-3, 0.3) < middle && middle < ball_on_steel(3e-3, 1));
}

static void resin_socket(void **state)
{
  (void)state;
  double low, middle, high;
  limits_of(TW_F_seat_socket_stiffness, &low, &middle, &high);
  const double whole = ball_in_cone(6e-3, 1, 3.2e9, 1),
               third = ball_in_cone(6e-3, 1, 1.1e9, 1 / 3.);
  print_message("whole circle, hard: %.2f; a third, soft: %.2f N/um; guess %.2f to %.2f\n",
                1e-6 * whole, 1e-6 * third, 1e-6 * low, 1e-6 * high);
  assert_rel(high, whole, 0.1);
  assert_rel(low, third, 0.25);
  assert_true(third < middle && middle < whole);
}

int main(void)
{
  const struct CMUnitTest tests[] = {cmocka_unit_test(steel_contacts),
                                     cmocka_unit_test(resin_socket)};
  return cmocka_run_group_tests(tests, open_all, close_all);
}
