/* read_section.c: what all sections share whose keys are names: the map, a name, room, an amount.
 */
#include "inside.h"

#include <ctype.h>
#include <string.h>

#define TW_NAMED_LIMIT 200

static bool good_name(const char *name)
{
  for (const char *p = name; *p; p++) {
    if (!islower((unsigned char)*p) && !isdigit((unsigned char)*p) && *p != '_') {
      return false;
    }
  }
  return strlen(name) < 48;
}

/* the section is a map of few, well-formed names */
bool tw_section_is_map(tw_reading *r, const char *section, const tw_node *node)
{
  if (node->kind != TW_NODE_MAP) {
    tw_reading_say(r, TW_ERROR, tw_reading_place(r, node), section,
                   "write the names below it, indented", "a group of keys is expected");
    return false;
  }
  if (node->count > TW_NAMED_LIMIT) {
    tw_reading_say(r, TW_ERROR, tw_reading_place(r, node), section, NULL, "more than %d entries",
                   TW_NAMED_LIMIT);
    return false;
  }
  return true;
}

bool tw_name_is_good(tw_reading *r, const char *path, const tw_node *node)
{
  if (good_name(node->key)) {
    return true;
  }
  const tw_place place = {r->source->file, node->key_line, node->key_column};
  tw_reading_say(r, TW_ERROR, place, path, "use small letters, digits and _", "'%.48s' is no name",
                 node->key);
  return false;
}

/* room for the entries of this layer behind those that are there */
void *tw_section_longer(tw_reading *r, const void *old, size_t have, size_t more, size_t size)
{
  void *list = tw_reading_take(r, (have + more) * size);
  if (list && have) {
    memcpy(list, old, have * size);
  }
  return list;
}

/* a quantity that is not negative */
void tw_read_amount(tw_reading *r, const char *path, const char *unit, const tw_node *node,
                    double *out)
{
  tw_quantity q;
  if (!tw_read_quantity(r, path, unit, node, &q)) {
    return;
  }
  if (q.number < 0) {
    tw_reading_say(r, TW_ERROR, tw_reading_place(r, node), path, NULL, "it is negative");
    return;
  }
  *out = q.number;
}
