/* Units and quantities: reading, refusing, printing back. */
#include "four_threads.h"
#include "near.h"
#include "tripwright/units.h"

#include <string.h>

static tw_units *units;

static int open_units(void **state)
{
  (void)state;
  return tw_units_new(&units, NULL) == TW_OK ? 0 : -1;
}

static int close_units(void **state)
{
  (void)state;
  tw_units_free(units);
  return 0;
}

static tw_unit unit(const char *name)
{
  tw_unit u;
  tw_fault fault = {0};
  if (tw_units_find(units, name, &u, &fault) != TW_OK) {
    fail_msg("%s: %s", name, fault.text);
  }
  return u;
}

static void read_well(const char *text, const char *kind, double number, double minus, double plus,
                      tw_spread spread)
{
  const tw_unit u = unit(kind);
  tw_quantity q;
  tw_fault fault = {0};
  if (tw_quantity_read(units, text, &u, &q, NULL, &fault) != TW_OK) {
    fail_msg("%s: %s", text, fault.text);
  }
  assert_rel(q.number, number, 4e-16);
  assert_rel(q.tolerance.minus, minus, 4e-16);
  assert_rel(q.tolerance.plus, plus, 4e-16);
  assert_int_equal(q.tolerance.spread, spread);
}

static void reads_values_and_tolerances(void **state)
{
  (void)state;
  read_well("20 um", "mm", 20e-6, 0, 0, TW_SPREAD_NORMAL);
  read_well("20um", "mm", 20e-6, 0, 0, TW_SPREAD_NORMAL);
  read_well("20 um +15 um/-0 normal", "um", 20e-6, 0, 15e-6, TW_SPREAD_NORMAL);
  read_well("20 um +15/-5 uniform", "um", 20e-6, 5e-6, 15e-6, TW_SPREAD_UNIFORM);
  read_well("20 um -5 um/+15 um", "um", 20e-6, 5e-6, 15e-6, TW_SPREAD_NORMAL);
  read_well("9.3 mm ± 0.05", "um", 9.3e-3, 0.05e-3, 0.05e-3, TW_SPREAD_NORMAL);
  read_well("9.3 mm ± 50 um triangular", "um", 9.3e-3, 50e-6, 50e-6, TW_SPREAD_TRIANGULAR);
  read_well("0.4 N +- 10 %", "N", 0.4, 0.04, 0.04, TW_SPREAD_NORMAL);
  read_well("0.15 +/- 0.05", "1", 0.15, 0.05, 0.05, TW_SPREAD_NORMAL);
  read_well("20 %", "1", 0.2, 0, 0, TW_SPREAD_NORMAL);
  read_well("20 degC ± 2 K", "degC", 293.15, 2, 2, TW_SPREAD_NORMAL);
  read_well("20 degC ± 2", "degC", 293.15, 2, 2, TW_SPREAD_NORMAL);
  read_well("-5.74 TPa-1", "TPa-1", -5.74e-12, 0, 0, TW_SPREAD_NORMAL);
  read_well("1e3 mm", "m", 1, 0, 0, TW_SPREAD_NORMAL);
  read_well(".5 mm", "m", 0.5e-3, 0, 0, TW_SPREAD_NORMAL);
}

static void reads_the_trades_units(void **state)
{
  (void)state;
  read_well("1 thou", "um", 25.4e-6, 0, 0, TW_SPREAD_NORMAL);
  read_well("0.5 inch", "mm", 12.7e-3, 0, 0, TW_SPREAD_NORMAL);
  read_well("180 deg", "deg", 3.14159265358979323846, 0, 0, TW_SPREAD_NORMAL);
  read_well("10 gf", "N", 0.0980665, 0, 0, TW_SPREAD_NORMAL);
  read_well("60 mm/min", "mm/min", 1e-3, 0, 0, TW_SPREAD_NORMAL);
  read_well("15 nV/sqrt(Hz)", "nV/rtHz", 15e-9, 0, 0, TW_SPREAD_NORMAL);
  read_well("220 mAh", "C", 792, 0, 0, TW_SPREAD_NORMAL);
  read_well("20 um/(m K)", "1/K", 20e-6, 0, 0, TW_SPREAD_NORMAL);
  read_well("1000 GPa/m", "Pa/m", 1e12, 0, 0, TW_SPREAD_NORMAL);
  read_well("0.1 (m/s2)2/Hz", "m2.s-3", 0.1, 0, 0, TW_SPREAD_NORMAL);
}

