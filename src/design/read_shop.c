/* read_shop.c: what only a batch asks for: prices of parts, times and grades of processes, the
 * steps of the work. */
#include "inside.h"

#include <stdio.h>
#include <string.h>

#define TW_LIST_LIMIT  40  /* prices of a part, grades of a dimension */
#define TW_COUNT_LIMIT 1e6 /* pieces */
#define TW_PATH        160

typedef struct key_row {
  const char *key, *unit;
  size_t at; /* of a double in the structure */
} key_row;

/* ---- one value ------------------------------------------------------------------------------- */

static void wrong(tw_reading *r, const tw_node *node, const char *path, const char *hint,
                  const char *text)
{
  tw_reading_say(r, TW_ERROR, tw_reading_place(r, node), path, hint, "%s", text);
}

/* one of `count` rows: the amount goes into `thing`; false if no row has the key */
static bool read_row(tw_reading *r, const char *path, const tw_node *node, const key_row *row,
                     size_t count, void *thing)
{
  for (size_t i = 0; i < count; i++) {
    if (strcmp(node->key, row[i].key) == 0) {
      tw_read_amount(r, path, row[i].unit, node, (double *)(void *)((char *)thing + row[i].at));
      return true;
    }
  }
  return false;
}

static void read_share(tw_reading *r, const char *path, const tw_node *node, double *out)
{
  double share = *out;
  tw_read_amount(r, path, "1", node, &share);
  if (share > 1) {
    wrong(r, node, path, "write 85 % or 0.85", "a share is at most 100 %");
    return;
  }
  *out = share;
}

static void read_number_of(tw_reading *r, const char *path, const tw_node *node, int *out)
{
  double n = *out;
  tw_read_amount(r, path, "1", node, &n);
  if (n > TW_COUNT_LIMIT || (double)(int)n < n) {
    wrong(r, node, path, NULL, "a whole number up to a million is expected");
    return;
  }
  *out = (int)n;
}

static bool read_choice(tw_reading *r, const char *path, const tw_node *node, const char *no,
                        const char *yes, bool *out)
{
  const bool scalar = node->kind == TW_NODE_SCALAR;
  if (scalar && (strcmp(node->text, no) == 0 || strcmp(node->text, yes) == 0)) {
    *out = strcmp(node->text, yes) == 0;
    return true;
  }
  tw_reading_say(r, TW_ERROR, tw_reading_place(r, node), path, NULL, "'%.40s' is none of: %s, %s",
                 scalar ? node->text : "", no, yes);
  return false;
}

/* a list of maps, each read by `one` */
static size_t read_list(tw_reading *r, const char *path, const tw_node *node, const char *hint,
                        size_t size, void **out,
                        bool (*one)(tw_reading *r, const char *path, const tw_node *node, void *to))
{
  if (node->kind != TW_NODE_LIST || node->count == 0 || node->count > TW_LIST_LIMIT) {
    wrong(r, node, path, hint, "a list of 1 to 40 rows is expected");
    return 0;
  }
  char *list = tw_reading_take(r, node->count * size);
  size_t count = 0;
  for (const tw_node *n = node->first; n && list; n = n->next) {
    if (n->kind != TW_NODE_MAP) {
      wrong(r, n, path, hint, "each row of the list is a group in braces");
    } else if (one(r, path, n, list + count * size)) {
      count++;
    }
  }
  *out = list;
  return list ? count : 0;
}

/* ---- parts ----------------------------------------------------------------------------------- */

#define PRICE_HINT "[{from: 1, each: 1.90}, {from: 10, each: 1.55}]"

static bool read_price(tw_reading *r, const char *path, const tw_node *node, void *to)
{
  tw_price *price = to;
  const tw_node *from = tw_node_child(node, "from"), *each = tw_node_child(node, "each");
  double number = 1;
  if (!each || node->count != (size_t)(from ? 2 : 1)) {
    wrong(r, node, path, PRICE_HINT, "a price has `each` and `from`");
    return false;
  }
  if (from) {
    tw_read_amount(r, path, "1", from, &number);
  }
  tw_read_amount(r, path, "1", each, &price->each);
  price->from = number < TW_COUNT_LIMIT ? (int)number : (int)TW_COUNT_LIMIT;
  return true;
}

static void read_prices(tw_reading *r, const char *path, const tw_node *node, tw_supply *supply)
{
  void *list = NULL;
  supply->prices = read_list(r, path, node, PRICE_HINT, sizeof *supply->price, &list, read_price);
  supply->price = list;
  for (size_t i = 0; i < supply->prices; i++) {
    if (supply->price[i].from < 1 || (i && supply->price[i].from <= supply->price[i - 1].from)) {
      wrong(r, node, path, PRICE_HINT, "`from` must rise from row to row, from 1 on");
      supply->prices = 0;
    }
  }
}

