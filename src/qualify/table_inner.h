/* table_inner.h: lines and fields, shared by the parts of the table reader. */
#ifndef TW_QUALIFY_TABLE_INNER_H
#define TW_QUALIFY_TABLE_INNER_H

#include "tripwright/qualify_table.h"

#include <regex.h>

#define TW_TABLE_FIELDS 4096                 /* a line with more is not a table of readings */
#define TW_TABLE_LINE   ((size_t)1 << 20)    /* characters in one line */
#define TW_TABLE_LABELS 4096                 /* distinct labels in one column */
#define TW_TABLE_ROWS   ((size_t)UINT32_MAX) /* line numbers are 32 bits wide */

typedef struct tw_slice {
  const char *at;
  size_t length;
} tw_slice;

/* where bytes come from; returns how many were put, 0 at the end; sets *failed on an error */
typedef struct tw_source {
  size_t (*read)(void *self, char *out, size_t room, bool *failed);
  void *self;
} tw_source;

typedef struct tw_lines {
  tw_source source;
  char *buffer;
  size_t size, begin, end;
  uint64_t bytes;
  uint32_t number; /* of the line just given, from 1 */
  bool drained, failed, no_memory, too_long;
  bool open_ended; /* the line just given had no line end */
} tw_lines;

bool tw_lines_start(tw_lines *lines, tw_source source);
void tw_lines_end(tw_lines *lines);
/* the next line without its end; valid until the next call; false at the end or on a failure */
bool tw_lines_next(tw_lines *lines, tw_slice *line);

/* Cut a line at `separator` (' ': runs of blanks and tabs); blanks round a field and one pair of
 * double quotes are taken off. Returns the number of fields, or TW_TABLE_FIELDS + 1 if there are
 * more; *open_quote tells that a quote was not closed. */
size_t tw_fields_cut(tw_slice line, char separator, tw_slice *field, bool *open_quote);

#endif
