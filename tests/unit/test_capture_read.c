/* The readers: every dialect gives the same samples, WAV as the library reads it, a capture zip,
 * the window of a long record, and small files cut at every byte: refused or whole, never half. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdlib.h>
/* cmocka needs the above */
#include "tripwright/capture.h"

#include <cmocka.h>
#include <math.h>
#include <sndfile.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>
#include <zip.h>

static tw_capture_record *take(const void *bytes, size_t size, const tw_capture_reading *how)
{
  tw_messages *m = tw_messages_new();
  tw_capture_record *r = NULL;
  if (tw_capture_read_bytes("t", bytes, size, how, m, &r) != TW_OK) {
    assert_true(tw_messages_errors(m) > 0);
  }
  tw_messages_free(m);
  return r;
}

/* ---- dialects ---------------------------------------------------------------------------------
 */

static const struct {
  const char *text, *name;
  double interval, start, third;
} dialects[] = {
    {"s,V\n0,1\n0.001,2\n0.002,3\n0.003,4\n", "channel 1", 1e-3, 0, 3},
    {"\xEF\xBB\xBFs;V\r\n0;1,0\r\n0,001;2,0\r\n0,002;3,0\r\n", "channel 1", 1e-3, 0, 3},
    {"t [ms]\tU/mV\n-1\t1000\n0\t2000\n1\t3000\n", "U", 1e-3, -1e-3, 3},
    {"Zeit;Kanal A\n(us);(mV)\n0;1000\n1;2000\n2;3000\n3;1\n", "Kanal A", 1e-6, 0, 3},
    {"dt = 50 ns\nCH1 (mV)\n1000\n2000\n3000\n", "CH1", 50e-9, 0, 3},
    {"# rate: 2 kHz\nCH1\nV\n1\n2\n3\n", "CH1", 5e-4, 0, 3},
    {"Sample Interval,1e-3\nTrigger Point,2\n\nTime,CH1\ns,V\n-0.002,1\n-0.001,2\n0,3\n", "CH1",
     1e-3, -2e-3, 3},
    {"CH1,CH2,\nV,V,\n1,0,\n2,0,\n3,1,\n", "CH1", 0, 0, 3}, /* no interval: told below */
    {"\"t (s)\",\"U (V)\"\n\"0,0\",\"1,0\"\n\"0,5\",\"2,0\"\n\"1,0\",\"3,0\"\n", "U", 0.5, 0, 3},
    {"s,V\r0,1\r0.001,2\r0.002,3\r", "channel 1", 1e-3, 0, 3},
    {"when,U [V]\n2026-03-14 10:07:00.000,1\n2026-03-14 10:07:00.004,2\n2026-03-14 "
     "10:07:00.008,3\n",
     "U", 4e-3, 0, 3},
    {"time,V\n23:59:59.998,1\n00:00:00.000,2\n00:00:00.002,3\n", "channel 1", 2e-3, 0, 3},
    {"No.;Zeit;Wert;Einheit\n1;14.03.2026 09:12:00.0;1;V\n2;14.03.2026 09:12:00.5;2000;mV\n"
     "3;14.03.2026 09:12:01.0;3;V\n",
     "Wert", 0.5, 0, 3},
};

static void dialects_agree(void **state)
{
  (void)state;
  for (size_t k = 0; k < sizeof dialects / sizeof dialects[0]; k++) {
    tw_capture_reading how;
    tw_capture_reading_start(&how);
    if (dialects[k].interval <= 0) {
      assert_null(take(dialects[k].text, strlen(dialects[k].text), NULL));
      how.interval = 1e-3;
    }
    tw_capture_record *r = take(dialects[k].text, strlen(dialects[k].text), &how);
    if (!r) {
      fail_msg("dialect %zu is not read", k);
    }
    assert_string_equal(r->channel[0].name, dialects[k].name);
    const double interval = dialects[k].interval > 0 ? dialects[k].interval : 1e-3;
    if (fabs(r->interval - interval) > 1e-6 * interval ||
        fabs(tw_capture_at(r, 0) - dialects[k].start) > 1e-6) {
      fail_msg("dialect %zu: every %g s from %g", k, r->interval, tw_capture_at(r, 0));
    }
    assert_true(fabs(r->channel[0].value[2] - dialects[k].third) < 1e-12);
    tw_capture_record_free(r);
  }
}

/* ---- audio ------------------------------------------------------------------------------------
 */

static void wav_as_the_library_reads_it(void **state)
{
  (void)state;
  static const int formats[] = {SF_FORMAT_PCM_16, SF_FORMAT_PCM_24, SF_FORMAT_PCM_32,
                                SF_FORMAT_FLOAT, SF_FORMAT_DOUBLE};
  for (size_t k = 0; k < sizeof formats / sizeof formats[0]; k++) {
    for (int channels = 1; channels <= 2; channels++) {
      char path[] = "/tmp/tw_wav_XXXXXX";
      close(mkstemp(path));
      SF_INFO info = {.samplerate = 44100,
                      .channels = channels,
                      .format = (k == 2 ? SF_FORMAT_WAVEX : SF_FORMAT_WAV) | formats[k]};
      double v[2000], back[2000];
      for (int i = 0; i < 2000; i++) {
        v[i] = 0.9 * sin(0.01 * i * i);
      }
      SNDFILE *f = sf_open(path, SFM_WRITE, &info);
      assert_non_null(f);
      sf_writef_double(f, v, 2000 / channels);
      sf_close(f);
      f = sf_open(path, SFM_READ, &info);
      sf_readf_double(f, back, 2000 / channels);
      sf_close(f);
      tw_messages *m = tw_messages_new();
      tw_capture_record *r = NULL;
      assert_int_equal(tw_capture_read(path, NULL, m, &r), TW_OK);
      assert_int_equal(r->samples, 2000 / channels);
      for (int i = 0; i < 2000; i++) {
        const double ours = r->channel[i % channels].value[i / channels];
        assert_true(ours == back[i]);
      }
      tw_capture_record_free(r);
      tw_messages_free(m);
      remove(path);
    }
  }
}