bool tw_read_supply_key(tw_reading *r, const char *path, const tw_node *node, tw_supply *supply)
{
  const struct {
    const char *key;
    int *to;
  } number[] = {{"pack", &supply->pack},
                {"per_unit", &supply->per_unit},
                {"have", &supply->have},
                {"seen_good", &supply->seen_good},
                {"seen_bad", &supply->seen_bad}};
  for (size_t i = 0; i < sizeof number / sizeof number[0]; i++) {
    if (strcmp(node->key, number[i].key) == 0) {
      read_number_of(r, path, node, number[i].to);
      return true;
    }
  }
  if (strcmp(node->key, "price") == 0) {
    read_prices(r, path, node, supply);
  } else if (strcmp(node->key, "price_scale") == 0) {
    read_choice(r, path, node, "whole", "stepped", &supply->stepped);
  } else if (strcmp(node->key, "shipping") == 0) {
    tw_read_amount(r, path, "1", node, &supply->shipping);
  } else if (strcmp(node->key, "good") == 0) {
    read_share(r, path, node, &supply->good);
  } else {
    return false;
  }
  return true;
}

/* ---- grades and processes -------------------------------------------------------------------- */

#define GRADE_HINT "[{hold: 50 um, cost: 0}, {hold: IT7, cost: 3}]"

/* what ISO 286 grades this reader takes */
enum { IT_LEAST = 5, IT_MOST = 16 };

static bool read_grade_in(tw_reading *r, const char *path, const char *unit, const tw_node *node,
                          tw_grade *grade)
{
  const tw_node *hold = tw_node_child(node, "hold"), *cost = tw_node_child(node, "cost");
  if (!hold || !cost || node->count != 2 || hold->kind != TW_NODE_SCALAR) {
    wrong(r, node, path, GRADE_HINT, "a grade has `hold` and `cost`");
    return false;
  }
  tw_read_amount(r, path, "1", cost, &grade->cost);
  if (strncmp(hold->text, "IT", 2) == 0 && strcmp(unit, "m") == 0) {
    int it = 0;
    char rest = 0;
    if (sscanf(hold->text, "IT%d%c", &it, &rest) != 1 || it < IT_LEAST || it > IT_MOST) {
      wrong(r, hold, path, NULL, "ISO grades go from IT5 to IT16");
      return false;
    }
    grade->it = it;
    return true;
  }
  tw_read_amount(r, path, unit, hold, &grade->hold);
  if (!(grade->hold > 0)) {
    wrong(r, hold, path, GRADE_HINT, "`hold` is half the zone, and more than zero");
    return false;
  }
  return true;
}

static bool read_length_grade(tw_reading *r, const char *path, const tw_node *node, void *to)
{
  return read_grade_in(r, path, "m", node, to);
}

bool tw_read_making_key(tw_reading *r, const char *path, const tw_node *node,
                        tw_making_cost *making)
{
  static const key_row rows[] = {{"setup", "h", offsetof(tw_making_cost, setup)},
                                 {"unit", "h", offsetof(tw_making_cost, unit)},
                                 {"attended", "h", offsetof(tw_making_cost, attended)},
                                 {"machine_rate", "1", offsetof(tw_making_cost, machine_rate)},
                                 {"least", "h", offsetof(tw_making_cost, least)}};
  bool cumulative = false;
  if (read_row(r, path, node, rows, sizeof rows / sizeof rows[0], making)) {
    return true;
  }
  if (strcmp(node->key, "learn") == 0) {
    read_share(r, path, node, &making->learn);
  } else if (strcmp(node->key, "learn_form") == 0) {
    read_choice(r, path, node, "unit", "cumulative", &cumulative);
    making->learn_form = cumulative ? TW_LEARN_CUMULATIVE : TW_LEARN_UNIT;
  } else if (strcmp(node->key, "grades") == 0) {
    void *list = NULL;
    making->grades.count =
        read_list(r, path, node, GRADE_HINT, sizeof(tw_grade), &list, read_length_grade);
    making->grades.grade = list;
  } else {
    return false;
  }
  return true;
}

static void read_field_grades(tw_reading *r, const tw_node *node)
{
  char path[TW_PATH];
  snprintf(path, sizeof path, "grades.%.100s", node->key);
  const tw_field field = tw_field_find(node->key);
  const tw_field_info *info = field < TW_FIELD_COUNT ? tw_field_of(field) : NULL;
  if (!info || (info->type != TW_TYPE_QUANTITY && info->type != TW_TYPE_NUMBER)) {
    wrong(r, node, path, "tripwright fields lists the paths", "grades belong to a field's path");
    return;
  }
  if (node->kind != TW_NODE_LIST || node->count == 0 || node->count > TW_LIST_LIMIT) {
    wrong(r, node, path, GRADE_HINT, "a list of 1 to 40 rows is expected");
    return;
  }
  tw_grade *list = tw_reading_take(r, node->count * sizeof *list);
  const bool length = info->tolerance == TW_TOLERANCE_LENGTH;
  const char *unit = length ? "m" : info->type == TW_TYPE_NUMBER ? "1" : info->unit;
  size_t count = 0;
  for (const tw_node *n = node->first; n && list; n = n->next) {
    count += n->kind == TW_NODE_MAP && read_grade_in(r, path, unit, n, &list[count]);
  }
  r->store->grades[field] = (tw_grades){list, list ? count : 0};
}

