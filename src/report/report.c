/* report.c: the report: the page's own files and the figures in one HTML text. */
#include "tripwright/report.h"

#include "svg.h"

#include <stdlib.h>
#include <string.h>

/* "</" in a text would end the script element it stands in: "<" becomes \u003c, which JSON reads
 * as the same; U+2028 and U+2029 need nothing in JSON */
static void put_json(tw_text *html, const char *json)
{
  const char *rest = json;
  for (const char *at; (at = strchr(rest, '<')); rest = at + 1) {
    char *piece = tw_alloc((size_t)(at - rest) + 1, 1);
    if (!piece) {
      html->failed = true;
      return;
    }
    memcpy(piece, rest, (size_t)(at - rest));
    tw_text_put(html, piece);
    tw_text_put(html, "\\u003c");
    tw_free(piece);
  }
  tw_text_put(html, rest);
}

/* code and style of the page hold no end tag of their own element (a test looks) */
static tw_status put_asset(tw_text *html, const char *name, const char *before, const char *after,
                           tw_fault *fault)
{
  const tw_asset *asset = tw_asset_find(name);
  char *text = NULL;
  if (!asset) {
    return tw_fail(fault, TW_INTERNAL, "", "", "the page's file %s is missing", name);
  }
  const tw_status status = tw_asset_text(asset, &text, fault);
  if (status == TW_OK) {
    tw_text_put(html, before);
    tw_text_put(html, text);
    tw_text_put(html, after);
  }
  tw_free(text);
  return status;
}

static const char head[] =
    "<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n"
    "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n"
    "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; "
    "script-src 'unsafe-inline'; style-src 'unsafe-inline'; img-src data:\">\n"
    "<link rel=\"icon\" href=\"data:,\">\n<title>";

tw_status tw_report_html(const char *title, const json_t *data, char **out, tw_fault *fault)
{
  tw_text html = {0};
  char *json = json_dumps(data, JSON_COMPACT | JSON_REAL_PRECISION(17));
  if (!json) {
    return tw_fail(fault, TW_BAD_INPUT, "", "", "the figures of the report cannot be written");
  }
  tw_text_put(&html, head);
  tw_svg_escaped(&html, title);
  tw_text_put(&html, "</title>\n");
  tw_status status = put_asset(&html, "page.css", "<style>", "</style>\n</head>\n<body>\n", fault);
  tw_text_put(&html, "<noscript>This report draws with JavaScript.</noscript>\n"
                     "<div id=\"page\"></div>\n"
                     "<script type=\"application/json\" id=\"report-data\">");
  put_json(&html, json);
  tw_text_put(&html, "</script>\n");
  free(json);
  if (status == TW_OK) {
    status = put_asset(&html, "page.js", "<script>", "</script>\n</body>\n</html>\n", fault);
  }
  if (status != TW_OK) {
    tw_text_free(&html);
    return status;
  }
  *out = tw_text_take(&html);
  return *out ? TW_OK : tw_fail(fault, TW_NO_MEMORY, "", "", "no memory for the report");
}