static void reads_resistor_values(void **state)
{
  (void)state;
  read_well("4k7", "kohm", 4700, 0, 0, TW_SPREAD_NORMAL);
  read_well("10M", "kohm", 10e6, 0, 0, TW_SPREAD_NORMAL);
  read_well("1M0", "kohm", 1e6, 0, 0, TW_SPREAD_NORMAL);
  read_well("2.2M", "kohm", 2.2e6, 0, 0, TW_SPREAD_NORMAL);
  read_well("470R", "kohm", 470, 0, 0, TW_SPREAD_NORMAL);
  read_well("0R47", "kohm", 0.47, 0, 0, TW_SPREAD_NORMAL);
  read_well("4k7 ± 1 %", "kohm", 4700, 47, 47, TW_SPREAD_NORMAL);
  read_well("4k7 ohm", "kohm", 4700, 0, 0, TW_SPREAD_NORMAL);
  read_well("10 mohm", "kohm", 0.01, 0, 0, TW_SPREAD_NORMAL);
  read_well("10 Mohm", "kohm", 10e6, 0, 0, TW_SPREAD_NORMAL);
  read_well("4.7 kΩ", "kohm", 4700, 0, 0, TW_SPREAD_NORMAL);
}

static void refuses_with_cause_and_cure(void **state)
{
  (void)state;
  static const struct {
    const char *text, *kind, *cause, *hint;
    size_t at;
  } bad[] = {
      {"", "mm", "a number is missing", "", 0},
      {"wide", "mm", "'wide' is no number", "a number comes first, then its unit: 9.3 mm", 0},
      {"9,3 mm", "mm", "a comma inside a number", "write a decimal point: 9.3", 1},
      {"9.3", "mm", "the unit is missing", "write for instance 9.3 mm", 3},
      {"9.3 furlongses", "mm", "'furlongses' is no unit that is known",
       "write for instance mm, um, N, kohm, nF or deg", 4},
      {"9.3 N", "mm", "'N' does not fit: a quantity like mm is needed", "write it in mm", 4},
      {"100 g", "N", "'g' does not fit: a quantity like N is needed",
       "g is a mass: write 0.981 N, or 100 gf for its weight", 4},
      {"0.4 N ± 3 g", "N", "'g' does not fit: a quantity like N is needed",
       "g is a mass: write 0.0294 N, or 3 gf for its weight", 11},
      {"2 grams", "N", "'grams' does not fit: a quantity like N is needed",
       "grams is a mass: write 0.0196 N", 2},
      {"12 gf", "g", "'gf' does not fit: a quantity like g is needed",
       "gf is a force: write the mass that pushes so hard, 12 g", 3},
      {"3 g", "mm", "'g' does not fit: a quantity like mm is needed", "write it in mm", 2},
      {"3 s", "Hz", "'s' does not fit: a quantity like Hz is needed",
       "s is the reciprocal kind; write it in Hz", 2},
      {"3 mm", "1", "'mm' does not fit: a plain number is needed", "leave the unit out", 2},
      {"10m", "kohm", "'m' does not fit: a quantity like kohm is needed",
       "m is metre or milli; mega is M: write 10M or 10 Mohm", 2},
      {"10 M", "kohm", "'M' is no unit that is known",
       "write for instance 4k7, 10M, 470 ohm, 4.7 kohm", 3},
      {"1e999 mm", "mm", "the number is too large", "", 0},
      {"nan mm", "mm", "'nan mm' is no number", "a number comes first, then its unit: 9.3 mm", 0},
      {"inf", "1", "'inf' is no number", "a number comes first, then its unit: 9.3 mm", 0},
      {"0x10 mm", "mm", "'x10 mm' is no unit that is known",
       "write for instance mm, um, N, kohm, nF or deg", 1},
      {"9 mm +1", "mm", "the second limit is missing",
       "write both limits, +20 um/-0, or one for both, ± 20 um", 7},
      {"9 mm +1/1", "mm", "'/1' is no unit that is known",
       "write for instance mm, um, N, kohm, nF or deg", 7},
      {"9 mm +1/+1", "mm", "the second limit needs the other sign", "write +20 um/-5 um", 8},
      {"9 mm +5/-5 um", "mm", "the unit of the first limit is not clear",
       "write the unit at both limits: +20 um/-5 um", 6},
      {"9 mm ± -1 mm", "mm", "a tolerance is not negative", "", 8},
      {"9 mm ± 1 mm gauss", "mm", "'mm gauss' does not fit: a quantity like mm is needed",
       "write it in mm", 10},
      {"9 mm normal", "mm", "'normal' without a tolerance", "write for instance ± 0.1 mm before it",
       5},
      {"9 mm ± 1 mm normal often", "mm", "'often' was not expected here",
       "value, unit, tolerance, then normal, uniform or triangular", 20},
      {"30", "deg", "the unit is missing", "write for instance 30 deg", 2},
  };
  for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
    const tw_unit u = unit(bad[i].kind);
    tw_quantity q;
    tw_fault fault = {0};
    size_t at = 99;
    const tw_status status = tw_quantity_read(units, bad[i].text, &u, &q, &at, &fault);
    if (status != TW_BAD_INPUT || strcmp(fault.text, bad[i].cause) != 0 ||
        strcmp(fault.hint, bad[i].hint) != 0 || at != bad[i].at) {
      fail_msg("'%s': status %d, '%s', hint '%s', at %zu", bad[i].text, (int)status, fault.text,
               fault.hint, at);
    }
  }
}

