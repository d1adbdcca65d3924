/* Tramming: worked figures by hand from docs/models/qualify.md 10, and exact made readings. */
#include "near.h"
#include "tripwright/qualify_tip.h"
#include "tripwright/qualify_tram.h"

#include <string.h>

#define DEG (3.14159265358979323846 / 180.0)

static tw_runout four(void)
{
  static const double angle[] = {0, 90 * DEG, 180 * DEG, 270 * DEG};
  static const double reading[] = {32e-6, -11e-6, -48e-6, -5e-6};
  tw_runout r;
  assert_int_equal(tw_runout_of(angle, reading, 4, 0.0, 0.0, 0.95, &r, NULL), TW_OK);
  return r;
}

/* readings 32, -11, -48, -5 um at 0/90/180/270 degrees */
static void worked_example(void **state)
{
  (void)state;
  const tw_runout r = four();
  assert_near(r.mean * 1e6, -8, 1e-9);
  assert_near(r.e[0] * 1e6, 40, 1e-9);
  assert_near(r.e[1] * 1e6, 3, 1e-9);
  assert_printed(r.modulus * 1e6, 40.1123, 1e-4);
  assert_printed(r.azimuth / DEG, 4.289, 1e-3);
  assert_near(r.tir, 2 * r.modulus, 1e-18);
  /* residuals 0 0 0 0 with c = -8: 32 = -8 + 40, -11 = -8 - 3 ... an exact sine */
  assert_true(r.worst < 1e-15);
  const tw_screws axial = {.kind = TW_SCREW_AXIAL,
                           .count = 3,
                           .azimuth = {30 * DEG, 150 * DEG, 270 * DEG},
                           .pitch = 0.5e-3,
                           .radius = 12e-3,
                           .drop = 85e-3};
  tw_turns t;
  assert_int_equal(tw_turns_for(&r, &axial, &t, NULL), TW_OK);
  static const double turns[] = {-.01020, .00936, .00085}, degrees[] = {-3.674, 3.369, .305};
  for (int i = 0; i < 3; i++) {
    assert_printed(t.angle[i] / (360 * DEG), turns[i], 1e-5);
    assert_printed(t.angle[i] / DEG, degrees[i], 1e-3);
    assert_near(t.travel[i], t.angle[i] / (360 * DEG) * 0.5e-3, 1e-15);
  }
  /* a circle of 12 mm: the line through two of three screws is 18 mm from the third. One degree
   * raises it by 0.5/360 mm, and the tip 85 mm below moves by 85/18 of that: 6.559 um */
  assert_rel(t.tip_per_angle * DEG, 0.5e-3 / 360 * 85 / 18, 1e-12);
  const tw_screws radial = {.kind = TW_SCREW_RADIAL,
                            .count = 3,
                            .azimuth = {30 * DEG, 150 * DEG, 270 * DEG},
                            .pitch = 0.5e-3,
                            .ratio = 1};
  assert_int_equal(tw_turns_for(&r, &radial, &t, NULL), TW_OK);
  static const double wanted[] = {26.022, -23.862, -2.160};
  for (int i = 0; i < 3; i++) {
    assert_printed(t.angle[i] / DEG, wanted[i], 1e-3);
  }
  assert_printed(t.tip_per_angle * DEG * 1e6, 1.39, 0.01);
}

