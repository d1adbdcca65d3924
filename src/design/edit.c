/* edit.c: change the text of values in a design file; everything else keeps its bytes. */
#include "inside.h"

#include <ctype.h>
#include <stdio.h>
#include <string.h>

#define TW_STEPS 3 /* parts.NAME.KEY is the deepest path */

/* a growing text */
typedef struct buffer {
  char *text;
  size_t length, room;
  bool failed;
} buffer;

static void add(buffer *b, const char *text, size_t length)
{
  if (b->failed || b->length + length + 1 > b->room) {
    const size_t room = 2 * b->room + length + 256;
    char *larger = b->failed ? NULL : tw_resize(b->text, room, 1);
    if (!larger) {
      b->failed = true;
      return;
    }
    b->text = larger;
    b->room = room;
  }
  memcpy(b->text + b->length, text, length);
  b->length += length;
  b->text[b->length] = '\0';
}

static void add_text(buffer *b, const char *text)
{
  add(b, text, strlen(text));
}

/* ---- a value as YAML ----------------------------------------------------------------------------
 */

/* may stand without quotes; in a flow collection fewer signs may */
static bool plain(const char *text, bool flow)
{
  const unsigned char first = (unsigned char)text[0];
  const bool number = first == '-' && (isdigit((unsigned char)text[1]) || text[1] == '.');
  if (!first || (!number && !isalnum(first) && !strchr("./+<=_", first) && first < 0x80)) {
    return false;
  }
  for (const char *p = text; *p; p++) {
    if ((unsigned char)*p < 0x20 || *p == 0x7f || (flow && strchr(",[]{}?", *p)) ||
        (*p == ':' && (flow || p[1] == ' ' || !p[1])) || (*p == '#' && p > text && p[-1] == ' ')) {
      return false;
    }
  }
  return text[strlen(text) - 1] != ' ';
}

static void add_double_quoted(buffer *b, const char *text)
{
  add_text(b, "\"");
  for (const char *p = text; *p; p++) {
    char escape[8];
    if (*p == '"' || *p == '\\') {
      snprintf(escape, sizeof escape, "\\%c", *p);
    } else if ((unsigned char)*p < 0x20 || *p == 0x7f) {
      snprintf(escape, sizeof escape, "\\x%02X", (unsigned)(unsigned char)*p);
    } else {
      snprintf(escape, sizeof escape, "%c", *p);
    }
    add_text(b, escape);
  }
  add_text(b, "\"");
}

static void add_single_quoted(buffer *b, const char *text)
{
  add_text(b, "'");
  for (const char *p = text; *p; p++) {
    add(b, *p == '\'' ? "''" : p, *p == '\'' ? 2 : 1);
  }
  add_text(b, "'");
}

/* `mark` is the quote that the old value had, or any other character */
static void add_value(buffer *b, const char *text, bool table, bool flow, char mark)
{
  bool lines = false;
  for (const char *p = text; *p; p++) {
    lines |= (unsigned char)*p < 0x20;
  }
  if (table) {
    add_text(b, text);
  } else if (mark == '\'' && !lines) {
    add_single_quoted(b, text);
  } else if (mark != '"' && plain(text, flow)) {
    add_text(b, text);
  } else {
    add_double_quoted(b, text);
  }
}

/* ---- where it goes ------------------------------------------------------------------------------
 */

typedef struct edit {
  const char *text;
  size_t length;
  const tw_set *set;
  const char *step[TW_STEPS]; /* the path cut at its dots */
  size_t step_length[TW_STEPS];
  size_t steps;
  bool table;
  tw_fault *fault;
} edit;

static bool cut_path(edit *e)
{
  const char *p = e->set->path;
  for (; e->steps < TW_STEPS; e->steps++) {
    const char *dot = strchr(p, '.');
    e->step[e->steps] = p;
    e->step_length[e->steps] = dot ? (size_t)(dot - p) : strlen(p);
    if (!e->step_length[e->steps]) {
      return false;
    }
    if (!dot) {
      e->steps++;
      return true;
    }
    p = dot + 1;
  }
  return false;
}

