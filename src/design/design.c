/* design.c: the design as others see it: values, clones, and the shared store behind them. */
#include "inside.h"

#include <assert.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

tw_store *tw_store_new(void)
{
  tw_store *store = tw_alloc(1, sizeof *store);
  if (!store) {
    return NULL;
  }
  store->arena = tw_arena_new();
  if (!store->arena) {
    tw_free(store);
    return NULL;
  }
  atomic_init(&store->users, 1);
  return store;
}

void tw_store_drop(tw_store *store)
{
  if (store && atomic_fetch_sub(&store->users, 1) == 1) {
    tw_arena_free(store->arena);
    tw_free(store);
  }
}

void tw_design_free(tw_design *design)
{
  if (design) {
    tw_store_drop(design->store);
    tw_free(design);
  }
}

/* ---- values ---------------------------------------------------------------------------------- */

const tw_value *tw_design_value(const tw_design *design, tw_field field)
{
  assert((size_t)field < TW_FIELD_COUNT);
  if (design->read) {
    design->read[field] = true;
  }
  return &design->value[field];
}

bool tw_design_has(const tw_design *design, tw_field field)
{
  return tw_design_value(design, field)->origin != TW_ORIGIN_UNSET;
}

bool tw_design_given(const tw_design *design, tw_field field)
{
  return tw_design_value(design, field)->origin > TW_ORIGIN_LIBRARY;
}

double tw_design_number(const tw_design *design, tw_field field)
{
  return tw_design_number_or(design, field, (double)NAN);
}

double tw_design_number_or(const tw_design *design, tw_field field, double otherwise)
{
  const tw_value *v = tw_design_value(design, field);
  assert(tw_field_of(field)->type <= TW_TYPE_COUNT);
  return v->origin == TW_ORIGIN_UNSET ? otherwise : v->number;
}

int tw_design_count(const tw_design *design, tw_field field)
{
  const tw_value *v = tw_design_value(design, field);
  assert(tw_field_of(field)->type == TW_TYPE_COUNT);
  return v->origin == TW_ORIGIN_UNSET ? -1 : (int)v->number;
}

int tw_design_choice(const tw_design *design, tw_field field)
{
  const tw_value *v = tw_design_value(design, field);
  assert(tw_field_of(field)->type == TW_TYPE_CHOICE);
  return v->origin == TW_ORIGIN_UNSET ? -1 : (int)v->number;
}

const char *tw_design_text(const tw_design *design, tw_field field)
{
  const tw_value *v = tw_design_value(design, field);
  return v->origin == TW_ORIGIN_UNSET ? NULL : v->text;
}

const tw_table *tw_design_table(const tw_design *design, tw_field field)
{
  return tw_design_value(design, field)->table;
}

tw_tolerance tw_design_tolerance(const tw_design *design, tw_field field)
{
  return tw_design_value(design, field)->tolerance;
}

const char *tw_origin_word(tw_origin origin)
{
  static const char *const word[] = {"unset", "default", "library", "shop",
                                     "base",  "given",   "set",     "measured"};
  return (size_t)origin < sizeof word / sizeof word[0] ? word[origin] : "unset";
}

/* ---- what applies ---------------------------------------------------------------------------- */

/* one "group.key=word|word" that ends at `end`; true if the choice is open or one of the words */
static bool clause_applies(const tw_design *design, const char *clause, const char *end,
                           tw_field *other)
{
  char path[64];
  const char *equals = memchr(clause, '=', (size_t)(end - clause));
  assert(equals && (size_t)(equals - clause) < sizeof path);
  memcpy(path, clause, (size_t)(equals - clause));
  path[equals - clause] = '\0';
  const tw_field field = tw_field_find(path);
  const int choice = tw_design_choice(design, field);
  if (choice < 0) {
    return true;
  }
  const char *word = tw_choice_word(tw_field_of(field)->set, choice);
  const size_t length = strlen(word);
  for (const char *p = equals + 1; p < end;) {
    const char *bar = memchr(p, '|', (size_t)(end - p));
    const char *stop = bar ? bar : end;
    if ((size_t)(stop - p) == length && memcmp(p, word, length) == 0) {
      return true;
    }
    p = stop + 1;
  }
  *other = field;
  return false;
}

