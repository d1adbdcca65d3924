/* svg.h: SVG as a growing text (tripwright/text.h), and the few marks that a drawing sheet needs.
 *
 * Lengths on the sheet are millimetres of paper, y downwards, as SVG has it; a view maps metres of
 * the probe (x to the right, z up) onto them. Colours and line widths are never written here: each
 * mark carries a class and the style sheet (web/src/drawing.css) says what it looks like, so that
 * the same picture serves the page in both themes, the report and a file of its own.
 */
#ifndef TW_REPORT_SVG_H
#define TW_REPORT_SVG_H

#include "tripwright/text.h"

/* where metres land on the sheet: X = x0 + 1000 scale x, Y = y0 - 1000 scale z */
typedef struct tw_view {
  double x0, y0;
  double scale; /* millimetres of paper per millimetre of probe */
} tw_view;

typedef struct tw_point {
  double x, z;
} tw_point;

void tw_svg_escaped(tw_text *svg, const char *text); /* for text and attribute values */
void tw_svg_number(tw_text *svg, double value);      /* three decimals, trailing zeros cut */

double tw_view_x(const tw_view *view, double x);
double tw_view_y(const tw_view *view, double z);

/* a polyline through n points in metres */
void tw_svg_poly(tw_text *svg, const tw_view *view, const char *classes, const tw_point *points,
                 size_t n, bool closed);
/* the same and its mirror image about the axis x = 0, as one path */
void tw_svg_poly_pair(tw_text *svg, const tw_view *view, const char *classes,
                      const tw_point *points, size_t n, bool closed);
/* the outline of a solid of revolution from its right half, bottom to top along x >= 0 */
void tw_svg_solid(tw_text *svg, const tw_view *view, const char *classes, const tw_point *points,
                  size_t n);
void tw_svg_box(tw_text *svg, const tw_view *view, const char *classes, double x_left,
                double x_right, double z_low, double z_high);
void tw_svg_circle(tw_text *svg, const tw_view *view, const char *classes, double x, double z,
                   double radius);
/* on the sheet, in millimetres of paper */
void tw_svg_line(tw_text *svg, const char *classes, double x1, double y1, double x2, double y2);
void tw_svg_text(tw_text *svg, const char *classes, double x, double y, const char *anchor,
                 const char *text);
void tw_svg_text_turned(tw_text *svg, const char *classes, double x, double y, const char *text);

/* Dimensions on the sheet: thin lines with filled arrow heads and the text above the line; when
 * there is no room between the arrows they stand outside. */
void tw_svg_dimension_across(tw_text *svg, double x1, double x2, double y, const char *text);
void tw_svg_dimension_up(tw_text *svg, double x, double y1, double y2, const char *text);
/* a leader: dot at (x1, y1), shoulder at (x2, y2), text beside it */
void tw_svg_leader(tw_text *svg, double x1, double y1, double x2, double y2, const char *text);

#endif
