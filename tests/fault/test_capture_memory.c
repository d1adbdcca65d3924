/* The n-th allocation fails, for every n, while a recording is read and evaluated: nothing leaks
 * (run under the sanitizers), nothing crashes, and the status says so. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
/* cmocka needs the above */
#include "tripwright/capture.h"

#include <cmocka.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

static char csv[40000], wav[3000];
static size_t csv_size, wav_size;

static tw_status work(const void *bytes, size_t size, tw_capture_act act)
{
  tw_messages *m = tw_messages_new();
  if (!m) {
    return TW_NO_MEMORY;
  }
  tw_capture_record *record = NULL;
  tw_capture_result *result = NULL;
  tw_capture_setup s;
  tw_capture_setup_start(&s);
  s.act = act;
  s.bias_resistance = 1e6;
  tw_status status = tw_capture_read_bytes("t", bytes, size, NULL, m, &record);
  status = status == TW_OK ? tw_capture_evaluate(record, &s, &result, NULL) : status;
  char *plot = NULL, *svg = NULL;
  if (status == TW_OK) {
    plot = tw_capture_plot(record, result, 40, 8);
    svg = tw_capture_svg(record, result);
    status = plot && svg ? TW_OK : TW_NO_MEMORY;
  }
  tw_free(plot);
  tw_free(svg);
  tw_free(result);
  tw_capture_record_free(record);
  tw_messages_free(m);
  return status;
}

static tw_status do_cut(void)
{
  return work(csv, csv_size, TW_CAPTURE_THREAD_CUT);
}
static tw_status do_tone(void)
{
  return work(wav, wav_size, TW_CAPTURE_TONE);
}
static tw_status do_rest(void)
{
  return work(csv, csv_size, TW_CAPTURE_REST);
}
static tw_status do_ring(void)
{
  return work(csv, csv_size, TW_CAPTURE_RING_DOWN);
}

static void make(void)
{
  csv_size = (size_t)snprintf(csv, sizeof csv, "Time,CH1\ns,V\n");
  for (int i = 0; i < 1200; i++) {
    const double t = (i - 200) * 1e-4;
    const double v =
        t < 0 ? 0 : exp(-t / 0.01) - exp(-300 * t) * cos(6000 * t) + 0.002 * sin(1.7 * i * i);
    csv_size += (size_t)snprintf(csv + csv_size, sizeof csv - csv_size, "%.4f,%.6f\n", t, v);
  }
  static const unsigned char head[44] = {'R', 'I', 'F',  'F',  0,   0,   0,   0,    'W', 'A', 'V',
                                         'E', 'f', 'm',  't',  ' ', 16,  0,   0,    0,   1,   0,
                                         1,   0,   0x80, 0xBB, 0,   0,   0,   0x77, 1,   0,   2,
                                         0,   16,  0,    'd',  'a', 't', 'a', 0xD0, 7,   0,   0};
  memcpy(wav, head, sizeof head);
  wav_size = sizeof head + 2000;
  for (int i = 0; i < 1000; i++) {
    const int v = (int)(12000 * sin(0.13 * i));
    wav[44 + 2 * i] = (char)(v & 255);
    wav[45 + 2 * i] = (char)(v >> 8);
  }
}

static void every_allocation_may_fail(void **state)
{
  (void)state;
  static tw_status (*const jobs[])(void) = {do_cut, do_tone, do_rest, do_ring};
  make();
  for (size_t j = 0; j < sizeof jobs / sizeof jobs[0]; j++) {
    tw_alloc_fail_at(0, false);
    assert_int_equal(jobs[j](), TW_OK);
    const long count = tw_alloc_seen();
    assert_true(count > 5);
    for (long n = 1; n <= count; n++) {
      tw_alloc_fail_at(n, true);
      const tw_status status = jobs[j]();
      tw_alloc_fail_at(0, false);
      if (status != TW_NO_MEMORY) {
        print_error("job %zu, allocation %ld of %ld: status %d\n", j, n, count, (int)status);
        fail();
      }
    }
  }
}

int main(void)
{
  const struct CMUnitTest tests[] = {cmocka_unit_test(every_allocation_may_fail)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
