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
#define M(name, unit, shown, better, needs, section, help)                                         \
  {#name, unit, shown, better, needs, section, help},
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

const char *tw_measure_state_text(tw_measure_state state)
{
  static const char *const text[] = {"ok", "no_trip", "not_applicable", "not_computed",
                                     "no_answer"};
  return (size_t)state < sizeof text / sizeof text[0] ? text[state] : "no_answer";
}

const char *tw_basis_text(tw_basis basis)
{
  static const char *const text[] = {"assumed", "library", "measured"};
  return (size_t)basis < sizeof text / sizeof text[0] ? text[basis] : "assumed";
}
