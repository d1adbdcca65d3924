/* study_python.h: builds of a design for tests/oracle/probe_model.py and closed_form.py: the
 * design's fields and the drawn values of each build as text, the figures that come back. */
#ifndef TW_TEST_STUDY_PYTHON_H
#define TW_TEST_STUDY_PYTHON_H

#include "tripwright/study_design.h"

#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define TW_PYTHON "/usr/bin/python3"

/* what the scripts print for a build, in their order; then seconds, processor and clock */
static const char *const py_measures[] = {
    "trip_force_side",   "pretravel_side",        "pretravel_variation_side", "trip_force_axial",
    "pretravel_axial",   "return_offset",         "preload_actual",           "capacitance_mounted",
    "threshold_voltage", "void_clearance_at_trip"};
enum { PY_MEASURES = sizeof py_measures / sizeof py_measures[0] };

typedef struct py_row {
  double value[PY_MEASURES], processor, clock;
} py_row;

static inline bool py_has_scipy(void)
{
  return system(TW_PYTHON " -c 'import numpy, scipy' >/dev/null 2>&1") == 0;
}

/* every number (SI) and every choice of the design: "path value" */
static inline void py_write_design(FILE *f, const tw_design *design)
{
  for (int i = 0; i < TW_FIELD_COUNT; i++) {
    const tw_field field = (tw_field)i;
    const tw_field_info *about = tw_field_of(field);
    if (!tw_design_has(design, field)) {
      continue;
    }
    if (about->type == TW_TYPE_CHOICE) {
      fprintf(f, "%s %s\n", about->path,
              tw_choice_word(about->set, tw_design_choice(design, field)));
    } else if (about->type != TW_TYPE_TEXT && about->type != TW_TYPE_TABLE) {
      fprintf(f, "%s %.17g\n", about->path, tw_design_value(design, field)->number);
    }
  }
}

/* "build path=value ..." of the inputs that were drawn */
static inline void py_write_build(FILE *f, const tw_study *study, const double *x)
{
  fprintf(f, "build");
  for (size_t k = 0; x && k < study->inputs; k++) {
    fprintf(f, " %s=%.17g", study->input[k].path, x[k]);
  }
  fprintf(f, "\n");
}

/* builds first .. first + count - 1 of the sampler into a file for a script; without a sampler one
 * build, the design itself */
static inline bool py_write(const char *path, const tw_study *study, const tw_sampler *sampler,
                            size_t first, size_t count)
{
  double x[TW_FIELD_COUNT];
  FILE *f = fopen(path, "w");
  if (!f) {
    return false;
  }
  py_write_design(f, study->design);
  for (size_t i = first; sampler && i < first + count; i++) {
    tw_sampler_draw(sampler, i, x);
    py_write_build(f, study, x);
  }
  if (!sampler) {
    py_write_build(f, study, NULL);
  }
  return fclose(f) == 0;
}

/* run a script on such a file; rows that came back */
static inline size_t py_run(const char *script, const char *input, py_row *row, size_t most)
{
  char command[1600], line[1000];
  snprintf(command, sizeof command, TW_PYTHON " %s/%s <%s", TW_SOURCE_DIR, script, input);
  FILE *p = popen(command, "r");
  size_t n = 0;
  while (p && n < most && fgets(line, sizeof line, p)) {
    char *at = line;
    for (int k = 0; k < PY_MEASURES; k++) {
      row[n].value[k] = strtod(at, &at);
    }
    row[n].processor = strtod(at, &at);
    row[n++].clock = strtod(at, NULL);
  }
  return p && pclose(p) == 0 ? n : 0;
}

#endif
