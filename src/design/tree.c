/* tree.c: libyaml's events into a tree, with everything refused that a design file has no use for.
 */
#include "source.h"

#include <stdio.h>
#include <string.h>
#include <yaml.h>

typedef struct builder {
  tw_arena *arena;
  const tw_source *source;
  tw_messages *messages;
  tw_node *open[TW_DEPTH_LIMIT + 1];
  size_t depth, nodes;
  tw_node *root;
  tw_cursor cursor;
  /* the key that waits for its value */
  const char *key;
  int key_line, key_column;
  size_t key_start;
} builder;

static tw_status refuse(builder *b, yaml_mark_t mark, const char *hint, const char *text)
{
  const int line = (int)mark.line + 1;
  char excerpt[200];
  tw_messages_add(b->messages, TW_ERROR, (tw_place){b->source->file, line, (int)mark.column + 1},
                  NULL, tw_source_line(b->source, line, excerpt, sizeof excerpt), hint, "%s", text);
  return TW_BAD_INPUT;
}

static size_t byte_at(builder *b, yaml_mark_t mark)
{
  return tw_source_byte(b->source, (int)mark.line + 1, (int)mark.column + 1, &b->cursor);
}

/* the sign at which the parser stopped, 0 at the end */
static char sign_at(builder *b, yaml_mark_t mark)
{
  const size_t at = byte_at(b, mark);
  return at < b->source->length ? b->source->text[at] : '\0';
}

/* group:{key: value}: without a blank the first colon belongs to the word */
static bool tight_colon(const builder *b, yaml_mark_t mark)
{
  char text[200];
  const char *line = tw_source_line(b->source, (int)mark.line + 1, text, sizeof text);
  const char *colon = line ? strchr(line, ':') : NULL;
  return colon && mark.column > (size_t)(colon - line) && (colon[1] == '{' || colon[1] == '[');
}

/* what libyaml says, in words that tell what to do */
static tw_status syntax_error(builder *b, const yaml_parser_t *parser)
{
  static const struct {
    const char *says, *text, *hint;
    bool opening; /* point at where it was opened */
  } words[] = {
      {"found character that cannot start any token", "this character cannot stand here",
       "indent with spaces, not tabs; put text that begins with a special sign in quotes", false},
      {"did not find expected comment or line break",
       "text that begins with > or | and is not in quotes", "put a rule in quotes: \">= 2\"",
       false},
      {"found a tab character", "a tab in the indentation", "indent with spaces", false},
      {"mapping values are not allowed in this context", "a second ':' in this line",
       "put the text in quotes, or start a new line", false},
      {"did not find expected key", "no 'key:' where one is expected",
       "check the indentation of this line and of the one above", false},
      {"did not find expected '-' indicator", "no '- ' where one is expected",
       "check the indentation of this list", false},
      {"could not find expected ':'", "a word without ':' after it",
       "write key: value; check the indentation", false},
      {"did not find expected ',' or '}'", "a brace that is not closed", "write {key: value, ...}",
       true},
      {"did not find expected ',' or ']'", "a bracket that is not closed", "write [a, b, ...]",
       true},
      {"found unexpected end of stream", "a quote that is not closed", "", true},
      {"found unknown escape character", "an unknown escape after a backslash",
       "use single quotes for text with backslashes", false},
      {"did not find expected <document start>", "text after the end of the design",
       "a file holds one design", false},
      {"found undefined tag handle", "tags (!) are not used here",
       "put text that begins with ! in quotes", false},
  };
  yaml_mark_t mark = parser->problem_mark;
  if (sign_at(b, mark) == '>') {
    return refuse(b, mark, "put a rule in quotes: \">= 2\"",
                  "text that begins with > and is not in quotes");
  }
  if (tight_colon(b, mark)) {
    return refuse(b, mark, "write a blank after the first colon: group: {key: value}",
                  "a second ':' in this line");
  }
  for (size_t i = 0; parser->problem && i < sizeof words / sizeof words[0]; i++) {
    if (strstr(parser->problem, words[i].says)) {
      mark = words[i].opening && parser->context ? parser->context_mark : mark;
      return refuse(b, mark, words[i].hint, words[i].text);
    }
  }
  if (parser->error == YAML_MEMORY_ERROR) {
    return TW_NO_MEMORY;
  }
  return refuse(b, mark, NULL, parser->problem ? parser->problem : "wrong syntax");
}

