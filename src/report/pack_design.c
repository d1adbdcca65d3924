/* pack_design.c: a design with all that it needs to give the same figures elsewhere. */
#include "tripwright/report.h"

#include "svg.h"

#include <stdio.h>
#include <string.h>

enum { PACK_FILES = 6 + TW_KIND_COUNT, PACK_ROWS = 256 };

typedef struct packing {
  const tw_pack_design_in *in;
  tw_pack_file files[PACK_FILES];
  char *owned[PACK_FILES]; /* what must be freed with them */
  size_t count;
  bool used[TW_KIND_COUNT][PACK_ROWS];
} packing;

static void add(packing *p, const char *name, char *data, size_t size)
{
  p->owned[p->count] = data;
  p->files[p->count++] = (tw_pack_file){name, data, size};
}

static void end_packing(packing *p)
{
  for (size_t i = 0; i < p->count; i++) {
    tw_free(p->owned[i]);
  }
}

/* ---- library rows --------------------------------------------------------------------------- */

static bool mark(packing *p, tw_part_kind kind, const char *id)
{
  const tw_library *library = p->in->library;
  for (size_t i = 0; i < tw_library_count(library, kind) && i < PACK_ROWS; i++) {
    if (strcmp(tw_row_id(tw_library_row(library, kind, i)), id) == 0 && !p->used[kind][i]) {
      p->used[kind][i] = true;
      return true;
    }
  }
  return false;
}

/* fields whose help says "row of parts/KIND.yaml" */
static void mark_named(packing *p)
{
  for (int f = 0; f < TW_FIELD_COUNT; f++) {
    const tw_field_info *about = tw_field_of((tw_field)f);
    const char *folder = strstr(about->help, "parts/");
    if (about->type != TW_TYPE_TEXT || !folder || !tw_design_has(p->in->design, (tw_field)f)) {
      continue;
    }
    for (int k = 0; k < TW_KIND_COUNT; k++) {
      const char *file = tw_part_kind_file((tw_part_kind)k);
      if (strncmp(folder + 6, file, strlen(file)) == 0) {
        mark(p, (tw_part_kind)k, tw_design_text(p->in->design, (tw_field)f));
      }
    }
  }
}

/* rows that marked rows name, such as the metal of a disc; true when one was new */
static bool mark_mentioned(packing *p)
{
  bool more = false;
  for (int k = 0; k < TW_KIND_COUNT; k++) {
    for (size_t i = 0; i < tw_library_count(p->in->library, (tw_part_kind)k) && i < PACK_ROWS;
         i++) {
      const tw_row *row = tw_library_row(p->in->library, (tw_part_kind)k, i);
      for (size_t n = 0; p->used[k][i] && n < tw_part_key_count((tw_part_kind)k); n++) {
        const char *text = tw_row_text(row, tw_part_key_at((tw_part_kind)k, n)->key);
        for (int other = 0; text && other < TW_KIND_COUNT; other++) {
          more = mark(p, (tw_part_kind)other, text) || more;
        }
      }
    }
  }
  return more;
}

/* the lines of one row: from its own to the next row's, or to the end */
static void put_row(tw_text *out, const char *text, int line, int next)
{
  int at = 1;
  for (const char *rest = text; *rest;) {
    const char *end = strchr(rest, '\n');
    const size_t n = end ? (size_t)(end - rest) + 1 : strlen(rest);
    char *copy = at >= line && (next == 0 || at < next) ? tw_alloc(n + 1, 1) : NULL;
    if (copy) {
      memcpy(copy, rest, n);
      tw_text_put(out, copy);
      tw_free(copy);
    }
    rest += n;
    at++;
  }
}

static int next_row(const packing *p, tw_part_kind kind, int line)
{
  int next = 0;
  for (size_t i = 0; i < tw_library_count(p->in->library, kind); i++) {
    const int other = tw_row_place(tw_library_row(p->in->library, kind, i)).line;
    if (other > line && (next == 0 || other < next)) {
      next = other;
    }
  }
  return next;
}

static tw_status add_rows(packing *p, tw_part_kind kind, char name[64], tw_fault *fault)
{
  tw_text out = {0};
  char *text = NULL;
  size_t size = 0;
  for (size_t i = 0; i < tw_library_count(p->in->library, kind) && i < PACK_ROWS; i++) {
    const tw_place place = tw_row_place(tw_library_row(p->in->library, kind, i));
    if (!p->used[kind][i]) {
      continue;
    }
    if (!text) {
      text = tw_file_text(place.file, &size, fault);
    }
    if (!text) {
      return TW_NO_FILE;
    }
    put_row(&out, text, place.line, next_row(p, kind, place.line));
  }
  tw_free(text);
  if (out.failed) {
    tw_text_free(&out);
    return tw_fail(fault, TW_NO_MEMORY, "", "", "no memory for the library rows");
  }
  if (out.length) {
    const size_t length = out.length;
    snprintf(name, 64, "parts/%s.yaml", tw_part_kind_file(kind));
    add(p, name, tw_text_take(&out), length);
  }
  return TW_OK;
}

