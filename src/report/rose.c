/* rose.c: trip force and pretravel over the azimuth, seen from above. */
#include "plan.h"
#include "sheet.h"
#include "tripwright/constants.h"

#include <math.h>
#include <stdio.h>

typedef struct rose {
  tw_sheet *sheet;
  double x, y, radius; /* mm of paper */
  double top;          /* value on the rim */
} rose;

/* the next of 1, 2, 5 x 10^n not below the value */
static double round_up(double value)
{
  const double decade = pow(10.0, floor(log10(value)));
  const double steps[] = {1.0, 2.0, 2.5, 5.0, 10.0};
  for (size_t i = 0; i < 5; i++) {
    if (steps[i] * decade >= value * (1 - 1e-12)) {
      return steps[i] * decade;
    }
  }
  return 10.0 * decade;
}

static double largest(const tw_rose_point *points, size_t count, bool force)
{
  double most = 0.0;
  for (size_t i = 0; i < count; i++) {
    const double value = force ? points[i].force : points[i].pretravel;
    most = isfinite(value) ? fmax(most, value) : most;
  }
  return most;
}

static void grid(const rose *r, const char *unit, double factor)
{
  tw_text *svg = &r->sheet->svg;
  for (int i = 1; i <= 2; i++) {
    char text[32];
    tw_text_add(svg, "<circle class=\"thin\" cx=\"%.2f\" cy=\"%.2f\" r=\"%.2f\"/>\n", r->x, r->y,
                0.5 * i * r->radius);
    snprintf(text, sizeof text, "%.3g %s", 0.5 * i * r->top * factor, unit);
    tw_svg_text(svg, "dim", r->x + 1.0, r->y - 0.5 * i * r->radius - 0.8, "start", text);
  }
  for (int a = 0; a < 360; a += 30) {
    const double c = cos(a * TW_DEGREE), s = sin(a * TW_DEGREE);
    char text[16];
    tw_svg_line(svg, "thin faint", r->x, r->y, r->x + r->radius * c, r->y - r->radius * s);
    snprintf(text, sizeof text, "%d\u00b0", a);
    tw_svg_text(svg, "dim", r->x + (r->radius + 5.0) * c, r->y - (r->radius + 4.0) * s + 1.1,
                "middle", text);
  }
}

/* closed over the directions that trip; broken where one does not */
static void curve(const rose *r, const tw_rose_point *points, size_t count, bool force,
                  const char *classes)
{
  tw_text *svg = &r->sheet->svg;
  bool open = false;
  tw_text_add(svg, "<path class=\"%s\" d=\"", classes);
  for (size_t i = 0; i <= count; i++) {
    const tw_rose_point *p = &points[i % count];
    const double value = force ? p->force : p->pretravel;
    if (!isfinite(value)) {
      open = false;
      continue;
    }
    const double rr = r->radius * value / r->top, a = p->azimuth_deg * TW_DEGREE;
    tw_text_add(svg, "%c%.2f %.2f", open ? 'L' : 'M', r->x + rr * cos(a), r->y - rr * sin(a));
    open = true;
  }
  tw_text_put(svg, "\"/>\n");
  for (size_t i = 0; i < count; i++) {
    if (!isfinite(force ? points[i].force : points[i].pretravel)) {
      const double a = points[i].azimuth_deg * TW_DEGREE;
      tw_svg_text(svg, "warn", r->x + 0.92 * r->radius * cos(a),
                  r->y - 0.92 * r->radius * sin(a) + 1.2, "middle", "\u00d7");
    }
  }
}

/* the directions of the seats or contact points on the rim */
static void seat_marks(const rose *r, const tw_design *design)
{
  const int seat = tw_design_choice(design, TW_F_seat_kind);
  const int contact = tw_design_choice(design, TW_F_seat_contact);
  const int points = tw_design_count(design, TW_F_seat_contact_points);
  const int count = seat == TW_SEAT_TRIPOD                                 ? 3
                    : seat == TW_SEAT_BONDED || contact == TW_CONTACT_RING ? 0
                                                                           : points;
  const double first = tw_design_number_or(design, TW_F_seat_azimuth, 0.0);
  for (int i = 0; i < count && count <= 12; i++) {
    const double a = first + TW_TWO_PI * i / count;
    tw_text_add(&r->sheet->svg,
                "<path class=\"seat-mark\" d=\"M%.2f %.2fl-1.6 -2.8h3.2z\" "
                "transform=\"rotate(%.2f %.2f %.2f)\"/>\n",
                r->x + r->radius, r->y, -a / TW_DEGREE, r->x, r->y);
  }
}

tw_status tw_drawing_rose(const tw_design *design, const tw_rose_point *points, size_t count,
                          const tw_drawing_options *options, char **svg, tw_fault *fault)
{
  tw_drawing_options o = options ? *options : tw_drawing_defaults();
  o.width = o.width > 0.0 ? o.width : 180.0;
  o.height = o.height > 0.0 ? o.height : 250.0;
  const double force = largest(points, count, true), travel = largest(points, count, false);
  if (count < 3 || !(force > 0.0) || !(travel > 0.0)) {
    return tw_fail(fault, TW_BAD_INPUT, "", "", "there is no trip in any direction to draw");
  }
  tw_sheet sheet = {.options = &o, .design = design, .width = o.width, .height = o.height};
  const double radius = fmin(0.5 * o.width - 14.0, 0.25 * (o.height - 70.0));
  const bool inch = o.system == TW_INCH;
  for (int i = 0; i < 2; i++) {
    const bool is_force = i == 0;
    rose r = {&sheet, 0.5 * o.width, 16.0 + radius + i * (2.0 * radius + 22.0), radius,
              round_up(is_force ? force : travel)};
    tw_svg_text(&sheet.svg, "name", 3.0, r.y - radius - 6.0, "start",
                is_force ? "trip force" : "pretravel");
    grid(&r,
         is_force ? "N"
         : inch   ? "thou"
                  : "\u00b5m",
         is_force ? 1.0
         : inch   ? 1e3 / 0.0254
                  : 1e6);
    seat_marks(&r, design);
    curve(&r, points, count, is_force, is_force ? "curve-1" : "curve-2");
  }
  tw_sheet_title_block(&sheet, o.width - 101.0, o.height - TW_TITLE_HEIGHT - 2.0, 100.0, "\u2013",
                       "directions of");
  return tw_sheet_close(&sheet, "directions",
                        "Trip force and pretravel over the azimuth, seen from above looking down "
                        "the spindle, X to the right, Y up.",
                        svg, fault);
}