bool tw_when_applies(const tw_design *design, const char *when, tw_field *other)
{
  for (const char *p = when; *p;) {
    const char *and = strchr(p, '&');
    const char *end = and? and : p + strlen(p);
    if (!clause_applies(design, p, end, other)) {
      return false;
    }
    p = *end ? end + 1 : end;
  }
  return true;
}

bool tw_design_applies(const tw_design *design, tw_field field)
{
  tw_field other;
  return tw_when_applies(design, tw_field_of(field)->when, &other);
}

bool tw_design_has_disc(const tw_design *design)
{
  return tw_design_has(design, TW_F_disc_metal_diameter) &&
         tw_design_has(design, TW_F_disc_ceramic_diameter);
}

/* ---- names and lists ------------------------------------------------------------------------- */

const char *tw_design_name(const tw_design *design)
{
  return tw_design_text(design, TW_F_design);
}

const char *tw_design_revision(const tw_design *design)
{
  return tw_design_text(design, TW_F_revision);
}

const char *tw_design_file(const tw_design *design)
{
  return design->store->file;
}

const char *tw_design_base(const tw_design *design)
{
  return design->store->base;
}

size_t tw_design_requirements(const tw_design *design)
{
  return design->store->requirements;
}

const tw_requirement *tw_design_requirement(const tw_design *design, size_t index)
{
  return index < design->store->requirements ? &design->store->requirement[index] : NULL;
}

size_t tw_design_parts(const tw_design *design)
{
  return design->store->parts;
}

const tw_part *tw_design_part(const tw_design *design, size_t index)
{
  return index < design->store->parts ? &design->store->part[index] : NULL;
}

const tw_part *tw_design_part_named(const tw_design *design, const char *name)
{
  for (size_t i = 0; i < design->store->parts; i++) {
    if (strcmp(design->store->part[i].name, name) == 0) {
      return &design->store->part[i];
    }
  }
  return NULL;
}

size_t tw_design_processes(const tw_design *design)
{
  return design->store->processes;
}

const tw_process *tw_design_process(const tw_design *design, size_t index)
{
  return index < design->store->processes ? &design->store->process[index] : NULL;
}

const char *tw_design_excerpt(const tw_design *design, tw_place place, char *out, size_t size)
{
  for (size_t i = 0; place.file && i < design->store->source_count; i++) {
    if (design->store->source[i].file == place.file) {
      return tw_source_line(&design->store->source[i], place.line, out, size);
    }
  }
  return NULL;
}

/* ---- clones ---------------------------------------------------------------------------------- */

tw_design *tw_design_clone(const tw_design *design)
{
  tw_design *own = tw_alloc(1, sizeof *own);
  if (own) {
    *own = *design;
    own->read = NULL;
    atomic_fetch_add(&own->store->users, 1);
  }
  return own;
}

void tw_design_watch(tw_design *own, bool *read)
{
  own->read = read;
}

void tw_design_copy(tw_design *own, const tw_design *from)
{
  assert(own->store == from->store);
  memcpy(own->value, from->value, sizeof own->value);
}

void tw_design_put_table(tw_design *own, tw_field field, const tw_table *table)
{
  assert((size_t)field < TW_FIELD_COUNT && tw_field_of(field)->type == TW_TYPE_TABLE);
  own->value[field].table = table;
}

void tw_design_take(tw_design *own, const tw_design *from, tw_field field)
{
  assert((size_t)field < TW_FIELD_COUNT);
  own->value[field] = from->value[field];
}

void tw_design_put(tw_design *own, tw_field field, double number)
{
  assert((size_t)field < TW_FIELD_COUNT && tw_field_of(field)->type <= TW_TYPE_CHOICE);
  tw_value *v = &own->value[field];
  v->number = number;
  v->text = NULL;
  v->origin = TW_ORIGIN_SET;
}

tw_status tw_design_with(const tw_design *design, size_t n, const tw_field *fields,
                         const double *numbers, tw_design **out)
{
  *out = tw_design_clone(design);
  if (!*out) {
    return TW_NO_MEMORY;
  }
  for (size_t i = 0; i < n; i++) {
    tw_design_put(*out, fields[i], numbers[i]);
  }
  return TW_OK;
}
