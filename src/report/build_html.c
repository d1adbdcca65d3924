/* build_html.c: the build sheet as pages of paper. */
#include "svg.h"
#include "tripwright/drawing.h"
#include "tripwright/report_build.h"
#include "tripwright/text.h"

#include <stdio.h>
#include <string.h>

/* mm: what both papers have between their margins, one row of the table, the head of a page, the
 * foot of the last one */
#define PAGE_HEIGHT 253.0
#define ROW_HEIGHT  4.5
#define HEAD_HEIGHT 27.0
#define FOOT_HEIGHT 26.0
#define CODE_SIZE   22.0
/* characters in one row: beside limits and reading, and over the whole width */
enum { NARROW = 60, WIDE = 110 };

/* ---- rows
 * ------------------------------------------------------------------------------------------ */

typedef struct row {
  tw_text left, limits;
  char kind; /* o operation, f field, c check, w caution, h hold point */
  size_t number;
  double height;
} row;

#define ROWS_MOST 160

typedef struct sheet {
  const tw_build_paper *p;
  row rows[ROWS_MOST];
  size_t count;
  bool failed;
} sheet;

static row *add_row(sheet *s, char kind, size_t number)
{
  if (s->count == ROWS_MOST) {
    s->failed = true;
    return &s->rows[ROWS_MOST - 1];
  }
  row *r = &s->rows[s->count++];
  r->kind = kind;
  r->number = number;
  return r;
}

static void set_height(row *r)
{
  const size_t lines = 1 + r->left.length / (r->kind == 'f' || r->kind == 'c' ? NARROW : WIDE);
  r->height = ROW_HEIGHT * (double)lines;
}

static void put_band(const tw_build_paper *p, const char *unit_name, double low, double high,
                     tw_text *out)
{
  tw_unit unit = {.name = "1", .scale = 1, .decimal = true};
  char a[60], b[60];
  (void)tw_units_find(p->units, unit_name, &unit, NULL);
  tw_unit_shown(p->units, &unit, p->system, &unit);
  tw_number_print(low, &unit, 4, a, sizeof a);
  tw_number_print(high, &unit, 4, b, sizeof b);
  tw_svg_escaped(out, a);
  tw_text_put(out, " … ");
  tw_svg_escaped(out, b);
}

static void put_field(sheet *s, const tw_build_field *f)
{
  const tw_field_info *info = tw_field_of(f->field);
  row *r = add_row(s, 'f', 0);
  /* the path, with what it means as far as a row goes */
  const size_t help = strcspn(info->help, ":;,(");
  char text[160];
  snprintf(text, sizeof text, "%s: %.*s", info->path, (int)help, info->help);
  tw_svg_escaped(&r->left, strlen(text) <= NARROW ? text : info->path);
  put_band(s->p, info->type == TW_TYPE_NUMBER ? "1" : info->unit, f->low, f->high, &r->limits);
  tw_text_put(&r->limits, f->guarded ? " (guarded)" : "");
  set_height(r);
}

/* handy units of the bench */
static const char *bench_unit(const char *si)
{
  static const char *const units[][2] = {{"F", "nF"}, {"A", "mA"},  {"kg", "g"}, {"s", "ms"},
                                         {"V", "V"},  {"Hz", "Hz"}, {"N", "N"},  {"ohm", "kohm"}};
  for (size_t i = 0; i < sizeof units / sizeof units[0]; i++) {
    if (strcmp(units[i][0], si) == 0) {
      return units[i][1];
    }
  }
  return si[0] ? si : "1";
}

static void put_check(sheet *s, const tw_build_check *c)
{
  const tw_bench_check *k = c->check;
  row *r = add_row(s, 'c', 0);
  tw_svg_escaped(&r->left, k->title);
  tw_text_add(&r->left, "%s", c->again ? ", once more" : "");
  if (k->word) {
    tw_svg_escaped(&r->limits, k->word);
  } else if (k->expect.known) {
    put_band(s->p, bench_unit(k->unit), k->loads ? k->shown_low : k->expect.low,
             k->loads ? k->shown_high : k->expect.high, &r->limits);
  } else {
    tw_text_put(&r->limits, "no figure: write it down");
  }
  set_height(r);
}

static void put_line(sheet *s, size_t k)
{
  const tw_build *b = s->p->build;
  const tw_operation *op = &b->line[k];
  row *r = add_row(s, 'o', k + 1);
  bool reads = false;
  tw_svg_escaped(&r->left, op->text);
  set_height(r);
  if (op->caution != TW_CAUTION_NONE) {
    r = add_row(s, 'w', 0);
    tw_svg_escaped(&r->left, tw_caution_text(op->caution));
    set_height(r);
  }
  for (size_t i = 0; i < b->fields; i++) {
    if (b->field[i].line == k) {
      put_field(s, &b->field[i]);
      reads = true;
    }
  }
  for (size_t i = 0; i < b->checks; i++) {
    if (b->check[i].line == k) {
      put_check(s, &b->check[i]);
      reads = true;
    }
  }
  if (op->hold && reads) {
    r = add_row(s, 'h', 0);
    tw_text_put(&r->left, "STOP outside these limits: keep the piece, write a note.");
    set_height(r);
  }
}

