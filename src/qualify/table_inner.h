/* table_inner.h: lines and fields, shared by the parts of the table reader. */
#ifndef TW_QUALIFY_TABLE_INNER_H
#define TW_QUALIFY_TABLE_INNER_H

#include "tripwright/qualify_table.h"

#include <regex.h>

#define TW_TABLE_FIELDS 4096              /* a line with more is not a table of readings */
#define TW_TABLE_LINE   ((size_t)1 << 20) /* characters in one line */
/* characters in a line that an expression is tried on: the time goes by their square, and no log
 * has longer ones */
#define TW_TABLE_TRIED  2000
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

/* a read at work */
typedef struct tw_reader {
  const char *name;
  const tw_readings_spec *spec;
  tw_messages *messages;
  tw_readings *table;
  tw_lines lines;
  tw_slice line;       /* the line at hand */
  tw_slice *field;     /* its fields */
  size_t *index;       /* field of each column */
  size_t fields, room; /* fields in the heading; rows there is room for */
  regex_t pattern;
  bool has_pattern, stopped, lost; /* lost: an allocation failed */
  size_t summaries;                /* rows at the end that name themselves a mean, a sum, ... */
  uint32_t summary_line;           /* the first of them */
  char summary_word[16];
} tw_reader;

#define TW_GROUPS 32 /* groups of the user's expression */

/* a message about the place `at` in the line at hand (NULL: the line); reading stops at the limit
 */
void tw_reader_complain(tw_reader *reader, tw_severity severity, const char *at, const char *hint,
                        const char *text);
void tw_reader_wrong(tw_reader *reader, const char *at, const char *hint, const char *format, ...)
    __attribute__((format(printf, 4, 5)));
void tw_reader_no_memory(tw_reader *reader);

/* find every wanted column among the fields of the heading (or by number where there is none) */
void tw_reader_settle_columns(tw_reader *reader, bool has_heading);
/* the fields at hand become one row; a bad row is left out and counted as an error */
void tw_reader_take_row(tw_reader *reader);
bool tw_slice_is(tw_slice slice, const char *text);

/* may the library be given this expression? false with problem and cure when it would take time or
 * memory without bound */
bool tw_pattern_fits(const char *text, const char **problem, const char **cure);

/* remember a row that another field calls a mean, a sum or the like */
void tw_reader_watch_summary(tw_reader *reader);

#endif
