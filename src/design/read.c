/* read.c: a design file, layer on layer: shop file, the file it is based on, itself, --set; then
 * the library's rows, the defaults, what is missing, and what cannot be. */
#include "inside.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#define TW_PATH_LIMIT 1024

/* ---- one layer ------------------------------------------------------------------------------- */

static tw_place key_place(const tw_reading *r, const tw_node *node)
{
  return (tw_place){r->source->file, node->key_line, node->key_column};
}

static void unknown_in_group(tw_reading *r, const char *group, const tw_node *node)
{
  char path[128], hint[160] = "";
  snprintf(path, sizeof path, "%.32s.%.64s", group, node->key);
  const char *names[TW_FIELD_COUNT];
  size_t count = 0;
  const size_t length = strlen(group);
  for (size_t i = 0; i < TW_FIELD_COUNT; i++) {
    const char *p = tw_field_of((tw_field)i)->path;
    if (strncmp(p, group, length) == 0 && p[length] == '.') {
      names[count++] = p + length + 1;
    }
  }
  const char *near = tw_nearest_name(node->key, names, count);
  if (near) {
    snprintf(hint, sizeof hint, "did you mean '%s'?", near);
  } else {
    snprintf(hint, sizeof hint, "tripwright fields %s lists the keys", group);
  }
  tw_reading_say(r, TW_ERROR, key_place(r, node), path, hint, "unknown key '%.64s'", node->key);
}

/* {force: 0,8 N}: the comma ends the value, and "8 N" becomes a key without one */
static bool cut_by_comma(tw_reading *r, const char *group, const tw_node *n)
{
  const tw_node *rest = n->next;
  if (!n->flow || n->kind != TW_NODE_SCALAR || !rest || rest->kind != TW_NODE_SCALAR ||
      rest->text[0] || n->quoted || strspn(n->text, "+-0123456789") != strlen(n->text) ||
      rest->key[0] < '0' || rest->key[0] > '9') {
    return false;
  }
  char path[160], hint[160];
  snprintf(path, sizeof path, "%.32s.%.64s", group, n->key);
  snprintf(hint, sizeof hint, "write a decimal point: %.40s.%.40s", n->text, rest->key);
  tw_reading_say(r, TW_ERROR, tw_reading_place(r, n), path, hint,
                 "a comma inside a number, which in braces ends the value");
  r->broken = true;
  return true;
}

/* preload:{force: 1 N}: without a blank the colon belongs to the word */
static bool blank_is_missing(tw_reading *r, const tw_node *node)
{
  const char *colon = strchr(node->key, ':');
  if (!colon) {
    return false;
  }
  char hint[160];
  snprintf(hint, sizeof hint, "write a blank after the colon: %.*s: ...", (int)(colon - node->key),
           node->key);
  tw_reading_say(r, TW_ERROR, key_place(r, node), NULL, hint, "a colon without a blank after it");
  r->broken = true;
  return true;
}

static void read_group(tw_reading *r, int g, const tw_node *node)
{
  const char *group = tw_group_name(g);
  if (node->kind != TW_NODE_MAP) {
    tw_reading_say(r, TW_ERROR, tw_reading_place(r, node), group,
                   "write its keys below it, indented, or as {key: value}",
                   "a group of keys is expected");
    return;
  }
  r->group_place[g] = key_place(r, node);
  for (const tw_node *n = node->first; n; n = n->next) {
    if (cut_by_comma(r, group, n)) {
      n = n->next;
      continue;
    }
    char path[160];
    snprintf(path, sizeof path, "%s.%.100s", group, n->key);
    const tw_field field = tw_field_find(path);
    if (field == TW_FIELD_COUNT) {
      unknown_in_group(r, group, n);
    } else {
      tw_read_value(r, field, n);
    }
  }
}

static void unknown_at_top(tw_reading *r, const tw_node *node)
{
  static const char *const more[] = {"design", "revision",  "notes", "based_on", "requirements",
                                     "parts",  "processes", "steps", "grades"};
  const char *names[64];
  size_t count = 0;
  for (size_t i = 0; i < sizeof more / sizeof more[0]; i++) {
    names[count++] = more[i];
  }
  for (int g = 0; g < tw_group_count(); g++) {
    names[count++] = tw_group_name(g);
  }
  char hint[160] = "tripwright fields lists the groups";
  const char *near = tw_nearest_name(node->key, names, count);
  const tw_field dotted = tw_field_find(node->key);
  if (dotted != TW_FIELD_COUNT) {
    const char *dot = strchr(node->key, '.');
    snprintf(hint, sizeof hint, "write '%s' below '%.*s:', indented", dot + 1,
             (int)(dot - node->key), node->key);
  } else if (near) {
    snprintf(hint, sizeof hint, "did you mean '%s'?", near);
  } else {
    for (int g = 0; g < tw_group_count(); g++) {
      char path[128];
      snprintf(path, sizeof path, "%s.%.64s", tw_group_name(g), node->key);
      if (tw_field_find(path) != TW_FIELD_COUNT) {
        snprintf(hint, sizeof hint, "'%.64s' belongs below '%s:', indented", node->key,
                 tw_group_name(g));
      }
    }
  }
  tw_reading_say(r, TW_ERROR, key_place(r, node), NULL, hint, "unknown key '%.64s'", node->key);
}