/* hang a node below the open collection */
static tw_status hang(builder *b, tw_node *node, yaml_mark_t mark)
{
  tw_node *parent = b->depth ? b->open[b->depth - 1] : NULL;
  if (!parent) {
    b->root = node;
    return TW_OK;
  }
  if (parent->kind == TW_NODE_MAP) {
    if (!b->key) {
      return refuse(b, mark, "a key is a word", "a list or map as a key");
    }
    node->key = b->key;
    node->key_line = b->key_line;
    node->key_column = b->key_column;
    node->key_start = b->key_start;
    b->key = NULL;
  }
  if (parent->last) {
    parent->last->next = node;
  } else {
    parent->first = node;
  }
  parent->last = node;
  parent->count++;
  return TW_OK;
}

static tw_node *new_node(builder *b, tw_node_kind kind, const yaml_event_t *event)
{
  tw_node *node = tw_arena_take(b->arena, sizeof *node);
  if (node) {
    node->kind = kind;
    node->line = (int)event->start_mark.line + 1;
    node->column = (int)event->start_mark.column + 1;
    node->start = byte_at(b, event->start_mark);
    node->end = byte_at(b, event->end_mark);
  }
  return node;
}

static tw_status duplicate(builder *b, const tw_node *map, const char *key, yaml_mark_t mark)
{
  if (map->count >= TW_KEYS_LIMIT) {
    return refuse(b, mark, NULL, "too many keys in one group");
  }
  const tw_node *other = tw_node_child(map, key);
  if (!other) {
    return TW_OK;
  }
  char text[160];
  snprintf(text, sizeof text, "'%.60s' stands here twice, first in line %d", key, other->key_line);
  return refuse(b, mark, "keep one of them", text);
}

static tw_status add_scalar(builder *b, const yaml_event_t *event)
{
  const char *value = (const char *)event->data.scalar.value;
  const size_t length = event->data.scalar.length;
  if (event->data.scalar.tag) {
    return refuse(b, event->start_mark, "put text that begins with ! in quotes",
                  "tags (!) are not used here");
  }
  if (length > TW_WORD_LIMIT || memchr(value, 0, length)) {
    return refuse(b, event->start_mark, NULL, "this text is too long or holds a zero byte");
  }
  tw_node *parent = b->depth ? b->open[b->depth - 1] : NULL;
  char *text = tw_arena_text(b->arena, value, length);
  tw_node *node = new_node(b, TW_NODE_SCALAR, event);
  if (!text || !node) {
    return TW_NO_MEMORY;
  }
  if (parent && parent->kind == TW_NODE_MAP && !b->key) {
    if (!length) {
      return refuse(b, event->start_mark, "a key is a word", "an empty key");
    }
    const tw_status status = duplicate(b, parent, text, event->start_mark);
    b->key = text;
    b->key_line = node->line;
    b->key_column = node->column;
    b->key_start = node->start;
    return status;
  }
  node->text = text;
  node->quoted = event->data.scalar.style != YAML_PLAIN_SCALAR_STYLE;
  node->flow = parent && parent->flow;
  return hang(b, node, event->start_mark);
}

static tw_status open_collection(builder *b, tw_node_kind kind, const yaml_event_t *event)
{
  const bool map = kind == TW_NODE_MAP;
  if (map ? event->data.mapping_start.tag != NULL : event->data.sequence_start.tag != NULL) {
    return refuse(b, event->start_mark, NULL, "tags (!) are not used here");
  }
  if (b->depth >= TW_DEPTH_LIMIT) {
    return refuse(b, event->start_mark, NULL, "nested too deeply");
  }
  tw_node *node = new_node(b, kind, event);
  if (!node) {
    return TW_NO_MEMORY;
  }
  node->flow = map ? event->data.mapping_start.style == YAML_FLOW_MAPPING_STYLE
                   : event->data.sequence_start.style == YAML_FLOW_SEQUENCE_STYLE;
  const tw_status status = hang(b, node, event->start_mark);
  b->open[b->depth++] = node;
  return status;
}

