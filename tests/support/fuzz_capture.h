/* fuzz_capture.h: what every reader of recordings promises, for the fuzzers. */
#ifndef TW_TEST_FUZZ_CAPTURE_H
#define TW_TEST_FUZZ_CAPTURE_H

#include "fuzz_main.h"
#include "tripwright/capture.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* an evaluation of much more than this takes longer than a fuzzer should wait */
#define FUZZ_SAMPLES 400

static void must(bool true_thing, const char *what)
{
  if (!true_thing) {
    fprintf(stderr, "broken: %s\n", what);
    abort();
  }
}

static void check_result(const tw_capture_result *r)
{
  for (size_t i = 0; i < r->features; i++) {
    must(isfinite(r->feature[i].value) && isfinite(r->feature[i].u), r->feature[i].name);
    must(r->feature[i].u >= 0, "an uncertainty below 0");
  }
  for (size_t i = 0; i < r->concerns; i++) {
    must(r->concern[i].text[0] && r->concern[i].hint[0], "a concern without a cure");
  }
}

static void evaluate(const tw_capture_record *record, tw_capture_act act)
{
  tw_capture_setup setup;
  tw_capture_setup_start(&setup);
  setup.act = act;
  setup.bias_resistance = 1e6;
  setup.series_resistance = 1e3;
  setup.weight[setup.weights++] = 0.005;
  tw_capture_result *result = NULL;
  tw_fault fault = {0};
  const tw_status status = tw_capture_evaluate(record, &setup, &result, &fault);
  must((status == TW_OK) == (result != NULL), "a result exactly when it is fine");
  must(status == TW_OK || fault.text[0], "a refusal has words");
  if (result) {
    check_result(result);
    char *plot = tw_capture_plot(record, result, 40, 6), *svg = tw_capture_svg(record, result);
    must(plot && svg && !strstr(svg, "=\"nan") && !strstr(svg, "=\"-nan"), "a drawing of numbers");
    tw_free(plot);
    tw_free(svg);
  }
  tw_free(result);
}

static void check_record(const tw_capture_record *r)
{
  must(r->channels >= 1 && r->channels <= TW_CAPTURE_CHANNELS && r->samples >= 3, "its size");
  must(r->samples <= r->rows && r->first + r->samples <= r->rows, "its window");
  for (size_t c = 0; c < r->channels; c++) {
    for (size_t i = 0; i < r->samples; i++) {
      const double v = r->channel[c].value[i];
      must(isfinite(v) && v >= r->channel[c].least && v <= r->channel[c].most, "a sample");
    }
  }
  const bool ordered = r->axis == TW_AXIS_TIME || r->axis == TW_AXIS_STAMPS;
  for (size_t i = 1; ordered && i < r->samples; i++) {
    must(tw_capture_at(r, i) >= tw_capture_at(r, i - 1), "time in order");
  }
}

static void try_recording(const uint8_t *data, size_t size)
{
  tw_messages *m = tw_messages_new();
  tw_capture_record *record;
  const tw_status status = tw_capture_read_bytes("f", data, size, NULL, m, &record);
  must((status == TW_OK) == (record != NULL), "a record exactly when it is fine");
  must(status == TW_OK || tw_messages_errors(m) > 0, "a refusal has a message");
  for (size_t i = 0; i < tw_messages_count(m); i++) {
    must(tw_messages_at(m, i)->hint != NULL, "a message without a cure");
  }
  if (record) {
    check_record(record);
    if (record->samples <= FUZZ_SAMPLES) {
      evaluate(record, TW_CAPTURE_UNKNOWN);
      evaluate(record, (tw_capture_act)(1 + size % (TW_CAPTURE_ACT_COUNT - 1)));
    }
  }
  tw_capture_record_free(record);
  tw_messages_free(m);
}

#endif
