/* Bodies of requests: anything that a client may send to /api/view and /api/save, as far as the
 * design that it makes. The figures themselves are left out (their inputs are fuzzed elsewhere), so
 * that a million bodies take minutes. */
#include "fuzz_main.h"
#include "tripwright/files.h"
#include "tripwright/serve.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static tw_serve_model model;

static const char design[] = "design: fuzzed\n"
                             "seat: {kind: pivot, ball_radius: 4 mm, flat_radius: 3 mm}\n"
                             "stylus: {reach: 32 mm, stem_diameter: 1.5 mm, ball_diameter: 2 mm}\n";

static void begin(void)
{
  static char file[] = "/tmp/tripwright-fuzz-XXXXXX";
  static tw_units *units;
  static tw_library *library;
  const int handle = mkstemp(file);
  library = tw_library_new();
  if (handle < 0 || !library || tw_units_new(&units, NULL) != TW_OK ||
      write(handle, design, sizeof design - 1) < 0) {
    abort();
  }
  close(handle);
  const tw_serve_file from = {.path = file, .units = units, .library = library};
  if (tw_serve_design(&from, &model, NULL) != TW_OK) {
    abort();
  }
}

/* a study is read, opened, and stopped at its first word */
static bool stop(void *self, double done, const char *what)
{
  (void)self;
  (void)done;
  (void)what;
  return false;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
  if (!model.self) {
    begin();
  }
  json_t *request = json_loadb((const char *)data, size, JSON_REJECT_DUPLICATES, NULL);
  if (json_is_object(request)) {
    json_t *out = NULL;
    tw_fault fault = {0};
    bool conflict = false;
    model.save(model.self, request, &conflict, &out, &fault);
    json_decref(out);
    out = NULL;
    const char *view = json_string_value(json_object_get(request, "view"));
    if (view && strcmp(view, "first") != 0 && strcmp(view, "settled") != 0 &&
        strcmp(view, "report") != 0) {
      const tw_progress progress = {stop, NULL};
      model.view(model.self, request, tw_page_is_study(view) ? &progress : NULL, NULL, &out,
                 &fault);
      json_decref(out);
    }
  }
  json_decref(request);
  return 0;
}
