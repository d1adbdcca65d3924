/* groups.c: the groups of fields and what each is needed for. */
#include "inside.h"

#include <string.h>

static const struct {
  const char *name;
  unsigned need;
} group[] = {
    {"disc", TW_NEED_DISC},
    {"support", TW_NEED_DISC},
    {"seat", TW_NEED_SEAT},
    {"preload", TW_NEED_SEAT},
    {"holddown", TW_NEED_HOLD},
    {"stylus", TW_NEED_STYLUS},
    {"circuit", TW_NEED_CIRCUIT},
    {"output", TW_NEED_CIRCUIT},
    {"link", TW_NEED_LINK},
    {"machine", TW_NEED_STYLUS},
    {"environment", 0},
    {"housing", 0},
    {"board", 0},
    {"stack", 0},
    {"costs", 0},
    {"measured", 0},
};

int tw_group_count(void)
{
  return (int)(sizeof group / sizeof group[0]);
}

const char *tw_group_name(int g)
{
  return group[g].name;
}

unsigned tw_group_need(int g)
{
  return group[g].need;
}

int tw_group_of(const char *path)
{
  const char *dot = strchr(path, '.');
  const size_t length = dot ? (size_t)(dot - path) : 0;
  for (int g = 0; length && g < tw_group_count(); g++) {
    if (strlen(group[g].name) == length && memcmp(group[g].name, path, length) == 0) {
      return g;
    }
  }
  return -1;
}
