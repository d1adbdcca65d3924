/* acts.c: what can be done at the bench, by name. */
#include "tripwright/capture.h"

#include <string.h>

static const struct {
  const char *word, *sentence;
} acts[] = {
#define X(NAME, word, sentence) {word, sentence},
    TW_CAPTURE_ACTS(X)
#undef X
};

/* other words for the same */
static const struct {
  const char *word;
  tw_capture_act act;
} also[] = {
    {"cut", TW_CAPTURE_THREAD_CUT},       {"thread", TW_CAPTURE_THREAD_CUT},
    {"card", TW_CAPTURE_CARD_CUT},        {"hand", TW_CAPTURE_HAND_WEIGHT},
    {"series", TW_CAPTURE_WEIGHT_SERIES}, {"tap", TW_CAPTURE_RING_DOWN},
    {"ring", TW_CAPTURE_RING_DOWN},       {"noise", TW_CAPTURE_REST},
    {"decay", TW_CAPTURE_METER_DECAY},    {"slow_ramp", TW_CAPTURE_RAMP},
    {"touch", TW_CAPTURE_TOUCHES},
};

const char *tw_capture_act_word(tw_capture_act act)
{
  return (size_t)act < TW_CAPTURE_ACT_COUNT ? acts[act].word : "unknown";
}

const char *tw_capture_act_sentence(tw_capture_act act)
{
  return (size_t)act < TW_CAPTURE_ACT_COUNT ? acts[act].sentence : acts[0].sentence;
}

tw_capture_act tw_capture_act_named(const char *word)
{
  for (size_t i = 0; i < TW_CAPTURE_ACT_COUNT; i++) {
    if (strcmp(word, acts[i].word) == 0) {
      return (tw_capture_act)i;
    }
  }
  for (size_t i = 0; i < sizeof also / sizeof also[0]; i++) {
    if (strcmp(word, also[i].word) == 0) {
      return also[i].act;
    }
  }
  return TW_CAPTURE_ACT_COUNT;
}
