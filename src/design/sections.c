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
    {"parts", "price", "", "a list: [{from: 1, each: 1.90}, {from: 10, each: 1.55}]"},
    {"parts", "price_scale", "", "whole: all pieces at the price of the last step; stepped"},
    {"parts", "pack", "1", "sold in packs of so many"},
    {"parts", "shipping", "1", "of one order"},
    {"parts", "per_unit", "1", "pieces that one probe takes (1)"},
    {"parts", "have", "1", "pieces in hand, which count before any is bought"},
    {"parts", "good", "1", "share of the pieces that can be used: 85 %"},
    {"parts", "seen_good", "1", "pieces found good so far, instead of `good`"},
    {"parts", "seen_bad", "1", "pieces found bad so far"},
    {"processes", "offset_xy", "mm", "what an outline comes out larger, with its tolerance"},
    {"processes", "offset_hole", "mm", "what a hole comes out larger"},
    {"processes", "offset_place", "mm", "how far a feature comes out from its place"},
    {"processes", "offset_z", "mm", "what a height comes out larger"},
    {"processes", "setup", "h", "work before the first piece of a lot"},
    {"processes", "unit", "h", "time of one piece"},
    {"processes", "attended", "h", "of it with a hand at it (all)"},
    {"processes", "machine_rate", "1", "money an hour of the machine"},
    {"processes", "learn", "1", "share of the time that is left when the number doubles: 85 %"},
    {"processes", "learn_form", "", "unit (time of piece n) or cumulative (mean of the first n)"},
    {"processes", "least", "h", "where learning ends"},
    {"processes", "grades", "", "a list: [{hold: 50 um, cost: 0}, {hold: IT7, cost: 3}]"},
    {"steps", "process", "", "a name below processes: whose times count"},
    {"steps", "parts", "", "parts that go in here: [disc, board]"},
    {"steps", "reads", "", "measures that the test reads: [trip_force_side]"},
    {"steps", "after", "", "steps that must be done before (the one before it)"},
    {"steps", "setup", "h", "once a lot, where the process says it otherwise"},
    {"steps", "unit", "h", "time of one unit"},
    {"steps", "attended", "h", "of it with a hand at it (all)"},
    {"steps", "material", "1", "money a unit"},
    {"steps", "test", "h", "time of the test of one unit"},
    {"steps", "pass", "1", "share whose work is right (100 %)"},
    {"steps", "finds", "1", "share of the faulty that the test finds (100 %)"},
    {"steps", "mend", "1", "share of those found that can be reworked (0)"},
    {"steps", "mended", "1", "share of the reworked that pass then (100 %)"},
    {"steps", "mend_time", "h", "work of one rework"},
    {"steps", "mend_most", "1", "reworks of one unit at most (no limit)"},
    {"steps", "salvage", "1", "money that a scrapped unit gives back"},
    {"steps", "wait", "h", "time without a hand: a cure"},
    {"grades", "PATH", "", "of a field: [{hold: 0.1 N, cost: 0}, {hold: 0.03 N, cost: 4}]"},
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
  char hint[400];
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
