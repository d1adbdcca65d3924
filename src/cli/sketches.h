/* sketches.h: a sketch in characters for a group of fields. */
#ifndef TW_CLI_SKETCHES_H
#define TW_CLI_SKETCHES_H

/* lines of at most 80 columns, or NULL when the group needs none */
const char *tw_sketch_of(const char *group);

#endif