/* BIPM, SI brochure, 9th edition, and ISO 80000-3: 9.80665 m/s2; 100 gf are 0.980665 N */
static void weights_and_forces_stand_side_by_side(void **state)
{
  (void)state;
  char text[32];
  double beside;
  read_well("100 gf", "N", 0.980665, 0, 0, TW_SPREAD_NORMAL);
  assert_true(tw_weight_beside(0.1, "kg", &beside, text, sizeof text));
  assert_rel(beside, 0.980665, 1e-15);
  assert_string_equal(text, "0.981 N");
  assert_true(tw_weight_beside(0.980665, "N", &beside, text, sizeof text));
  assert_rel(beside, 0.1, 1e-15);
  assert_string_equal(text, "100 g");
  assert_true(tw_weight_beside(11.5, "N", &beside, text, sizeof text));
  assert_string_equal(text, "1.17 kg");
  assert_false(tw_weight_beside(11.5, "V", &beside, text, sizeof text));
  assert_false(tw_weight_beside((double)NAN, "N", &beside, text, sizeof text));
  assert_string_equal(text, "");
}

/* decimal prefixes move the exponent of the text: the number is the one a C literal gives */
static void decimal_units_round_once(void **state)
{
  (void)state;
  const tw_unit mm = unit("mm"), um = unit("um"), pf = unit("pF");
  tw_quantity q;
  assert_int_equal(tw_quantity_read(units, "0.15 mm", &mm, &q, NULL, NULL), TW_OK);
  assert_true(q.number == 0.15e-3);
  assert_int_equal(tw_quantity_read(units, "9.3 um", &um, &q, NULL, NULL), TW_OK);
  assert_true(q.number == 9.3e-6);
  assert_int_equal(tw_quantity_read(units, "0.1e2 pF", &pf, &q, NULL, NULL), TW_OK);
  assert_true(q.number == 10e-12);
}

static void prints_what_reads_back(void **state)
{
  (void)state;
  static const struct {
    const char *text, *kind, *shown;
  } row[] = {
      {"9.3 mm ± 50 um", "mm", "9.3 mm ± 0.05 mm"},
      {"60 um +20 um/-0 uniform", "um", "60 um +20 um/-0 um uniform"},
      {"0.15 ± 0.05", "1", "0.15 ± 0.05"},
      {"4k7", "kohm", "4.7 kohm"},
      {"20 degC", "degC", "20 degC"},
      {"0.1 lbf", "N", "0.44482216152605 N"},
  };
  for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
    const tw_unit u = unit(row[i].kind);
    tw_quantity q, back;
    char text[128];
    assert_int_equal(tw_quantity_read(units, row[i].text, &u, &q, NULL, NULL), TW_OK);
    tw_quantity_print(&q, &u, 0, text, sizeof text);
    assert_string_equal(text, row[i].shown);
    assert_int_equal(tw_quantity_read(units, text, &u, &back, NULL, NULL), TW_OK);
    assert_true(back.number == q.number);
  }
}

static void shows_inch_units(void **state)
{
  (void)state;
  tw_unit mm = unit("mm"), volt = unit("V"), shown;
  char text[64];
  tw_unit_shown(units, &mm, TW_INCH, &shown);
  tw_number_print(12.7e-3, &shown, 6, text, sizeof text);
  assert_string_equal(text, "0.5 inch");
  tw_unit_shown(units, &volt, TW_INCH, &shown);
  assert_string_equal(shown.name, "V");
  tw_unit_shown(units, &mm, TW_METRIC, &shown);
  assert_string_equal(shown.name, "mm");
}

static void *read_often(void *argument)
{
  long *wrong = argument;
  static const char *const text[] = {"1 mm", "1 inch", "3 N/um", "2 m2.s-3", "4 kg/m3", "1 lbf"};
  static const char *const kind[] = {"m", "m", "N/m", "m2/s3", "kg/m3", "N"};
  for (int i = 0; i < 3000; i++) {
    const int k = i % 6;
    tw_unit u;
    tw_quantity q;
    *wrong += tw_units_find(units, kind[k], &u, NULL) != TW_OK ||
              tw_quantity_read(units, text[k], &u, &q, NULL, NULL) != TW_OK || !(q.number > 0);
  }
  return NULL;
}

static void several_threads_share_one_system(void **state)
{
  (void)state;
  on_four_threads(read_often);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(reads_values_and_tolerances),
      cmocka_unit_test(reads_the_trades_units),
      cmocka_unit_test(reads_resistor_values),
      cmocka_unit_test(refuses_with_cause_and_cure),
      cmocka_unit_test(weights_and_forces_stand_side_by_side),
      cmocka_unit_test(decimal_units_round_once),
      cmocka_unit_test(prints_what_reads_back),
      cmocka_unit_test(shows_inch_units),
      cmocka_unit_test(several_threads_share_one_system),
  };
  return cmocka_run_group_tests(tests, open_units, close_units);
}
