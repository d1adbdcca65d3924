/* measures.c: the result table as data, and the words of its states. */
#include "tripwright/assess.h"

#include <string.h>

static const tw_measure_info info[] = {
#define LESS   TW_BETTER_LESS
#define MORE   TW_BETTER_MORE
#define NONE   TW_BETTER_NONE
#define STATIC TW_NEEDS_STATIC
#define MAP    TW_NEEDS_MAP
#define TIMED  TW_NEEDS_TIMED
#define TOUCH  true
#define ALONE  false
#define M(name, unit, shown, better, needs, after, section, help)                                  \
  {#name, unit, shown, better, needs, section, help, after},
#include "tripwright/measures.def"
#undef M
};

const tw_measure_info *tw_measure_about(tw_measure_id id)
{
  return &info[(size_t)id < TW_MEASURE_COUNT ? (size_t)id : 0];
}

tw_measure_id tw_measure_find(const char *name)
{
  for (int i = 0; i < TW_MEASURE_COUNT; i++) {
    if (strcmp(info[i].name, name) == 0) {
      return (tw_measure_id)i;
    }
  }
  return TW_MEASURE_COUNT;
}

int tw_measure_rounds(tw_measure_id id)
{
  return id == TW_M_slowest_feed ? 1 : id == TW_M_fastest_feed ? -1 : 0;
}

static const struct {
  const char *name, *words, *sentence;
} states[] = {
    [TW_MEASURE_OK] = {"ok", "ok", ""},
    [TW_MEASURE_NO_TRIP] = {"no_trip", "no trip", "It does not trip."},
    [TW_MEASURE_NOT_APPLICABLE] = {"not_applicable", "does not apply",
                                   "This kind of probe has no such figure."},
    [TW_MEASURE_NOT_COMPUTED] = {"not_computed", "not computed", "This was left out."},
    [TW_MEASURE_NO_ANSWER] = {"no_answer", "no answer", "The computation found no answer."},
    [TW_MEASURE_TRIPPED_AT_REST] = {"tripped_at_rest", "tripped at rest",
                                    "It is tripped at rest: its output is active before anything "
                                    "touches the tip."},
    [TW_MEASURE_STUCK] = {"stuck", "stuck",
                          "It is stuck: it trips once and its output never falls back."},
    [TW_MEASURE_NO_REARM] = {"does_not_rearm", "does not re-arm",
                             "It does not re-arm: a touch and its withdrawal do not leave it "
                             "ready for the next."},
    [TW_MEASURE_WRONG_SIGN] = {"wrong_sign", "wrong sign",
                               "The pulse has the wrong sign: the circuit waits for the other one, "
                               "so no touch trips."},
};

static size_t state_row_of(tw_measure_state state)
{
  return (size_t)state < sizeof states / sizeof states[0] ? (size_t)state : TW_MEASURE_NO_ANSWER;
}

const char *tw_measure_state_text(tw_measure_state state)
{
  return states[state_row_of(state)].name;
}

const char *tw_measure_state_words(tw_measure_state state)
{
  return states[state_row_of(state)].words;
}

const char *tw_measure_state_sentence(tw_measure_state state)
{
  return states[state_row_of(state)].sentence;
}

bool tw_measure_state_prevents_touch(tw_measure_state state)
{
  return state == TW_MEASURE_TRIPPED_AT_REST || state == TW_MEASURE_STUCK ||
         state == TW_MEASURE_NO_REARM || state == TW_MEASURE_WRONG_SIGN;
}

const char *tw_basis_text(tw_basis basis)
{
  static const char *const text[] = {"assumed", "library", "measured"};
  return (size_t)basis < sizeof text / sizeof text[0] ? text[basis] : "assumed";
}
