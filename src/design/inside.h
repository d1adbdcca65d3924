/* inside.h: what the files of the design room share: the design itself, its store, and reading. */
#ifndef TW_DESIGN_INSIDE_H
#define TW_DESIGN_INSIDE_H

#include "source.h"
#include "tripwright/parts.h"

#include <stdatomic.h>

#define TW_SOURCE_COUNT 8 /* design, base, shop; or the files of a library */

/* Texts, tables, requirements and parts of one read; shared by all clones, immutable after it. */
typedef struct tw_store {
  atomic_int users;
  tw_arena *arena;
  tw_source source[TW_SOURCE_COUNT];
  size_t source_count;
  const char *file, *base;
  uint64_t hash; /* of the design file's text */
  size_t length;
  bool from_disk;
  tw_requirement *requirement;
  size_t requirements;
  tw_part *part;
  size_t parts;
  tw_process *process;
  size_t processes;
} tw_store;

struct tw_design {
  tw_store *store;
  tw_value value[TW_FIELD_COUNT];
  bool *read; /* marks what is asked for (tw_design_watch), or NULL */
};

/* ---- reading --------------------------------------------------------------------------------- */

/* strength of a layer is its tw_origin */
typedef struct tw_reading {
  const tw_read_options *options;
  tw_messages *messages;
  tw_store *store;
  tw_design *design;
  bool no_memory;
  bool broken; /* a line was not understood: what it should have said is not missed as well */
  /* the layer that is being read */
  const tw_source *source;
  tw_origin origin;
  bool row_unknown[TW_FIELD_COUNT]; /* fields that name a row which is not there */
  bool complained[TW_FIELD_COUNT];  /* fields about which consistency has spoken */
  /* where each group was opened, for messages about what is missing */
  tw_place group_place[32];
} tw_reading;

/* an error or warning at a place of the layer's source; the excerpt is added */
void tw_reading_say(tw_reading *r, tw_severity severity, tw_place place, const char *field,
                    const char *hint, const char *format, ...)
    __attribute__((format(printf, 6, 7)));
/* a copy of the text in the store, NULL (and no_memory) without memory */
const char *tw_reading_keep(tw_reading *r, const char *text);
void *tw_reading_take(tw_reading *r, size_t size);
tw_place tw_reading_place(const tw_reading *r, const tw_node *node);

/* one scalar or table into the design's value */
void tw_read_value(tw_reading *r, tw_field field, const tw_node *node);
/* a quantity from a scalar of any key (parts, processes); false if it was wrong */
bool tw_read_quantity(tw_reading *r, const char *path, const char *unit, const tw_node *node,
                      tw_quantity *out);
/* a text as if it stood in the layer, for defaults, library rows and --set; quiet ones are asserted
 * by the tests to be right */
void tw_read_text(tw_reading *r, tw_field field, const char *text, tw_place place);

void tw_read_requirements(tw_reading *r, const tw_node *node);
void tw_read_parts(tw_reading *r, const tw_node *node);
void tw_read_processes(tw_reading *r, const tw_node *node);
/* says that a section has no such key, with those that it has */
void tw_unknown_section_key(tw_reading *r, const char *section, const char *path,
                            const tw_node *node);
/* requirements, parts, processes: false if `name` is no such section */
bool tw_read_section(tw_reading *r, const char *name, const tw_node *node);

void tw_fill_from_library(tw_reading *r);
void tw_fill_defaults(tw_reading *r);
bool tw_describes_disc(const tw_design *design);
void tw_check_missing(tw_reading *r);
void tw_check_consistency(tw_reading *r);

/* `when` of a field; *other is the first choice that is taken otherwise */
bool tw_when_applies(const tw_design *design, const char *when, tw_field *other);

/* group index of a path (its first part) in the order of the table; -1 if there is none */
int tw_group_of(const char *path);
const char *tw_group_name(int group);
int tw_group_count(void);
unsigned tw_group_need(int group);

/* a part key table row and a library's parts */
tw_store *tw_store_new(void);
void tw_store_drop(tw_store *store);

#endif
