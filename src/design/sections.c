/* sections.c: the keys of the sections whose entries have names of their own. */
#include "inside.h"
#include "tripwright/text.h"

#include <stdio.h>
#include <string.h>

static const tw_section_key keys[] = {
    {"requirements", "MEASURE", "",
     "\"<= 0.25 N\", \">= 2\", \"within a .. b\" or \"= full\", in quotes"},
    {"parts", "state", "", "open, ordered, in_hand or fitted"},
    {"parts", "lead_time", "day", "from order to hand"},
    {"parts", "cost", "1", "in the workshop's money, a plain number"},
    {"parts", "hours", "h", "work to make or change it"},
    {"parts", "operations", "1", "operations to make or change it"},
    {"parts", "process", "", "a name below processes: by which it is made"},
    {"processes", "offset_xy", "mm", "what an outline comes out larger, with its tolerance"},
    {"processes", "offset_hole", "mm", "what a hole comes out larger"},
    {"processes", "offset_place", "mm", "how far a feature comes out from its place"},
    {"processes", "offset_z", "mm", "what a height comes out larger"},
};

size_t tw_section_key_count(void)
{
  return sizeof keys / sizeof keys[0];
}

const tw_section_key *tw_section_key_at(size_t index)
{
  return &keys[index];
}

void tw_unknown_section_key(tw_reading *r, const char *section, const char *path,
                            const tw_node *node)
{
  const char *names[sizeof keys / sizeof keys[0]];
  char hint[240];
  tw_text text = tw_text_in(hint, sizeof hint);
  size_t count = 0;
  for (size_t i = 0; i < sizeof keys / sizeof keys[0]; i++) {
    if (strcmp(keys[i].section, section) == 0) {
      names[count++] = keys[i].key;
    }
  }
  const char *near = tw_nearest_name(node->key, names, count);
  if (near) {
    tw_text_add(&text, "did you mean '%s'?", near);
  }
  for (size_t i = 0; i < count && !near; i++) {
    tw_text_add(&text, "%s%s", i ? ", " : "known: ", names[i]);
  }
  const tw_place place = {r->source->file, node->key_line, node->key_column};
  tw_reading_say(r, TW_ERROR, place, path, hint, "unknown key '%.48s'", node->key);
}
