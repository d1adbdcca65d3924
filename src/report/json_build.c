/* json_build.c: the build sheet as a document. */
#include "tripwright/documents.h"
#include "tripwright/report_build.h"

#include <ctype.h>
#include <stdio.h>
#include <string.h>

/* hexadecimal digits of the design's SHA-256 that the code carries */
enum { DIGEST_SHORT = 12 };

void tw_build_code(const tw_build_paper *p, size_t page, size_t pages, char *out, size_t size)
{
  char digest[DIGEST_SHORT + 1] = "";
  const char *revision = tw_design_revision(p->design);
  for (size_t i = 0; i < DIGEST_SHORT && p->digest && p->digest[i]; i++) {
    digest[i] = (char)toupper((unsigned char)p->digest[i]);
    digest[i + 1] = '\0';
  }
  snprintf(out, size, "TW1 U=%s R=%s D=%s S=%zu P=%zu", p->unit, revision ? revision : "-", digest,
           pages, page);
}

static json_t *check_of(const tw_build *b, const tw_build_check *c)
{
  const tw_bench_check *k = c->check;
  json_t *o =
      json_pack("{s:s, s:s, s:s, s:b, s:s?}", "check", k->name, "title", k->title, "unit", k->unit,
                "again", c->again, "before", c->before < b->lines ? b->line[c->before].id : NULL);
  if (k->word) {
    json_object_set_new(o, "word", json_string(k->word));
  } else if (k->expect.known) {
    const bool loads = k->loads;
    json_object_set_new(o, "value", tw_json_number(loads ? k->shown : k->expect.value));
    json_object_set_new(o, "band",
                        json_pack("[o, o]", tw_json_number(loads ? k->shown_low : k->expect.low),
                                  tw_json_number(loads ? k->shown_high : k->expect.high)));
  } else {
    json_object_set_new(o, "why", json_string(k->expect.why));
  }
  return o;
}

static json_t *line_of(const tw_build_paper *p, size_t k)
{
  const tw_build *b = p->build;
  const tw_operation *row = &b->line[k];
  json_t *fields = json_array(), *checks = json_array();
  for (size_t i = 0; i < b->fields; i++) {
    const tw_build_field *f = &b->field[i];
    if (f->line == k) {
      tw_unit unit = {.name = "1", .scale = 1};
      const tw_field_info *info = tw_field_of(f->field);
      (void)tw_units_find(p->units, info->type == TW_TYPE_NUMBER ? "1" : info->unit, &unit, NULL);
      json_array_append_new(
          fields, json_pack("{s:s, s:o, s:s, s:b}", "field", info->path, "limits",
                            json_pack("[o, o]", tw_json_number(f->low), tw_json_number(f->high)),
                            "unit", tw_unit_si_name(p->units, &unit), "guarded", f->guarded));
    }
  }
  for (size_t i = 0; i < b->checks; i++) {
    if (b->check[i].line == k) {
      json_array_append_new(checks, check_of(b, &b->check[i]));
    }
  }
  return json_pack("{s:I, s:s, s:s, s:s, s:b, s:o, s:o}", "number", (json_int_t)(k + 1),
                   "operation", row->id, "text", row->text, "caution",
                   tw_caution_text(row->caution), "hold_point", row->hold, "fields", fields,
                   "checks", checks);
}

json_t *tw_document_build(const tw_build_paper *p)
{
  json_t *d = tw_document_new("sheet"), *lines = json_array(), *left = json_array(),
         *loose = json_array();
  for (size_t k = 0; k < p->build->lines; k++) {
    json_array_append_new(lines, line_of(p, k));
  }
  for (size_t k = 0; k < p->build->unplaced; k++) {
    json_array_append_new(left, json_string(p->build->left[k]->name));
  }
  for (size_t k = 0; k < p->build->loose; k++) {
    json_array_append_new(loose, json_string(tw_field_of(p->build->loose_field[k])->path));
  }
  json_object_set_new(d, "design", tw_json_design(p->design));
  json_object_set_new(d, "unit", json_string(p->unit));
  json_object_set_new(d, "sha256", json_string(p->digest));
  json_object_set_new(d, "lines", lines);
  json_object_set_new(d, "checks_without_moment", left);
  json_object_set_new(d, "fields_without_operation", loose);
  return d;
}