/* what a shop file may not say */
static bool shop_may_hold(const char *key)
{
  static const char *const no[] = {"design", "revision", "based_on", "requirements", "measured"};
  for (size_t i = 0; i < sizeof no / sizeof no[0]; i++) {
    if (strcmp(key, no[i]) == 0) {
      return false;
    }
  }
  return true;
}

static void read_entry(tw_reading *r, const tw_node *node)
{
  char path[80];
  snprintf(path, sizeof path, "%.64s.", node->key);
  const int g = strchr(node->key, '.') ? -1 : tw_group_of(path);
  const tw_field top = strchr(node->key, '.') ? TW_FIELD_COUNT : tw_field_find(node->key);
  if (r->origin == TW_ORIGIN_SHOP && !shop_may_hold(node->key)) {
    tw_reading_say(r, TW_ERROR, key_place(r, node), node->key, "say it in the design file",
                   "a shop file cannot hold this");
  } else if (strcmp(node->key, "based_on") == 0) {
    return; /* read before */
  } else if (r->origin == TW_ORIGIN_SHOP &&
             strcmp(node->key, tw_part_kind_file(TW_KIND_INSTRUMENT)) == 0) {
    return; /* rows of the library, read where they are used: tw_library_add_shop */
  } else if (g >= 0) {
    read_group(r, g, node);
  } else if (top != TW_FIELD_COUNT) {
    tw_read_value(r, top, node);
  } else if (!blank_is_missing(r, node) && !tw_read_section(r, node->key, node)) {
    unknown_at_top(r, node);
  }
}

static void read_layer(tw_reading *r, const tw_source *source, const tw_node *root,
                       tw_origin origin)
{
  r->source = source;
  r->origin = origin;
  for (const tw_node *n = root->first; n; n = n->next) {
    read_entry(r, n);
  }
}

/* text -> source and tree of a map */
static tw_status take_tree(tw_reading *r, const char *file, const char *text, size_t length,
                           const tw_source **source, tw_node **root)
{
  tw_source *s = &r->store->source[r->store->source_count++];
  tw_status status = tw_source_take(r->store->arena, file, text, length, r->messages, s);
  if (status == TW_OK) {
    status = tw_source_tree(r->store->arena, s, r->messages, root);
  }
  *source = s;
  r->source = s;
  if (status == TW_OK && (*root)->kind != TW_NODE_MAP) {
    tw_reading_say(r, TW_ERROR, tw_reading_place(r, *root), NULL,
                   "start from a template: tripwright new", "a design is a list of key: value");
    status = TW_BAD_INPUT;
  }
  return status;
}

static tw_status take_file(tw_reading *r, const char *file, tw_place from, const char *field,
                           const tw_source **source, tw_node **root)
{
  char *text;
  size_t length;
  tw_fault fault = {0};
  tw_status status = tw_file_read(file, TW_FILE_LIMIT, &fault, &text, &length);
  if (status != TW_OK) {
    if (status != TW_NO_MEMORY) {
      tw_reading_say(r, TW_ERROR, from, field, fault.hint, "%s", fault.text);
    }
    /* a file named inside a design is a wrong input, not a lost design */
    return status == TW_NO_FILE && from.file ? TW_BAD_INPUT : status;
  }
  status = take_tree(r, file, text, length, source, root);
  tw_free(text);
  return status;
}

/* ---- based_on and the shop file ----------------------------------------------------------------
 */

/* `name` beside the file `beside` */
static bool path_beside(const char *beside, const char *name, char *out, size_t size)
{
  const char *slash = strrchr(beside, '/');
  const int n = snprintf(out, size, "%.*s%s", slash ? (int)(slash - beside) + 1 : 0, beside, name);
  return n > 0 && (size_t)n < size;
}

static bool same_file(const char *a, const char *b)
{
  struct stat about_a, about_b;
  return stat(a, &about_a) == 0 && stat(b, &about_b) == 0 && about_a.st_dev == about_b.st_dev &&
         about_a.st_ino == about_b.st_ino;
}

