/* qualify_table.h: reading what a machine, a meter or a person recorded.
 *
 * A table is a text file: comma, semicolon, tab or blanks between fields, '#' comments, one line
 * of column names, decimal points. Or any text at all, of which the lines that match a regular
 * expression of the user's are rows and its groups the fields. Columns and units are named, never
 * guessed; every number becomes SI; a missing number is NaN only where the caller allows it.
 * Numbers are the doubles nearest to the decimals in the file. The file is read in one pass.
 * The caller owns the table and frees it with tw_readings_free. No globals; any number of threads.
 */
#ifndef TRIPWRIGHT_QUALIFY_TABLE_H
#define TRIPWRIGHT_QUALIFY_TABLE_H

#include "tripwright/base.h"

typedef enum tw_kind {
  TW_PURE,        /* a number without a unit */
  TW_LENGTH,      /* m */
  TW_ANGLE,       /* rad */
  TW_SPEED,       /* m/s */
  TW_FORCE,       /* N */
  TW_TIME,        /* s */
  TW_TEMPERATURE, /* degrees Celsius, or kelvin differences */
  TW_VOLTAGE,     /* V */
  TW_ANY,         /* whatever the unit says; no unit means a pure number */
  TW_LABEL        /* text: a part, an operator, a direction's name */
} tw_kind;

/* A unit as the trade writes it: SI value = number * times / over + plus. */
typedef struct tw_column_unit {
  const char *name;
  tw_kind kind;
  double times, over, plus;
} tw_column_unit;

/* the unit called `name` (length characters of it), or NULL; the answer is static */
const tw_column_unit *tw_column_unit_named(const char *name, size_t length);

/* One column to read. `name` is the name in the heading, or "#3" for the third field (or the third
 * group of the expression). `unit` is the user's, or NULL to take it from the heading: x_mm,
 * "x [mm]" or "x (mm)". Both given and different is an error, and so is neither for a kind that
 * has units. */
typedef struct tw_column {
  char name[64];
  char unit[16];
  tw_kind kind;
  bool may_be_empty;
} tw_column;

typedef struct tw_readings_spec {
  const tw_column *column;
  size_t columns;
  char separator;      /* ',' ';' '\t' or ' ' for blanks; 0: the first of , ; tab in the heading */
  bool no_heading;     /* the first line is data already; columns are "#n" */
  const char *pattern; /* POSIX extended expression that picks rows, or NULL */
  bool keep_lines;     /* remember the line number of every row */
  bool by_rows;        /* numbers only, row by row in number[0]: what the form fits take */
} tw_readings_spec;

typedef struct tw_readings {
  size_t rows, columns;
  double **number;      /* [column][row], SI; NULL for labels */
  uint32_t **code;      /* [column][row], index into text[column]; NULL for numbers */
  char ***text;         /* [column][code]: the distinct labels in order of appearance */
  size_t *texts;        /* [column]: how many distinct labels */
  tw_column_unit *unit; /* [column]: the unit that was read */
  uint32_t *line;       /* [row], or NULL */
  size_t lines;         /* read in all */
  size_t passed_by;     /* lines that the expression did not match */
  uint64_t bytes;
} tw_readings;

/* Split the user's list "x_mm,y:mm,#3:deg" into columns of kind `kind`; fails on empty or doubled
 * names and on more than `room`. */
tw_status tw_columns_named(const char *list, tw_kind kind, tw_column *out, size_t room,
                           size_t *count, tw_fault *fault);

/* Read a file, or text in memory that messages call `name`. On failure *out is NULL and `messages`
 * (never NULL) holds up to TW_MESSAGE_LIMIT errors, each with file, line, column and cure.
 * TW_NO_FILE: cannot be opened or read. TW_BAD_INPUT: anything wrong in it, or no row at all. */
tw_status tw_readings_read(const char *path, const tw_readings_spec *spec, tw_messages *messages,
                           tw_readings **out);
tw_status tw_readings_read_text(const char *name, const char *text, size_t length,
                                const tw_readings_spec *spec, tw_messages *messages,
                                tw_readings **out);
void tw_readings_free(tw_readings *table);

/* The double nearest to the decimal number text[0..length). false: not a number in that form (sign,
 * digits, one point, exponent; no NaN, no infinity, no hexadecimal), or too large. */
bool tw_number_read(const char *text, size_t length, double *out);

#endif
