/* csv.h: what the files of the CSV reader share: the layout that was found, numbers, units. */
#ifndef TW_CAPTURE_CSV_H
#define TW_CAPTURE_CSV_H

#include "stream.h"

#define TW_CSV_COLUMNS 64
#define TW_CSV_HEAD    (4 * TW_CAPTURE_LINE) /* bytes in which the data must have begun */
#define TW_CSV_LINES   400                   /* lines of a head */

typedef struct tw_csv_cell {
  const char *at;
  size_t length;
} tw_csv_cell;

/* cut a line into cells; blanks and quotes around them are taken off; the count, at most `room` */
size_t tw_csv_cells(const char *at, size_t length, char separator, tw_csv_cell *out, size_t room);

/* what a cell of data is */
typedef enum tw_cell_kind {
  TW_CELL_EMPTY,
  TW_CELL_NUMBER,
  TW_CELL_STAMP,
  TW_CELL_WORD
} tw_cell_kind;
tw_cell_kind tw_csv_kind(tw_csv_cell cell, char decimal);

/* A decimal number at `at`, not past `end`: where it ends, or NULL. The double nearest to it. */
const char *tw_csv_number(const char *at, const char *end, char decimal, double *out);
/* the same of a whole cell */
bool tw_csv_number_cell(tw_csv_cell cell, char decimal, double *out);
/* nan, inf, OL, dashes, nothing: a reading that is missing */
bool tw_csv_missing(tw_csv_cell cell);
/* date and time, or time of day: days since 1970 (0 without a date) and seconds of the day apart,
 * so that microseconds are not lost; false: neither */
bool tw_csv_stamp(tw_csv_cell cell, double *days, double *seconds);
/* digits behind the decimal mark */
int tw_csv_decimals(tw_csv_cell cell, char decimal);

typedef enum tw_unit_of {
  TW_OF_NOTHING,
  TW_OF_TIME,
  TW_OF_VOLT,
  TW_OF_AMPERE,
  TW_OF_HERTZ,
  TW_OF_ANGLE,
  TW_OF_WEIGHT,
  TW_OF_SHARE,
  TW_OF_OTHER
} tw_unit_of;
typedef struct tw_csv_unit {
  const char *name;
  tw_unit_of of;
  double scale;   /* to SI */
  const char *si; /* "V" */
} tw_csv_unit;
/* NULL: no unit */
const tw_csv_unit *tw_csv_unit_named(tw_csv_cell cell);
/* unit in a name such as "U [V]", "F auf/N", "node V", "U_mV"; *name is what is left of it */
const tw_csv_unit *tw_csv_unit_in_name(tw_csv_cell cell, tw_csv_cell *name);

typedef enum tw_column_role { TW_COL_SKIP, TW_COL_AXIS, TW_COL_VALUE, TW_COL_UNIT } tw_column_role;

typedef struct tw_csv_layout {
  char separator, decimal;
  size_t columns;
  uint64_t line; /* of the first row of data, from 1 */
  size_t offset; /* of that row, bytes */
  tw_column_role role[TW_CSV_COLUMNS];
  tw_cell_kind kind[TW_CSV_COLUMNS];
  double scale[TW_CSV_COLUMNS];
  size_t unit_of[TW_CSV_COLUMNS]; /* of a TW_COL_UNIT: the column whose unit it is */
  double first_day;               /* of the first stamp, since 1970 */
  int decimals;                   /* of the axis as it is written */
  bool exponent;                  /* it is written with one */
  bool axis;
  tw_unit_of axis_of;
  size_t channels;
} tw_csv_layout;

/* Find the data first, then read the head upwards. `text` holds the beginning of the file. */
tw_status tw_csv_layout_find(const char *text, size_t length, const tw_capture_reading *reading,
                             const char *name, tw_messages *messages, tw_capture_record *record,
                             tw_csv_layout *out);
/* names, units and roles of the columns and what the head says; line[k] ends before line[k + 1] */
tw_status tw_csv_head_read(const tw_csv_cell *line, size_t lines, const tw_csv_cell *data,
                           const tw_capture_reading *reading, const char *name,
                           tw_messages *messages, tw_capture_record *record, tw_csv_layout *out);

#endif