/* ---- pages
 * ----------------------------------------------------------------------------------------- */

static const char style[] =
    "*{box-sizing:border-box}body{margin:0;font:8pt/1.25 'DejaVu Sans',Arial,sans-serif;"
    "color:#000;background:#fff}"
    ".page{width:186mm;height:254mm;margin:0 auto;position:relative;overflow:hidden;"
    "break-after:page}.page:last-child{break-after:auto}"
    "header{height:25mm;display:flex;gap:4mm;border-bottom:.5mm solid #000;margin-bottom:1.5mm}"
    "header div{flex:1}header b{font-size:13pt}.plain{font:7pt monospace}"
    "table{width:100%;border-collapse:collapse;table-layout:fixed}"
    "td{border-bottom:.15mm solid #999;padding:.35mm 1mm;vertical-align:top;overflow-wrap:anywhere}"
    ".n{width:7mm;text-align:right}.l{width:43mm;white-space:nowrap;font-size:7.6pt}"
    ".r{width:29mm;border-left:.15mm solid #999}.i{width:14mm;border-left:.15mm solid #999}"
    ".o td{font-weight:bold;border-top:.3mm solid #000}.w td{font-style:italic}"
    ".h td{font-weight:bold;background:#ddd}"
    "footer{position:absolute;left:0;right:0;bottom:0;height:24mm;border-top:.3mm solid #000;"
    "font-size:7.6pt;padding-top:1mm}.section{text-align:center;margin:1mm 0}.section "
    "svg{height:100%;width:auto;max-width:100%}"
    "@media screen{.page{outline:1px solid #888;margin:4mm auto;padding:2mm}}";

static tw_status put_head(const sheet *s, size_t page, size_t pages, tw_text *out, tw_fault *fault)
{
  char text[160], *svg = NULL;
  const tw_build_paper *p = s->p;
  const char *revision = tw_design_revision(p->design), *name = tw_design_name(p->design);
  tw_build_code(p, page, pages, text, sizeof text);
  const tw_status status = tw_code_svg(text, CODE_SIZE, &svg, fault);
  if (status != TW_OK) {
    return status;
  }
  tw_text_put(out, "<section class=\"page\"><header><div><b>Unit ");
  tw_svg_escaped(out, p->unit);
  tw_text_put(out, "</b>  build sheet<br>");
  tw_svg_escaped(out, name ? name : tw_design_file(p->design));
  tw_text_put(out, "<br>revision ");
  tw_svg_escaped(out, revision ? revision : "-");
  tw_text_add(out, ", page %zu of %zu<br>begun ________________ by ________________<br>", page,
              pages);
  tw_text_put(out, "<span class=\"plain\">");
  tw_svg_escaped(out, text);
  tw_text_add(out, "</span></div>%s</header>", svg);
  tw_free(svg);
  return TW_OK;
}

static void put_row(const row *r, tw_text *out)
{
  tw_text_add(out, "<tr class=\"%c\"><td class=\"n\">", r->kind);
  if (r->number) {
    tw_text_add(out, "%zu", r->number);
  }
  if (r->kind != 'f' && r->kind != 'c') {
    tw_text_add(out, "</td><td colspan=\"4\">%s</td></tr>", r->left.at ? r->left.at : "");
    return;
  }
  tw_text_add(out,
              "</td><td>%s</td><td class=\"l\">%s</td><td class=\"r\"></td><td class=\"i\"></td>"
              "</tr>",
              r->left.at ? r->left.at : "", r->limits.at ? r->limits.at : "");
}

static const char table_head[] =
    "<table><colgroup><col style=\"width:7mm\"><col><col style=\"width:43mm\"><col "
    "style=\"width:29mm\"><col style=\"width:14mm\"></colgroup><tr><td></td><td>what (checks: as "
    "the bench card says)</td><td>must "
    "read</td><td class=\"r\">reading</td><td class=\"i\">initials</td></tr>";

static void put_foot(const sheet *s, tw_text *out)
{
  tw_text_put(out,
              "<footer>Cautions defer to the data sheets of what you use, to local rules and to "
              "licensed practice. ");
  if (s->p->build->unplaced > 0) {
    tw_text_put(out, "Not made, because no moment fits: ");
    for (size_t k = 0; k < s->p->build->unplaced; k++) {
      tw_text_put(out, k ? ", " : "");
      tw_svg_escaped(out, s->p->build->left[k]->title);
    }
    tw_text_put(out, ". ");
  }
  tw_text_put(out,
              "<br>Notes:<br><br>Passed: yes / no &nbsp;&nbsp; date ______________ &nbsp;&nbsp; "
              "name ____________________________ &nbsp;&nbsp; initials ________</footer>");
}

enum { PAGES_MOST = 6 };