void tw_read_grades(tw_reading *r, const tw_node *node)
{
  if (!tw_section_is_map(r, "grades", node)) {
    return;
  }
  if (!r->store->grades) {
    r->store->grades = tw_reading_take(r, TW_FIELD_COUNT * sizeof *r->store->grades);
  }
  for (const tw_node *n = node->first; n && r->store->grades; n = n->next) {
    read_field_grades(r, n);
  }
}

/* ---- steps ----------------------------------------------------------------------------------- */

/* one word or a list of words; *count of them */
static void read_words(tw_reading *r, const char *path, const tw_node *node, const char **word,
                       size_t *count)
{
  const tw_node one = *node;
  const bool list = node->kind == TW_NODE_LIST;
  *count = 0;
  for (const tw_node *n = list ? node->first : &one; n; n = list ? n->next : NULL) {
    if (n->kind != TW_NODE_SCALAR || !n->text[0] || *count == TW_STEP_LIST) {
      wrong(r, node, path, "[disc, board]", "a list of up to 12 words is expected");
      return;
    }
    word[*count] = tw_reading_keep(r, n->text);
    *count += word[*count] != NULL;
  }
}

static bool read_step_amount(tw_reading *r, const char *path, const tw_node *node, tw_step *step)
{
  static const key_row rows[] = {{"setup", "h", offsetof(tw_step, setup)},
                                 {"unit", "h", offsetof(tw_step, unit)},
                                 {"attended", "h", offsetof(tw_step, attended)},
                                 {"material", "1", offsetof(tw_step, material)},
                                 {"test", "h", offsetof(tw_step, test)},
                                 {"mend_time", "h", offsetof(tw_step, mend_time)},
                                 {"salvage", "1", offsetof(tw_step, salvage)},
                                 {"wait", "h", offsetof(tw_step, wait)}};
  const struct {
    const char *key;
    double *to;
  } share[] = {{"pass", &step->pass},
               {"finds", &step->finds},
               {"mend", &step->mend},
               {"mended", &step->mended}};
  for (size_t i = 0; i < sizeof share / sizeof share[0]; i++) {
    if (strcmp(node->key, share[i].key) == 0) {
      read_share(r, path, node, share[i].to);
      return true;
    }
  }
  return read_row(r, path, node, rows, sizeof rows / sizeof rows[0], step);
}

static void read_step_key(tw_reading *r, const tw_node *node, tw_step *step)
{
  char path[TW_PATH];
  snprintf(path, sizeof path, "steps.%.48s.%.48s", step->name, node->key);
  if (read_step_amount(r, path, node, step)) {
    return;
  }
  if (strcmp(node->key, "process") == 0 && node->kind == TW_NODE_SCALAR) {
    step->process = tw_reading_keep(r, node->text);
  } else if (strcmp(node->key, "parts") == 0) {
    read_words(r, path, node, step->part, &step->parts);
  } else if (strcmp(node->key, "reads") == 0) {
    read_words(r, path, node, step->reads, &step->read_count);
  } else if (strcmp(node->key, "after") == 0) {
    read_words(r, path, node, step->after, &step->afters);
  } else if (strcmp(node->key, "mend_most") == 0) {
    read_number_of(r, path, node, &step->mend_most);
  } else {
    tw_unknown_section_key(r, "steps", path, node);
  }
}

/* the entry of that name, or a new one at the end with what holds where nothing is said */
static tw_step *step_named(tw_reading *r, const char *key)
{
  tw_store *s = r->store;
  for (size_t i = 0; i < s->steps; i++) {
    if (strcmp(s->step[i].name, key) == 0) {
      return &s->step[i];
    }
  }
  const char *name = tw_reading_keep(r, key);
  tw_step *step = name ? &s->step[s->steps++] : NULL;
  if (step) {
    *step = (tw_step){
        .name = name, .setup = -1, .unit = -1, .attended = -1, .pass = 1, .finds = 1, .mended = 1};
  }
  return step;
}

void tw_read_steps(tw_reading *r, const tw_node *node)
{
  if (!tw_section_is_map(r, "steps", node)) {
    return;
  }
  tw_store *s = r->store;
  tw_step *list = tw_section_longer(r, s->step, s->steps, node->count, sizeof *list);
  if (!list) {
    return;
  }
  s->step = list;
  for (const tw_node *n = node->first; n; n = n->next) {
    if (!tw_name_is_good(r, "steps", n) || !tw_section_is_map(r, "steps", n)) {
      continue;
    }
    tw_step *step = step_named(r, n->key);
    if (!step) {
      return;
    }
    step->place = tw_reading_place(r, n);
    for (const tw_node *k = n->first; k; k = k->next) {
      read_step_key(r, k, step);
    }
  }
}
