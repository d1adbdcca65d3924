/* sheet.c: everything on the sheet that is not the probe. */
#include "sheet.h"

#include "tripwright/report.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

/* ---- numbers -------------------------------------------------------------------------------- */

static tw_shown show(double value, const char *unit)
{
  tw_shown shown;
  char number[24];
  snprintf(number, sizeof number, "%.4g", value);
  snprintf(shown.text, sizeof shown.text, "%s%s%s", number, unit[0] ? " " : "", unit);
  return shown;
}

tw_shown tw_sheet_length(const tw_sheet *sheet, double metres)
{
  return sheet->options->system == TW_INCH ? show(metres / 0.0254, "in") : show(metres * 1e3, "mm");
}

tw_shown tw_sheet_fine(const tw_sheet *sheet, double metres)
{
  return sheet->options->system == TW_INCH ? show(metres / 25.4e-6, "thou")
                                           : show(metres * 1e6, "\u00b5m");
}

tw_shown tw_sheet_plain(const tw_sheet *sheet, double metres)
{
  return sheet->options->system == TW_INCH ? show(metres / 0.0254, "") : show(metres * 1e3, "");
}

tw_shown tw_sheet_round(const tw_sheet *sheet, double diameter)
{
  const tw_shown plain = tw_sheet_plain(sheet, diameter);
  tw_shown shown;
  snprintf(shown.text, sizeof shown.text, "\u2300%.28s", plain.text);
  return shown;
}

/* the recommended scales of ISO 5455 and the halves between them that fill a sheet better */
static const double scales[] = {0.1, 0.2, 0.5, 1, 1.5, 2, 2.5, 3, 4, 5, 10, 20, 50, 100, 200, 500};

double tw_scale_below(double scale)
{
  double found = scales[0];
  for (size_t i = 0; i < sizeof scales / sizeof scales[0]; i++) {
    found = scales[i] <= scale * (1 + 1e-9) ? scales[i] : found;
  }
  return found;
}

tw_shown tw_scale_text(double scale)
{
  tw_shown shown;
  if (scale >= 1.0) {
    snprintf(shown.text, sizeof shown.text, "%.4g:1", scale);
  } else {
    snprintf(shown.text, sizeof shown.text, "1:%.4g", 1.0 / scale);
  }
  return shown;
}

/* ---- open and close ------------------------------------------------------------------------- */

static void hatch(tw_text *svg, const char *id, double step, double turn, const char *marks)
{
  tw_text_add(svg,
              "<pattern id=\"%s\" width=\"%g\" height=\"%g\" patternUnits=\"userSpaceOnUse\" "
              "patternTransform=\"rotate(%g)\">%s</pattern>\n",
              id, step, step, turn, marks);
}

/* one hatch a material; the marks lie inside their cell of the pattern */
static void put_hatches(tw_text *svg)
{
  tw_text_put(svg, "<defs>\n");
  hatch(svg, TW_HATCH_HOUSING, 3.0, 45, "<path class=\"hatch\" d=\"M1.5 0V3\"/>");
  hatch(svg, TW_HATCH_HOLDER, 2.4, -45,
        "<path class=\"hatch\" d=\"M0.6 0V2.4\"/><path class=\"hatch dashed\" d=\"M1.8 0V1.6\"/>");
  hatch(svg, TW_HATCH_CARRIER, 1.6, -45, "<path class=\"hatch\" d=\"M0.8 0V1.6\"/>");
  hatch(svg, TW_HATCH_METAL, 1.2, 45, "<path class=\"hatch\" d=\"M0.4 0V1.2M0.8 0V1.2\"/>");
  hatch(svg, TW_HATCH_CERAMIC, 1.6, 45, "<path class=\"hatch\" d=\"M0.8 0V1.6M0 0.8H1.6\"/>");
  hatch(svg, TW_HATCH_FOAM, 2.4, 0,
        "<circle class=\"hatch\" cx=\"0.7\" cy=\"0.7\" r=\"0.45\"/>"
        "<circle class=\"hatch\" cx=\"1.8\" cy=\"1.8\" r=\"0.3\"/>");
  hatch(svg, TW_HATCH_BOARD, 0.8, 0, "<path class=\"hatch\" d=\"M0 0.4H0.8\"/>");
  tw_text_put(svg, "</defs>\n");
}

