/* stream.h: how readers hand over rows, a block at a time, so that no file is ever held whole. */
#ifndef TW_CAPTURE_STREAM_H
#define TW_CAPTURE_STREAM_H

#include "tripwright/capture.h"

#include <stdio.h>

/* bytes of a file or of memory, from the start as often as wanted */
typedef struct tw_bytes {
  FILE *file; /* NULL: memory */
  const unsigned char *memory;
  size_t at;
  uint64_t size;
  const char *name;
} tw_bytes;

size_t tw_bytes_read(tw_bytes *bytes, void *out, size_t most);
bool tw_bytes_seek(tw_bytes *bytes, uint64_t at);

/* rows asked for at once */
#define TW_STREAM_BLOCK 512

/* A reader once it knows the layout. Each row is the axis value (if `axis`) and then the channels,
 * SI. `next` puts up to TW_STREAM_BLOCK rows into `out`; *count 0 is the end. Complaints go to
 * `messages`. */
typedef struct tw_rows tw_rows;
struct tw_rows {
  size_t channels;
  bool axis;
  double quantum;   /* of the axis as it is written, SI; 0: exact */
  double relative;  /* the same relative to the value, for numbers with an exponent */
  bool stamps;      /* the axis is dates or times of day: it counts from the first row */
  bool wraps_a_day; /* the axis is a time of day without a date */
  tw_status (*again)(tw_rows *self);
  tw_status (*next)(tw_rows *self, double *out, size_t *count);
  uint64_t (*line)(const tw_rows *self, size_t row); /* of a row of the block given last; or NULL */
  void (*close)(tw_rows *self);
  tw_messages *messages;
  const char *name;
};

/* Each gives a reader or, with a message, none; record's heads (names, units, found, start,
 * interval when the file says so) are filled. They own nothing of `bytes`. */
tw_status tw_csv_open(tw_bytes *bytes, const tw_capture_reading *reading, tw_messages *messages,
                      tw_capture_record *record, tw_rows **out);
tw_status tw_wav_open(tw_bytes *bytes, tw_messages *messages, tw_capture_record *record,
                      tw_rows **out);
tw_status tw_sound_open(tw_bytes *bytes, tw_messages *messages, tw_capture_record *record,
                        tw_rows **out);
tw_status tw_zip_open(tw_bytes *bytes, tw_messages *messages, tw_capture_record *record,
                      tw_rows **out);

/* survey all rows, keep all or a window round the event; statistics, outline, time base */
tw_status tw_collect(tw_rows *rows, const tw_capture_reading *reading, tw_capture_record *record);

/* a refusal at a line (0: none) of the file; returns TW_BAD_INPUT */
tw_status tw_refuse(tw_messages *messages, const char *file, uint64_t line, const char *hint,
                    const char *format, ...) __attribute__((format(printf, 5, 6)));

#endif
