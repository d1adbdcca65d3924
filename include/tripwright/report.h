/* report.h: the page's files as they are built into the program, the report that can be handed on,
 * and the bundle of a design with all it needs.
 *
 * The report is one HTML file with the same view code as the page and the figures beside it; it
 * opens from disk and asks for nothing from any network. All texts given out are owned by the
 * caller (tw_free). Nothing here is global but the constant assets; every function may run in
 * several threads on different objects.
 */
#ifndef TRIPWRIGHT_REPORT_H
#define TRIPWRIGHT_REPORT_H

#include "tripwright/base.h"
#include "tripwright/design.h"
#include "tripwright/files.h"
#include "tripwright/parts.h"

#include <jansson.h>

/* ---- the page's files ----------------------------------------------------------------------- */

/* one file of the page, gzip-compressed in the program */
typedef struct tw_asset {
  const char *name; /* "page.js" */
  const char *type; /* "text/javascript; charset=utf-8" */
  const char *tag;  /* fingerprint of the content, for ETag */
  const unsigned char *gzip;
  size_t gzip_size;
  size_t size; /* unpacked */
} tw_asset;

size_t tw_asset_count(void);
const tw_asset *tw_asset_at(size_t index);
/* NULL if there is none of that name */
const tw_asset *tw_asset_find(const char *name);
/* the unpacked text, zero-terminated, owned by the caller; TW_NO_MEMORY, or TW_INTERNAL when the
 * asset is damaged */
tw_status tw_asset_text(const tw_asset *asset, char **out, tw_fault *fault);

/* ---- the report ----------------------------------------------------------------------------- */

/* Put the page's code, its style and `data` (an object {"design": ..., "views": {NAME: document}}
 * as the page gets them from the server) into one HTML text. `title` is shown in the window.
 * TW_NO_MEMORY or TW_BAD_INPUT. */
tw_status tw_report_html(const char *title, const json_t *data, char **out, tw_fault *fault);

/* ---- the bundle ----------------------------------------------------------------------------- */

/* one file of a bundle; names use '/', never start with it, and hold no ".." */
typedef struct tw_pack_file {
  const char *name;
  const void *data;
  size_t size;
} tw_pack_file;

/* Write a zip archive with the files in the order given; the same files give the same bytes on any
 * day (fixed date, fixed compression). The archive replaces `path` atomically. TW_BAD_INPUT for a
 * name as above or a name given twice, TW_NO_FILE when it cannot be written. */
tw_status tw_pack_write(const char *path, const tw_pack_file *files, size_t count, tw_fault *fault);

/* What a design needs to give the same figures elsewhere. */
typedef struct tw_pack_design_in {
  const tw_design *design; /* as read, with `sets` */
  const char *file;        /* its path */
  const char *shop;        /* path of the shop file, or NULL */
  const tw_library *library;
  const tw_set *sets; /* written into the packed design */
  size_t set_count;
  const char *report; /* HTML text */
} tw_pack_design_in;

/* Write an archive with the design, the file it is based on, the shop file, the library rows that
 * it uses (folder parts/), the report, and a note how to check it. TW_NO_FILE when one of the files
 * cannot be read; errors as tw_pack_write. */
tw_status tw_pack_design(const tw_pack_design_in *in, const char *path, tw_fault *fault);

#endif