static void put_style(tw_text *svg)
{
  const tw_asset *asset = tw_asset_find("drawing.css");
  char *text = NULL;
  if (!asset || tw_asset_text(asset, &text, NULL) != TW_OK) {
    svg->failed = true;
    return;
  }
  tw_text_put(svg, "<style>");
  tw_text_put(svg, text);
  tw_text_put(svg, "</style>\n");
  tw_free(text);
}

static void open_sheet(tw_text *svg, const tw_sheet *sheet, const char *title, const char *about)
{
  const bool alone = sheet->options->standalone;
  if (alone) {
    tw_text_put(svg, "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n");
  }
  tw_text_add(svg,
              "<svg xmlns=\"http://www.w3.org/2000/svg\" class=\"drawing%s\" role=\"%s\" "
              "width=\"%gmm\" height=\"%gmm\" viewBox=\"0 0 %g %g\" "
              "aria-labelledby=\"drawing-title drawing-about\">\n",
              alone ? " standalone" : "", alone ? "img" : "group", sheet->width, sheet->height,
              sheet->width, sheet->height);
  tw_text_put(svg, "<title id=\"drawing-title\">");
  tw_svg_escaped(svg, title);
  tw_text_put(svg, "</title>\n<desc id=\"drawing-about\">");
  tw_svg_escaped(svg, about);
  tw_text_put(svg, "</desc>\n");
  if (alone) {
    put_style(svg);
    tw_text_add(svg, "<rect class=\"paper\" width=\"%g\" height=\"%g\"/>\n", sheet->width,
                sheet->height);
  }
  put_hatches(svg);
}

tw_status tw_sheet_close(tw_sheet *sheet, const char *title, const char *about, char **out,
                         tw_fault *fault)
{
  tw_text whole = {.failed = sheet->svg.failed};
  open_sheet(&whole, sheet, title, about);
  tw_text_put(&whole, sheet->svg.at ? sheet->svg.at : "");
  tw_text_put(&whole, "</svg>\n");
  tw_text_free(&sheet->svg);
  *out = tw_text_take(&whole);
  return *out ? TW_OK : tw_fail(fault, TW_NO_MEMORY, "", "", "no memory for the drawing");
}

/* ---- parts and their labels ----------------------------------------------------------------- */

void tw_sheet_part(tw_sheet *sheet, const char *part, const char *name, const char *fields,
                   double x, double z, const char *key, ...)
{
  tw_text *svg = &sheet->svg;
  tw_label spare, *label = &spare;
  if (sheet->labels < TW_SHEET_LABELS) {
    label = &sheet->label[sheet->labels++];
  }
  *label = (tw_label){
      .part = part, .name = name, .x = tw_view_x(&sheet->view, x), .y = tw_view_y(&sheet->view, z)};
  va_list args;
  va_start(args, key);
  vsnprintf(label->key, sizeof label->key, key, args);
  va_end(args);
  tw_text_add(svg, "<g class=\"part\" data-part=\"%s\" data-fields=\"%s\"", part, fields);
  if (!sheet->options->standalone) {
    tw_text_add(svg, " tabindex=\"0\" role=\"button\" aria-label=\"%s, ", name);
    tw_svg_escaped(svg, label->key);
    tw_text_put(svg, "\"");
  }
  tw_text_put(svg, ">\n");
}

void tw_sheet_part_end(tw_sheet *sheet)
{
  tw_text_put(&sheet->svg, "</g>\n");
}

void tw_sheet_cut(tw_sheet *sheet, const char *hatch_name)
{
  if (hatch_name) {
    tw_text_add(&sheet->svg, "<g class=\"cut\" fill=\"url(#%s)\">\n", hatch_name);
  } else {
    tw_text_put(&sheet->svg, "<g class=\"cut\" fill=\"none\">\n");
  }
}

void tw_sheet_cut_end(tw_sheet *sheet)
{
  tw_text_put(&sheet->svg, "</g>\n");
}

