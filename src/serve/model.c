/* model.c: what the server serves: one design file, read anew for each request. */
#include "siblings.h"

#include "tripwright/report.h"
#include "tripwright/serve.h"

#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>

/* what the watching thread remembers, so that it reads the file only when it was touched */
typedef struct watched {
  struct timespec changed;
  off_t size;
  ino_t inode;
  char print[TW_FINGERPRINT];
} watched;

typedef struct design_model {
  tw_serve_file file;
  watched seen;
} design_model;

static void print_of_file(const char *path, char out[TW_FINGERPRINT])
{
  size_t size = 0;
  char *data = tw_file_text(path, &size, NULL);
  tw_fingerprint(data ? data : "", size, out);
  tw_free(data);
}

static void model_fingerprint(void *self, char out[TW_FINGERPRINT])
{
  design_model *model = self;
  watched *w = &model->seen;
  struct stat now;
  if (stat(model->file.path, &now) != 0) {
    snprintf(out, TW_FINGERPRINT, "%016x", 0);
    w->size = -1;
    return;
  }
  if (now.st_mtim.tv_sec != w->changed.tv_sec || now.st_mtim.tv_nsec != w->changed.tv_nsec ||
      now.st_size != w->size || now.st_ino != w->inode) {
    w->changed = now.st_mtim;
    w->size = now.st_size;
    w->inode = now.st_ino;
    print_of_file(model->file.path, w->print);
  }
  memcpy(out, w->print, TW_FINGERPRINT);
}

/* ---- a request's changes over the file ------------------------------------------------------ */

typedef struct reading {
  tw_set *sets; /* those of the command line, then those of the request */
  size_t count;
  tw_messages *messages;
  tw_design *design;
} reading;

static void end_reading(reading *r)
{
  tw_free(r->sets);
  tw_messages_free(r->messages);
  tw_design_free(r->design);
  *r = (reading){0};
}

/* with room for `more` */
static tw_status collect_sets(const tw_serve_file *file, const json_t *request, size_t more,
                              reading *r, tw_fault *fault)
{
  json_t *set = json_object_get(request, "set");
  const char *path;
  json_t *text;
  r->sets = tw_alloc(file->set_count + json_object_size(set) + more + 1, sizeof *r->sets);
  if (!r->sets) {
    return tw_fail(fault, TW_NO_MEMORY, "", "", "no memory for the changes");
  }
  for (size_t i = 0; i < file->set_count; i++) {
    r->sets[r->count++] = file->sets[i];
  }
  if (set && !json_is_object(set)) {
    return tw_fail(fault, TW_BAD_INPUT, "set", "", "the changes are not an object");
  }
  json_object_foreach(set, path, text)
  {
    if (!json_is_string(text)) {
      return tw_fail(fault, TW_BAD_INPUT, "set", "", "a change is not a text");
    }
    r->sets[r->count++] = (tw_set){path, json_string_value(text)};
  }
  return TW_OK;
}

static tw_read_options read_options(const tw_serve_file *file, const reading *r)
{
  return (tw_read_options){.units = file->units,
                           .library = file->library,
                           .need = TW_NEED_ALL,
                           .shop = file->shop,
                           .sets = r->sets,
                           .set_count = r->count};
}

/* the first error as the fault, so that the page can name the field */
static tw_status first_error(tw_status status, const tw_messages *messages, tw_fault *fault)
{
  for (size_t i = 0; i < tw_messages_count(messages); i++) {
    const tw_message *m = tw_messages_at(messages, i);
    if (m->severity == TW_ERROR) {
      return tw_fail(fault, status, m->field ? m->field : "", m->hint ? m->hint : "", "%s",
                     m->text);
    }
  }
  return tw_fail(fault, status, "", "", "%s", tw_status_text(status));
}

static tw_status read_design(const tw_serve_file *file, const json_t *request, reading *r,
                             tw_fault *fault)
{
  r->messages = tw_messages_new();
  if (!r->messages) {
    return tw_fail(fault, TW_NO_MEMORY, "", "", "no memory for messages");
  }
  tw_status status = collect_sets(file, request, 0, r, fault);
  if (status == TW_OK) {
    const tw_read_options options = read_options(file, r);
    status = tw_design_read(file->path, &options, r->messages, &r->design);
    if (status != TW_OK) {
      first_error(status, r->messages, fault);
    }
  }
  return status;
}

