/* certificate_html.c: the certificate of one unit on paper. */
#include "svg.h"
#include "tripwright/batch_build.h"
#include "tripwright/report_certificate.h"
#include "tripwright/text.h"

#include <stdio.h>
#include <string.h>

/* mm on a side: 105 characters need more modules than a build sheet's code */
#define CODE_SIZE 30.0

static const char style[] =
    "@page{margin:15mm}*{box-sizing:border-box}body{margin:0 auto;width:180mm;font:9pt/1.35 "
    "'DejaVu Sans',Arial,sans-serif;color:#000;background:#fff}header{display:flex;"
    "justify-content:space-between;border-bottom:.5mm solid #000;padding-bottom:2mm}"
    "h1{font-size:15pt;margin:0 0 1mm}table{width:100%;border-collapse:collapse;margin:3mm 0}"
    "td,th{border-bottom:.15mm solid #777;padding:.7mm 1mm;text-align:left;vertical-align:top;"
    "overflow-wrap:anywhere}.seal{font:7.4pt "
    "monospace;overflow-wrap:anywhere}small{font-size:7.6pt}"
    "section{break-inside:avoid}";

static void put_number(const tw_certificate *c, const tw_certified_result *r, double value,
                       int digits, tw_text *out)
{
  const tw_measure_info *about = tw_measure_about(r->id);
  tw_unit unit = {.name = "1", .scale = 1, .decimal = true};
  char text[60];
  (void)tw_units_find(c->units, about->shown, &unit, NULL);
  tw_unit_shown(c->units, &unit, c->system, &unit);
  tw_number_print(value, &unit, digits, text, sizeof text);
  tw_svg_escaped(out, text);
}

static void put_result(const tw_certificate *c, const tw_certified_result *r, tw_text *out)
{
  tw_text_add(out, "<tr><td>%s</td><td>", tw_measure_about(r->id)->name);
  tw_svg_escaped(out, r->limit->text);
  tw_text_put(out, "</td><td>");
  if (r->word) {
    tw_svg_escaped(out, r->word);
    tw_text_put(out, "</td><td>-");
  } else if (r->read) {
    put_number(c, r, r->value, 4, out);
    tw_text_put(out, "</td><td>");
    put_number(c, r, 2 * r->u, 2, out);
  } else {
    tw_text_put(out, "-</td><td>-");
  }
  tw_text_add(out, "</td><td><b>%s</b></td><td>", tw_certified_text(r->verdict));
  if (r->read && !r->word) {
    tw_text_add(out, "%.1f %%", 100 * r->conforms);
  }
  tw_text_put(out, "</td></tr>\n");
}

/* traceability line by line: what the user's own document says, or that there is none */
static void put_trace(const tw_certified_result *r, tw_text *out)
{
  tw_text_add(out, "<tr><td>%s</td><td>", tw_measure_about(r->id)->name);
  tw_svg_escaped(out, r->instrument ? r->instrument : "instrument not stated");
  tw_text_put(out, "</td><td>");
  if (r->document) {
    tw_text_put(out, "traceable by: ");
    tw_svg_escaped(out, r->document);
  } else {
    tw_text_put(out, "not traceable: no document is named");
  }
  tw_text_put(out, "</td></tr>\n");
}

static void put_risks(const tw_certificate *c, tw_text *out)
{
  tw_text_add(
      out, "<section><table><tr><th>risk of this rule</th><th>guard band</th><th>bad and accepted, "
           "of all</th><th>bad, of those accepted</th><th>good and rejected, of all</th></tr>\n");
  for (size_t i = 0; i < c->count; i++) {
    const tw_certified_result *r = &c->result[i];
    if (r->has_batch) {
      tw_text_add(out, "<tr><td>%s</td><td>", tw_measure_about(r->id)->name);
      put_number(c, r, r->guard, 3, out);
      tw_text_add(out, "</td><td>%.3f %%</td><td>%.3f %%</td><td>%.2f %%</td></tr>\n",
                  100 * r->risks.consumer, 100 * r->risks.bad_of_accepted, 100 * r->risks.producer);
    }
  }
  tw_text_add(
      out,
      "<tr><td>all together</td><td></td><td>%.3f %% (by normal laws at most %.3f %%)</td><td>%.3f "
      "%%</td>"
      "<td></td></tr></table><small>Before the reading a unit is taken as one of a batch of "
      "%zu builds of the design, unsorted, with a normal law (JCGM 106). %s</small></section>\n",
      100 * c->all->together, 100 * c->all->sum,
      c->all->accepted > 0 ? 100 * c->all->together / c->all->accepted : 0, c->builds,
      c->ask->batch_agreed
          ? "The chance that this unit conforms uses the batch, as agreed with the customer."
          : "The chance that this unit conforms is by its reading alone.");
}

