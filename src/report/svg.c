/* svg.c: the basic marks of a drawing as text. */
#include "svg.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* control characters have no place in XML 1.0: they become spaces */
void tw_svg_escaped(tw_text *svg, const char *text)
{
  for (; *text; text++) {
    const char one[2] = {*text, '\0'};
    switch (*text) {
    case '&':
      tw_text_put(svg, "&amp;");
      break;
    case '<':
      tw_text_put(svg, "&lt;");
      break;
    case '>':
      tw_text_put(svg, "&gt;");
      break;
    case '"':
      tw_text_put(svg, "&quot;");
      break;
    default:
      tw_text_put(svg, (unsigned char)*text < 0x20 ? " " : one);
    }
  }
}

void tw_svg_number(tw_text *svg, double value)
{
  char text[32];
  int n = snprintf(text, sizeof text, "%.3f", isfinite(value) ? value : 0.0);
  while (n > 1 && text[n - 1] == '0') {
    text[--n] = '\0';
  }
  if (n > 1 && text[n - 1] == '.') {
    text[--n] = '\0';
  }
  tw_text_put(svg, strcmp(text, "-0") == 0 ? "0" : text);
}

double tw_view_x(const tw_view *view, double x)
{
  return view->x0 + 1000.0 * view->scale * x;
}

double tw_view_y(const tw_view *view, double z)
{
  return view->y0 - 1000.0 * view->scale * z;
}

static void put_pair(tw_text *svg, char command, double x, double y)
{
  const char lead[2] = {command, '\0'};
  tw_text_put(svg, lead);
  tw_svg_number(svg, x);
  tw_text_put(svg, " ");
  tw_svg_number(svg, y);
}

/* M x y L x y ... with every x multiplied by `side` (1 or -1) */
static void put_points(tw_text *svg, const tw_view *view, const tw_point *points, size_t n,
                       double side, bool closed)
{
  for (size_t i = 0; i < n; i++) {
    put_pair(svg, i ? 'L' : 'M', tw_view_x(view, side * points[i].x), tw_view_y(view, points[i].z));
  }
  if (closed) {
    tw_text_put(svg, "Z");
  }
}

static void open_path(tw_text *svg, const char *classes)
{
  tw_text_add(svg, "<path class=\"%s\" d=\"", classes);
}

static void close_path(tw_text *svg)
{
  tw_text_put(svg, "\"/>\n");
}

void tw_svg_poly(tw_text *svg, const tw_view *view, const char *classes, const tw_point *points,
                 size_t n, bool closed)
{
  open_path(svg, classes);
  put_points(svg, view, points, n, 1.0, closed);
  close_path(svg);
}

void tw_svg_poly_pair(tw_text *svg, const tw_view *view, const char *classes,
                      const tw_point *points, size_t n, bool closed)
{
  open_path(svg, classes);
  put_points(svg, view, points, n, 1.0, closed);
  put_points(svg, view, points, n, -1.0, closed);
  close_path(svg);
}

void tw_svg_solid(tw_text *svg, const tw_view *view, const char *classes, const tw_point *points,
                  size_t n)
{
  open_path(svg, classes);
  put_points(svg, view, points, n, 1.0, false);
  for (size_t i = n; i-- > 0;) {
    put_pair(svg, 'L', tw_view_x(view, -points[i].x), tw_view_y(view, points[i].z));
  }
  tw_text_put(svg, "Z");
  close_path(svg);
}

void tw_svg_box(tw_text *svg, const tw_view *view, const char *classes, double x_left,
                double x_right, double z_low, double z_high)
{
  const tw_point corners[4] = {
      {x_left, z_low}, {x_right, z_low}, {x_right, z_high}, {x_left, z_high}};
  tw_svg_poly(svg, view, classes, corners, 4, true);
}

void tw_svg_circle(tw_text *svg, const tw_view *view, const char *classes, double x, double z,
                   double radius)
{
  tw_text_add(svg, "<circle class=\"%s\" cx=\"", classes);
  tw_svg_number(svg, tw_view_x(view, x));
  tw_text_put(svg, "\" cy=\"");
  tw_svg_number(svg, tw_view_y(view, z));
  tw_text_put(svg, "\" r=\"");
  tw_svg_number(svg, 1000.0 * view->scale * radius);
  tw_text_put(svg, "\"/>\n");
}

