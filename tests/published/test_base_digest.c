/* SHA-256 and the canonical text of a value, against published figures. */
#include "near.h"
#include "tripwright/digest.h"

#include <float.h>
#include <stdlib.h>
#include <string.h>

/* FIPS 180-4 examples, as NIST publishes them (SHA256.pdf): "abc" and the 448-bit text; the empty
 * text and the million of a are in the same collection */
static void test_sha256(void **state)
{
  (void)state;
  static char million[1000000];
  char sum[TW_SHA256_TEXT];
  memset(million, 'a', sizeof million);
  const struct {
    const char *text, *sum;
    size_t size;
  } rows[] = {
      {"abc", "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad", 3},
      {"", "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855", 0},
      {"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq",
       "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1", 56},
      {million, "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0", 1000000},
  };
  for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
    tw_sha256(rows[i].text, rows[i].size, sum);
    assert_string_equal(sum, rows[i].sum);
    assert_true(tw_is_sha256(sum));
  }
  assert_false(tw_is_sha256("abc"));
  assert_false(tw_is_sha256("BA7816BF8F01CFEA414140DE5DAE2223B00361A396177A9CB410FF61F20015AD"));
}

static char *canonical_of(const char *text)
{
  char *out = NULL;
  json_t *value = json_loads(text, JSON_DECODE_ANY, NULL);
  assert_non_null(value);
  assert_int_equal(tw_canonical(value, &out, NULL), TW_OK);
  json_decref(value);
  return out;
}

static void assert_canonical(const char *text, const char *wanted)
{
  char *out = canonical_of(text);
  assert_string_equal(out, wanted);
  tw_free(out);
}

/* case D01 of tests/data/batch_cases.json, there computed with Python's json and hashlib */
static void test_case_d01(void **state)
{
  (void)state;
  json_t *cases = json_load_file(TW_SOURCE_DIR "/tests/data/batch_cases.json", 0, NULL), *one;
  size_t i, seen = 0;
  json_array_foreach(json_object_get(cases, "cases"), i, one)
  {
    if (strcmp(json_string_value(json_object_get(one, "id")), "D01") == 0) {
      const json_t *wanted = json_object_get(one, "outputs");
      char id[TW_SHA256_TEXT], *text = NULL;
      assert_int_equal(tw_canonical_sha256(json_object_get(one, "inputs"), id, &text, NULL), TW_OK);
      assert_string_equal(text, json_string_value(json_object_get(wanted, "canonical")));
      assert_string_equal(id, json_string_value(json_object_get(wanted, "sha256")));
      tw_free(text);
      seen++;
    }
  }
  json_decref(cases);
  assert_int_equal(seen, 1);
}

/* numbers of RFC 8785 appendix B that lie where both forms agree, and the difference from 1e15 on
 */
static void test_numbers(void **state)
{
  (void)state;
  assert_canonical("0.0", "0");
  assert_canonical("-0.0", "0");
  assert_canonical("20.0", "20");
  assert_canonical("5e-324", "5e-324");
  assert_canonical("-1.7976931348623157e308", "-1.7976931348623157e+308");
  assert_canonical("333333333.33333329", "333333333.3333333");
  assert_canonical("0.000001", "0.000001");
  assert_canonical("1e-7", "1e-7");
  assert_canonical("4.5", "4.5");
  assert_canonical("2e-3", "0.002");
  assert_canonical("1e14", "100000000000000");
  assert_canonical("1e15", "1e+15");
  assert_canonical("1.2345e15", "1.2345e+15");
  assert_canonical("[1, 1.50, -3, true, null]", "[1,1.5,-3,true,null]");
  assert_canonical("{\"b\": 1, \"a\": {\"d\": \"\\u0001\\n/\\\"\", \"c\": []}}",
                   "{\"a\":{\"c\":[],\"d\":\"\\u0001\\n/\\\"\"},\"b\":1}");
}

/* the text of any double gives it back, and is its own canonical text */
static void test_round_trip(void **state)
{
  (void)state;
  uint64_t bits = 88172645463325252u; /* xorshift64, Marsaglia 2003 */
  for (int i = 0; i < 20000; i++) {
    double x, back;
    bits ^= bits << 13, bits ^= bits >> 7, bits ^= bits << 17;
    memcpy(&x, &bits, sizeof x);
    if (!isfinite(x)) {
      continue;
    }
    x = i % 2 ? x : (double)(int64_t)bits * 1e-13;
    json_t *value = json_real(x);
    char *text = NULL;
    assert_int_equal(tw_canonical(value, &text, NULL), TW_OK);
    back = strtod(text, NULL);
    assert_memory_equal(&back, &x, sizeof x);
    char *again = canonical_of(text);
    assert_string_equal(again, text);
    tw_free(again);
    tw_free(text);
    json_decref(value);
  }
}

static void test_too_deep(void **state)
{
  (void)state;
  json_t *value = json_array();
  for (int i = 0; i < 200; i++) {
    json_t *outer = json_array();
    json_array_append_new(outer, value);
    value = outer;
  }
  char *text = NULL;
  tw_fault fault = {0};
  assert_int_equal(tw_canonical(value, &text, &fault), TW_BAD_INPUT);
  assert_null(text);
  json_decref(value);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_sha256),   cmocka_unit_test(test_case_d01),
      cmocka_unit_test(test_numbers),  cmocka_unit_test(test_round_trip),
      cmocka_unit_test(test_too_deep),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
