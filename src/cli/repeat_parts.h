/* repeat_parts.h: what a record of repeated touches is made of. */
#ifndef TW_CLI_REPEAT_PARTS_H
#define TW_CLI_REPEAT_PARTS_H

#include "readings_in.h"

/* columns that `repeat` can be given */
enum {
  REPEAT_READING,
  REPEAT_GROUP,
  REPEAT_FEED,
  REPEAT_TIME,
  REPEAT_TEMPERATURE,
  REPEAT_TRIP,
  REPEAT_POSITION,
  REPEAT_APPROACH,
  REPEAT_COLUMNS
};

typedef struct tw_repeat_job {
  tw_cli *cli;
  tw_recording in;
  tw_record *record;
  json_t *document;
  double level;
  /* readings that are there, in the order of the file, with their rows */
  size_t n, *row;
  double *reading;
  const char *prefix; /* of figure names: the group, or "" */
} tw_repeat_job;

/* Each adds its figures and notes to the record. */
tw_status tw_repeat_add_copies(tw_repeat_job *j, tw_fault *fault);
tw_status tw_repeat_add_groups(tw_repeat_job *j, tw_fault *fault);
tw_status tw_repeat_add_feed(tw_repeat_job *j, double nominal, tw_fault *fault);
tw_status tw_repeat_add_drift(tw_repeat_job *j, tw_fault *fault);
tw_status tw_repeat_add_trips(tw_repeat_job *j, tw_fault *fault);
tw_status tw_repeat_add_positions(tw_repeat_job *j, tw_fault *fault);

#endif
