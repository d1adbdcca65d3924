/* groups.c: the groups of fields and what each is needed for; the parts to be remade. */
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

#define HOUR 3600.0
#define DAY  86400.0

static const tw_part_info part_info[] = {
    {"program", "a number in the motion program", 0.1 * HOUR, 0},
    {"machine", "a setting of the machine or its controller", 0.3 * HOUR, 0},
    {"screws", "turn or exchange an adjusting screw", 0.3 * HOUR, 0},
    {"preload", "set the preload again", 0.3 * HOUR, 0},
    {"resistor", "exchange a resistor on the board", 0.3 * HOUR, 0},
    {"capacitor", "exchange a capacitor on the board", 0.3 * HOUR, 0},
    {"battery", "another battery", 0.2 * HOUR, 2 * DAY},
    {"holddown", "set or exchange the hold-down", 1 * HOUR, 0},
    {"foam", "cut another foam ring", 0.5 * HOUR, 2 * DAY},
    {"spring", "another spring", 0.5 * HOUR, 5 * DAY},
    {"stylus", "another stylus", 0.5 * HOUR, 5 * DAY},
    {"cable", "another cable", 1 * HOUR, 3 * DAY},
    {"plug", "another plug and socket", 1.5 * HOUR, 5 * DAY},
    {"amplifier", "exchange the amplifier on the board", 0.5 * HOUR, 3 * DAY},
    {"disc", "another disc", 1 * HOUR, 5 * DAY},
    {"support", "print or turn the disc's support again", 2 * HOUR, 0.5 * DAY},
    {"socket", "print or turn the socket again", 2 * HOUR, 0.5 * DAY},
    {"carrier", "turn the carrier again", 3 * HOUR, 0.5 * DAY},
    {"housing", "print or turn the housing again", 4 * HOUR, 1 * DAY},
    {"board", "another board", 3 * HOUR, 10 * DAY},
};

size_t tw_part_info_count(void)
{
  return sizeof part_info / sizeof part_info[0];
}

const tw_part_info *tw_part_info_at(size_t index)
{
  return index < tw_part_info_count() ? &part_info[index] : NULL;
}

const tw_part_info *tw_part_info_named(const char *name)
{
  for (size_t i = 0; i < tw_part_info_count(); i++) {
    if (strcmp(part_info[i].name, name) == 0) {
      return &part_info[i];
    }
  }
  return NULL;
}

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
