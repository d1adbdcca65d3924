/* verdict.c: what an assessment comes to, in a word and in a sentence. Text, JSON, page and report
 * all say it from here. */
#include "tripwright/assess.h"
#include "tripwright/text.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

tw_assess_verdict tw_assess_verdict_of(const tw_assessment *a)
{
  for (int i = 0; i < TW_MEASURE_COUNT; i++) {
    if (a->measure[i].met != TW_MET_NO_RULE && a->measure[i].state == TW_MEASURE_NO_ANSWER) {
      return TW_ASSESS_NO_ANSWER;
    }
  }
  if (tw_measure_state_prevents_touch(a->state) || a->met + a->left_out < a->asked) {
    return TW_ASSESS_NOT_MET;
  }
  if (a->left_out > 0) {
    return TW_ASSESS_LEFT_OUT;
  }
  return a->asked > 0 ? TW_ASSESS_MET : TW_ASSESS_NOTHING_ASKED;
}

const char *tw_assess_verdict_text(tw_assess_verdict verdict)
{
  static const char *const text[] = {"nothing_asked", "met", "not_met", "left_out", "no_answer"};
  return (size_t)verdict < sizeof text / sizeof text[0] ? text[verdict] : "no_answer";
}

/* "map" and "touches in time", as far as they are what is missing */
static const char *depth_left_out(const tw_assessment *a)
{
  bool map = false, timed = false;
  for (int i = 0; i < TW_MEASURE_COUNT; i++) {
    const tw_needs needs = tw_measure_about((tw_measure_id)i)->needs;
    map = map || (a->measure[i].left_out && needs == TW_NEEDS_MAP);
    timed = timed || (a->measure[i].left_out && needs == TW_NEEDS_TIMED);
  }
  return map && timed ? "all directions and touches in time were left out"
         : map        ? "all directions were left out"
         : timed      ? "touches in time were left out"
                      : "left out on request";
}

static void add_left_out(tw_text *l, const tw_assessment *a)
{
  bool first = true;
  for (int i = 0; i < TW_MEASURE_COUNT; i++) {
    if (a->measure[i].left_out) {
      tw_text_add(l, "%s%s", first ? "" : ", ", tw_measure_about((tw_measure_id)i)->name);
      first = false;
    }
  }
  tw_text_add(l, " (%s).", depth_left_out(a));
}

/* "1 of 3 requirements is", "2 of 3 requirements are" */
static void add_share(tw_text *l, int count, int of)
{
  tw_text_add(l, "%d of %d requirements %s", count, of, count == 1 ? "is" : "are");
}

void tw_assess_sentence(const tw_assessment *a, char *out, size_t size)
{
  tw_text l = tw_text_in(out, size);
  const int missed = a->asked - a->met - a->left_out;
  if (a->asked == 0) {
    tw_text_add(&l, "No requirements are written down; add a group `requirements:` to the file.");
  } else if (a->asked == 1 && a->left_out == 0) {
    tw_text_add(&l, "The one requirement is %smet.", missed ? "not " : "");
  } else if (a->met == a->asked) {
    tw_text_add(&l, "All %d requirements are met.", a->asked);
  } else if (a->left_out == 0) {
    add_share(&l, missed, a->asked);
    tw_text_add(&l, " not met.");
  } else {
    add_share(&l, missed ? missed : a->met, a->asked);
    tw_text_add(&l, " %smet, %d %s not judged: ", missed ? "not " : "", a->left_out,
                a->left_out == 1 ? "was" : "were");
    add_left_out(&l, a);
  }
  if (tw_measure_state_prevents_touch(a->state)) {
    tw_text_add(&l, " %s", tw_measure_state_sentence(a->state));
  }
}
