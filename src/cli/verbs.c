/* verbs.c: the table of verbs, in the order in which a workshop meets them. */
#include "verb.h"

#define TW_VERBS(X)                                                                                \
  X(new)                                                                                           \
  X(check)                                                                                         \
  X(expect)                                                                                        \
  X(capture)                                                                                       \
  X(suspect)                                                                                       \
  X(identify)                                                                                      \
  X(disc)                                                                                          \
  X(seat)                                                                                          \
  X(touch)                                                                                         \
  X(circuit)                                                                                       \
  X(vary)                                                                                          \
  X(spread)                                                                                        \
  X(drivers)                                                                                       \
  X(remedy)                                                                                        \
  X(compare)                                                                                       \
  X(allot)                                                                                         \
  X(cost)                                                                                          \
  X(order)                                                                                         \
  X(sheet)                                                                                         \
  X(certificate)                                                                                   \
  X(tram)                                                                                          \
  X(repeat)                                                                                        \
  X(form)                                                                                          \
  X(tip)                                                                                           \
  X(budget)                                                                                        \
  X(gauge)                                                                                         \
  X(program)                                                                                       \
  X(log)                                                                                           \
  X(export)                                                                                        \
  X(report)                                                                                        \
  X(pack)                                                                                          \
  X(serve)                                                                                         \
  X(fields)                                                                                        \
  X(parts)

#define X(name) extern const tw_verb tw_verb_##name;
TW_VERBS(X)
#undef X

const tw_verb *const tw_verbs[] = {
#define X(name) &tw_verb_##name,
    TW_VERBS(X)
#undef X
        NULL,
};