/* a block collection has no closing sign: libyaml ends it where the next token starts */
static void close_collection(builder *b, const yaml_event_t *event)
{
  tw_node *node = b->open[--b->depth];
  if (node->flow) {
    node->end = byte_at(b, event->end_mark);
  } else {
    node->end = node->last ? node->last->end : node->start;
  }
}

static bool has_anchor(const yaml_event_t *event)
{
  return (event->type == YAML_SCALAR_EVENT && event->data.scalar.anchor) ||
         (event->type == YAML_MAPPING_START_EVENT && event->data.mapping_start.anchor) ||
         (event->type == YAML_SEQUENCE_START_EVENT && event->data.sequence_start.anchor);
}

static tw_status take_event(builder *b, const yaml_event_t *event)
{
  if (event->type == YAML_ALIAS_EVENT || has_anchor(event)) {
    return refuse(b, event->start_mark, "write the value out; put text with & or * in quotes",
                  "anchors and aliases (& and *) are not used here");
  }
  if (++b->nodes > TW_NODE_LIMIT) {
    return refuse(b, event->start_mark, NULL, "too many values");
  }
  switch (event->type) {
  case YAML_DOCUMENT_START_EVENT:
    if (event->data.document_start.version_directive ||
        event->data.document_start.tag_directives.start !=
            event->data.document_start.tag_directives.end) {
      return refuse(b, event->start_mark, "remove the line", "directives (%) are not used here");
    }
    return b->root ? refuse(b, event->start_mark, "a file holds one design", "a second document")
                   : TW_OK;
  case YAML_SCALAR_EVENT:
    return add_scalar(b, event);
  case YAML_MAPPING_START_EVENT:
    return open_collection(b, TW_NODE_MAP, event);
  case YAML_SEQUENCE_START_EVENT:
    return open_collection(b, TW_NODE_LIST, event);
  case YAML_MAPPING_END_EVENT:
  case YAML_SEQUENCE_END_EVENT:
    close_collection(b, event);
    return TW_OK;
  default:
    return TW_OK;
  }
}

static tw_status take_events(builder *b, yaml_parser_t *parser)
{
  for (;;) {
    yaml_event_t event;
    if (!yaml_parser_parse(parser, &event)) {
      return syntax_error(b, parser);
    }
    const yaml_event_type_t type = event.type;
    const tw_status status = take_event(b, &event);
    yaml_event_delete(&event);
    if (status != TW_OK || type == YAML_STREAM_END_EVENT) {
      return status;
    }
  }
}

tw_status tw_source_tree(tw_arena *arena, const tw_source *source, tw_messages *messages,
                         tw_node **out)
{
  *out = NULL;
  builder b = {.arena = arena, .source = source, .messages = messages};
  const size_t skipped = source->line[0]; /* a byte order mark */
  yaml_parser_t parser;
  if (!yaml_parser_initialize(&parser)) {
    return TW_NO_MEMORY;
  }
  yaml_parser_set_encoding(&parser, YAML_UTF8_ENCODING);
  yaml_parser_set_input_string(&parser, (const unsigned char *)source->text + skipped,
                               source->length - skipped);
  tw_status status = take_events(&b, &parser);
  yaml_parser_delete(&parser);
  if (status == TW_OK && !b.root) {
    tw_messages_add(messages, TW_ERROR, (tw_place){source->file, 0, 0}, NULL, NULL,
                    "start from a template: tripwright new", "the file is empty");
    status = TW_BAD_INPUT;
  }
  *out = status == TW_OK ? b.root : NULL;
  return status;
}