static void sort_labels(tw_sheet *sheet)
{
  for (int i = 1; i < sheet->labels; i++) {
    const tw_label label = sheet->label[i];
    int k = i;
    for (; k > 0 && sheet->label[k - 1].y > label.y; k--) {
      sheet->label[k] = sheet->label[k - 1];
    }
    sheet->label[k] = label;
  }
}

/* down the column no two closer than `pitch`, then up again from the bottom edge */
static void spread_labels(const tw_sheet *sheet, double *y, double top, double bottom, double pitch)
{
  const int n = sheet->labels;
  double last = top - pitch;
  for (int i = 0; i < n; i++) {
    y[i] = fmax(sheet->label[i].y, last + pitch);
    last = y[i];
  }
  double next = bottom + pitch;
  for (int i = n; i-- > 0;) {
    y[i] = fmin(y[i], next - pitch);
    next = y[i];
  }
}

double tw_sheet_labels_beside(tw_sheet *sheet, double x, double y_top, double y_bottom)
{
  double y[TW_SHEET_LABELS] = {0};
  tw_text *svg = &sheet->svg;
  sort_labels(sheet);
  const double room = (y_bottom - y_top) / fmax(1.0, sheet->labels);
  spread_labels(sheet, y, y_top + 4.0, y_bottom - 4.0, fmin(fmax(room, 8.6), 9.5));
  for (int i = 0; i < sheet->labels; i++) {
    const tw_label *label = &sheet->label[i];
    tw_text_add(svg, "<g class=\"label\" data-label=\"%s\">\n", label->part);
    tw_text_add(svg, "<path class=\"leader\" d=\"M%.2f %.2fL%.2f %.2fH%.2f\"/>\n", label->x,
                label->y, x - 4.0, y[i], x - 1.0);
    tw_text_add(svg, "<circle class=\"dot\" cx=\"%.2f\" cy=\"%.2f\" r=\"0.6\"/>\n", label->x,
                label->y);
    tw_svg_text(svg, "name", x, y[i] - 0.2, "start", label->name);
    tw_svg_text(svg, "key", x, y[i] + 3.7, "start", label->key);
    tw_text_put(svg, "</g>\n");
  }
  return sheet->labels ? y[sheet->labels - 1] + 6.0 : y_top;
}

double tw_sheet_labels_list(tw_sheet *sheet, double y_top, double y_bottom, double y)
{
  tw_text *svg = &sheet->svg;
  double level[TW_SHEET_LABELS] = {0};
  const double bx = sheet->width - 4.5;
  sort_labels(sheet);
  spread_labels(sheet, level, y_top + 3.0, y_bottom - 3.0, 6.2);
  for (int i = 0; i < sheet->labels; i++) {
    const tw_label *label = &sheet->label[i];
    char number[12];
    snprintf(number, sizeof number, "%d", i + 1);
    tw_text_add(svg, "<g class=\"label\" data-label=\"%s\">\n", label->part);
    tw_text_add(svg, "<path class=\"leader\" d=\"M%.2f %.2fL%.2f %.2fH%.2f\"/>\n", label->x,
                label->y, bx - 7.0, level[i], bx - 2.6);
    tw_text_add(svg, "<circle class=\"dot\" cx=\"%.2f\" cy=\"%.2f\" r=\"0.6\"/>\n", label->x,
                label->y);
    tw_text_add(svg, "<circle class=\"balloon\" cx=\"%.2f\" cy=\"%.2f\" r=\"2.6\"/>\n", bx,
                level[i]);
    tw_svg_text(svg, "key", bx, level[i] + 1.15, "middle", number);
    y += 5.6;
    tw_svg_text(svg, "key", 6.0, y, "end", number);
    tw_text_add(svg, "<text class=\"key\" x=\"8\" y=\"%.2f\"><tspan class=\"name\">", y);
    tw_svg_escaped(svg, label->name);
    tw_text_put(svg, "</tspan> ");
    tw_svg_escaped(svg, label->key);
    tw_text_put(svg, "</text>\n</g>\n");
  }
  return y + 3.0;
}

/* ---- title block, scale bar, check line ----------------------------------------------------- */

/* what fits `width` mm of text, the rest as an ellipsis; counts characters, not bytes */
typedef struct fitted {
  char text[160];
} fitted;