static tw_status put_head(const tw_certificate *c, const char *seal, tw_text *out, tw_fault *fault)
{
  char code[160], *svg;
  const char *name = tw_design_name(c->design), *revision = tw_design_revision(c->design);
  snprintf(code, sizeof code, "TW1C U=%s R=%s H=%s", c->unit, revision ? revision : "-", seal);
  const tw_status status = tw_code_svg(code, CODE_SIZE, &svg, fault);
  if (status != TW_OK) {
    return status;
  }
  tw_text_put(out, "<header><div><h1>Certificate of unit ");
  tw_svg_escaped(out, c->unit);
  tw_text_put(out, "</h1>");
  tw_svg_escaped(out, name ? name : tw_design_file(c->design));
  tw_text_put(out, ", revision ");
  tw_svg_escaped(out, revision ? revision : "-");
  tw_text_put(out, "<br>date ");
  tw_svg_escaped(out, c->date);
  tw_text_put(out, ", temperature ");
  tw_svg_escaped(out, c->temperature ? c->temperature : "not stated");
  tw_text_add(out, "<br>design file SHA-256 <span class=\"seal\">%s</span>", c->digest);
  if (c->replaces) {
    tw_text_put(out, "<br>replaces the certificate ");
    tw_svg_escaped(out, c->replaces);
  }
  tw_text_add(out, "</div>%s</header>\n", svg);
  tw_free(svg);
  return TW_OK;
}

static void put_foot(const tw_certificate *c, const char *seal, tw_text *out)
{
  tw_text_put(out,
              "<p><small>Measured after the method of the project's own guide (bench card); the "
              "expanded uncertainty has k = 2. The results hold for this unit with the stylus, "
              "feed and link of the design, on the day of the measurement. A probe is no safety "
              "device.</small></p><section><p>SHA-256 of the document beside this paper:<br>");
  tw_text_add(out, "<span class=\"seal\">%s</span></p><p>Issued by ", seal);
  tw_svg_escaped(out, c->issued_by ? c->issued_by : "____________________________");
  tw_text_put(out, " &nbsp;&nbsp; signature ______________________________</p></section>");
}

tw_status tw_certificate_html(const tw_certificate *c, const char *seal, char **html,
                              tw_fault *fault)
{
  tw_text out = {0};
  tw_text_add(
      &out, "<!DOCTYPE html><html lang=\"en\"><head><meta charset=\"utf-8\"><title>Certificate of "
            "unit ");
  tw_svg_escaped(&out, c->unit);
  tw_text_add(&out, "</title><style>%s</style></head><body>\n", style);
  tw_status status = put_head(c, seal, &out, fault);
  tw_text_add(&out, "<p>Decision rule: %s.</p>\n", tw_decision_text(c->ask->rule));
  tw_text_put(&out,
              "<table><tr><th>requirement</th><th>limit</th><th>reading</th><th>U (k = 2)</th>"
              "<th>verdict</th><th>chance that it conforms</th></tr>\n");
  for (size_t i = 0; i < c->count; i++) {
    put_result(c, &c->result[i], &out);
  }
  tw_text_put(&out, "</table><table><tr><th>reading of</th><th>instrument</th><th>traceability</th>"
                    "</tr>\n");
  for (size_t i = 0; i < c->count; i++) {
    if (c->result[i].read) {
      put_trace(&c->result[i], &out);
    }
  }
  tw_text_put(&out, "</table>\n");
  if (c->all->has_batch) {
    put_risks(c, &out);
  }
  put_foot(c, seal, &out);
  tw_text_put(&out, "</body></html>\n");
  *html = tw_text_take(&out);
  if (status == TW_OK && !*html) {
    status = tw_fail(fault, TW_NO_MEMORY, NULL, NULL, "no memory for the certificate");
  }
  if (status != TW_OK) {
    tw_free(*html);
    *html = NULL;
  }
  return status;
}
