/* page.h: the documents that only the page and the report need: the fields with their values as a
 * form, and each view's document for a changed design.
 *
 * Everything is made from a tw_design that the caller has read, in JSON that docs/develop/page.md
 * describes; figures are SI. The caller owns the objects (json_decref) and the texts (tw_free). The
 * functions keep nothing and may run in several threads, each on its own design; a tw_units may be
 * shared.
 */
#ifndef TRIPWRIGHT_PAGE_H
#define TRIPWRIGHT_PAGE_H

#include "tripwright/design.h"
#include "tripwright/drawing.h"
#include "tripwright/parts.h"

#include <jansson.h>

/* room for a fingerprint of a file's content: 16 hexadecimal digits and the end */
#define TW_FINGERPRINT 17
/* FNV-1a of the bytes, 64 bits */
void tw_fingerprint(const void *data, size_t size, char out[TW_FINGERPRINT]);

/* today as YYYY-MM-DD, local time; returns `out` */
const char *tw_page_today(char out[16]);

/* [{"severity", "text", "field", "hint", "line", "excerpt"}] */
json_t *tw_page_messages(const tw_messages *messages);

/* {PATH: {"text", "shown", "origin", "applies", "line"}} for every field; `shown` in `system` */
json_t *tw_page_values(const tw_design *design, tw_units *units, tw_system system);

/* What the page starts with: {"name", "revision", "file", "fingerprint", "version", "date",
 * "fields", "measures", "views", "values", "requirements", "messages"}. `design` NULL when the file
 * cannot be read: then no values. `date` as YYYY-MM-DD, or NULL for today. */
json_t *tw_page_design(const tw_design *design, const char *file, const char *fingerprint,
                       const char *date, tw_units *units, tw_system system,
                       const tw_messages *messages);

/* Given what is known so far of a document that takes long; it owns what it is given. */
typedef struct tw_page_partial {
  void (*take)(void *self, json_t *document);
  void *self;
} tw_page_partial;

/* For remedies that try other rows of the library: the design as it is read with one more word, or
 * a failure when it cannot be built so (study_design.h, tw_lever_options). */
typedef struct tw_page_rows {
  const tw_library *library;
  tw_status (*read_with)(void *self, const char *path, const char *word, tw_design **out);
  void *self;
  /* the same with several words (study_run.h, tw_run_remedy) */
  tw_status (*read_sets)(void *self, const tw_set *sets, size_t count, tw_design **out);
} tw_page_rows;

/* how the figures of a page are computed */
typedef struct tw_page_options {
  tw_units *units;
  tw_drawing_options drawing; /* not standalone */
  const tw_progress *progress;
  const tw_page_partial *partial; /* may be NULL */
  const json_t *ask;              /* options of a study, or NULL */
  const tw_page_rows *rows;       /* NULL: parts that the file names stay what they are */
} tw_page_options;

/* {"values", "requirements", "messages", "check", "drawing"}: the figures that stand beside the
 * drawing. `settled` false: a few directions only, fast, marked "refining". TW_BAD_INPUT when a
 * requirement is wrong (see `messages`), else what the assessment says. */
tw_status tw_page_evaluate(const tw_design *design, bool settled, const tw_page_options *options,
                           tw_messages *messages, json_t **out, tw_fault *fault);

/* the views that have a document of their own, by name */
size_t tw_page_view_count(void);
const char *tw_page_view_name(size_t index);
/* The document of one; TW_BAD_INPUT if there is none of that name. */
tw_status tw_page_view(const char *name, const tw_design *design, const tw_page_options *options,
                       json_t **out, tw_fault *fault);

/* ---- studies: views that take long and are made only when they are asked for ---------------- */

/* a name of tw_page_view_name that is a study: vary, spread, drivers, remedy, compare */
bool tw_page_is_study(const char *name);
/* The study of the design with its options->ask, an object (docs/develop/page.md): the document
 * that the command of that name prints, and "left_out": requirements that this level does not
 * compute. TW_BAD_INPUT names a wrong option as "study.NAME". After TW_CANCELLED *out is what was
 * known, or NULL. */
tw_status tw_page_study(const char *name, const tw_design *design, const tw_page_options *options,
                        json_t **out, tw_fault *fault);
/* The same for compare, which knows of several designs: the first is what the others are held
 * against. */
tw_status tw_page_compare(const tw_design *const *designs, size_t count,
                          const tw_page_options *options, json_t **out, tw_fault *fault);

/* ---- the report ----------------------------------------------------------------------------- */

/* All of a report: {"design", "evaluate", "views"}; a view that has no answer for this design says
 * why. options->ask holds the studies that it shall have, {NAME: {options}}; NULL: none. */
tw_status tw_page_report(const tw_design *design, const char *file, const char *fingerprint,
                         const char *date, const tw_page_options *options, tw_messages *messages,
                         json_t **out, tw_fault *fault);

#endif