/* the design of a request with one more word, quietly: what cannot be built so is left out */
typedef struct rereading {
  const tw_serve_file *file;
  const json_t *request;
} rereading;

static tw_status read_sets(void *self, const tw_set *sets, size_t count, tw_design **out)
{
  const rereading *again = self;
  reading r = {.messages = tw_messages_new()};
  *out = NULL;
  tw_status status =
      r.messages ? collect_sets(again->file, again->request, count, &r, NULL) : TW_NO_MEMORY;
  if (status == TW_OK) {
    for (size_t i = 0; i < count; i++) {
      r.sets[r.count++] = sets[i];
    }
    const tw_read_options options = read_options(again->file, &r);
    status = tw_design_read(again->file->path, &options, r.messages, out);
  }
  end_reading(&r);
  return status;
}

static tw_status read_with(void *self, const char *path, const char *word, tw_design **out)
{
  const tw_set set = {path, word};
  return read_sets(self, &set, 1, out);
}

static json_t *with_messages(const reading *r)
{
  return json_pack("{s:o}", "messages", tw_page_messages(r->messages));
}

/* ---- what the page asks --------------------------------------------------------------------- */

static tw_system asked_system(const json_t *sheet)
{
  const char *text = json_string_value(json_object_get(sheet, "system"));
  return text && strcmp(text, "inch") == 0 ? TW_INCH : TW_METRIC;
}

static double asked_size(const json_t *sheet, const char *name, double otherwise, double least,
                         double most)
{
  const double size = json_number_value(json_object_get(sheet, name));
  return !(size > 0.0) ? otherwise : size < least ? least : size > most ? most : size;
}

static tw_page_options page_options(const tw_serve_file *file, const json_t *request,
                                    const tw_progress *progress, const tw_page_partial *partial)
{
  const json_t *sheet = json_object_get(request, "sheet");
  tw_page_options options = {.units = file->units,
                             .drawing = tw_drawing_defaults(),
                             .progress = progress,
                             .partial = partial,
                             .ask = json_object_get(request, "study")};
  options.drawing.standalone = false;
  options.drawing.width = asked_size(sheet, "width", 180.0, 80.0, 420.0);
  options.drawing.height = asked_size(sheet, "height", 215.0, 150.0, 420.0);
  options.drawing.system = asked_system(sheet);
  const char *shade = json_string_value(json_object_get(sheet, "shade"));
  if (shade && !tw_shade_read(shade, &options.drawing.shade)) {
    options.drawing.shade = TW_SHADE_NONE;
  }
  return options;
}

static tw_status model_open(void *self, json_t **out, tw_fault *fault)
{
  const design_model *model = self;
  reading r = {0};
  char print[TW_FINGERPRINT];
  print_of_file(model->file.path, print);
  tw_fault why = {0};
  const tw_status status = read_design(&model->file, NULL, &r, &why);
  if (status == TW_OK || status == TW_BAD_INPUT || status == TW_NO_FILE) {
    /* a file that cannot be read still opens: the page shows why */
    *out = tw_page_design(r.design, model->file.path, print, NULL, model->file.units, TW_METRIC,
                          r.messages);
    tw_siblings *siblings = tw_alloc(1, sizeof *siblings);
    if (*out && siblings) {
      tw_siblings_list(model->file.path, siblings);
      json_object_set_new(*out, "siblings", tw_siblings_json(siblings));
    }
    tw_free(siblings);
  }
  end_reading(&r);
  return *out ? TW_OK : tw_fail(fault, TW_NO_MEMORY, "", "", "no memory for the design");
}

/* ---- designs side by side ------------------------------------------------------------------- */

enum { OTHERS_MOST = 6 };

/* the designs that one is compared with; the first is the one on disk */
typedef struct company {
  reading saved, other[OTHERS_MOST];
  size_t others;
} company;

static void end_company(company *c)
{
  end_reading(&c->saved);
  for (size_t i = 0; i < c->others; i++) {
    end_reading(&c->other[i]);
  }
  tw_free(c);
}