/* six exact readings of c = 3, e = (25, -40) um; screws at 0/120/240, rs 14, p 0.35, Lp 90 mm */
static void six_angles(void **state)
{
  (void)state;
  double angle[6], reading[6];
  for (int i = 0; i < 6; i++) {
    angle[i] = i * 60 * DEG;
    reading[i] = 3e-6 + 25e-6 * cos(angle[i]) + 40e-6 * sin(angle[i]);
  }
  tw_runout r;
  assert_int_equal(tw_runout_of(angle, reading, 6, 0.0, 0.0, 0.95, &r, NULL), TW_OK);
  assert_near(r.e[0], 25e-6, 1e-15);
  assert_near(r.e[1], -40e-6, 1e-15);
  const tw_screws s = {.kind = TW_SCREW_AXIAL,
                       .count = 3,
                       .azimuth = {0, 120 * DEG, 240 * DEG},
                       .pitch = 0.35e-3,
                       .radius = 14e-3,
                       .drop = 90e-3};
  tw_turns t;
  assert_int_equal(tw_turns_for(&r, &s, &t, NULL), TW_OK);
  static const double degrees[] = {-4.000, 7.543, -3.543};
  double sum = 0;
  for (int i = 0; i < 3; i++) {
    assert_printed(t.angle[i] / DEG, degrees[i], 1e-3);
    sum += t.angle[i];
  }
  assert_near(sum, 0, 1e-12);
  tw_screws tighten = s;
  tighten.only_tighten = true;
  assert_int_equal(tw_turns_for(&r, &tighten, &t, NULL), TW_OK);
  assert_near(t.angle[0], 0, 1e-12);
  assert_printed((t.angle[1] - t.angle[2]) / DEG, 7.543 + 3.543, 2e-3);
}

/* after the computed turns, the tip runs true: the model turned round */
static void turns_cancel_the_runout(void **state)
{
  (void)state;
  const tw_runout r = four();
  const tw_screws s = {.kind = TW_SCREW_AXIAL,
                       .count = 4,
                       .azimuth = {10 * DEG, 100 * DEG, 190 * DEG, 280 * DEG},
                       .pitch = 0.5e-3,
                       .radius = 12e-3,
                       .drop = 85e-3};
  tw_turns t;
  assert_int_equal(tw_turns_for(&r, &s, &t, NULL), TW_OK);
  double slope[2] = {0, 0};
  for (int i = 0; i < 4; i++) {
    /* least-squares plane through the raised screws: slope = 2/n sum dz u / rs */
    slope[0] += 2.0 / 4 * t.travel[i] / s.radius * cos(s.azimuth[i]);
    slope[1] += 2.0 / 4 * t.travel[i] / s.radius * sin(s.azimuth[i]);
  }
  assert_near(r.e[0] + slope[0] * s.drop, 0, 1e-12);
  assert_near(r.e[1] + slope[1] * s.drop, 0, 1e-12);
}

/* one screw alone, against the plane through three points in space, evenly placed and not */
static void one_screw_of_three(void **state)
{
  (void)state;
  static const double at[][3] = {{30, 150, 270}, {0, 100, 200}, {10, 60, 250}};
  const tw_runout r = four();
  for (int k = 0; k < 3; k++) {
    tw_screws s = {
        .kind = TW_SCREW_AXIAL, .count = 3, .pitch = 0.5e-3, .radius = 12e-3, .drop = 85e-3};
    double p[3][3], most = 0;
    for (int i = 0; i < 3; i++) {
      s.azimuth[i] = at[k][i] * DEG;
    }
    for (int i = 0; i < 3; i++) {
      for (int j = 0; j < 3; j++) {
        p[j][0] = s.radius * cos(s.azimuth[j]);
        p[j][1] = s.radius * sin(s.azimuth[j]);
        p[j][2] = j == i ? s.pitch / 360 : 0;
      }
      double a[3], b[3];
      for (int c = 0; c < 3; c++) {
        a[c] = p[1][c] - p[0][c];
        b[c] = p[2][c] - p[0][c];
      }
      /* normal of the plane; its slope carries the tip */
      const double nx = a[1] * b[2] - a[2] * b[1], ny = a[2] * b[0] - a[0] * b[2],
                   nz = a[0] * b[1] - a[1] * b[0];
      most = fmax(most, s.drop * hypot(nx / nz, ny / nz));
    }
    tw_turns t;
    assert_int_equal(tw_turns_for(&r, &s, &t, NULL), TW_OK);
    assert_rel(t.tip_per_angle * DEG, most, 1e-12);
  }
  /* two of three in the same place leave a line to tip about: refused */
  const tw_screws doubled = {.kind = TW_SCREW_AXIAL,
                             .count = 3,
                             .azimuth = {0, 0, 90 * DEG},
                             .pitch = 0.5e-3,
                             .radius = 12e-3,
                             .drop = 85e-3};
  tw_turns t;
  assert_int_equal(tw_turns_for(&r, &doubled, &t, NULL), TW_BAD_INPUT);
}

