/* Any bytes as a budget, a words file and a tip table: refused with a message and a cure, or fine;
 * a budget that is fine has a finite result or none; a tip table that is fine writes and reads
 * back. */
#include "fuzz_main.h"
#include "tripwright/qualify.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static void must(bool true_thing, const char *what)
{
  if (!true_thing) {
    fprintf(stderr, "broken: %s\n", what);
    abort();
  }
}

static void check_messages(tw_messages *m, tw_status status)
{
  must(status == TW_OK || tw_messages_errors(m) > 0, "a refusal has a message");
  for (size_t i = 0; i < tw_messages_count(m); i++) {
    must(tw_messages_at(m, i)->hint != NULL, "a message has a hint");
  }
  tw_messages_free(m);
}

static void try_budget(const char *text, size_t size)
{
  static tw_budget b;
  tw_messages *m = tw_messages_new();
  const tw_status status = tw_budget_read_text("f", text, size, m, &b);
  check_messages(m, status);
  tw_budget_result r;
  if (status == TW_OK && tw_budget_gum(&b, 0.95, &r, NULL) == TW_OK) {
    must(isfinite(r.y) && isfinite(r.u) && isfinite(r.expanded), "finite");
  }
}

static void try_words(const char *text, size_t size)
{
  static tw_words w;
  tw_messages *m = tw_messages_new();
  const tw_status status = tw_words_read_text("f", text, size, m, &w);
  check_messages(m, status);
  if (status != TW_OK) {
    return;
  }
  tw_plan p;
  tw_plan_start(TW_TEST_DRIFT, &p);
  p.contact[0] = p.contact[1] = p.contact[2] = p.azimuth = p.top = 0.0;
  p.clearance = 0.01;
  p.overtravel = 3e-3;
  p.deceleration = 1.0;
  p.entry_secured = true;
  m = tw_messages_new();
  tw_program *g;
  char *out = NULL;
  if (tw_program_make(&p, &w, m, &g) == TW_OK) {
    must(tw_program_text(g, &w, "t", &out, NULL) == TW_OK, "a program");
    must(strstr(out, "{p}") == NULL && strstr(out, "{n}") == NULL, "no place left open");
  }
  tw_free(out);
  tw_program_free(g);
  tw_messages_free(m);
}

static void try_tip(const char *text, size_t size)
{
  static tw_tip tip, back;
  tw_messages *m = tw_messages_new();
  const tw_status status = tw_tip_read_text("f", text, size, m, &tip);
  check_messages(m, status);
  if (status != TW_OK) {
    return;
  }
  char *out;
  must(tw_tip_write(&tip, &out, NULL) == TW_OK, "written");
  m = tw_messages_new();
  must(tw_tip_read_text("f", out, strlen(out), m, &back) == TW_OK, out);
  must(back.count == tip.count, "all rows");
  tw_messages_free(m);
  tw_free(out);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
  char *text = malloc(size + 1);
  if (!text) {
    return 0;
  }
  memcpy(text, data, size);
  text[size] = '\0';
  try_budget(text, size);
  try_words(text, size);
  try_tip(text, size);
  free(text);
  return 0;
}
