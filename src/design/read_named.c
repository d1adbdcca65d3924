/* read_named.c: the sections whose keys are names: requirements, parts, processes (steps and
 * grades: read_shop.c). */
#include "inside.h"

#include <stdio.h>
#include <string.h>

/* ---- requirements ---------------------------------------------------------------------------- */

static const char *trimmed(tw_reading *r, const char *start, const char *end)
{
  while (start < end && *start == ' ') {
    start++;
  }
  while (end > start && end[-1] == ' ') {
    end--;
  }
  const char *copy = tw_arena_text(r->store->arena, start, (size_t)(end - start));
  r->no_memory |= !copy;
  return copy;
}

/* "within a .. b" */
static bool read_within(tw_reading *r, const char *rest, tw_requirement *q)
{
  const char *dots = strstr(rest, "..");
  if (!dots) {
    return false;
  }
  q->rule = TW_RULE_WITHIN;
  q->low = trimmed(r, rest, dots);
  q->high = trimmed(r, dots + 2, dots + 2 + strlen(dots + 2));
  return q->low && q->high && q->low[0] && q->high[0];
}

static bool read_rule(tw_reading *r, const char *text, tw_requirement *q)
{
  while (*text == ' ') {
    text++;
  }
  const char *end = text + strlen(text);
  if (strncmp(text, "<=", 2) == 0) {
    q->rule = TW_RULE_MOST;
    q->high = trimmed(r, text + 2, end);
    return q->high && q->high[0];
  }
  if (strncmp(text, ">=", 2) == 0) {
    q->rule = TW_RULE_LEAST;
    q->low = trimmed(r, text + 2, end);
    return q->low && q->low[0];
  }
  if (strncmp(text, "within ", 7) == 0) {
    return read_within(r, text + 7, q);
  }
  if (*text == '=' && text[1] != '=') {
    q->rule = TW_RULE_IS;
    q->word = trimmed(r, text + 1, end);
    return q->word && q->word[0];
  }
  return false;
}

static void add_requirement(tw_reading *r, const tw_node *node)
{
  char path[80];
  snprintf(path, sizeof path, "requirements.%s", node->key);
  if (!tw_name_is_good(r, "requirements", node)) {
    return;
  }
  tw_requirement q = {.place = tw_reading_place(r, node)};
  if (node->kind != TW_NODE_SCALAR || !read_rule(r, node->text, &q)) {
    tw_reading_say(r, TW_ERROR, q.place, path, "write it in quotes: \"<= 0.25 N\"",
                   "a rule is expected: <= x, >= x, = word, or within a .. b");
    return;
  }
  char line[200];
  const char *excerpt = tw_source_line(r->source, node->line, line, sizeof line);
  q.name = tw_reading_keep(r, node->key);
  q.text = tw_reading_keep(r, node->text);
  q.excerpt = excerpt ? tw_reading_keep(r, excerpt) : NULL;
  for (size_t i = 0; q.name && i < r->store->requirements; i++) {
    if (strcmp(r->store->requirement[i].name, q.name) == 0) {
      r->store->requirement[i] = q; /* a stronger layer replaces it */
      return;
    }
  }
  if (q.name) {
    r->store->requirement[r->store->requirements++] = q;
  }
}

void tw_read_requirements(tw_reading *r, const tw_node *node)
{
  if (!tw_section_is_map(r, "requirements", node)) {
    return;
  }
  tw_store *s = r->store;
  tw_requirement *list =
      tw_section_longer(r, s->requirement, s->requirements, node->count, sizeof *list);
  if (list) {
    s->requirement = list;
    for (const tw_node *n = node->first; n; n = n->next) {
      add_requirement(r, n);
    }
  }
}

/* ---- parts ----------------------------------------------------------------------------------- */

static const char *const state_word[] = {"open", "ordered", "in_hand", "fitted"};

static void read_state(tw_reading *r, const char *path, const tw_node *node, tw_part *part)
{
  for (size_t i = 0; i < 4; i++) {
    if (strcmp(node->text, state_word[i]) == 0) {
      part->state = (tw_part_state)i;
      return;
    }
  }
  tw_reading_say(r, TW_ERROR, tw_reading_place(r, node), path, NULL,
                 "'%.40s' is none of: open, ordered, in_hand, fitted", node->text);
}