static tw_status base_refused(tw_reading *r, const tw_node *node, const char *hint,
                              const char *text)
{
  tw_reading_say(r, TW_ERROR, tw_reading_place(r, node), "based_on", hint, "%s", text);
  return TW_BAD_INPUT;
}

static tw_status read_base(tw_reading *r, const char *file, const tw_source *own,
                           const tw_node *root)
{
  const tw_node *node = tw_node_child(root, "based_on");
  if (!node) {
    return TW_OK;
  }
  r->source = own;
  if (node->kind != TW_NODE_SCALAR || !node->text[0]) {
    return base_refused(r, node, "write based_on: other.yaml", "a file name is expected");
  }
  if (strcmp(node->text, "-") == 0) {
    return base_refused(r, node, "write based_on: other.yaml", "a file name is expected");
  }
  if (node->text[0] == '/') {
    return base_refused(r, node, "name it relative to this file", "an absolute path");
  }
  char path[TW_PATH_LIMIT];
  if (!r->store->from_disk) {
    return base_refused(r, node, "save the design first", "this design is in no folder");
  }
  if (!path_beside(file, node->text, path, sizeof path)) {
    return base_refused(r, node, "", "the path is too long");
  }
  if (same_file(file, path)) {
    return base_refused(r, node, "name another file", "the design is based on itself");
  }
  const tw_place from = tw_reading_place(r, node);
  const tw_source *source;
  tw_node *base = NULL;
  const tw_status status = take_file(r, path, from, "based_on", &source, &base);
  if (status != TW_OK) {
    return status;
  }
  const tw_node *second = tw_node_child(base, "based_on");
  if (second) {
    r->source = source;
    tw_reading_say(r, TW_ERROR, tw_reading_place(r, second), "based_on",
                   "put what differs into the file that is read",
                   "one level only: '%.80s' is itself based on a file", node->text);
    return TW_BAD_INPUT;
  }
  r->store->base = source->file;
  read_layer(r, source, base, TW_ORIGIN_BASE);
  return TW_OK;
}

static tw_status read_shop(tw_reading *r, const char *file)
{
  if (r->options->no_shop || (!r->options->shop && !r->store->from_disk)) {
    return TW_OK;
  }
  char beside[TW_PATH_LIMIT];
  const char *path = r->options->shop;
  if (!path) {
    if (!path_beside(file, "shop.yaml", beside, sizeof beside) || access(beside, F_OK) != 0 ||
        same_file(file, beside)) {
      return TW_OK;
    }
    path = beside;
  }
  const tw_source *source;
  tw_node *root = NULL;
  const tw_status status = take_file(r, path, (tw_place){0}, NULL, &source, &root);
  if (status == TW_OK) {
    read_layer(r, source, root, TW_ORIGIN_SHOP);
  }
  return status;
}

/* ---- --set ------------------------------------------------------------------------------------
 */

/* requirements.NAME and parts.NAME.KEY: the text as a small tree */
static void set_in_section(tw_reading *r, const tw_source *source, const char *path,
                           const char *text)
{
  char section[64], name[64];
  const char *dot = strchr(path, '.');
  snprintf(section, sizeof section, "%.*s", dot ? (int)(dot - path) : 0, path);
  const char *rest = dot ? dot + 1 : "";
  const char *key = strchr(rest, '.');
  snprintf(name, sizeof name, "%.*s", key ? (int)(key - rest) : (int)strlen(rest), rest);
  tw_node value = {.kind = TW_NODE_SCALAR, .text = text, .key = key ? key + 1 : name};
  tw_node inner = {.kind = TW_NODE_MAP, .key = name, .count = 1, .first = &value};
  const tw_node outer = {
      .kind = TW_NODE_MAP, .key = section, .count = 1, .first = key ? &inner : &value};
  r->source = source;
  if (!rest[0] || !tw_read_section(r, section, &outer)) {
    const char *near = tw_field_nearest(path);
    char hint[120] = "tripwright fields lists the paths";
    if (near) {
      snprintf(hint, sizeof hint, "did you mean '%s'?", near);
    }
    tw_reading_say(r, TW_ERROR, (tw_place){.file = source->file}, NULL, hint,
                   "unknown path '%.64s'", path);
  }
}

static void read_sets(tw_reading *r)
{
  r->origin = TW_ORIGIN_SET;
  for (size_t i = 0; i < r->options->set_count; i++) {
    const tw_set *set = &r->options->sets[i];
    char named[300];
    snprintf(named, sizeof named, "--set %.100s=%.180s", set->path, set->text);
    const tw_source source = {.file = tw_reading_keep(r, named)};
    if (!source.file) {
      return;
    }
    const tw_field field = tw_field_find(set->path);
    if (field == TW_FIELD_COUNT) {
      set_in_section(r, &source, set->path, set->text);
    } else {
      tw_read_text(r, field, set->text, (tw_place){.file = source.file});
    }
  }
}