static fitted fit_text(const char *text, double width)
{
  fitted shown = {""};
  const size_t most = (size_t)fmax(1.0, width / 1.78);
  size_t n = 0, count = 0;
  while (text[n] && n < sizeof shown.text - 5) {
    count += ((unsigned char)text[n] & 0xC0) != 0x80;
    if (count > most) {
      break;
    }
    n++;
  }
  while (text[n] && n > 0 && ((unsigned char)text[n] & 0xC0) == 0x80) {
    n--;
  }
  memcpy(shown.text, text, n);
  strcpy(shown.text + n, text[n] ? "\u2026" : "");
  return shown;
}

static void cell(tw_text *svg, double x, double y, double width, const char *caption,
                 const char *value)
{
  tw_svg_text(svg, "caption", x + 1.2, y + 3.6, "start", caption);
  const fitted shown = fit_text(value, width - 2.4);
  tw_svg_text(svg, "value", x + 1.2, y + 8.4, "start", shown.text);
}

void tw_sheet_title_block(tw_sheet *sheet, double x, double y, double width, const char *scale,
                          const char *what)
{
  tw_text *svg = &sheet->svg;
  const double row = TW_TITLE_HEIGHT / 3.0, third = width / 3.0;
  const tw_drawing_options *o = sheet->options;
  tw_text_put(svg, "<g class=\"title-block\">\n");
  tw_text_add(svg,
              "<rect class=\"outline\" x=\"%.2f\" y=\"%.2f\" width=\"%.2f\" "
              "height=\"%d\"/>\n",
              x, y, width, TW_TITLE_HEIGHT);
  tw_svg_line(svg, "thin", x, y + row, x + width, y + row);
  tw_svg_line(svg, "thin", x, y + 2 * row, x + width, y + 2 * row);
  for (int i = 1; i < 3; i++) {
    tw_svg_line(svg, "thin", x + i * third, y + row, x + i * third, y + 3 * row);
  }
  cell(svg, x, y, width, what, tw_design_name(sheet->design));
  cell(svg, x, y + row, third, "revision", tw_design_revision(sheet->design));
  cell(svg, x + third, y + row, third, "scale", scale);
  cell(svg, x + 2 * third, y + row, third, "units", o->system == TW_INCH ? "inch" : "mm");
  cell(svg, x, y + 2 * row, third, "date", o->date && o->date[0] ? o->date : "\u2013");
  cell(svg, x + third, y + 2 * row, third, "basis", o->basis && o->basis[0] ? o->basis : "\u2013");
  cell(svg, x + 2 * third, y + 2 * row, third, "tripwright", TW_VERSION);
  tw_text_put(svg, "</g>\n");
}

void tw_sheet_scale_bar(tw_sheet *sheet, double x, double y, double scale)
{
  tw_text *svg = &sheet->svg;
  const bool inch = sheet->options->system == TW_INCH;
  const double unit = inch ? 25.4 / 4 : 10.0; /* mm of the probe a field */
  const double field = unit * scale > 30.0 ? unit / 2 : unit;
  const double step = field * scale;
  for (int i = 0; i < 2; i++) {
    tw_text_add(svg,
                "<rect class=\"bar-%s\" x=\"%.3f\" y=\"%.3f\" width=\"%.3f\" "
                "height=\"1.2\"/>\n",
                i ? "empty" : "full", x + i * step, y, step);
  }
  tw_svg_text(svg, "dim", x, y - 1.0, "middle", "0");
  const tw_shown end = tw_sheet_length(sheet, 2e-3 * field);
  tw_svg_text(svg, "dim", x + 2 * step, y - 1.0, "middle", end.text);
}

void tw_sheet_check_line(tw_sheet *sheet, double x, double y)
{
  tw_text *svg = &sheet->svg;
  tw_svg_line(svg, "outline", x, y, x + 50.0, y);
  tw_svg_line(svg, "outline", x, y - 2.0, x, y + 2.0);
  tw_svg_line(svg, "outline", x + 50.0, y - 2.0, x + 50.0, y + 2.0);
  tw_svg_text(svg, "dim", x, y - 3.2, "start",
              sheet->options->system == TW_INCH ? "must measure 1.969 in (50 mm) in print"
                                                : "must measure 50 mm in print");
}