/* ---- the files ------------------------------------------------------------------------------ */

static const char *last_name(const char *path)
{
  const char *slash = strrchr(path, '/');
  return slash ? slash + 1 : path;
}

/* the design's text with what --set changed written into it */
static tw_status add_design(packing *p, tw_fault *fault)
{
  size_t size = 0;
  char *text = tw_file_text(p->in->file, &size, fault);
  if (!text) {
    return TW_NO_FILE;
  }
  if (p->in->set_count) {
    char *edited = NULL;
    const tw_status status =
        tw_design_edit(text, size, p->in->set_count, p->in->sets, fault, &edited);
    tw_free(text);
    if (status != TW_OK) {
      return status;
    }
    text = edited;
    size = strlen(edited);
  }
  add(p, last_name(p->in->file), text, size);
  return TW_OK;
}

static tw_status add_file(packing *p, const char *path, const char *name, tw_fault *fault)
{
  size_t size = 0;
  char *text = tw_file_text(path, &size, fault);
  if (!text) {
    return TW_NO_FILE;
  }
  add(p, name, text, size);
  return TW_OK;
}

/* based_on stands relative to the design's folder, and does so in the archive */
static tw_status add_base(packing *p, tw_fault *fault)
{
  const char *base = tw_design_base(p->in->design);
  if (!base) {
    return TW_OK;
  }
  const size_t folder = (size_t)(last_name(p->in->file) - p->in->file);
  const bool whole = strncmp(base, p->in->file, folder) == 0 && folder > 0;
  const char *name = whole ? base + folder : base;
  char path[4096];
  snprintf(path, sizeof path, "%.*s%s", (int)folder, p->in->file, name);
  return add_file(p, path, name, fault);
}

static tw_status add_note(packing *p, tw_fault *fault)
{
  tw_text note = {0};
  tw_text_add(&note,
              "%s, revision %s\npacked by tripwright %s\n\nThe same figures: tripwright check %s "
              "--parts parts%s\nreport.html opens in any browser.\n\nA probe is never a safety "
              "device; read any program before you run it.\n",
              tw_design_name(p->in->design), tw_design_revision(p->in->design), TW_VERSION,
              last_name(p->in->file), p->in->shop ? " --shop shop.yaml" : "");
  const size_t size = note.length;
  char *text = tw_text_take(&note);
  if (!text) {
    return tw_fail(fault, TW_NO_MEMORY, "", "", "no memory for the note");
  }
  add(p, "read-me.txt", text, size);
  return TW_OK;
}

static tw_status collect(packing *p, char names[TW_KIND_COUNT][64], tw_fault *fault)
{
  tw_status status = add_note(p, fault);
  status = status == TW_OK ? add_design(p, fault) : status;
  status = status == TW_OK ? add_base(p, fault) : status;
  if (status == TW_OK && p->in->shop) {
    status = add_file(p, p->in->shop, "shop.yaml", fault);
  }
  mark_named(p);
  while (mark_mentioned(p)) {
  }
  for (int k = 0; status == TW_OK && k < TW_KIND_COUNT; k++) {
    status = add_rows(p, (tw_part_kind)k, names[k], fault);
  }
  if (status == TW_OK) {
    char *report = tw_copy_text(p->in->report);
    if (report) {
      add(p, "report.html", report, strlen(report));
    } else {
      status = tw_fail(fault, TW_NO_MEMORY, "", "", "no memory for the report");
    }
  }
  return status;
}

tw_status tw_pack_design(const tw_pack_design_in *in, const char *path, tw_fault *fault)
{
  char names[TW_KIND_COUNT][64] = {{0}};
  packing *p = tw_alloc(1, sizeof *p);
  if (!p) {
    return tw_fail(fault, TW_NO_MEMORY, "", "", "no memory for the archive");
  }
  p->in = in;
  tw_status status = collect(p, names, fault);
  if (status == TW_OK) {
    status = tw_pack_write(path, p->files, p->count, fault);
  }
  end_packing(p);
  tw_free(p);
  return status;
}
