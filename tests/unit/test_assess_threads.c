/* Several designs assessed at once, one thread each, give the same bits as one after the other; the
 * build with the thread sanitizer looks at the same run for races. */
#include "design_fixture.h"
#include "tripwright/assess.h"

#include <pthread.h>
#include <stdio.h>
#include <stdlib.h>

static const char *const examples[] = {"pillar-indexer", "gearbox-tripod", "edge-bonded",
                                       "plate-sizer", "top-face-gate"};
enum { EXAMPLES = sizeof examples / sizeof examples[0] };

typedef struct job {
  tw_design *design;
  tw_assess_options options;
  tw_assessment alone, together;
  tw_status status;
} job;

static job jobs[EXAMPLES];

static void *assess_together(void *argument)
{
  job *j = argument;
  tw_fault fault = {0};
  j->status = tw_assess(j->design, &j->options, &j->together, &fault);
  return NULL;
}

/* every figure to the bit */
static void same_bits(const tw_assessment *a, const tw_assessment *b, const char *name)
{
  for (int i = 0; i < TW_MEASURE_COUNT; i++) {
    const tw_measure *m = &a->measure[i], *n = &b->measure[i];
    if (m->state != n->state || memcmp(&m->value, &n->value, sizeof m->value) != 0 ||
        memcmp(m->band, n->band, sizeof m->band) != 0 || m->contributions != n->contributions ||
        strcmp(m->note, n->note) != 0) {
      fail_msg("%s: %s: %.17g alone, %.17g together", name,
               tw_measure_about((tw_measure_id)i)->name, m->value, n->value);
    }
    for (int k = 0; k < m->contributions; k++) {
      assert_memory_equal(&m->contribution[k].value, &n->contribution[k].value, sizeof(double));
    }
  }
  assert_int_equal(a->warnings, b->warnings);
  for (int i = 0; i < a->warnings; i++) {
    assert_string_equal(a->warning[i].text, b->warning[i].text);
  }
}

static void read_all(void)
{
  const tw_read_options reading = {.units = units, .library = library, .need = TW_NEED_ALL};
  for (int e = 0; e < EXAMPLES; e++) {
    char file[600];
    snprintf(file, sizeof file, "%s/examples/%s.yaml", TW_SOURCE_DIR, examples[e]);
    tw_messages *messages = tw_messages_new();
    assert_int_equal(tw_design_read(file, &reading, messages, &jobs[e].design), TW_OK);
    tw_messages_free(messages);
    jobs[e].options = tw_assess_defaults();
    jobs[e].options.azimuths = 6;
    jobs[e].options.map = false;
    jobs[e].options.timed = getenv("TW_PROVE") != NULL || e == 0;
  }
}

static void designs_at_once_give_the_same_bits(void **state)
{
  (void)state;
  tw_fault fault = {0};
  pthread_t thread[EXAMPLES];
  read_all();
  for (int e = 0; e < EXAMPLES; e++) {
    assert_int_equal(tw_assess(jobs[e].design, &jobs[e].options, &jobs[e].alone, &fault), TW_OK);
  }
  for (int e = 0; e < EXAMPLES; e++) {
    assert_int_equal(pthread_create(&thread[e], NULL, assess_together, &jobs[e]), 0);
  }
  for (int e = 0; e < EXAMPLES; e++) {
    assert_int_equal(pthread_join(thread[e], NULL), 0);
    assert_int_equal(jobs[e].status, TW_OK);
    same_bits(&jobs[e].alone, &jobs[e].together, examples[e]);
  }
  for (int e = 0; e < EXAMPLES; e++) {
    tw_design_free(jobs[e].design);
  }
}

/* one design read by two threads: it is immutable */
static void one_design_for_two_threads(void **state)
{
  (void)state;
  pthread_t thread[2];
  read_all();
  job twin[2] = {jobs[0], jobs[0]};
  for (int k = 0; k < 2; k++) {
    twin[k].options.timed = false;
    assert_int_equal(pthread_create(&thread[k], NULL, assess_together, &twin[k]), 0);
  }
  for (int k = 0; k < 2; k++) {
    assert_int_equal(pthread_join(thread[k], NULL), 0);
    assert_int_equal(twin[k].status, TW_OK);
  }
  same_bits(&twin[0].together, &twin[1].together, examples[0]);
  for (int e = 0; e < EXAMPLES; e++) {
    tw_design_free(jobs[e].design);
  }
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(designs_at_once_give_the_same_bits),
      cmocka_unit_test(one_design_for_two_threads),
  };
  return cmocka_run_group_tests(tests, open_all, close_all);
}