static const tw_node *child(const tw_node *map, const char *key, size_t length)
{
  for (const tw_node *n = map->kind == TW_NODE_MAP ? map->first : NULL; n; n = n->next) {
    if (strlen(n->key) == length && memcmp(n->key, key, length) == 0) {
      return n;
    }
  }
  return NULL;
}

/* as the file's first line ends */
static const char *line_end(const edit *e)
{
  const char *first = memchr(e->text, '\n', e->length);
  return first && first > e->text && first[-1] == '\r' ? "\r\n" : "\n";
}

static void add_spaces(buffer *b, int count)
{
  for (int i = 0; i < count; i++) {
    add_text(b, " ");
  }
}

/* "key: value", "key: {inner: value}", from step `at` on */
static void add_flow_entry(buffer *b, const edit *e, size_t at)
{
  for (size_t i = at; i < e->steps; i++) {
    add(b, e->step[i], e->step_length[i]);
    add_text(b, i + 1 < e->steps ? ": {" : ": ");
  }
  add_value(b, e->set->text, e->table, true, 0);
  for (size_t i = at; i + 1 < e->steps; i++) {
    add_text(b, "}");
  }
}

static void add_block_entry(buffer *b, const edit *e, size_t at, int indent)
{
  for (size_t i = at; i < e->steps; i++) {
    add_spaces(b, indent + 2 * (int)(i - at));
    add(b, e->step[i], e->step_length[i]);
    add_text(b, i + 1 < e->steps ? ":" : ": ");
    if (i + 1 < e->steps) {
      add_text(b, line_end(e));
    }
  }
  add_value(b, e->set->text, e->table, false, 0);
  add_text(b, line_end(e));
}

/* first byte of the line after the one that holds byte `at` - 1 */
static size_t next_line(const edit *e, size_t at)
{
  if (at > 0 && e->text[at - 1] == '\n') {
    return at; /* block scalars end there */
  }
  while (at < e->length && e->text[at] != '\n') {
    at++;
  }
  return at < e->length ? at + 1 : at;
}

/* add steps at.. to the map `parent` */
static tw_status insert(const edit *e, const tw_node *parent, size_t at, buffer *b)
{
  if (parent->kind != TW_NODE_MAP && at == 0) {
    return tw_fail(e->fault, TW_BAD_INPUT, e->set->path, "edit the file by hand",
                   "the file is no list of key: value");
  }
  if (parent->kind != TW_NODE_MAP) {
    return tw_fail(e->fault, TW_BAD_INPUT, e->set->path, "edit the file by hand",
                   "'%.*s' holds no keys in the file", (int)e->step_length[at - 1],
                   e->step[at - 1]);
  }
  if (parent->flow) {
    const size_t cut = parent->last ? parent->last->end : parent->start + 1;
    add(b, e->text, cut);
    add_text(b, parent->last ? ", " : "");
    add_flow_entry(b, e, at);
    add(b, e->text + cut, e->length - cut);
    return TW_OK;
  }
  const size_t cut = next_line(e, parent->end);
  add(b, e->text, cut);
  if (cut > 0 && e->text[cut - 1] != '\n') {
    add_text(b, line_end(e));
  }
  add_block_entry(b, e, at, parent->first->key_column - 1);
  add(b, e->text + cut, e->length - cut);
  return TW_OK;
}

static tw_status replace(const edit *e, const tw_node *node, buffer *b)
{
  if ((node->kind != TW_NODE_SCALAR) != e->table) {
    return tw_fail(e->fault, TW_BAD_INPUT, e->set->path, "edit the file by hand",
                   "the value in the file is of another kind");
  }
  const char mark = node->quoted ? e->text[node->start] : 0;
  const bool spaced = node->start == node->end; /* "key:" without a value */
  add(b, e->text, node->start);
  if (spaced && node->start > 0 && e->text[node->start - 1] == ':') {
    add_text(b, " ");
  }
  add_value(b, e->set->text, e->table, node->flow, mark);
  add(b, e->text + node->end, e->length - node->end);
  return TW_OK;
}