static void indicator_elsewhere(void **state)
{
  (void)state;
  double angle[5], reading[5];
  for (int i = 0; i < 5; i++) {
    angle[i] = i * 72 * DEG;
    /* the tip is at R(phi) e; the indicator looks along 90 degrees: its reading is y */
    reading[i] = 10e-6 * sin(angle[i]) + 4e-6 * cos(angle[i]);
  }
  tw_runout r;
  assert_int_equal(tw_runout_of(angle, reading, 5, 90 * DEG, 0.0, 0.95, &r, NULL), TW_OK);
  assert_near(r.e[0], 10e-6, 1e-15);
  assert_near(r.e[1], 4e-6, 1e-15);
}

static void tilt_needs_two_heights(void **state)
{
  (void)state;
  const double angle[] = {0, 90 * DEG, 180 * DEG, 270 * DEG};
  double low[4], high[4];
  for (int i = 0; i < 4; i++) {
    low[i] = 30e-6 * cos(angle[i]) + 0.1e-6 * (i % 2);
    high[i] = 10e-6 * cos(angle[i]) - 5e-6 * sin(angle[i]);
  }
  tw_runout a, b;
  assert_int_equal(tw_runout_of(angle, low, 4, 0, 0.1e-6, 0.95, &a, NULL), TW_OK);
  assert_int_equal(tw_runout_of(angle, high, 4, 0, 0.1e-6, 0.95, &b, NULL), TW_OK);
  tw_tilt t;
  assert_int_equal(tw_tilt_of(&a, &b, 20e-3, 50e-3, 0.95, &t, NULL), TW_OK);
  assert_near(t.tilt[0], 20e-6 / 20e-3, 1e-12);
  assert_near(t.tilt[1], -5e-6 / 20e-3, 1e-12);
  assert_near(t.flange[0], 30e-6 - 50e-6, 1e-12);
  assert_near(t.flange[1], 12.5e-6, 1e-12);
  assert_true(t.real);
  /* u of one component: s sqrt(2/n), of the difference sqrt 2 more, over the height */
  assert_rel(t.u, 0.1e-6 * sqrt(2.0 / 4) * sqrt(2) / 20e-3, 1e-9);
  assert_int_equal(tw_tilt_of(&a, &b, 0, 0, 0.95, &t, NULL), TW_BAD_INPUT);
}

static void refuses_what_cannot_be_told(void **state)
{
  (void)state;
  const double two[] = {0, 180 * DEG, 0, 180 * DEG}, close[] = {0, 3 * DEG, 6 * DEG, 9 * DEG};
  const double three[] = {0, 120 * DEG, 240 * DEG}, y[] = {1e-6, 2e-6, 3e-6, 5e-6};
  tw_runout r;
  tw_fault f;
  assert_int_equal(tw_runout_of(two, y, 4, 0, 0, 0.95, &r, &f), TW_BAD_INPUT);
  assert_non_null(strstr(f.text, "2 different spindle angles"));
  assert_int_equal(tw_runout_of(close, y, 4, 0, 0, 0.95, &r, &f), TW_NO_ANSWER);
  assert_int_equal(tw_runout_of(three, y, 3, 0, 0, 0.95, &r, &f), TW_BAD_INPUT);
  assert_int_equal(tw_runout_of(three, y, 3, 0, 1e-6, 0.95, &r, &f), TW_OK);
  /* u of |e| from the stated 1 um: sqrt(2/3) um; 95 % circle: times sqrt(-2 ln 0.05) */
  assert_rel(r.u_modulus, 1e-6 * sqrt(2.0 / 3), 1e-9);
  assert_rel(r.expanded, 1e-6 * sqrt(2.0 / 3) * sqrt(-2 * log(0.05)), 1e-9);
  assert_false(r.real);
  const tw_screws line = {
      .kind = TW_SCREW_RADIAL, .count = 2, .azimuth = {0, 180 * DEG}, .pitch = 1e-3, .ratio = 1};
  tw_turns t;
  assert_int_equal(tw_turns_for(&r, &line, &t, &f), TW_BAD_INPUT);
  const tw_screws two_axial = {.kind = TW_SCREW_AXIAL,
                               .count = 2,
                               .azimuth = {0, 90 * DEG},
                               .pitch = 1e-3,
                               .radius = 0.01,
                               .drop = 0.1};
  assert_int_equal(tw_turns_for(&r, &two_axial, &t, &f), TW_BAD_INPUT);
}

