/* The n-th allocation of a command fails, for every n: the command says so and ends with 70, or it
 * did not need that allocation and its answer is the whole one. Never "error: done", never a part
 * of the answer with exit code 0. */
#include "near.h"
#include "verb.h"

#include <gsl/gsl_errno.h>
#include <stdlib.h>
#include <string.h>

#define WORDS_MOST 16

struct outcome {
  int code;
  char *out, *err;
};

static struct outcome run(char **words)
{
  struct outcome o = {0};
  size_t out_size, err_size;
  FILE *out = open_memstream(&o.out, &out_size), *err = open_memstream(&o.err, &err_size);
  int count = 0;
  while (words[count]) {
    count++;
  }
  o.code = tw_cli_main(count, words, out, err);
  fclose(out);
  fclose(err);
  return o;
}

static void forget(struct outcome *o)
{
  free(o->out);
  free(o->err);
}

static void try_each(char **words)
{
  struct outcome good = run(words);
  if (good.code != TW_EXIT_DONE && good.code != TW_EXIT_NOT_MET) {
    print_error("%s %s: exit %d\n%s", words[1], words[2], good.code, good.err);
    fail();
  }
  bool reached = true;
  for (long n = 1; reached; n++) {
    tw_alloc_fail_at(n, false);
    struct outcome o = run(words);
    reached = tw_alloc_seen() >= n;
    tw_alloc_fail_at(0, false);
    const bool whole = o.code == good.code && strcmp(o.out, good.out) == 0;
    const bool said = o.code == TW_EXIT_INTERNAL && strstr(o.err, "memory") != NULL;
    if (!whole && !said) {
      print_error("%s %s, allocation %ld: exit %d, \"%s\"\n%s", words[1], words[2], n, o.code,
                  o.err, o.out);
      fail();
    }
    forget(&o);
  }
  forget(&good);
}

#define FORMS      "tests/data/forms/"
#define RECORDINGS "examples/recordings/"

static void qualifying_commands(void **state)
{
  (void)state;
  static const char *const commands[][WORDS_MOST] = {
      {"tripwright", "form", "circle", FORMS "ring12_20mm.csv", "--columns", "x_mm,y_mm",
       "--harmonics", "3", "--test", "ring", "--diameter", "20 mm"},
      {"tripwright", "form", "circle", FORMS "ring12_20mm.csv", "--columns", "x_mm,y_mm", "--test",
       "ring", "--diameter", "20 mm", "--json"},
      {"tripwright", "form", "minimum-zone", FORMS "ring12_20mm.csv", "--columns", "x_mm,y_mm"},
      {"tripwright", "repeat", RECORDINGS "touches.csv", "--reading", "x_mm", "--group", "side",
       "--require", "2s <= 2 um"},
      {"tripwright", "repeat", RECORDINGS "touches.csv", "--reading", "x_mm", "--json"},
      {"tripwright", "repeat", RECORDINGS "feeds.csv", "--reading", "error_um", "--feed",
       "feed_mm_min"},
      {"tripwright", "repeat", RECORDINGS "drift.csv", "--reading", "z_mm", "--time", "t_s",
       "--temperature", "temp_C"},
      {"tripwright", "repeat", RECORDINGS "trips.csv", "--trip", "trip", "--feed", "feed_mm_min"},
      {"tripwright", "budget", RECORDINGS "ring_budget.txt", "--upper", "6"},
      {"tripwright", "gauge", RECORDINGS "mountings.csv", "--reading", "diameter_mm", "--part",
       "part", "--operator", "mounting"},
      {"tripwright", "gauge", RECORDINGS "days.csv", "--reading", "width_mm", "--day", "day",
       "--run", "run"},
      {"tripwright", "tram", RECORDINGS "runout_tip.csv", "--angle", "spindle_deg", "--reading",
       "dial_um"},
  };
  for (size_t i = 0; i < sizeof commands / sizeof commands[0]; i++) {
    char *words[WORDS_MOST + 1] = {0};
    for (size_t k = 0; k < WORDS_MOST && commands[i][k]; k++) {
      words[k] = (char *)commands[i][k];
    }
    try_each(words);
  }
}

int main(void)
{
  gsl_set_error_handler_off();
  const struct CMUnitTest tests[] = {cmocka_unit_test(qualifying_commands)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
