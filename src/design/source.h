/* source.h: the text of a file with its lines, and the strict subset of YAML as a tree.
 *
 * The subset: one document of maps, lists and scalars, block or flow. Refused: anchors, aliases,
 * tags, directives, duplicate keys, keys that are no plain words, several documents, text that is
 * not UTF-8, control characters; more than the limits below. Everything lives in an arena. */
#ifndef TW_DESIGN_SOURCE_H
#define TW_DESIGN_SOURCE_H

#include "tripwright/base.h"
#include "tripwright/files.h"

#define TW_FILE_LIMIT  ((size_t)1 << 20) /* bytes of a design file */
#define TW_DEPTH_LIMIT 8
#define TW_NODE_LIMIT  50000
#define TW_WORD_LIMIT  4096 /* bytes of one scalar */
#define TW_KEYS_LIMIT  500  /* keys of one map */

typedef struct tw_source {
  const char *file; /* as messages name it */
  const char *text; /* length bytes and a 0 */
  size_t length;
  const size_t *line; /* byte where each line starts */
  size_t lines;
} tw_source;

typedef enum tw_node_kind { TW_NODE_SCALAR, TW_NODE_LIST, TW_NODE_MAP } tw_node_kind;

typedef struct tw_node {
  tw_node_kind kind;
  bool quoted, flow; /* flow: {..} or [..], or a scalar inside one */
  const char *text;  /* of a scalar */
  size_t start, end; /* bytes in the source; block collections end with their last scalar */
  int line, column;  /* from 1, columns in characters */
  const char *key;   /* in a map */
  int key_line, key_column;
  size_t key_start;
  size_t count; /* of children */
  struct tw_node *first, *last, *next;
} tw_node;

/* Take a text: checks UTF-8 and control characters and finds the lines. */
tw_status tw_source_take(tw_arena *arena, const char *file, const char *text, size_t length,
                         tw_messages *messages, tw_source *out);
/* the tree of a source; a syntax error stands in `messages` */
tw_status tw_source_tree(tw_arena *arena, const tw_source *source, tw_messages *messages,
                         tw_node **out);
/* copy of line `line` (from 1) without its end, NULL if it is long or unknown */
const char *tw_source_line(const tw_source *source, int line, char *out, size_t size);
/* byte of (line, column), both from 1; *last (zeroed before the first call) is where the search of
 * the next call starts, so that places asked for in order cost one pass */
typedef struct tw_cursor {
  int line, column;
  size_t byte;
} tw_cursor;
size_t tw_source_byte(const tw_source *source, int line, int column, tw_cursor *last);

const tw_node *tw_node_child(const tw_node *map, const char *key);
/* characters (not bytes) among the first `bytes` of text */
int tw_characters(const char *text, size_t bytes);

uint64_t tw_text_hash(const char *text, size_t length);

#endif