static void after_lock_and_learned(void **state)
{
  (void)state;
  const tw_runout before = four();
  tw_runout after = before;
  after.e[0] += 6e-6;
  for (int i = 0; i < 3; i++) {
    after.covariance[i] = i == 1 ? 0 : 1e-14; /* u = 0.1 um each way */
  }
  after.dof = (double)INFINITY;
  tw_shift s;
  assert_int_equal(tw_shift_of(&before, &after, 0.95, &s, NULL), TW_OK);
  assert_near(s.modulus, 6e-6, 1e-15);
  assert_near(s.azimuth, 0, 1e-9);
  assert_true(s.real);
  const tw_screws radial = {.kind = TW_SCREW_RADIAL,
                            .count = 4,
                            .azimuth = {0, 90 * DEG, 180 * DEG, 270 * DEG},
                            .pitch = 0.36e-3,
                            .ratio = 1};
  tw_learned l;
  /* driving the screw at 180 degrees 6 degrees inwards moves the tip 6 um towards 0 */
  assert_int_equal(tw_screw_learned(&s, &radial, 2, 6 * DEG, &l, NULL), TW_OK);
  assert_rel(l.ratio, 1.0, 1e-9);
  assert_near(l.across, 0, 1e-12);
  after.e[0] = before.e[0] + 0.01e-6;
  assert_int_equal(tw_shift_of(&before, &after, 0.95, &s, NULL), TW_OK);
  assert_false(s.real);
  assert_int_equal(tw_screw_learned(&s, &radial, 2, 6 * DEG, &l, NULL), TW_NO_ANSWER);
}

static void stylus_offset(void **state)
{
  (void)state;
  double angle[4], centre[8];
  for (int i = 0; i < 4; i++) {
    angle[i] = i * 90 * DEG;
    centre[2 * i] = 0.1 + 12e-6 * cos(angle[i]) - 5e-6 * sin(angle[i]);
    centre[2 * i + 1] = -0.2 + 12e-6 * sin(angle[i]) + 5e-6 * cos(angle[i]);
  }
  tw_offset o;
  assert_int_equal(tw_offset_of(angle, centre, 4, 0, &o, NULL), TW_OK);
  assert_near(o.offset[0], 12e-6, 1e-15);
  assert_near(o.offset[1], 5e-6, 1e-15);
  assert_near(o.tir, 26e-6, 1e-14);
  /* two angles: (c0 - c180)/2 */
  const double half[] = {0, 180 * DEG}, c2[] = {centre[0], centre[1], centre[4], centre[5]};
  assert_int_equal(tw_offset_of(half, c2, 2, 0.4e-6, &o, NULL), TW_OK);
  assert_near(o.offset[0], (c2[0] - c2[2]) / 2, 1e-15);
  assert_rel(o.u, 0.4e-6 / sqrt(2), 1e-6);
  assert_int_equal(tw_offset_of(half, c2, 2, 0, &o, NULL), TW_BAD_INPUT);
  assert_int_equal(tw_offset_of(half, c2, 1, 1e-6, &o, NULL), TW_BAD_INPUT);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(worked_example),
      cmocka_unit_test(six_angles),
      cmocka_unit_test(turns_cancel_the_runout),
      cmocka_unit_test(one_screw_of_three),
      cmocka_unit_test(indicator_elsewhere),
      cmocka_unit_test(tilt_needs_two_heights),
      cmocka_unit_test(refuses_what_cannot_be_told),
      cmocka_unit_test(after_lock_and_learned),
      cmocka_unit_test(stylus_offset),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
