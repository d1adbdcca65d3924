/* Philox 4x32-10 known answers, and the moments of every distribution.
 * Known answers: Salmon et al., SC 2011, the reference vectors that go with the paper (three of
 * them, from memory). */
#include "near.h"
#include "tripwright/random.h"

static void known_answers(void **state)
{
  (void)state;
  static const struct {
    uint32_t counter[4], key[2], answer[4];
  } cases[] = {
      {{0, 0, 0, 0}, {0, 0}, {0x6627e8d5, 0xe169c58d, 0xbc57ac4c, 0x9b00dbd8}},
      {{0xffffffff, 0xffffffff, 0xffffffff, 0xffffffff},
       {0xffffffff, 0xffffffff},
       {0x408f276d, 0x41c83b0e, 0xa20bc7c6, 0x6d5451fd}},
      {{0x243f6a88, 0x85a308d3, 0x13198a2e, 0x03707344},
       {0xa4093822, 0x299f31d0},
       {0xd16cfe09, 0x94fdcceb, 0x5001e420, 0x24126ea1}},
  };
  for (size_t c = 0; c < sizeof cases / sizeof cases[0]; c++) {
    tw_random r;
    tw_random_start(&r, (uint64_t)cases[c].key[1] << 32 | cases[c].key[0],
                    (uint64_t)cases[c].counter[3] << 32 | cases[c].counter[2]);
    r.counter[0] = cases[c].counter[0];
    r.counter[1] = cases[c].counter[1];
    for (int i = 0; i < 4; i++) {
      assert_int_equal(tw_random_word(&r), cases[c].answer[i]);
    }
  }
}

static void streams_do_not_depend_on_each_other(void **state)
{
  (void)state;
  tw_random a, b, c;
  tw_random_start(&a, 7, 3);
  tw_random_start(&b, 7, 3);
  tw_random_start(&c, 7, 4);
  int same = 0;
  for (int i = 0; i < 100; i++) {
    const uint64_t bits = tw_random_bits(&a);
    assert_true(bits == tw_random_bits(&b));
    same += bits == tw_random_bits(&c);
  }
  assert_int_equal(same, 0);
}

typedef double draw(tw_random *random);

static double gamma_small(tw_random *r)
{
  return tw_random_gamma(r, 0.7);
}

static double gamma_large(tw_random *r)
{
  return tw_random_gamma(r, 4.5);
}

static double student_nine(tw_random *r)
{
  return tw_random_student(r, 9.0);
}

/* mean and variance from 200,000 draws within five of their own standard deviations */
static void moments(void **state)
{
  (void)state;
  static const struct {
    draw *from;
    double mean, variance, kurtosis; /* kurtosis = fourth central moment / variance^2 */
  } cases[] = {
      {tw_random_uniform, 0.5, 1.0 / 12.0, 1.8},   {tw_random_normal, 0.0, 1.0, 3.0},
      {tw_random_triangular, 0.0, 1.0 / 6.0, 2.4}, {tw_random_arcsine, 0.0, 0.5, 1.5},
      {tw_random_exponential, 1.0, 1.0, 9.0},      {gamma_small, 0.7, 0.7, 3.0 + 6.0 / 0.7},
      {gamma_large, 4.5, 4.5, 3.0 + 6.0 / 4.5},    {student_nine, 0.0, 9.0 / 7.0, 3.0 + 6.0 / 5.0},
  };
  const int n = 200000;
  for (size_t c = 0; c < sizeof cases / sizeof cases[0]; c++) {
    tw_random r;
    tw_random_start(&r, 20, c);
    double sum = 0.0, square = 0.0;
    for (int i = 0; i < n; i++) {
      const double x = cases[c].from(&r) - cases[c].mean;
      sum += x;
      square += x * x;
    }
    const double v = cases[c].variance;
    assert_near(sum / n, 0.0, 5.0 * sqrt(v / n));
    assert_near(square / n, v, 5.0 * v * sqrt((cases[c].kurtosis - 1.0) / n));
  }
}

static void below_is_even(void **state)
{
  (void)state;
  tw_random r;
  tw_random_start(&r, 5, 5);
  int count[7] = {0};
  for (int i = 0; i < 70000; i++) {
    count[tw_random_below(&r, 7)]++;
  }
  for (int i = 0; i < 7; i++) {
    assert_near(count[i], 10000, 5.0 * sqrt(10000.0 * 6.0 / 7.0));
  }
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(known_answers),
      cmocka_unit_test(streams_do_not_depend_on_each_other),
      cmocka_unit_test(moments),
      cmocka_unit_test(below_is_even),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