/* ---- all of it --------------------------------------------------------------------------------
 */

/* seat.friction stands for the two that were not given as strongly */
static void apply_shorthands(tw_reading *r)
{
  static const tw_field both[] = {TW_F_seat_friction_socket, TW_F_seat_friction_flat};
  const tw_value *friction = tw_design_value(r->design, TW_F_seat_friction);
  for (size_t i = 0; i < 2; i++) {
    tw_value *v = &r->design->value[both[i]];
    if (friction->origin > v->origin) {
      *v = *friction;
    }
  }
}

/* two ways to say one thing: what a stronger layer says replaces the other way of a weaker one */
static void drop_weaker(tw_reading *r, tw_field one, tw_field pair_a, tw_field pair_b)
{
  tw_value *v = &r->design->value[one];
  tw_value *a = &r->design->value[pair_a], *b = &r->design->value[pair_b];
  const tw_origin pair = a->origin > b->origin ? a->origin : b->origin;
  if (v->origin > pair) {
    *a = *b = (tw_value){0};
  } else if (pair > v->origin) {
    *v = (tw_value){0};
  }
}

static tw_status read_all(tw_reading *r, const char *file, const char *text, size_t length)
{
  const tw_source *own;
  tw_node *root = NULL;
  tw_status status = take_tree(r, file, text, length, &own, &root);
  if (status != TW_OK) {
    return status;
  }
  r->store->file = own->file;
  status = read_shop(r, file);
  const tw_status base = status == TW_NO_MEMORY ? status : read_base(r, file, own, root);
  if (base != TW_OK) {
    return base;
  }
  read_layer(r, own, root, TW_ORIGIN_GIVEN);
  read_sets(r);
  apply_shorthands(r);
  drop_weaker(r, TW_F_circuit_bias_voltage, TW_F_circuit_bias_upper, TW_F_circuit_bias_lower);
  drop_weaker(r, TW_F_circuit_reference, TW_F_circuit_reference_upper,
              TW_F_circuit_reference_lower);
  drop_weaker(r, TW_F_circuit_reference_middle, TW_F_circuit_bias_voltage, TW_F_circuit_bias_upper);
  drop_weaker(r, TW_F_circuit_gain, TW_F_circuit_gain_upper, TW_F_circuit_gain_lower);
  tw_fill_from_library(r);
  tw_fill_defaults(r);
  if (!r->broken) {
    tw_check_missing(r);
    tw_check_consistency(r);
  }
  return status;
}

static tw_status read_text(const char *file, bool from_disk, const char *text, size_t length,
                           const tw_read_options *options, tw_messages *messages, tw_design **out)
{
  *out = NULL;
  tw_reading r = {.options = options, .messages = messages};
  r.design = tw_alloc(1, sizeof *r.design);
  r.store = tw_store_new();
  if (!r.design || !r.store) {
    tw_free(r.design);
    tw_store_drop(r.store);
    return TW_NO_MEMORY;
  }
  r.design->store = r.store;
  r.store->from_disk = from_disk;
  r.store->hash = tw_text_hash(text, length);
  r.store->length = length;
  const size_t errors = tw_messages_errors(messages);
  tw_status status = read_all(&r, file, text, length);
  if (r.no_memory || tw_messages_lost(messages)) {
    status = TW_NO_MEMORY;
  } else if (status == TW_OK && tw_messages_errors(messages) > errors) {
    status = TW_BAD_INPUT;
  }
  if (status == TW_OK) {
    *out = r.design;
  } else {
    tw_design_free(r.design);
  }
  return status;
}

tw_status tw_design_parse(const char *text, size_t length, const char *file,
                          const tw_read_options *options, tw_messages *messages, tw_design **out)
{
  return read_text(file ? file : "design", file != NULL, text, length, options, messages, out);
}

tw_status tw_design_read(const char *file, const tw_read_options *options, tw_messages *messages,
                         tw_design **out)
{
  *out = NULL;
  char *text;
  size_t length;
  tw_fault fault = {0};
  tw_status status = tw_file_read(file, TW_FILE_LIMIT, &fault, &text, &length);
  if (status != TW_OK) {
    if (status == TW_NO_FILE && !fault.hint[0] && access(file, F_OK) != 0 && errno == ENOENT) {
      snprintf(fault.hint, sizeof fault.hint, "tripwright new FILE writes a first design");
    }
    if (status != TW_NO_MEMORY) {
      tw_messages_add_fault(messages, &fault, (tw_place){0}, NULL);
    }
    return status;
  }
  status = read_text(file, true, text, length, options, messages, out);
  tw_free(text);
  return status;
}