static void read_part_key(tw_reading *r, const char *name, const tw_node *node, tw_part *part)
{
  char path[128];
  snprintf(path, sizeof path, "parts.%.48s.%.48s", name, node->key);
  if (tw_read_supply_key(r, path, node, &part->supply)) {
    return;
  }
  if (node->kind != TW_NODE_SCALAR || !node->text[0]) {
    tw_reading_say(r, TW_ERROR, tw_reading_place(r, node), path, NULL, "one value is expected");
  } else if (strcmp(node->key, "state") == 0) {
    read_state(r, path, node, part);
  } else if (strcmp(node->key, "lead_time") == 0) {
    tw_read_amount(r, path, "day", node, &part->lead_time);
  } else if (strcmp(node->key, "cost") == 0) {
    tw_read_amount(r, path, "1", node, &part->cost);
  } else if (strcmp(node->key, "hours") == 0) {
    tw_read_amount(r, path, "h", node, &part->hours);
  } else if (strcmp(node->key, "operations") == 0) {
    double n = part->operations;
    tw_read_amount(r, path, "1", node, &n);
    part->operations = n < 1e6 ? (int)n : 1000000;
  } else if (strcmp(node->key, "process") == 0) {
    part->process = tw_reading_keep(r, node->text);
  } else {
    tw_unknown_section_key(r, "parts", path, node);
  }
}

void tw_read_parts(tw_reading *r, const tw_node *node)
{
  if (!tw_section_is_map(r, "parts", node)) {
    return;
  }
  tw_store *s = r->store;
  tw_part *list = tw_section_longer(r, s->part, s->parts, node->count, sizeof *list);
  if (!list) {
    return;
  }
  s->part = list;
  for (const tw_node *n = node->first; n; n = n->next) {
    if (!tw_name_is_good(r, "parts", n) || !tw_section_is_map(r, "parts", n)) {
      continue;
    }
    tw_part *part = NULL;
    for (size_t i = 0; i < s->parts; i++) {
      part = strcmp(s->part[i].name, n->key) == 0 ? &s->part[i] : part;
    }
    if (!part) {
      const char *name = tw_reading_keep(r, n->key);
      if (!name) {
        return;
      }
      part = &s->part[s->parts++];
      *part = (tw_part){.name = name};
    }
    part->place = tw_reading_place(r, n);
    for (const tw_node *k = n->first; k; k = k->next) {
      read_part_key(r, n->key, k, part);
    }
  }
}

/* ---- processes ------------------------------------------------------------------------------- */

static const char *const process_key[] = {"offset_xy", "offset_hole", "offset_place", "offset_z"};

static void read_process_key(tw_reading *r, const tw_node *node, tw_process *p)
{
  tw_quantity *const to[] = {&p->offset_xy, &p->offset_hole, &p->offset_place, &p->offset_z};
  bool *const has[] = {&p->has.xy, &p->has.hole, &p->has.place, &p->has.z};
  char path[128];
  snprintf(path, sizeof path, "processes.%.48s.%.48s", p->name, node->key);
  for (size_t k = 0; k < sizeof to / sizeof to[0]; k++) {
    if (strcmp(node->key, process_key[k]) == 0) {
      *has[k] = tw_read_quantity(r, path, "mm", node, to[k]);
      return;
    }
  }
  if (!tw_read_making_key(r, path, node, &p->making)) {
    tw_unknown_section_key(r, "processes", path, node);
  }
}

void tw_read_processes(tw_reading *r, const tw_node *node)
{
  if (!tw_section_is_map(r, "processes", node)) {
    return;
  }
  tw_store *s = r->store;
  tw_process *list = tw_section_longer(r, s->process, s->processes, node->count, sizeof *list);
  if (!list) {
    return;
  }
  s->process = list;
  for (const tw_node *n = node->first; n; n = n->next) {
    if (!tw_name_is_good(r, "processes", n) || !tw_section_is_map(r, "processes", n)) {
      continue;
    }
    tw_process p = {.name = tw_reading_keep(r, n->key),
                    .making = {.attended = -1},
                    .place = tw_reading_place(r, n)};
    if (!p.name) {
      return;
    }
    for (const tw_node *k = n->first; k; k = k->next) {
      read_process_key(r, k, &p);
    }
    size_t at = 0;
    while (at < s->processes && strcmp(s->process[at].name, p.name) != 0) {
      at++;
    }
    s->process[at] = p;
    s->processes += at == s->processes;
  }
}

bool tw_read_section(tw_reading *r, const char *name, const tw_node *node)
{
  if (strcmp(name, "requirements") == 0) {
    tw_read_requirements(r, node);
  } else if (strcmp(name, "parts") == 0) {
    tw_read_parts(r, node);
  } else if (strcmp(name, "processes") == 0) {
    tw_read_processes(r, node);
  } else if (strcmp(name, "steps") == 0) {
    tw_read_steps(r, node);
  } else if (strcmp(name, "grades") == 0) {
    tw_read_grades(r, node);
  } else {
    return false;
  }
  return true;
}
