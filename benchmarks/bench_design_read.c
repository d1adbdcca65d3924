/* How long it takes to read a design, clone it and change a number. */
#include "tripwright/parts.h"

#include <stdio.h>
#include <string.h>
#include <time.h>

static double now(void)
{
  struct timespec t;
  clock_gettime(CLOCK_MONOTONIC, &t);
  return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

int main(void)
{
  tw_units *units = NULL;
  tw_library *library = NULL;
  tw_messages *messages = tw_messages_new();
  double start = now();
  if (tw_units_new(&units, NULL) != TW_OK) {
    return 1;
  }
  printf("what,count,microseconds_each\nunit system,1,%.1f\n", 1e6 * (now() - start));
  start = now();
  if (tw_library_load(TW_SOURCE_DIR "/parts", units, messages, &library) != TW_OK) {
    return 1;
  }
  printf("library of parts,1,%.1f\n", 1e6 * (now() - start));
  const tw_read_options options = {.units = units, .library = library, .need = TW_NEED_ALL};
  const char *text = tw_design_template(TW_SEAT_PIVOT);
  enum { READS = 2000, CLONES = 200000 };
  start = now();
  for (int i = 0; i < READS; i++) {
    tw_design *design = NULL;
    if (tw_design_parse(text, strlen(text), NULL, &options, messages, &design) != TW_OK) {
      return 1;
    }
    tw_design_free(design);
  }
  printf("read a design,%d,%.2f\n", READS, 1e6 * (now() - start) / READS);
  tw_design *design = NULL;
  (void)tw_design_parse(text, strlen(text), NULL, &options, messages, &design);
  tw_design *own = tw_design_clone(design);
  double sum = 0;
  start = now();
  for (int i = 0; i < CLONES; i++) {
    tw_design_copy(own, design);
    tw_design_put(own, TW_F_preload_force, 1e-6 * i);
    sum += tw_design_number(own, TW_F_preload_force);
  }
  printf("copy and change a number,%d,%.3f\n", CLONES, 1e6 * (now() - start) / CLONES);
  tw_design_free(own);
  tw_design_free(design);
  tw_library_free(library);
  tw_units_free(units);
  tw_messages_free(messages);
  return sum > 0 ? 0 : 1;
}