/* one of the designs in the same folder, by the name under which it was listed */
static tw_status read_sibling(const tw_serve_file *file, const tw_siblings *siblings,
                              const json_t *name, reading *r, tw_fault *fault)
{
  char path[4096];
  const char *text = json_string_value(name);
  if (!text || !tw_siblings_path(siblings, file->path, text, path, sizeof path)) {
    return tw_fail(fault, TW_BAD_INPUT, "study.files", "",
                   "there is no design of that name in the folder of this one");
  }
  const tw_serve_file own = {path, file->shop, file->units, file->library, NULL, 0};
  tw_fault why = {0};
  const tw_status status = read_design(&own, NULL, r, &why);
  return status == TW_OK
             ? TW_OK
             : tw_fail(fault, TW_BAD_INPUT, "study.files", "", "%.60s: %s", text, why.text);
}

static tw_status read_siblings(const tw_serve_file *file, const json_t *names, company *c,
                               tw_fault *fault)
{
  if (json_array_size(names) > OTHERS_MOST || (names && !json_is_array(names))) {
    return tw_fail(fault, TW_BAD_INPUT, "study.files", "", "files: name at most %d in a list",
                   (int)OTHERS_MOST);
  }
  tw_siblings *siblings = tw_alloc(1, sizeof *siblings);
  if (!siblings) {
    return tw_fail(fault, TW_NO_MEMORY, "", "", "no memory for the folder");
  }
  tw_siblings_list(file->path, siblings);
  tw_status status = TW_OK;
  for (size_t i = 0; i < json_array_size(names) && status == TW_OK; i++) {
    status = read_sibling(file, siblings, json_array_get(names, i), &c->other[c->others++], fault);
  }
  tw_free(siblings);
  return status;
}

/* as saved, as tried if anything is tried, then the others that were named */
static tw_status make_compare(const design_model *model, const json_t *request, const reading *r,
                              const tw_page_options *options, json_t **out, tw_fault *fault)
{
  company *c = tw_alloc(1, sizeof *c);
  if (!c) {
    return tw_fail(fault, TW_NO_MEMORY, "", "", "no memory for the designs");
  }
  const tw_design *design[OTHERS_MOST + 2];
  size_t count = 0;
  tw_status status = read_design(&model->file, NULL, &c->saved, fault);
  if (status == TW_OK) {
    status = read_siblings(&model->file, json_object_get(options->ask, "files"), c, fault);
  }
  if (status == TW_OK) {
    design[count++] = c->saved.design;
    if (json_object_size(json_object_get(request, "set")) > 0) {
      design[count++] = r->design;
    }
    for (size_t i = 0; i < c->others; i++) {
      design[count++] = c->other[i].design;
    }
    status = count > 1 ? tw_page_compare(design, count, options, out, fault)
                       : tw_fail(fault, TW_BAD_INPUT, "", "try a change, or choose another design",
                                 "there is nothing to compare the saved design with");
  }
  end_company(c);
  return status;
}

static tw_status make_report(const design_model *model, const json_t *request, const reading *r,
                             const tw_page_options *options, json_t **out, tw_fault *fault)
{
  json_t *data = NULL;
  char *html = NULL;
  char print[TW_FINGERPRINT];
  tw_page_options printed = *options;
  printed.drawing.width = 180.0;
  printed.drawing.height = 215.0;
  printed.ask = json_object_get(request, "with");
  print_of_file(model->file.path, print);
  tw_status status =
      tw_page_report(r->design, model->file.path, print, NULL, &printed, r->messages, &data, fault);
  if (status == TW_OK) {
    status = tw_report_html(tw_design_name(r->design), data, &html, fault);
  }
  if (status == TW_OK) {
    *out = json_pack("{s:s, s:s}", "html", html, "name", "report.html");
    status = *out ? TW_OK : tw_fail(fault, TW_NO_MEMORY, "", "", "no memory for the report");
  }
  tw_free(html);
  json_decref(data);
  return status;
}

/* whatever stands under the sheet and the ledger */
static tw_status make_named(const design_model *model, const char *name, const json_t *request,
                            const reading *r, const tw_page_options *options, json_t **out,
                            tw_fault *fault)
{
  const bool settled = strcmp(name, "settled") == 0;
  if (settled || strcmp(name, "first") == 0) {
    return tw_page_evaluate(r->design, settled, options, r->messages, out, fault);
  }
  if (strcmp(name, "report") == 0) {
    return make_report(model, request, r, options, out, fault);
  }
  if (strcmp(name, "compare") == 0) {
    return make_compare(model, request, r, options, out, fault);
  }
  return tw_page_view(name, r->design, options, out, fault);
}