void tw_svg_line(tw_text *svg, const char *classes, double x1, double y1, double x2, double y2)
{
  open_path(svg, classes);
  put_pair(svg, 'M', x1, y1);
  put_pair(svg, 'L', x2, y2);
  close_path(svg);
}

static void put_text(tw_text *svg, const char *classes, double x, double y, const char *anchor,
                     const char *text, bool turned)
{
  tw_text_add(svg, "<text class=\"%s\" x=\"", classes);
  tw_svg_number(svg, x);
  tw_text_put(svg, "\" y=\"");
  tw_svg_number(svg, y);
  tw_text_add(svg, "\" text-anchor=\"%s\"", anchor);
  if (turned) {
    tw_text_put(svg, " transform=\"rotate(-90 ");
    tw_svg_number(svg, x);
    tw_text_put(svg, " ");
    tw_svg_number(svg, y);
    tw_text_put(svg, ")\"");
  }
  tw_text_put(svg, ">");
  tw_svg_escaped(svg, text);
  tw_text_put(svg, "</text>\n");
}

void tw_svg_text(tw_text *svg, const char *classes, double x, double y, const char *anchor,
                 const char *text)
{
  put_text(svg, classes, x, y, anchor, text, false);
}

void tw_svg_text_turned(tw_text *svg, const char *classes, double x, double y, const char *text)
{
  put_text(svg, classes, x, y, "middle", text, true);
}

/* a filled arrow head with its point at (x, y), coming from direction (ux, uy) */
static void arrow(tw_text *svg, double x, double y, double ux, double uy)
{
  const double length = 2.6, half = 0.43;
  open_path(svg, "arrow");
  put_pair(svg, 'M', x, y);
  put_pair(svg, 'L', x - length * ux - half * uy, y - length * uy + half * ux);
  put_pair(svg, 'L', x - length * ux + half * uy, y - length * uy - half * ux);
  tw_text_put(svg, "Z");
  close_path(svg);
}

void tw_svg_dimension_across(tw_text *svg, double x1, double x2, double y, const char *text)
{
  const bool roomy = fabs(x2 - x1) > 9.0;
  const double low = fmin(x1, x2), high = fmax(x1, x2);
  if (roomy) {
    tw_svg_line(svg, "thin", low, y, high, y);
    arrow(svg, low, y, -1.0, 0.0);
    arrow(svg, high, y, 1.0, 0.0);
    tw_svg_text(svg, "dim", 0.5 * (low + high), y - 0.9, "middle", text);
  } else {
    tw_svg_line(svg, "thin", low - 6.0, y, high + 6.0, y);
    arrow(svg, low, y, 1.0, 0.0);
    arrow(svg, high, y, -1.0, 0.0);
    tw_svg_text(svg, "dim", high + 7.0, y + 1.2, "start", text);
  }
}

void tw_svg_dimension_up(tw_text *svg, double x, double y1, double y2, const char *text)
{
  const double low = fmax(y1, y2), high = fmin(y1, y2); /* low on the sheet has the larger y */
  if (low - high > 9.0) {
    tw_svg_line(svg, "thin", x, low, x, high);
    arrow(svg, x, low, 0.0, 1.0);
    arrow(svg, x, high, 0.0, -1.0);
    tw_svg_text_turned(svg, "dim", x - 0.9, 0.5 * (low + high), text);
  } else {
    tw_svg_line(svg, "thin", x, low + 6.0, x, high - 6.0);
    arrow(svg, x, low, 0.0, -1.0);
    arrow(svg, x, high, 0.0, 1.0);
    tw_svg_text(svg, "dim", x + 1.0, high - 4.0, "start", text);
  }
}

void tw_svg_leader(tw_text *svg, double x1, double y1, double x2, double y2, const char *text)
{
  const double side = x2 >= x1 ? 1.0 : -1.0;
  open_path(svg, "thin");
  put_pair(svg, 'M', x1, y1);
  put_pair(svg, 'L', x2, y2);
  put_pair(svg, 'L', x2 + 2.0 * side, y2);
  close_path(svg);
  tw_text_add(svg, "<circle class=\"arrow\" cx=\"%.3f\" cy=\"%.3f\" r=\"0.5\"/>\n", x1, y1);
  tw_svg_text(svg, "dim", x2 + 2.8 * side, y2 + 1.2, side > 0.0 ? "start" : "end", text);
}