/* ---- capture zip ------------------------------------------------------------------------------
 */

static size_t make_zip(unsigned char *out, size_t room)
{
  char path[] = "/tmp/tw_zip_XXXXXX";
  close(mkstemp(path));
  remove(path);
  int error;
  zip_t *z = zip_open(path, ZIP_CREATE, &error);
  static const char version[] = "2",
                    metadata[] = "[global]\nsigrok version=0.5\n\n[device 1]\ncapturefile=logic-1\n"
                                 "total probes=2\nsamplerate=10 kHz\ntotal analog=1\nprobe1=D0\n"
                                 "probe2=D1\nanalog3=node\nunitsize=1\n";
  static float v[300];
  static unsigned char bits[300];
  for (int i = 0; i < 300; i++) {
    v[i] = (float)(0.5 * sin(0.1 * i));
    bits[i] = (unsigned char)(i / 50 % 4);
  }
  const struct {
    const char *name;
    const void *data;
    size_t size;
  } entries[] = {{"version", version, 1},
                 {"metadata", metadata, sizeof metadata - 1},
                 {"analog-1-3-1", v, 800},
                 {"analog-1-3-2", v + 200, 400},
                 {"logic-1-1", bits, 300}};
  for (size_t i = 0; i < sizeof entries / sizeof entries[0]; i++) {
    zip_file_add(z, entries[i].name, zip_source_buffer(z, entries[i].data, entries[i].size, 0), 0);
  }
  zip_close(z);
  FILE *f = fopen(path, "rb");
  const size_t n = fread(out, 1, room, f);
  fclose(f);
  remove(path);
  return n;
}

static void a_capture_zip(void **state)
{
  (void)state;
  static unsigned char bytes[8192];
  const size_t n = make_zip(bytes, sizeof bytes);
  tw_capture_record *r = take(bytes, n, NULL);
  assert_non_null(r);
  assert_int_equal(r->channels, 3);
  assert_int_equal(r->samples, 300);
  assert_string_equal(r->channel[0].name, "node");
  assert_true(fabs(r->channel[0].value[250] - 0.5 * sin(25.0)) < 1e-7);
  assert_true(r->channel[1].value[60] > 0.5 && r->channel[2].value[60] < 0.5);
  assert_true(fabs(r->interval - 1e-4) < 1e-15);
  tw_capture_record_free(r);
}

/* ---- cut files, long files --------------------------------------------------------------------
 */

/* whole or refused: what is read of a cut file is never shorter than what its head promises */
static void cut_at_every_byte(void **state)
{
  (void)state;
  static unsigned char zip[8192];
  const size_t n = make_zip(zip, sizeof zip);
  for (size_t k = 0; k < n; k++) {
    assert_null(take(zip, k, NULL));
  }
  static unsigned char wav[44 + 400] = "RIFF....WAVEfmt ";
  wav[16] = 16;
  wav[20] = 1;
  wav[22] = 1;
  wav[24] = 0x80;
  wav[25] = 0xBB;
  wav[32] = 2;
  wav[34] = 16;
  memcpy(wav + 36, "data", 4);
  wav[40] = 0x90;
  wav[41] = 1;
  for (int i = 0; i < 400; i++) {
    wav[44 + i] = (unsigned char)(i * 37);
  }
  for (size_t k = 0; k < sizeof wav; k++) {
    assert_null(take(wav, k, NULL));
  }
  tw_capture_record *whole = take(wav, sizeof wav, NULL);
  assert_non_null(whole);
  assert_int_equal(whole->samples, 200);
  tw_capture_record_free(whole);
  /* text has no length of its own: a cut shows where a row is cut, or in what the head promises */
  static const char csv[] = "Record Length,5\nt,U\ns,V\n0,1\n1e-3,2\n2e-3,3\n3e-3,4\n4e-3,5\n";
  for (size_t k = 0; k <= strlen(csv); k++) {
    tw_capture_record *r = take(csv, k, NULL);
    assert_true(!r || r->rows == 5 ||
                (r->told_rows > (double)r->rows && strstr(r->found, "promises")));
    tw_capture_record_free(r);
  }
}

static void a_window_of_a_long_record(void **state)
{
  (void)state;
  const size_t rows = 60000;
  char *text = malloc(rows * 24);
  size_t used = (size_t)sprintf(text, "s,V\n");
  for (size_t i = 0; i < rows; i++) {
    used += (size_t)sprintf(text + used, "%.6f,%.4f\n", 1e-5 * (double)i,
                            i < 40000 ? 0.001 * (double)(i % 3) : exp(-1e-3 * (double)(i - 40000)));
  }
  tw_capture_reading how;
  tw_capture_reading_start(&how);
  how.window = 20000;
  tw_capture_record *r = take(text, used, &how);
  assert_non_null(r);
  assert_int_equal(r->rows, rows);
  assert_true(r->samples <= 20000 / 2 && r->samples >= 4096);
  assert_true(r->first <= 40000 && r->first + r->samples > 41000);
  assert_true(fabs(tw_capture_at(r, 0) - 1e-5 * (double)r->first) < 1e-9);
  tw_capture_record_free(r);
  free(text);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(dialects_agree),
      cmocka_unit_test(wav_as_the_library_reads_it),
      cmocka_unit_test(a_capture_zip),
      cmocka_unit_test(cut_at_every_byte),
      cmocka_unit_test(a_window_of_a_long_record),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