static bool model_takes_long(void *self, const json_t *request)
{
  (void)self;
  const char *name = json_string_value(json_object_get(request, "view"));
  return name && (tw_page_is_study(name) || json_object_get(request, "with"));
}

static tw_status model_view(void *self, const json_t *request, const tw_progress *progress,
                            const tw_page_partial *partial, json_t **out, tw_fault *fault)
{
  const design_model *model = self;
  const char *name = json_string_value(json_object_get(request, "view"));
  if (!name) {
    return tw_fail(fault, TW_BAD_INPUT, "view", "", "no view is named");
  }
  reading r = {0};
  tw_status status = read_design(&model->file, request, &r, fault);
  if (status == TW_OK) {
    char day[16];
    tw_page_options options = page_options(&model->file, request, progress, partial);
    rereading again = {&model->file, request};
    const tw_page_rows rows = {model->file.library, read_with, &again, read_sets};
    options.rows = &rows;
    options.drawing.date = tw_page_today(day);
    status = make_named(model, name, request, &r, &options, out, fault);
  }
  if (status != TW_OK && r.messages && !(status == TW_CANCELLED && *out)) {
    json_decref(*out);
    *out = with_messages(&r);
  }
  end_reading(&r);
  return status;
}

/* ---- saving --------------------------------------------------------------------------------- */

/* the request's changes into the file: read it as it stands, compare, write */
static tw_status write_changes(const design_model *model, const json_t *request, reading *r,
                               tw_fault *fault)
{
  const tw_serve_file bare = {
      model->file.path, model->file.shop, model->file.units, model->file.library, NULL, 0};
  tw_status status = read_design(&bare, NULL, r, fault);
  if (status != TW_OK) {
    return status;
  }
  reading changes = {0};
  status = collect_sets(&bare, request, 0, &changes, fault);
  if (status == TW_OK) {
    const tw_read_options options = read_options(&bare, &(reading){0});
    status = tw_design_write(r->design, changes.count, changes.sets, &options, r->messages);
    if (status != TW_OK) {
      first_error(status, r->messages, fault);
    }
  }
  end_reading(&changes);
  return status;
}

static tw_status model_save(void *self, const json_t *request, bool *conflict, json_t **out,
                            tw_fault *fault)
{
  const design_model *model = self;
  const char *seen = json_string_value(json_object_get(request, "fingerprint"));
  char print[TW_FINGERPRINT];
  if (!seen || json_object_size(json_object_get(request, "set")) == 0) {
    return tw_fail(fault, TW_BAD_INPUT, "set", "", "there is nothing to save, or no fingerprint");
  }
  print_of_file(model->file.path, print);
  *conflict = strcmp(seen, print) != 0;
  reading r = {0};
  tw_status status = *conflict ? TW_OK : write_changes(model, request, &r, fault);
  if (status == TW_NO_FILE) {
    /* changed between our look and the writer's: as if it had been so from the beginning */
    print_of_file(model->file.path, print);
    *conflict = strcmp(seen, print) != 0;
    status = *conflict ? TW_OK : status;
  }
  if (status == TW_OK) {
    print_of_file(model->file.path, print);
    *out = json_pack("{s:s}", "fingerprint", print);
    status = *out ? TW_OK : tw_fail(fault, TW_NO_MEMORY, "", "", "no memory");
  } else {
    *out = r.messages ? with_messages(&r) : NULL;
  }
  end_reading(&r);
  return status;
}

tw_status tw_serve_design(const tw_serve_file *file, tw_serve_model *out, tw_fault *fault)
{
  design_model *model = tw_alloc(1, sizeof *model);
  if (!model) {
    return tw_fail(fault, TW_NO_MEMORY, "", "", "no memory for the design");
  }
  model->file = *file;
  model->seen.size = -1;
  *out = (tw_serve_model){model,      model_open,        model_view,
                          model_save, model_fingerprint, model_takes_long};
  return TW_OK;
}

void tw_serve_design_free(tw_serve_model *model)
{
  if (model) {
    tw_free(model->self);
    model->self = NULL;
  }
}