/* the rows from i on that stay together: an operation and what belongs to it */
static double block_of(const sheet *s, size_t i)
{
  double height = s->rows[i].height;
  for (size_t k = i + 1; s->rows[i].kind == 'o' && k < s->count && s->rows[k].kind != 'o'; k++) {
    height += s->rows[k].height;
  }
  return height;
}

/* first[page] of each page, first[pages] the end; *left: mm on the last one above its foot */
static size_t split(const sheet *s, size_t *first, double *left)
{
  const double full = PAGE_HEIGHT - HEAD_HEIGHT - ROW_HEIGHT;
  double used = 0;
  size_t page = 0;
  first[0] = 0;
  for (size_t i = 0; i < s->count; i++) {
    const double need = block_of(s, i) <= full ? block_of(s, i) : s->rows[i].height;
    if (used > 0 && used + need > full && page + 2 < PAGES_MOST) {
      first[++page] = i;
      used = 0;
    }
    used += s->rows[i].height;
  }
  if (page == 0 || used > full - FOOT_HEIGHT) { /* two pages at least: the section wants room */
    first[++page] = s->count;
    used = 0;
  }
  first[page + 1] = s->count;
  *left = full - FOOT_HEIGHT - used;
  return page + 1;
}

/* mm below which a section says nothing, and what its margins take */
#define SECTION_LEAST  60.0
#define SECTION_MARGIN 4.0
/* mm of the smallest sheet on which a section has its labels beside it */
#define SECTION_SHEET 215.0

static tw_status put_section(const sheet *s, double height, tw_text *out, tw_fault *fault)
{
  if (height < SECTION_LEAST) {
    return TW_OK;
  }
  tw_drawing_options options = tw_drawing_defaults();
  char *svg = NULL;
  options.width = 180;
  options.height = height > SECTION_SHEET ? height : SECTION_SHEET; /* scaled to the room below */
  options.system = s->p->system;
  options.ghosts = false;
  const tw_status status = tw_drawing_make("section", s->p->design, &options, &svg, fault);
  if (status == TW_NO_MEMORY) {
    return status;
  }
  if (svg) {
    const char *start = strstr(svg, "<svg");
    tw_text_add(out, "<div class=\"section\" style=\"height:%.0fmm\">", height);
    tw_text_put(out, start ? start : svg);
    tw_text_put(out, "</div>");
  }
  tw_free(svg);
  return TW_OK;
}

static tw_status put_pages(const sheet *s, tw_text *out, size_t *pages, tw_fault *fault)
{
  size_t first[PAGES_MOST + 1];
  double left;
  *pages = split(s, first, &left);
  const double room = left - SECTION_MARGIN;
  tw_status status = TW_OK;
  for (size_t page = 0; page < *pages && status == TW_OK; page++) {
    status = put_head(s, page + 1, *pages, out, fault);
    tw_text_put(out, table_head);
    for (size_t i = first[page]; i < first[page + 1]; i++) {
      put_row(&s->rows[i], out);
    }
    tw_text_put(out, "</table>");
    if (page + 1 == *pages && status == TW_OK) {
      status = put_section(s, room < s->p->section_mm ? room : s->p->section_mm, out, fault);
      put_foot(s, out);
    }
    tw_text_put(out, "</section>\n");
  }
  return status;
}

tw_status tw_build_html(const tw_build_paper *paper, char **html, size_t *pages, tw_fault *fault)
{
  sheet *s = tw_alloc(1, sizeof *s);
  tw_text out = {0};
  size_t count = 0;
  *html = NULL;
  if (!s) {
    return tw_fail(fault, TW_NO_MEMORY, NULL, NULL, "no memory for the build sheet");
  }
  s->p = paper;
  for (size_t k = 0; k < paper->build->lines; k++) {
    put_line(s, k);
  }
  tw_text_add(&out,
              "<!DOCTYPE html><html lang=\"en\"><head><meta charset=\"utf-8\"><title>Build sheet, "
              "unit ");
  tw_svg_escaped(&out, paper->unit);
  tw_text_add(&out, "</title><style>@page{size:%s;margin:12mm}%s</style></head><body>\n",
              paper->paper == TW_PAPER_A4 ? "A4" : "letter", style);
  tw_status status = put_pages(s, &out, &count, fault);
  tw_text_put(&out, "</body></html>\n");
  bool failed = s->failed;
  for (size_t i = 0; i < s->count; i++) {
    failed = failed || s->rows[i].left.failed || s->rows[i].limits.failed;
    tw_text_free(&s->rows[i].left);
    tw_text_free(&s->rows[i].limits);
  }
  tw_free(s);
  *html = tw_text_take(&out);
  if (status == TW_OK && (failed || !*html)) {
    status = tw_fail(fault, TW_NO_MEMORY, NULL, NULL, "no memory for the build sheet");
  }
  if (status != TW_OK) {
    tw_free(*html);
    *html = NULL;
  }
  if (pages) {
    *pages = count;
  }
  return status;
}