/* ---- one change ---------------------------------------------------------------------------------
 */

static tw_status parse(tw_arena *arena, const char *text, size_t length, tw_fault *fault,
                       tw_node **root)
{
  tw_messages *messages = tw_messages_new();
  tw_source source;
  tw_status status = TW_NO_MEMORY;
  if (messages) {
    status = tw_source_take(arena, "", text, length, messages, &source);
    if (status == TW_OK) {
      status = tw_source_tree(arena, &source, messages, root);
    }
    const tw_message *first = tw_messages_at(messages, 0);
    if (status == TW_BAD_INPUT && first) {
      tw_fail(fault, status, "", first->hint, "line %d: %s", first->line,
              first->text ? first->text : "");
    }
  }
  tw_messages_free(messages);
  return status;
}

/* the changed text says what was asked */
static tw_status verify(tw_arena *arena, const edit *e, const buffer *b)
{
  tw_node *root = NULL;
  const tw_status status = parse(arena, b->text, b->length, e->fault, &root);
  const tw_node *node = root;
  for (size_t i = 0; node && i < e->steps; i++) {
    node = child(node, e->step[i], e->step_length[i]);
  }
  if (status != TW_OK) {
    return status;
  }
  if (!node || (e->table ? node->kind != TW_NODE_LIST
                         : node->kind != TW_NODE_SCALAR || strcmp(node->text, e->set->text) != 0)) {
    return tw_fail(e->fault, TW_BAD_INPUT, e->set->path, "edit the file by hand",
                   "the value could not be placed in the file");
  }
  return TW_OK;
}

static tw_status change(tw_arena *arena, edit *e, buffer *b)
{
  const tw_field field = tw_field_find(e->set->path);
  e->table = field < TW_FIELD_COUNT && tw_field_of(field)->type == TW_TYPE_TABLE;
  if (!cut_path(e)) {
    return tw_fail(e->fault, TW_BAD_INPUT, e->set->path, "", "'%.60s' is no path", e->set->path);
  }
  tw_node *root = NULL;
  tw_status status = parse(arena, e->text, e->length, e->fault, &root);
  if (status != TW_OK) {
    return status;
  }
  const tw_node *node = root;
  size_t at = 0;
  for (const tw_node *next; at < e->steps; at++, node = next) {
    next = child(node, e->step[at], e->step_length[at]);
    if (!next) {
      break;
    }
  }
  status = at < e->steps ? insert(e, node, at, b) : replace(e, node, b);
  if (b->failed) {
    status = TW_NO_MEMORY;
  }
  return status == TW_OK ? verify(arena, e, b) : status;
}

tw_status tw_design_edit(const char *text, size_t length, size_t n, const tw_set *sets,
                         tw_fault *fault, char **out)
{
  *out = NULL;
  buffer now = {0};
  add(&now, text, length);
  tw_status status = now.failed ? TW_NO_MEMORY : TW_OK;
  for (size_t i = 0; status == TW_OK && i < n; i++) {
    tw_arena *arena = tw_arena_new();
    buffer next = {0};
    edit e = {.text = now.text, .length = now.length, .set = &sets[i], .fault = fault};
    status = arena ? change(arena, &e, &next) : TW_NO_MEMORY;
    tw_arena_free(arena);
    tw_free(now.text);
    now = next;
  }
  if (status != TW_OK) {
    tw_free(now.text);
    return status == TW_NO_MEMORY ? tw_fail(fault, status, "", "", "out of memory") : status;
  }
  *out = now.text;
  return TW_OK;
}
